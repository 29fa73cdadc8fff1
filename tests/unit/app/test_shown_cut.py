"""The cut that is shown is the program's, on the clock of the strip."""

from __future__ import annotations

import re
from dataclasses import replace
from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest

from kerfwright.app.records import JobRequest, JobResult
from kerfwright.app.shown_answers import cut_answers
from kerfwright.app.shown_cut import ShownCut, shown_cut
from kerfwright.app.strip import StretchKind, Strip
from kerfwright.foundation.errors import InputError
from kerfwright.proof.records import EventKind
from kerfwright.wiring import job_strip, plan_job

WHEEL = Path(str(files("kerfwright") / "data" / "samples" / "escape_wheel.dxf"))
FORMS = ["generic-mm", "generic-inch"]


@pytest.fixture(scope="module", params=FORMS)
def result(request: pytest.FixtureRequest) -> JobResult:
    return plan_job(
        JobRequest(
            drawing=WHEEL,
            material="C270 brass",
            height="6 mm",
            tolerance="±0.005 mm",
            machine=request.param,
        )
    )


@pytest.fixture(scope="module")
def strip(result: JobResult) -> Strip:
    found = job_strip(result)
    assert found is not None
    return found


@pytest.fixture(scope="module")
def shown(result: JobResult, strip: Strip) -> ShownCut:
    found = shown_cut(result, strip)
    assert found is not None
    return found


def test_the_programs_path_is_the_planned_one_to_its_last_digit(
    result: JobResult, strip: Strip, shown: ShownCut
) -> None:
    minute, x, y = shown.path.points.T
    assert np.all(np.diff(minute) >= -1e-9)
    planned_x = np.interp(minute, strip.wire[:, 0], strip.wire[:, 1])
    planned_y = np.interp(minute, strip.wire[:, 0], strip.wire[:, 2])
    # Both are chords of the same arcs, and feeds are rounded in the program.
    off = np.hypot(x - planned_x, y - planned_y)
    assert np.quantile(off, 0.99) < 0.02


def test_every_place_names_the_line_of_the_program_that_leads_there(
    result: JobResult, shown: ShownCut
) -> None:
    assert result.program is not None
    lines = result.program.splitlines()
    to_mm = 25.4 if result.requirement.machine.dialect.unit.value == "in" else 1.0
    last = np.flatnonzero(np.diff(shown.path.line, append=-1) != 0)
    checked = 0
    for row in last:
        text = lines[shown.path.line[row] - 1]
        assert re.match(r"(G0?[123] )?[XY]", text), text
        for letter, value in zip("XY", shown.path.points[row, 1:], strict=True):
            word = re.search(rf"{letter}(-?[\d.]+)", text)
            if word:
                assert float(word.group(1)) * to_mm == pytest.approx(value, abs=2e-4)
                checked += 1
    assert checked > 100


def test_every_move_that_cuts_has_its_place(result: JobResult, shown: ShownCut) -> None:
    assert result.program is not None
    cutting = {
        number
        for number, text in enumerate(result.program.splitlines(), start=1)
        if re.match(r"(G0?[123] )?[XY]", text) and not text.startswith("G00")
    }
    assert set(shown.path.line.tolist()) == cutting


def test_pieces_come_free_in_the_cuts_that_the_strip_marks(
    result: JobResult, strip: Strip, shown: ShownCut
) -> None:
    assert result.proof is not None
    freed = [e for e in result.proof.events if e.kind is EventKind.PIECE_FREE]
    assert [p.piece.event for p in shown.pieces] == freed
    assert len(freed) == len(result.plan.contours)
    for one in shown.pieces:
        (during,) = (
            s
            for s in strip.stretches
            if s.end_point > s.first_point
            and s.begin_min < one.minute <= s.begin_min + s.minutes + 1e-9
        )
        assert during.kind is StretchKind.CUT_OFF
        assert during.contour_id == one.piece.event.contour_id
        assert during.is_attended is one.piece.event.is_attended


def test_proof_and_strip_know_the_same_stops(result: JobResult, strip: Strip) -> None:
    assert result.proof is not None
    stops = [e for e in result.proof.events if e.kind is EventKind.STOP]
    assert len(stops) == sum(s.kind is StretchKind.STOP for s in strip.stretches)
    assert all(s.is_attended for s in strip.stretches if s.kind is StretchKind.STOP)


def test_the_shape_of_a_freed_piece_weighs_what_the_proof_says(
    result: JobResult, shown: ShownCut
) -> None:
    density = result.requirement.material.density_kg_per_m3
    starts = {c.target.id: c.start.diameter_mm for c in result.plan.contours}
    for one in shown.pieces:
        event = one.piece.event
        if event.contour_id == "P1":
            continue
        x, y = one.piece.outline_mm.T
        area = abs(np.dot(x[:-1], y[1:]) - np.dot(x[1:], y[:-1])) / 2
        area -= np.pi / 4 * starts[event.contour_id or ""] ** 2
        mass = area * result.requirement.height_mm * density * 1e-9
        assert event.mass_kg == pytest.approx(mass, rel=0.02)


def test_a_heavy_piece_and_one_with_nobody_there_carry_a_caution(
    result: JobResult, strip: Strip, shown: ShownCut
) -> None:
    assert not any(p.caution for p in shown.pieces)
    heavy = replace(result.plan, rules=replace(result.plan.rules, heavy_slug_kg=0.008))
    found = shown_cut(replace(result, plan=heavy), strip)
    assert found is not None
    assert {p.piece.event.contour_id for p in found.pieces if not p.is_heavy} == {"H7"}
    assert all("support it before this cut" in p.caution for p in found.pieces if p.is_heavy)
    assert result.program is not None
    unattended = re.sub(r"(?m)^M00.*\n", "", result.program)
    alone = shown_cut(replace(result, program=unattended), strip)
    assert alone is not None
    assert all("Nobody is there" in p.caution for p in alone.pieces)


def test_a_program_of_another_job_is_not_laid_along_the_strip(
    result: JobResult, strip: Strip
) -> None:
    shorter = replace(strip, stretches=strip.stretches[:-4])
    with pytest.raises(InputError) as raised:
        shown_cut(result, shorter)
    assert raised.value.code == "program-not-of-strip"


def test_each_moment_mass_and_worst_place_has_a_reason(shown: ShownCut) -> None:
    answers = list(cut_answers(shown))
    assert len(answers) == 2 * len(shown.pieces) + len(shown.deviations.worst)
    assert len({a.title for a in answers}) == len(answers)
    assert all(a.reason.formula and str(a.reason.source) for a in answers)
