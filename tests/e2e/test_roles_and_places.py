"""Roles and places on the command line: kept in the job, planned, proved and read again."""

from __future__ import annotations

import json
from importlib.resources import files
from pathlib import Path

import pytest

from kerfwright.cli.run import run

WHEEL = str(files("kerfwright") / "data" / "samples" / "escape_wheel.dxf")
ASKED = ["--material", "C270 brass", "--height", "6mm"]


def test_what_was_said_is_kept_and_the_job_comes_out_the_same(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job = tmp_path / "job"
    said = ["--role", "H1,H2: not-cut", "--start", "H7: 1mm, 0mm", "--lead-in", "H3: 0in 0in"]
    code = run(["plan", WHEEL, *ASKED, *said, "-o", str(job), "--json"])
    result = json.loads(capsys.readouterr().out)
    by_code = {f["code"] for f in result["findings"]}
    assert "role-given" in by_code
    kept = (job / "job.toml").read_text(encoding="utf-8")
    for line in ('"H1" = "not-cut"', '"H7" = "1mm, 0mm"', '"H3" = "0in 0in"'):
        assert line in kept
    starts = {s["contour_id"]: s for s in result["plan"]["start_holes"]}
    assert {"H1", "H2"}.isdisjoint(starts)
    assert starts["H7"]["placed"] == ["start"]
    # The lead-in lies far off the wall of H3: the contour is left out, and nothing is put right.
    assert "place-refused" in by_code
    assert "H3" not in starts
    assert code == 1


def test_a_job_with_places_is_proved_and_priced_again(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job = tmp_path / "job"
    said = ["--role", "H1: not-cut", "--start", "H7: 1mm, 0mm"]
    assert run(["plan", WHEEL, *ASKED, *said, "-o", str(job)]) == 0
    assert "start by hand" in capsys.readouterr().out
    assert run(["prove", str(job / "program.nc"), "--job", str(job)]) == 0
    capsys.readouterr()
    assert run(["price", str(job), "--json"]) == 0
    again = json.loads(capsys.readouterr().out)
    before = json.loads((job / "estimate.json").read_text(encoding="utf-8"))
    assert again["estimate"]["prices"] == before["prices"]


@pytest.mark.parametrize(
    "said",
    [
        ["--role", "H1: slot"],
        ["--start", "H7 1mm, 0mm"],
        ["--start", "H7: 1, 0"],
        ["--tab-width", "H7: 1"],
        ["--tab-width", "1mm"],
        ["--role", "H99: outline"],
        ["--start", "H7: 1mm, 0mm", "--start", "H7: 2mm, 0mm"],
    ],
)
def test_what_cannot_be_meant_is_a_wrong_call(said: list[str], tmp_path: Path) -> None:
    assert run(["plan", WHEEL, *ASKED, *said, "-o", str(tmp_path / "j")]) == 2
    assert not (tmp_path / "j").exists()


def test_set_up_sheet_picture_and_report_say_what_a_person_placed(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    pytest.importorskip("typst", reason="papers need the extra 'papers'")
    from tests.pdf_pages import text_of

    job, made = tmp_path / "job", tmp_path / "papers"
    said = ["--start", "H7: 1mm, 0mm", "--tab-width", "H7: 0.8mm", "--tab-width", "P1: 8mm"]
    assert run(["plan", WHEEL, *ASKED, *said, "-o", str(job)]) == 0
    report = " ".join(capsys.readouterr().out.split())
    assert "drilled (start, tab width by hand)" in report
    assert "drilled (tab width by hand)" in report
    picture = (job / "plan.svg").read_text(encoding="utf-8")
    assert "placed by hand: H7 start, tab width; P1 tab width" in picture
    assert run(["papers", str(job), "-o", str(made)]) == 0
    sheet = " ".join(text_of(made / "set-up.pdf").split())
    assert "Placed by hand, not by the planner: H7 start, tab width; P1 tab width." in sheet
