"""``--strings`` on the command line: a nest of clicks planned, proved, priced both ways, kept."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from tests.part_strings import pallets

from kerfwright.cli.run import run

ASKED = ["--material", "C270", "--height", "6mm", "--tolerance", "±0.01mm"]


@pytest.fixture(scope="module")
def sheet(tmp_path_factory: pytest.TempPathFactory) -> str:
    return str(pallets(tmp_path_factory.mktemp("sheet")))


def plan(
    sheet: str, folder: Path, capsys: pytest.CaptureFixture[str], *more: str
) -> dict[str, Any]:
    assert run(["plan", sheet, *ASKED, *more, "-o", str(folder), "--json"]) == 0
    shape: dict[str, Any] = json.loads(capsys.readouterr().out)
    return shape


def each(job: dict[str, Any]) -> float:
    return float(job["estimate"]["prices"][0]["each"])


def threadings(job: dict[str, Any]) -> int:
    return sum(e["kind"] == "thread" for e in job["proof"]["events"])


def test_a_string_is_chosen_where_it_pays_and_what_it_saves_is_what_both_jobs_say(
    sheet: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    auto = plan(sheet, tmp_path / "auto", capsys, "--strings", "auto")
    never = plan(sheet, tmp_path / "never", capsys)
    assert auto["proof"]["passed"]
    assert "strings" not in never["plan"]
    (string,) = auto["plan"]["strings"]
    assert len(string["contour_ids"]) == 3
    (said,) = [f for f in auto["findings"] if f["code"] == "parts-on-a-string"]
    assert said["data"]["holes_saved"] == 2
    assert said["data"]["threadings_saved"] == threadings(never) - threadings(auto)
    assert said["data"]["saved_each"] == pytest.approx(each(never) - each(auto), abs=0.005)
    assert each(auto) < each(never)
    drilled = [s for s in auto["plan"]["start_holes"] if s["kind"] == "drilled"]
    assert len(drilled) == 1
    minutes = {t["operation"]: t["minutes"]["likely"] for t in auto["estimate"]["times"]}
    plainly = {t["operation"]: t["minutes"]["likely"] for t in never["estimate"]["times"]}
    assert minutes["start-hole handling"] == pytest.approx(plainly["start-hole handling"] / 3)


def test_the_wish_is_kept_and_the_program_proves_again_from_the_job_folder(
    sheet: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job = tmp_path / "job"
    plan(sheet, job, capsys, "--strings", "always")
    assert 'strings = "always"' in (job / "job.toml").read_text(encoding="utf-8")
    program = (job / "program.nc").read_text(encoding="utf-8")
    assert "STRING, THREADED ONCE FOR ITS ROUGHS: P" in program
    assert run(["prove", str(job / "program.nc"), "--job", str(job)]) == 0
    capsys.readouterr()
    assert run(["price", str(job)]) == 0
    assert "threadings instead of" in capsys.readouterr().out.replace("\n", " ").replace("  ", " ")


def test_a_wish_that_cannot_be_met_is_said_and_the_job_planned_all_the_same(
    sheet: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    done = plan(
        sheet, tmp_path / "job", capsys, "--strings", "always", "--offset-form", "controller"
    )
    (said,) = [f for f in done["findings"] if f["code"] == "no-strings"]
    assert "control applies the offset" in said["message"]
    assert done["proof"]["passed"]


def test_the_papers_of_a_string_are_made(
    sheet: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    from kerfwright.adapters.papers.typeset import can_typeset

    if not can_typeset():
        pytest.skip("Typst is not installed")
    job = tmp_path / "job"
    plan(sheet, job, capsys, "--strings", "auto")
    assert run(["papers", str(job)]) == 0


def test_a_nest_says_the_wish_on_to_plan(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    from importlib import resources

    click = str(resources.files("kerfwright") / "data" / "samples" / "click.dxf")
    asked = ["--sheet", "60x40mm=1", "--thickness", "6mm", "--material", "C270", "--seconds", "1"]
    out = ["--engine", "grid", "--strings", "always", "-o", str(tmp_path / "nest")]
    assert run(["nest", f"{click}=2", *asked, *out]) == 0
    assert "--strings always" in " ".join(capsys.readouterr().out.split())
