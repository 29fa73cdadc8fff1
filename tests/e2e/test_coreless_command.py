"""``--coreless`` on the command line: kept in the job, planned, proved, explained, priced again."""

from __future__ import annotations

import json
from pathlib import Path

import ezdxf
import pytest

from kerfwright.cli.run import run

ASKED = ["--material", "D2", "--height", "25mm"]


@pytest.fixture
def drawing(tmp_path: Path) -> str:
    """A pierced spacer of a tower clock: two bores, a square hole and a window."""
    document = ezdxf.new()
    document.units = 4
    space = document.modelspace()

    def box(x: float, y: float, w: float, h: float) -> None:
        corners = [(x, y), (x + w, y), (x + w, y + h), (x, y + h)]
        space.add_lwpolyline(corners, close=True)

    box(0, 0, 60, 30)
    space.add_circle((8, 8), 0.9)
    space.add_circle((8, 20), 3.0)
    box(20, 5, 3, 3)
    box(35, 8, 18, 12)
    place = tmp_path / "spacer.dxf"
    document.saveas(place)
    return str(place)


def test_what_was_asked_is_kept_proved_explained_and_priced_again(
    drawing: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job = tmp_path / "job"
    said = ["--coreless", "unattended", "--coreless", "H3: never"]
    assert run(["plan", drawing, *ASKED, *said, "-o", str(job), "--json"]) == 0
    result = json.loads(capsys.readouterr().out)
    assert result["proof"]["passed"]
    eroded = {c["contour_id"]: c for c in result["plan"]["coreless"]}
    assert {c["why"] for c in eroded.values()} == {
        "slug too small to catch",
        "nobody has to be there",
    }
    assert "H3" not in eroded
    assert {t["contour_id"] for t in result["plan"]["tabs"]}.isdisjoint(eroded)
    assert {s["contour_id"] for s in result["plan"]["slugs"]}.isdisjoint(eroded)
    codes = [f["code"] for f in result["findings"]]
    assert codes.count("inside-cut-away") == 2
    assert "coreless-too-large" in codes
    kept = (job / "job.toml").read_text(encoding="utf-8")
    assert '[coreless]\n"ALL" = "unattended"\n"H3" = "never"' in kept
    program = (job / "program.nc").read_text(encoding="utf-8")
    assert "INSIDE CUT AWAY, NO SLUG AND NO STOP" in program
    assert run(["prove", str(job / "program.nc"), "--job", str(job)]) == 0
    capsys.readouterr()
    name = next(iter(eroded))
    assert run(["why", str(job), f"{name} coreless machine time"]) == 0
    assert "rough feed" in capsys.readouterr().out
    assert run(["price", str(job), "--json"]) == 0
    again = json.loads(capsys.readouterr().out)
    before = json.loads((job / "estimate.json").read_text(encoding="utf-8"))
    assert again["estimate"]["prices"] == before["prices"]


def test_a_program_without_its_loops_fails_against_the_job_that_asked_for_them(
    drawing: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    jobs = {}
    for wish in ("always", "never"):
        jobs[wish] = tmp_path / wish
        said = ["--coreless", f"H1,H2: {wish}"]
        assert run(["plan", drawing, *ASKED, *said, "-o", str(jobs[wish])]) == 0
    slugs = jobs["never"] / "program.nc"
    capsys.readouterr()
    assert run(["prove", str(slugs), "--job", str(jobs["always"])]) == 1
    assert "inside contour H1" in capsys.readouterr().out


@pytest.mark.parametrize(
    "said",
    [
        ["--coreless", "maybe"],
        ["--coreless", "H1: maybe"],
        ["--coreless", ": always"],
        ["--coreless", "H1: always", "--coreless", "H1: never"],
    ],
)
def test_a_wish_that_nobody_knows_is_a_wrong_call(
    drawing: str, said: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["plan", drawing, *ASKED, *said, "-o", str(tmp_path / "job")]) == 2
    assert "coreless" in capsys.readouterr().err
