"""Clamps from the command line: a nest with them, a job with its own, proof and papers."""

from __future__ import annotations

import json
from importlib import resources
from pathlib import Path
from typing import Any

import ezdxf
import pytest

from kerfwright.adapters.dxf import read_drawing
from kerfwright.cli.run import run

CLICK = str(resources.files("kerfwright") / "data" / "samples" / "click.dxf")


def call(capsys: pytest.CaptureFixture[str], *words: str | Path) -> tuple[int, dict[str, Any]]:
    code = run([*map(str, words), "--json"])
    text = capsys.readouterr().out
    return code, json.loads(text) if text else {}


@pytest.fixture
def plates(tmp_path: Path) -> Path:
    """Two plates in a sheet whose edge is declared as stock."""
    document = ezdxf.new("R2010", units=4)
    document.header.custom_vars.append("kerfwright.layer.STOCK", "stock")
    space = document.modelspace()
    for x, y, wide, high, layer in (
        (0, 0, 120, 60, "STOCK"), (20, 15, 20, 20, "A"), (80, 15, 20, 20, "B"),
    ):  # fmt: skip
        corners = [(x, y), (x + wide, y), (x + wide, y + high), (x, y + high)]
        space.add_lwpolyline(corners, close=True, dxfattribs={"layer": layer})
    document.saveas(tmp_path / "plates.dxf")
    return tmp_path / "plates.dxf"


def test_a_nest_with_clamps_is_planned_and_proved_with_them(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    nest = tmp_path / "nest"
    code, found = call(
        capsys, "nest", f"{CLICK}=4", "--sheet", "120x60mm=1", "--thickness", "6mm",
        "--material", "C270", "--engine", "grid", "--clamp", "0mm,20mm,12mm,20mm",
        "--clamp", "108mm,20mm,12mm,20mm", "-o", nest,
    )  # fmt: skip
    assert code == 0, found
    part = read_drawing(nest / "nest.dxf")
    assert sorted(z.bounds_mm for z in part.clamps) == [(0, 20, 12, 40), (108, 20, 120, 40)]
    code, job = call(
        capsys, "plan", nest / "nest.dxf", "--material", "C270", "--height", "6mm",
        "-o", tmp_path / "job",
    )  # fmt: skip
    assert code == 0, job["findings"]
    assert job["proof"]["passed"] is True
    assert job["plan"]["clamps"]["reach_mm"] == pytest.approx(8.0)
    assert len(job["plan"]["clamps"]["zones"]) == 2


def test_clamps_of_a_job_are_kept_proved_and_computed_again(
    plates: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job = tmp_path / "job"
    asked = ["--material", "C270", "--height", "10mm", "--clamp", "55mm,5mm,10mm,75mm"]
    code, done = call(capsys, "plan", plates, *asked, "-o", job)
    assert code == 0, done["findings"]
    assert "clamp-way-round" in {f["code"] for f in done["findings"]}
    assert 'clamps = "55mm,5mm,10mm,75mm"' in (job / "job.toml").read_text(encoding="utf-8")
    program = job / "program.nc"
    assert run(["prove", str(program), "--job", str(job)]) == 0
    capsys.readouterr()
    assert run(["price", str(job)]) == 0
    capsys.readouterr()
    lines = program.read_text(encoding="utf-8").split("\n")
    straight = [
        line
        for k, line in enumerate(lines)
        if not (" G00 " in f" {line} " and " G00 " in f" {lines[k + 1]} ")
    ]
    assert len(straight) < len(lines)
    other = tmp_path / "straight.nc"
    other.write_text("\n".join(straight), encoding="utf-8")
    assert run(["prove", str(other), "--job", str(job)]) == 1
    assert "clamp" in capsys.readouterr().out


def test_a_clamp_in_the_way_ends_in_exit_code_1_with_how_far_to_move_it(
    plates: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, done = call(
        capsys, "plan", plates, "--material", "C270", "--height", "10mm",
        "--clamp", "43mm,15mm,8mm,20mm", "-o", tmp_path / "job",
    )  # fmt: skip
    assert code == 1
    (refused,) = [f for f in done["findings"] if f["code"] == "clamp-in-the-way"]
    assert refused["where"]["contour_id"] == "P1"
    assert "Move the clamp by at least" in refused["remedy"]


@pytest.mark.parametrize("text", ["1mm,2mm", "1mm,2mm,0mm,3mm", "1,2,3,4"])
def test_a_clamp_that_cannot_be_read_is_a_clear_error(
    text: str, plates: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code = run(
        ["plan", str(plates), "--material", "C270", "--height", "10mm", "--clamp", text,
         "-o", str(tmp_path / "job")]
    )  # fmt: skip
    assert code == 2
    assert "clamp" in capsys.readouterr().err


def test_the_set_up_sheet_shows_the_clamps(
    plates: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    from kerfwright.adapters.job_result import read_request
    from kerfwright.adapters.papers.pictures import set_up_picture
    from kerfwright.adapters.papers.words import Units
    from kerfwright.trade.part import LengthUnit
    from kerfwright.wiring import plan_job

    asked = ["--material", "C270", "--height", "10mm", "--clamp", "55mm,5mm,10mm,75mm"]
    call(capsys, "plan", plates, *asked, "-o", tmp_path / "job")
    plan = plan_job(read_request(tmp_path / "job")).plan
    picture = set_up_picture(
        plan, clear=(0.0, 0.0, 120.0, 60.0),
        units=Units(unit=LengthUnit.MILLIMETRE), width_mm=180.0, height_mm=120.0,
    )  # fmt: skip
    assert ">clamp<" in picture.svg
    assert "no clamp inside" not in picture.svg
