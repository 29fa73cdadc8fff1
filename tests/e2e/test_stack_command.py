"""A stack planned, shown, kept in its job folder and printed; its curve drawn and as JSON."""

from __future__ import annotations

import json
from importlib.resources import files
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET

import pytest

from kerfwright.cli.run import run

WHEEL = Path(str(files("kerfwright") / "data/samples/escape_wheel.dxf"))
CLICK = Path(str(files("kerfwright") / "data/samples/click.dxf"))
ASKED = ("--material", "C270", "--height", "2mm", "--quantity", "6")


def call(capsys: pytest.CaptureFixture[str], *words: str | Path) -> tuple[int, dict[str, Any]]:
    code = run([*map(str, words), "--json"])
    return code, json.loads(capsys.readouterr().out)


def test_a_stacked_job_is_kept_and_priced_again_as_it_was(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ("--stack", "6", "--holding", "bolted", "-o", tmp_path / "job")
    code, planned = call(capsys, "plan", WHEEL, *ASKED, *words)
    assert code == 0
    assert planned["plan"]["stack"]["pieces"] == 6
    assert len(planned["plan"]["stack"]["screws"]) == 4
    assert planned["estimate"]["pieces_each"] == 6
    toml = (tmp_path / "job" / "job.toml").read_text(encoding="utf-8")
    assert 'stack = "6"' in toml
    assert 'holding = "bolted"' in toml
    code, priced = call(capsys, "price", tmp_path / "job")
    assert code == 0
    assert priced["estimate"]["prices"] == planned["estimate"]["prices"]
    assert not [
        f for f in priced["findings"] if f["severity"] == "warning" and "quote" in f["code"]
    ]


def test_the_curve_is_printed_drawn_and_given_as_json(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, curve = call(capsys, "stack", WHEEL, *ASKED, "--svg", tmp_path / "curve.svg")
    assert code == 0
    assert [p["pieces"] for p in curve["points"]] == [1, 2, 3, 6]
    assert curve["best"] == 6
    ET.parse(tmp_path / "curve.svg")  # noqa: S314 our own file
    assert run(["stack", str(WHEEL), *ASKED]) == 0
    shown = capsys.readouterr().out
    assert "cheapest" in shown
    assert "All pieces are in one stack." in shown
    assert "top and" not in shown


def test_a_stack_needs_material_and_height_of_a_drawing() -> None:
    assert run(["stack", str(WHEEL), "--material", "C270"]) == 2


def test_the_set_up_sheet_of_a_stack_names_its_sheets_and_screws(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    from kerfwright.adapters.papers.for_shop import _stack_rows
    from kerfwright.adapters.papers.words import Units
    from kerfwright.app.papers.common import Digests
    from kerfwright.app.papers.set_up import set_up_of
    from kerfwright.app.records import JobRequest
    from kerfwright.trade.part import LengthUnit
    from kerfwright.trade.stack import Holding
    from kerfwright.wiring import load_tables, plan_job

    result = plan_job(
        JobRequest(
            drawing=WHEEL, material="C270", height="0.5 mm", stack="6", holding=Holding.BOLTED
        )
    )
    sheet = set_up_of(
        result,
        digests=Digests(drawing="", job="", plan="", program="", proof=""),
        minutes=load_tables().rates.minutes,
        program="program.nc",
        clamp_clearance_mm=2.0,
    )
    rows = dict(_stack_rows(sheet, Units(unit=LengthUnit.MILLIMETRE)))
    assert "8 sheets of 0.5" in rows["Stack"]
    assert "2 of them scrap (1 on top)" in rows["Stack"]
    assert rows["Screws"].count("X ") == 4
    assert sheet.heading.piece_mm == 0.5


def test_the_demo_cuts_forty_escape_wheels_as_stacks(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, job = call(capsys, "demo", "stack", "-o", tmp_path / "out")
    assert code == 0
    assert job["plan"]["stack"]["pieces"] > 8
    assert job["proof"]["passed"] is True
    assert job["estimate"]["prices"][0]["quantity"] == 40


def test_a_stack_that_would_lean_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["plan", str(CLICK), "--material", "C270", "--height", "2mm", "-o", str(tmp_path / "j")]
    words += ["--taper", "H1: taper=1° out from top"]
    for stack in ("4", "auto"):
        assert run([*words, "--stack", stack]) == 2
        assert "a stack cannot lean" in capsys.readouterr().err
    assert not (tmp_path / "j").exists()
    assert run([*words, "--stack", "1"]) == 0
