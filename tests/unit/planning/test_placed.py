"""Start holes, lead-ins and tabs where a person puts them, and the limits that stop them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from tests.conftest import PartMaker, box

from kerfwright.adapters.tables import Tables
from kerfwright.app.places import places_of, try_place
from kerfwright.app.plan_job import claim_of
from kerfwright.geometry.contour import Contour
from kerfwright.nc.writer import write_program
from kerfwright.planning.ground import ground_in
from kerfwright.planning.placed import Ground, Limit
from kerfwright.planning.plan import Plan, StartKind
from kerfwright.planning.planner import make_plan
from kerfwright.process.small_hole import reach_mm
from kerfwright.proof.prove import prove_program
from kerfwright.trade.part import ContourUse, GivenStart, Part, Role
from kerfwright.trade.placement import NOWHERE_PLACED, Placeable, Placement
from kerfwright.trade.requirement import Requirement
from kerfwright.trade.roles import with_roles
from kerfwright.wirepath.builder import build_path

Planner = Callable[..., Plan]


@pytest.fixture
def part(make_part: PartMaker) -> Part:
    """Return a plate of 60 × 40 mm with a rectangle of 30 × 20 mm and a bore of 10 mm."""
    return make_part(
        [
            (Role.OUTLINE, box(0, 0, 60, 40), None),
            (Role.OPENING, box(5, 10, 35, 30), "P1"),
            (Role.OPENING, Contour.circle((48, 20), radius_mm=5), "P1"),
        ]
    )


@pytest.fixture
def plan_with(part: Part, requirement: Requirement, tables: Tables) -> Planner:
    def go(of: Part | None = None, **placements: Placement) -> Plan:
        return make_plan(
            of or part,
            replace(requirement, placements=placements),
            technology=tables.technology,
            catalogue=tables.catalogue,
            rules=tables.rules,
        )

    return go


@pytest.fixture
def ground(plan_with: Planner, tables: Tables) -> Callable[[str], Ground]:
    def of(name: str) -> Ground:
        found = ground_in(plan_with(), name, technology=tables.technology)
        assert found is not None
        return found

    return of


def broken(ground: Ground, what: Placeable, spot: tuple[float, float]) -> set[Limit]:
    tried = try_place(ground, NOWHERE_PLACED, what, spot)
    return {limit for limit, _, state in tried.checks if state == "refused"}


def proved(plan: Plan) -> bool:
    machine = plan.requirement.machine
    program = write_program(build_path(plan), machine=machine, title="PLACED")
    return prove_program(program, claim_of(plan)).passed


@pytest.mark.parametrize(
    "placement",
    [
        Placement(start_mm=(20.0, 20.0)),
        Placement(start_mm=(9.0, 26.0)),
        Placement(lead_in_mm=(28.0, 30.0)),
        Placement(tab_mm=(5.0, 20.0)),
        Placement(start_mm=(12.0, 14.0), lead_in_mm=(18.0, 10.0)),
        Placement(start_mm=(12.0, 14.0), tab_mm=(20.0, 10.0)),
    ],
)
def test_what_a_person_places_is_kept_and_its_program_proved(
    plan_with: Planner, placement: Placement
) -> None:
    plan = plan_with(H1=placement)
    (one,) = (c for c in plan.contours if c.target.id == "H1")
    assert one.placed == placement.placed
    lead, tab = places_of(one)
    if placement.start_mm:
        assert (one.start.x_mm, one.start.y_mm) == placement.start_mm
    if placement.lead_in_mm:
        assert lead == pytest.approx(placement.lead_in_mm)
    if placement.tab_mm:
        assert tab == pytest.approx(placement.tab_mm, abs=0.02)
    assert [f.code for f in plan.findings].count("place-by-person") == 1
    assert proved(plan)


def test_a_place_that_breaks_a_limit_leaves_the_contour_out_and_says_which(
    plan_with: Planner,
) -> None:
    plan = plan_with(H1=Placement(start_mm=(5.2, 20.0)))
    assert "H1" not in [c.target.id for c in plan.contours]
    (refusal,) = (f for f in plan.findings if f.code == "place-refused")
    assert refusal.where.contour_id == "H1"
    assert "hole and its wander to the wall" in refusal.message
    assert proved(plan)


@pytest.mark.parametrize(
    ("what", "spot", "limit"),
    [
        (Placeable.START, (48.0, 20.0), Limit.WASTE),
        (Placeable.START, (2.0, 2.0), Limit.WASTE),
        (Placeable.START, (5.2, 20.0), Limit.WALL),
        (Placeable.LEAD_IN, (5.2, 10.0), Limit.CORNER),
        (Placeable.LEAD_IN, (20.0, 14.0), Limit.ON_WALL),
        (Placeable.TAB, (20.0, 20.0), Limit.ON_WALL),
    ],
)
def test_the_limit_that_a_place_breaks_is_named(
    ground: Callable[[str], Ground], what: Placeable, spot: tuple[float, float], limit: Limit
) -> None:
    assert limit in broken(ground("H1"), what, spot)


def test_the_clearance_to_the_wall_is_that_of_the_drilled_hole_with_its_wander(
    ground: Callable[[str], Ground], tables: Tables
) -> None:
    here = ground("H1")
    smallest = here.sizes_mm()[-1]
    reach = reach_mm(here.height_mm, diameter_mm=smallest, law=tables.technology.small_hole)
    least = reach + tables.rules.tight_wall_clearance_mm
    # The wall is at x = 5: a thousandth decides.
    assert broken(here, Placeable.START, (5 + least - 0.001, 20.0)) == {Limit.WALL}
    assert broken(here, Placeable.START, (5 + least + 0.001, 20.0)) == set()


def test_an_outline_keeps_from_the_edge_of_the_stock_or_starts_beyond_it(
    ground: Callable[[str], Ground], plan_with: Planner
) -> None:
    here = ground("P1")
    # The stock reaches 8 mm beyond the outline.
    assert Limit.STOCK_EDGE in broken(here, Placeable.START, (67.0, 20.0))
    plan = plan_with(P1=Placement(start_mm=(72.0, 20.0)))
    (one,) = (c for c in plan.contours if c.target.id == "P1")
    assert one.start.kind is StartKind.EDGE
    assert proved(plan)


def test_a_start_put_into_a_drawn_hole_uses_it(plan_with: Planner, part: Part) -> None:
    drawn = replace(part, given_starts=(GivenStart(x_mm=20.0, y_mm=20.0, diameter_mm=2.0),))
    plan = plan_with(drawn, H1=Placement(start_mm=(20.02, 20.0)))
    (one,) = (c for c in plan.contours if c.target.id == "H1")
    assert one.start.kind is StartKind.GIVEN
    assert (one.start.x_mm, one.start.diameter_mm) == (20.0, 2.0)


def test_a_tab_on_a_corner_is_warned_of(plan_with: Planner) -> None:
    plan = plan_with(H1=Placement(tab_mm=(5.0, 10.5)))
    codes = [f.code for f in plan.findings]
    assert "tab-on-corner" in codes or "place-refused" in codes
    clear = plan_with(H1=Placement(tab_mm=(5.0, 20.0)))
    assert "tab-on-corner" not in [f.code for f in clear.findings]


def test_a_lead_in_is_brought_onto_the_wall(ground: Callable[[str], Ground]) -> None:
    tried = try_place(ground("H1"), NOWHERE_PLACED, Placeable.LEAD_IN, (20.0, 10.4))
    assert not tried.is_refused
    assert tried.spot == pytest.approx((20.0, 10.0))
    assert tried.text == "20 mm, 10 mm"
    assert tried.start is not None
    # The start follows, square off the wall.
    assert tried.start[0] == pytest.approx(20.0)


def test_every_limit_is_said_in_both_units(ground: Callable[[str], Ground]) -> None:
    tried = try_place(ground("H1"), NOWHERE_PLACED, Placeable.START, (5.2, 20.0))
    said = {limit: words for limit, words, _ in tried.checks}[Limit.WALL]
    assert " mm, at least " in said.metric
    assert " in, at least " in said.inch


def test_what_the_planner_chooses_breaks_no_limit_of_its_own(
    plan_with: Planner, tables: Tables
) -> None:
    plan = plan_with()
    for one in plan.contours:
        here = ground_in(plan, one.target.id, technology=tables.technology)
        assert here is not None
        lead, _ = places_of(one)
        start = (one.start.x_mm, one.start.y_mm)
        for what, spot in ((Placeable.START, start), (Placeable.LEAD_IN, lead)):
            assert not try_place(here, NOWHERE_PLACED, what, spot).is_refused, one.target.id


def test_a_wall_that_is_not_cut_is_kept_clear_of(part: Part, plan_with: Planner) -> None:
    plan = plan_with(with_roles(part, {"P1": ContourUse.NOT_CUT}))
    assert {c.target.id for c in plan.contours} == {"H1", "H2"}
    # The plate is there already: its outline is the edge of the stock.
    assert plan.stock is not None
    assert np.allclose(plan.stock.bounds_mm, (0, 0, 60, 40))
    assert proved(plan)
