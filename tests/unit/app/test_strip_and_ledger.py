"""The strip and the ledger of a real job."""

from __future__ import annotations

from dataclasses import replace
from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest

from kerfwright.app.ledger import ledger_of
from kerfwright.app.plan_job import Extent
from kerfwright.app.records import JobRequest, JobResult
from kerfwright.app.strip import Strip, chords, points_of
from kerfwright.foundation.findings import Severity
from kerfwright.geometry.contour import Contour
from kerfwright.wiring import answers, job_strip, plan_job

WHEEL = Path(str(files("kerfwright") / "data" / "samples" / "escape_wheel.dxf"))
ASKED = {"material": "C270 brass", "height": "6 mm", "tolerance": "±0.005 mm"}


@pytest.fixture(scope="module")
def result() -> JobResult:
    request = JobRequest(drawing=WHEEL, quantities=(1, 5), finish="Ra 0.8 µm", **ASKED)
    return plan_job(request, extent=Extent.PRICED)


@pytest.fixture(scope="module")
def strip(result: JobResult) -> Strip:
    found = job_strip(result)
    assert found is not None
    return found


def test_a_priced_job_has_no_program_yet(result: JobResult) -> None:
    assert result.estimate is not None
    assert result.program is None
    assert result.proof is None


@pytest.mark.parametrize("attended", [True, False])
def test_the_strip_holds_the_minutes_of_the_estimate(
    result: JobResult, strip: Strip, attended: bool
) -> None:
    assert result.estimate is not None
    kind = "machine-attended" if attended else "machine-unattended"
    billed = sum(
        t.minutes.likely
        for t in result.estimate.times
        # Nobody knows when a wire breaks: what breaks may add has no place on the strip.
        if t.kind.value == kind and "breaks" not in t.operation
    )
    laid = sum(s.minutes for s in strip.stretches if s.is_attended is attended)
    assert laid == pytest.approx(billed, rel=1e-9)


def test_stretches_follow_each_other_without_a_gap(strip: Strip) -> None:
    begins = [s.begin_min for s in strip.stretches]
    ends = [s.begin_min + s.minutes for s in strip.stretches]
    assert begins[0] == 0
    assert begins[1:] == pytest.approx(ends[:-1])
    assert ends[-1] == pytest.approx(strip.total_min)


def test_the_wire_runs_along_the_moves_at_their_own_time(result: JobResult, strip: Strip) -> None:
    assert result.path is not None
    cuts = [s for s in strip.stretches if s.end_point > s.first_point]
    assert len(cuts) == len(result.path.cuts)
    for stretch, cut in zip(cuts, result.path.cuts, strict=True):
        wire = strip.wire[stretch.first_point : stretch.end_point]
        assert wire[0, 0] == pytest.approx(stretch.begin_min)
        assert wire[-1, 0] == pytest.approx(stretch.begin_min + stretch.minutes)
        assert np.all(np.diff(wire[:, 0]) >= 0)
        assert wire[0, 1:] == pytest.approx(cut.moves.start_mm)
        assert wire[-1, 1:] == pytest.approx(cut.moves.end_mm[-1])
        chord_mm = np.hypot(*np.diff(wire[:, 1:], axis=0).T).sum()
        assert chord_mm == pytest.approx(cut.moves.lengths_mm().sum(), rel=1e-3)


def test_chords_of_a_circle_stay_within_two_micrometres() -> None:
    circle = Contour.circle((5.0, -3.0), radius_mm=20.0)
    points = points_of(circle.segments)
    middle = (points + np.roll(points, 1, axis=0)) / 2
    sagitta = 20.0 - np.hypot(*(middle - [5.0, -3.0]).T)
    assert sagitta.max() <= 0.002 + 1e-9
    assert chords(np.array([1e6]), np.array([np.pi]))[0] == 400


def test_the_ledger_answers_in_both_systems(result: JobResult) -> None:
    lines = {line.name: line for line in ledger_of(ASKED, result.part, result)}
    tolerance = lines["tolerance"]
    held = result.plan.passes[-1].tolerance_um
    assert tolerance.asked == "±0.005 mm"
    assert f"±{held:.3g} µm" in tolerance.answer.metric
    assert " in " in tolerance.answer.inch
    places = {answer.path for answer in answers(result)}
    assert all(set(line.why) <= places for line in lines.values())
    assert tolerance.why
    assert lines["units"].answer.metric == "millimetres"
    assert lines["height"].answer.inch == "0.2362 in"


def test_a_layer_asked_in_inches_is_said_as_it_was_read(result: JobResult) -> None:
    asked = replace(result.request, recast="200 µin")
    read = plan_job(asked, part=result.part, extent=Extent.PRICED)
    lines = {line.name: line for line in ledger_of(ASKED | {"recast": "200 µin"}, read.part, read)}
    assert lines["recast"].sure.inch.startswith("read as at most 0.0002 in; ")
    assert lines["recast"].sure.metric.startswith("read as at most 5.08 µm; ")


def test_a_ledger_without_a_plan_says_what_is_needed(result: JobResult) -> None:
    lines = ledger_of({}, result.part, None)
    assert [line.name for line in lines if line.is_needed] == ["material", "height"]
    assert all(not line.answer.metric for line in lines if line.name != "units")


def test_a_refusal_stands_at_its_line(result: JobResult) -> None:
    asked = replace(result.request, tolerance="±0.1 µm")
    refused = plan_job(asked, part=result.part, extent=Extent.PRICED)
    lines = {line.name: line for line in ledger_of(ASKED, refused.part, refused)}
    assert lines["tolerance"].severity is Severity.REFUSAL
    assert lines["height"].severity is None
    # Of a zone beside the drawn line one in two would miss: marked like the others.
    asked = replace(result.request, tolerance="0/+0.02 mm")
    beside = plan_job(asked, part=result.part, extent=Extent.PRICED)
    assert "zone-off-the-line" in {f.code for f in beside.findings}
    lines = {line.name: line for line in ledger_of(ASKED, beside.part, beside)}
    assert lines["tolerance"].severity is Severity.WARNING


def test_the_reason_for_the_passes_shows_what_decides_them(result: JobResult) -> None:
    found = {answer.title: answer.reason for answer in answers(result)}
    inputs = dict(found["job number of passes"].inputs)
    assert inputs["decided by"] == result.plan.choice.limiting
    assert str(inputs["finish asked"]).startswith("Ra ")
    assert "after 1 pass" in inputs
    last = str(inputs[f"after {len(result.plan.passes)} passes"])
    assert "likely" in last
    assert "surely" in last
    assert "finish asked" in dict(found["job finish left"].inputs)
