"""What a what-if says of a job in which something is refused."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest
from tests.conftest import PartMaker, box
from tests.unit.app.test_what_if import Demand, Part, Requirement, Tables, WhatIf, asked, part

from kerfwright.app.what_if import what_if
from kerfwright.foundation.findings import Severity
from kerfwright.geometry.contour import Contour
from kerfwright.planning.planner import make_plan
from kerfwright.trade.part import Role
from kerfwright.trade.placement import Placement
from kerfwright.trade.stack import Stack

__all__ = ["part"]

Lifts = Callable[[float], WhatIf | None]


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


def test_a_refusal_that_no_step_lifts_leaves_none_and_says_what_would_help(
    part: Part, requirement: Requirement, tables: Tables
) -> None:
    short = replace(requirement.machine, travel_x_mm=1.0)
    found = asked(part, replace(requirement, machine=short), tables)
    assert found.as_asked.refusals
    assert not found.alternatives
    assert not found.front
    (said,) = found.front_remarks
    assert said.startswith("Nothing is offered instead: no other tolerance, finish")
    assert "Choose a larger machine" in said


def test_work_too_high_is_offered_as_high_as_the_machine_takes(
    part: Part, requirement: Requirement, tables: Tables
) -> None:
    half_mm = requirement.height_mm / 2
    low = replace(requirement.machine, max_height_mm=half_mm)
    found = asked(part, replace(requirement, machine=low), tables)
    first = found.alternatives[0]
    assert dict(first.asks) == {"height": f"{half_mm:g} mm"}
    lower = replace(requirement, machine=low, height_mm=half_mm)
    assert first.offer.each == asked(part, lower, tables).as_asked.each
    assert "the most that the machine takes" in first.sentence


def test_a_stack_too_high_is_offered_with_fewer_sheets(
    part: Part, requirement: Requirement, tables: Tables
) -> None:
    stack = Stack(pieces=40, sheet_mm=requirement.height_mm, joint_mm=0.02)
    wanted = replace(requirement, stack=stack, height_mm=stack.height_mm)
    most_mm = wanted.machine.max_height_mm
    assert stack.height_mm > most_mm
    first = asked(part, wanted, tables).alternatives[0]
    pieces = int(dict(first.asks)["stack"])
    assert not first.offer.refusals
    assert pieces * requirement.height_mm <= most_mm < (pieces + 2) * requirement.height_mm


@pytest.fixture
def lifts(make_part: PartMaker, requirement: Requirement, tables: Tables) -> Lifts:
    """Two weights of a clock side by side, of which no more is asked than what lifts a refusal."""

    def found(gap_mm: float) -> WhatIf | None:
        weights = (box(0, 0, 20, 20), box(20 + gap_mm, 0, 40 + gap_mm, 20))
        return what_if(
            make_part([(Role.OUTLINE, one, None) for one in weights]),
            replace(requirement, tolerance_um=5.0, ra_um=None, wire=None),
            catalogue=tables.catalogue,
            rules=tables.rules,
            technology=tables.technology,
            rates=tables.rates,
            lifts_only=True,
        )

    return found


def test_walls_too_close_are_offered_by_a_thinner_wire_and_by_fewer_passes(
    lifts: Lifts,
) -> None:
    found = lifts(0.35)
    assert found is not None
    assert [one.demand for one in found.alternatives] == ["wire", "tolerance"]
    wire, tolerance = found.alternatives
    assert wire.offer.wire_diameter_mm < 0.25
    assert wire.offer.asked.tolerance_um == 5.0
    assert tolerance.offer.passes == 1
    assert all(one.sentence.count("lifts what is refused") == 1 for one in found.alternatives)
    # Of what has no price nothing is saved, and no row of the front is one to offer.
    assert (found.as_asked, found.front) == (None, ())
    assert found.is_refused
    assert [one.saved_each for one in found.alternatives] == [0, 0]


def test_walls_between_which_no_kerf_fits_have_no_offer(lifts: Lifts) -> None:
    assert lifts(0.05) is None


def test_places_that_cannot_be_are_left_to_the_planner(
    part: Part, requirement: Requirement, tables: Tables
) -> None:
    in_the_part = {"H1": Placement(start_mm=(-50.0, -50.0))}
    found = asked(part, replace(requirement, placements=in_the_part), tables)
    first = found.alternatives[0]
    assert (first.demand, dict(first.asks)) == ("places", {"start H1": ""})
    assert first.offer.each == asked(part, requirement, tables).as_asked.each


@pytest.mark.parametrize(("width", "by_passes"), [(0.38, False), (0.46, True)])
def test_a_dead_end_that_only_a_skim_enters_is_lifted_by_thinner_wire_and_by_passes_that_fit(
    width: float,
    by_passes: bool,
    make_part: PartMaker,
    requirement: Requirement,
    tables: Tables,
) -> None:
    low, high = 10 - width / 2, 10 + width / 2
    rows = [(0, 0), (20, 0), (20, low), (25, low), (25, high), (20, high), (20, 20), (0, 20)]
    slot = make_part([(Role.OPENING, Contour.from_rows(rows), None)])
    thick = replace(requirement, wire=tables.catalogue.wire("0.30"), ra_um=None)
    found = asked(slot, thick, tables)
    assert found.as_asked.refusals == 1
    # Fewer passes that leave the dead end out would lift the refusal, and never cut it.
    wanted = ["wire", "tolerance"] if by_passes else ["wire"]
    assert [one.demand for one in found.alternatives] == wanted
    assert all("lifts what is refused" in one.sentence for one in found.alternatives)
