"""What a what-if says of a job in which something is refused."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, Protocol

import pytest
from tests.conftest import PartMaker, box
from tests.unit.app.test_what_if import Demand, Part, Requirement, Tables, WhatIf, asked, part

from kerfwright.app.offers import Shop
from kerfwright.app.stacks import stack_curve
from kerfwright.app.what_if import Alternative, what_if
from kerfwright.foundation.findings import Severity
from kerfwright.geometry.contour import Contour
from kerfwright.planning.planner import make_plan
from kerfwright.trade.part import Role
from kerfwright.trade.placement import Placement
from kerfwright.trade.stack import Holding, Stack

__all__ = ["part"]


class Lifts(Protocol):
    def __call__(self, gap_mm: float, **changed: Any) -> WhatIf | None: ...


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


def of_stack(requirement: Requirement, pieces: int, *, sheet_mm: float = 1.0) -> Requirement:
    stack = Stack(pieces=pieces, sheet_mm=sheet_mm, joint_mm=0.02)
    return replace(requirement, stack=stack, height_mm=stack.height_mm)


def lifting(part: Part, requirement: Requirement, tables: Tables) -> WhatIf | None:
    """Only what lifts every refusal, as of a job that is refused as a whole."""
    return what_if(
        part,
        requirement,
        catalogue=tables.catalogue,
        rules=tables.rules,
        technology=tables.technology,
        rates=tables.rates,
        lifts_only=True,
    )


def the_one(found: WhatIf | None) -> Alternative:
    assert found is not None
    (one,) = found.alternatives
    return one


@pytest.mark.parametrize(
    ("quantity", "said"),
    [
        (600, "stacks of 100, instead of stacks of 300,"),
        (613, "stacks of 88 with 3 pieces over, instead of stacks of 300,"),
        (3, "stacks of 3, instead of stacks of 300,"),
        (1, "one at a time, instead of stacks of 300,"),
    ],
)
def test_a_stack_too_high_is_offered_in_the_stack_that_is_best_for_its_order(
    part: Part, requirement: Requirement, tables: Tables, quantity: int, said: str
) -> None:
    wanted = replace(of_stack(requirement, 300), quantities=(quantity,))
    assert wanted.height_mm > wanted.machine.max_height_mm
    one = the_one(lifting(part, wanted, tables))
    assert one.sentence.startswith(f"Cutting {said} lifts what is refused")
    shop = Shop(
        part=part, catalogue=tables.catalogue, rules=tables.rules,
        technology=tables.technology, rates=tables.rates, physics=None,
    )  # fmt: skip
    sheet = replace(wanted, stack=None, height_mm=1.0)
    curve = stack_curve(shop, sheet, quantity=quantity, holding=Holding.CLAMPED, covers=0)
    assert curve.best is not None
    best = curve.points[curve.best]
    assert dict(one.asks)["stack"] == str(best.stack.pieces)
    assert one.offer.each == best.offer.each
    assert best.stack.sheets <= tables.rules.stack_known_sheets


def test_a_stack_too_heavy_is_offered_as_one_that_the_table_bears(
    part: Part, requirement: Requirement, tables: Tables
) -> None:
    light = replace(requirement.machine, max_weight_kg=5.0)
    wanted = replace(of_stack(requirement, 40, sheet_mm=5.0), machine=light, quantities=(100,))
    assert wanted.height_mm < light.max_height_mm
    one = the_one(lifting(part, wanted, tables))
    pieces = int(dict(one.asks)["stack"])
    assert 1 < pieces < 40
    heavier = of_stack(wanted, 45, sheet_mm=5.0)
    assert the_one(lifting(part, heavier, tables)).asks == one.asks


def test_limits_are_eased_to_what_is_held_of_the_lower_work(
    part: Part, requirement: Requirement, tables: Tables
) -> None:
    high = replace(requirement, height_mm=600.0, tolerance_um=0.5)
    both = the_one(lifting(part, high, tables))
    low = replace(high, height_mm=high.machine.max_height_mm)
    alone = the_one(lifting(part, low, tables))
    assert dict(both.asks) == {"height": f"{low.height_mm:g} mm", **dict(alone.asks)}
    assert both.offer.each == alone.offer.each
    # At the height asked less is held, and would be given away.
    plan = make_plan(
        part, high, technology=tables.technology, catalogue=tables.catalogue, rules=tables.rules
    )
    (held,) = [f for f in plan.findings if f.code == "tolerance-beyond-process"]
    assert float(held.data["sure_um"]) > 1.2 * float(alone.offer.tolerance_um)


def test_limits_are_eased_to_what_is_held_of_the_lower_stack(
    part: Part, requirement: Requirement, tables: Tables
) -> None:
    wanted = replace(of_stack(requirement, 300), tolerance_um=2.0, quantities=(600,))
    both = the_one(lifting(part, wanted, tables))
    alone = the_one(lifting(part, of_stack(wanted, int(dict(both.asks)["stack"])), tables))
    assert dict(both.asks)["tolerance"] == dict(alone.asks)["tolerance"]
    assert both.offer.each == alone.offer.each


@pytest.fixture
def lifts(make_part: PartMaker, requirement: Requirement, tables: Tables) -> Lifts:
    """Two weights of a clock side by side, of which no more is asked than what lifts a refusal."""

    def found(gap_mm: float, **changed: Any) -> WhatIf | None:
        weights = (box(0, 0, 20, 20), box(20 + gap_mm, 0, 40 + gap_mm, 20))
        wanted = {"tolerance_um": 5.0, "ra_um": None, "wire": None, **changed}
        return lifting(
            make_part([(Role.OUTLINE, one, None) for one in weights]),
            replace(requirement, **wanted),
            tables,
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


def test_what_lifts_only_one_of_two_refusals_is_no_offer(
    lifts: Lifts, requirement: Requirement
) -> None:
    short = replace(requirement.machine, travel_x_mm=1.0)
    assert lifts(3.0, tolerance_um=1.0) is not None
    assert lifts(3.0, tolerance_um=1.0, machine=short) is None


@pytest.mark.parametrize(
    ("gap_mm", "passes", "tolerance"), [(0.365, 1, 25.0), (0.37, 2, 10.0), (0.38, 3, 5.0)]
)
def test_of_fewer_passes_the_most_that_fit_between_walls_are_offered(
    lifts: Lifts, gap_mm: float, passes: int, tolerance: float
) -> None:
    found = lifts(gap_mm, tolerance_um=1.0)
    assert found is not None
    _, by_passes = found.alternatives
    assert by_passes.offer.passes == passes
    assert dict(by_passes.asks) == {"contour P1,P2": f"tolerance=±{tolerance:g} µm"}


def test_walls_too_close_in_work_too_high_are_offered_with_both_lifted(lifts: Lifts) -> None:
    found = lifts(0.35, height_mm=400.0)
    assert found is not None
    wire, passes = found.alternatives
    assert (wire.demand, passes.demand) == ("height and wire", "tolerance and height")
    assert dict(wire.asks).items() >= {"height": "250 mm"}.items()
    lower = lifts(0.35, height_mm=250.0)
    assert lower is not None
    assert [one.offer.each for one in found.alternatives] == [
        one.offer.each for one in lower.alternatives
    ]
    # What is held by fewer passes is that of the lower work too.
    assert dict(passes.asks)["contour P1,P2"] == dict(lower.alternatives[1].asks)["contour P1,P2"]


def test_walls_too_close_in_a_stack_too_high_are_offered_with_both_lifted(lifts: Lifts) -> None:
    stack = Stack(pieces=300, sheet_mm=2.0, joint_mm=0.02)
    found = lifts(0.35, height_mm=stack.height_mm, stack=stack, quantities=(77,))
    assert found is not None
    assert [one.demand for one in found.alternatives] == ["height and wire", "tolerance and height"]
    assert [dict(one.asks)["stack"] for one in found.alternatives] == ["77", "77"]


def test_a_limit_beyond_is_eased_beside_walls_too_close_to_what_the_other_wire_holds(
    lifts: Lifts, tables: Tables
) -> None:
    found = lifts(0.3, ra_um=0.05)
    one = the_one(found)
    assert one.demand == "finish and wire"
    thin = lifts(0.3, ra_um=0.05, wire=tables.catalogue.wire("0.15 mm"))
    assert dict(one.asks)["finish"] == dict(the_one(thin).asks)["finish"]
    thick = lifts(3.0, ra_um=0.05, wire=tables.catalogue.wire("0.25 mm"))
    assert dict(one.asks)["finish"] != dict(the_one(thick).asks)["finish"]


def test_a_limit_beyond_elsewhere_is_eased_beside_fewer_passes(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    weights = (box(0, 0, 20, 20), box(20.35, 0, 40.35, 20), box(60, 0, 80, 20))
    three = make_part([(Role.OUTLINE, one, None) for one in weights])
    wanted = replace(requirement, ra_um=None, wire=None, contours={"P3": Demand(tolerance_um=1.0)})
    found = lifting(three, wanted, tables)
    assert found is not None
    _, by_passes = found.alternatives
    asks = dict(by_passes.asks)
    assert asks == {"contour P1,P2": "tolerance=±25 µm", "contour P3": "tolerance=±2.5 µm"}


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
    # Nothing else is there to be cut: the job as asked has no price.
    assert found.as_asked is None
    # Fewer passes that leave the dead end out would lift the refusal, and never cut it.
    wanted = ["wire", "tolerance"] if by_passes else ["wire"]
    assert [one.demand for one in found.alternatives] == wanted
    assert all("lifts what is refused" in one.sentence for one in found.alternatives)
