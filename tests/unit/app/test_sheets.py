"""Sheets of a stack: each demand is judged by its own passes."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from importlib.resources import files
from pathlib import Path

import pytest

from kerfwright.app.plan_job import Extent
from kerfwright.app.records import JobRequest
from kerfwright.wiring import answers, plan_job, what_if

WHEEL = Path(str(files("kerfwright") / "data/samples/escape_wheel.dxf"))
WHEELS = JobRequest(drawing=WHEEL, material="304", height="0.8 mm", stack="40", quantities=(40,))
priced = partial(plan_job, extent=Extent.PRICED)


def test_each_demand_on_a_stack_is_judged_by_its_own_passes_and_sheets() -> None:
    """Two passes hold 10 um in a sheet, 12 in the stack of 40, and H7 has its own."""
    plain = priced(replace(WHEELS, tolerance="±0.01 mm"))
    of_job = {c.target.id: len(c.passes) for c in plain.plan.contours}
    assert set(of_job.values()) == {3}
    tight = priced(replace(WHEELS, tolerance="±0.01 mm", contours={"H7": "tolerance=±2.5 um"}))
    counts = {c.target.id: len(c.passes) for c in tight.plan.contours}
    assert counts.pop("H7") > 3
    assert set(counts.values()) == {3}
    (more,) = (f for f in tight.findings if f.code == "pass-more-for-sheets")
    assert "of P1, H1, H2" in more.message
    assert "H7" not in more.message
    (beyond,) = (f for f in tight.findings if f.code == "sheets-beyond-tolerance")
    assert beyond.where.contour_id == "H7"
    assert beyond.data["asked_um"] == pytest.approx(2.5)
    # The same asked by name, of all contours, is the same job.
    named = dict.fromkeys(of_job, "tolerance=±10 um")
    each = priced(replace(WHEELS, contours=named))
    assert {c.target.id: len(c.passes) for c in each.plan.contours} == of_job
    assert each.estimate.prices[0].each == plain.estimate.prices[0].each


def test_a_refused_contour_leaves_the_sheets_of_the_others_their_passes() -> None:
    asked = replace(WHEELS, tolerance="±0.01 mm", contours={"H7": "tolerance=±1 um"})
    result = priced(asked)
    assert {len(c.passes) for c in result.plan.contours} == {3}
    codes = {f.code for f in result.findings}
    assert {"tolerance-beyond-process", "pass-more-for-sheets"} <= codes
    assert "sheets-beyond-tolerance" not in codes


def test_why_answers_for_the_sheets_of_each_demand() -> None:
    asked = replace(
        WHEELS,
        height="2 mm",
        stack="20",
        tolerance="±0.01 mm",
        contours={"H7": "tolerance=±2.5 um"},
    )
    told = [a for a in answers(priced(asked)) if "tolerance to expect of a sheet" in a.name]
    held = {dict(a.reason.inputs)["contours"]: a.reason.value for a in told}
    coarse, fine = told
    assert coarse.name == "tolerance to expect of a sheet"
    assert dict(fine.reason.inputs)["contours"] == "H7"
    assert fine.name.endswith(", H7")
    assert 2.5 < held["H7"] < 3 < 5 < coarse.reason.value <= 10


def test_keeping_a_tolerance_of_a_stack_on_one_shape_keeps_its_passes() -> None:
    """The three shapes were offered for one sum: that of the wider limit everywhere."""
    found = what_if(priced(replace(WHEELS, tolerance="±0.01 mm")))
    assert found is not None
    kept = [a for a in found.alternatives if a.sentence.startswith("Keeping")]
    (wider,) = (a for a in found.alternatives if a.demand == "tolerance" and a.saved_each > 0)
    assert len(kept) == 3
    assert len({a.saved_each for a in kept}) == 3
    assert all(0 < a.saved_each < wider.saved_each for a in kept)
