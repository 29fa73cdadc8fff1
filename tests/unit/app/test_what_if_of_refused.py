"""What a what-if says of a job in which something is refused."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tests.unit.app.test_what_if import Demand, Part, Requirement, Tables, WhatIf, asked, part

from kerfwright.foundation.findings import Severity
from kerfwright.planning.planner import make_plan

__all__ = ["part"]


def beyond(requirement: Requirement, **own: float) -> Requirement:
    return replace(requirement, contours={"H1": Demand(**own)})


@pytest.fixture(scope="module")
def refused(part: Part, requirement: Requirement, tables: Tables) -> WhatIf:
    return asked(part, beyond(requirement, tolerance_um=1.0), tables)


def test_the_step_that_lifts_the_refusal_leads_with_the_price_of_the_whole_job(
    refused: WhatIf, part: Part, requirement: Requirement, tables: Tables
) -> None:
    assert refused.as_asked.refusals == 1
    first = refused.alternatives[0]
    assert (first.demand, first.asked) == ("tolerance", "±1 µm (39.3 µin) on H1")
    assert first.instead.startswith("±2.5 µm")
    eased = asked(part, beyond(requirement, tolerance_um=2.5), tables).as_asked
    assert first.offer.each == eased.each
    assert f"lifts what is refused: {refused.currency} {eased.each} a piece" in first.sentence
    assert "H1 cut with the others" in first.sentence
    assert dict(first.asks) == {"contour H1": "tolerance=±2.5 µm"}


def test_what_is_still_refused_is_no_offer(refused: WhatIf) -> None:
    assert all(not one.offer.refusals for one in refused.alternatives)
    assert all(not offer.refusals for offer in refused.front)
    assert any("is refused" in remark for remark in refused.front_remarks)
    # No step claims to save from the price of a job that is refused.
    assert not any(" saves " in one.sentence for one in refused.alternatives)


def test_several_limits_beyond_the_process_are_eased_together(
    part: Part, requirement: Requirement, tables: Tables
) -> None:
    wanted = beyond(requirement, tolerance_um=1.0, ra_um=0.01)
    found = asked(part, wanted, tables)
    first = found.alternatives[0]
    assert first.demand == "tolerance and finish"
    assert "on H1 and " in first.instead
    assert not first.offer.refusals


def test_a_limit_of_the_job_is_eased_for_the_job(
    part: Part, requirement: Requirement, tables: Tables
) -> None:
    wanted = replace(requirement, tolerance_um=1.0, contours={"H1": Demand(tolerance_um=25.0)})
    found = asked(part, wanted, tables)
    first = found.alternatives[0]
    assert "on P1" in first.instead
    # What the other contour asks stays.
    plan = make_plan(
        part, wanted, technology=tables.technology, catalogue=tables.catalogue, rules=tables.rules
    )
    assert [f.where.contour_id for f in plan.findings if f.severity is Severity.REFUSAL] == ["P1"]
    assert dict(first.asks).keys() == {"contour P1"}


def test_a_refusal_that_no_step_lifts_leaves_none(
    part: Part, requirement: Requirement, tables: Tables
) -> None:
    low = replace(requirement.machine, max_height_mm=requirement.height_mm / 2)
    found = asked(part, replace(requirement, machine=low), tables)
    assert found.as_asked.refusals
    assert not found.alternatives
    assert not found.front
