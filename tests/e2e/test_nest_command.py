"""From drawings to a nested sheet, its proved program, and the remnant for the next nest."""

from __future__ import annotations

import itertools
import json
import signal
import subprocess
import sys
import time
from importlib.resources import files
from pathlib import Path
from typing import Any

import ezdxf
import pytest

from kerfwright.adapters.dxf import read_drawing
from kerfwright.adapters.packing.engine import has_engine
from kerfwright.cli.run import run
from kerfwright.geometry.separation import separation

WHEEL = Path(str(files("kerfwright") / "data/samples/escape_wheel.dxf"))


def link(folder: Path, name: str = "link.dxf", length: float = 24.0) -> Path:
    document = ezdxf.new("R2010", units=4)
    space = document.modelspace()
    space.add_lwpolyline(
        [(0, 0, 0), (length, 0, 1), (length, 10, 0), (0, 10, 1)], format="xyb", close=True
    )
    space.add_circle((0, 5), 2.0)
    document.saveas(folder / name)
    return folder / name


def call(capsys: pytest.CaptureFixture[str], *words: str | Path) -> tuple[int, dict[str, Any]]:
    code = run([*map(str, words), "--json"])
    text = capsys.readouterr().out
    return code, json.loads(text) if text else {}


def nest(capsys: pytest.CaptureFixture[str], *words: str | Path) -> tuple[int, dict[str, Any]]:
    return call(capsys, "nest", *words, "--thickness", "3mm", "--material", "C270")


def test_a_nest_is_planned_and_proved_as_it_is_and_its_remnant_comes_back(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    part, out, kept = link(tmp_path), tmp_path / "nest", tmp_path / "remnants"
    words = (f"{part}=6", "--sheet", "160x70mm", "--engine", "grid", "-o", out)
    code, found = nest(capsys, *words)
    assert code == 0
    assert found["refused"] is False
    assert found["measured"]["between_mm"] >= found["room"]["between_mm"] - 1e-6
    drawing = read_drawing(out / "nest.dxf")
    assert drawing.stock is not None
    assert drawing.stock.bounds_mm == (0, 0, 160, 70)
    assert len(drawing.contours) == 12
    # What is written keeps the distances that were measured before.
    outlines = [c.contour for c in drawing.contours if c.parent_id is None]
    least = min(separation(a, b)[0] for a, b in itertools.combinations(outlines, 2))
    assert least == pytest.approx(found["measured"]["between_mm"], abs=1e-9)
    code, job = call(
        capsys, "plan", out / "nest.dxf", "--material", "C270", "--height", "3mm",
        "-o", tmp_path / "job",
    )  # fmt: skip
    assert code == 0, job["findings"]
    assert job["proof"]["passed"] is True
    code, booked = call(capsys, "remnants", kept, "--book", out)
    assert code == 0
    assert len(booked["remnants"]) == 1
    code, again = nest(
        capsys, f"{part}=4", "--remnants", kept, "--engine", "grid", "-o", tmp_path / "second"
    )
    assert code == 0
    assert again["sheets"][0]["remnant"] == booked["new"][0]
    code, _ = call(capsys, "remnants", kept, "--book", tmp_path / "second")
    assert code == 0
    code, _ = call(capsys, "remnants", kept, "--book", tmp_path / "second")
    assert code == 2


def test_the_same_nest_gives_the_same_files(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    part = link(tmp_path)
    for name in ("a", "b"):
        nest(capsys, f"{part}=5", "--sheet", "120x60mm", "--engine", "grid", "-o", tmp_path / name)
    for file in ("nest.dxf", "nest.svg", "nest.json", "remnant-1.toml"):
        if (tmp_path / "a" / file).exists():
            one, two = ((tmp_path / n / file).read_bytes() for n in ("a", "b"))
            assert one == two


def test_parts_without_room_end_in_exit_code_1_and_are_named(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    part = link(tmp_path)
    code, found = nest(
        capsys, f"{part}=9", "--sheet", "60x50mm=1", "--engine", "grid", "-o", tmp_path / "n"
    )
    assert code == 1
    assert [f["code"] for f in found["findings"]] == ["nest-left-over"]
    assert (tmp_path / "n" / "nest.dxf").exists()


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("--sheet", "300"), "nest-sheet-text"),
        (("--sheet", "300x0mm"), "nest-sheet-text"),
        (("--sheet", "300x200"), "unit-missing"),
        (("--sheet", "300x200mm=0"), "nest-count-text"),
        (("--sheet", "90x90mm", "--clamp", "1mm,2mm"), "clamp-text"),
        (("--sheet", "90x90mm", "--clamp", "1mm,2mm,0mm,3mm"), "clamp-text"),
        (("--sheet", "90x90mm", "--spacing", "0.1mm"), "nest-spacing"),
        (("--sheet", "90x90mm", "--spacing", "3mm", "--web", "1mm"), "nest-contradiction"),
        (("--sheet", "90x90mm", "--part-turns", "pawl=along"), "nest-part-unknown"),
        (("--sheet", "90x90mm", "--wire", "0.77mm"), "wire-unknown"),
        (("--remnants", "nowhere"), "remnant-unreadable"),
        (("--sheet", "90x90mm", "--layer", "NONE=ignore"), "unknown-layer"),
    ],
    ids=lambda v: v if isinstance(v, str) else " ".join(v)[:30],
)
def test_a_wish_that_cannot_be_read_is_refused_with_its_code(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], words: tuple[str, ...], code: str
) -> None:
    part = link(tmp_path)
    exit_code, found = nest(capsys, part, *words, "--engine", "grid", "-o", tmp_path / "n")
    assert exit_code == 2
    assert found["code"] == code
    assert not (tmp_path / "n").exists()


def test_a_plate_without_outlines_and_a_sheet_of_two_outlines_are_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    die = WHEEL.with_name("hand_die.dxf")
    words = ("--layer", "STOCK=ignore", "--layer", "START=ignore", "--layer", "DIE=opening")
    code, found = nest(capsys, die, *words, "--sheet", "300x200mm", "-o", tmp_path / "n")
    assert (code, found["code"]) == (2, "nest-no-outline")
    document = ezdxf.new("R2010", units=4)
    for x in (0, 50):
        document.modelspace().add_circle((x, 0), 20)
    document.saveas(tmp_path / "two.dxf")
    part = link(tmp_path)
    code, found = nest(capsys, part, "--sheet", tmp_path / "two.dxf", "-o", tmp_path / "n")
    assert (code, found["code"]) == (2, "nest-sheet-outline")


def test_what_a_person_says_of_a_layer_outranks_the_file(tmp_path: Path) -> None:
    from kerfwright.trade.part import LayerUse

    document = ezdxf.new("R2010", units=4)
    document.header.custom_vars.append("kerfwright.layer.EDGE", "stock")
    space = document.modelspace()
    space.add_lwpolyline([(0, 0), (50, 0), (50, 50), (0, 50)], close=True,
                         dxfattribs={"layer": "EDGE"})  # fmt: skip
    space.add_circle((25, 25), 8.0)
    document.saveas(tmp_path / "a.dxf")
    assert read_drawing(tmp_path / "a.dxf").stock is not None
    said = read_drawing(tmp_path / "a.dxf", layer_uses={"edge": LayerUse.IGNORE})
    assert said.stock is None


def test_the_demo_nests_forty_clock_parts_and_proves_their_program(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    from kerfwright.cli import demo

    monkeypatch.setattr(demo, "_NEST_S", 2.0)
    code, job = call(capsys, "demo", "nest", "-o", tmp_path / "out")
    assert code == 0, job["findings"]
    assert job["proof"]["passed"] is True
    found = json.loads((tmp_path / "out-nest" / "nest.json").read_text(encoding="utf-8"))
    assert len(found["placements"]) == 40


SAYS_WHEN_IT_FOUND = """
import sys
from kerfwright.adapters.packing import engine
from kerfwright.cli import main

true_add = engine._add

def told(bands, document):
    true_add(bands, document)
    print("found", file=sys.stderr, flush=True)

engine._add = told
main(sys.argv[1:])
"""


@pytest.mark.skipif(not has_engine(), reason="the packing engine is absent")
@pytest.mark.skipif(sys.platform == "win32", reason="no such signal")
def test_ctrl_c_ends_the_search_with_a_nest_that_holds(tmp_path: Path) -> None:
    part, out = link(tmp_path), tmp_path / "n"
    words = [f"{part}=12", "--sheet", "160x100mm", "--thickness", "3mm", "--material", "C270"]
    child = subprocess.Popen(  # noqa: S603 our own command
        [
            *(sys.executable, "-c", SAYS_WHEN_IT_FOUND),
            *("nest", *words, "--seconds", "300", "-o", str(out)),
        ],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    begin = time.monotonic()
    assert child.stderr is not None
    while "found" not in (said := child.stderr.readline()):
        assert said, "it ended before it found anything"
    child.send_signal(signal.SIGINT)
    shown, said = child.communicate(timeout=240)
    assert child.returncode == 0, said
    # Three hundred seconds were allowed.
    assert time.monotonic() - begin < 250
    assert "ended before its time" in shown
    assert json.loads((out / "nest.json").read_text(encoding="utf-8"))["stopped"] is True
