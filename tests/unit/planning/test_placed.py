"""Start holes, lead-ins and tabs where a person puts them, and the limits that stop them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from tests.conftest import PartMaker, box

from kerfwright.adapters.tables import Tables
from kerfwright.app.places import places_of, try_place, try_width
from kerfwright.app.plan_job import claim_of
from kerfwright.geometry.contour import Contour
from kerfwright.nc.writer import write_program
from kerfwright.planning.ground import ground_in
from kerfwright.planning.limits import Ground, Limit
from kerfwright.planning.placed import judge
from kerfwright.planning.placed_tab import solid_ends_mm
from kerfwright.planning.plan import Plan, StartKind
from kerfwright.planning.planner import make_plan
from kerfwright.process.small_hole import reach_mm
from kerfwright.proof.prove import prove_program
from kerfwright.trade.machine import OffsetForm
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
    def go(
        of: Part | None = None, asked: Requirement | None = None, **placements: Placement
    ) -> Plan:
        return make_plan(
            of or part,
            replace(asked or requirement, placements=placements),
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
    proof = prove_program(program, claim_of(plan))
    return proof.passed


@pytest.mark.parametrize(
    "placement",
    [
        Placement(start_mm=(20.0, 20.0)),
        Placement(start_mm=(9.0, 26.0)),
        Placement(lead_in_mm=(28.0, 30.0)),
        Placement(tab_mm=(5.0, 20.0)),
        Placement(start_mm=(12.0, 14.0), lead_in_mm=(18.0, 10.0)),
        Placement(start_mm=(12.0, 14.0), tab_mm=(20.0, 10.0)),
        Placement(lead_in_mm=(28.0, 30.0), tab_mm=(20.0, 10.0)),
        Placement(start_mm=(12.0, 14.0), lead_in_mm=(18.0, 10.0), tab_mm=(28.0, 10.0)),
        Placement(tab_width_mm=3.0),
        Placement(lead_in_mm=(28.0, 30.0), tab_mm=(5.0, 20.0), tab_width_mm=4.0),
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
    if placement.tab_width_mm:
        assert one.tab.width_mm == placement.tab_width_mm
    if placement.tab_mm:
        assert tab == pytest.approx(placement.tab_mm, abs=0.02)
    assert [f.code for f in plan.findings].count("place-by-person") == 1
    assert proved(plan)


@pytest.mark.parametrize(
    "placement",
    [
        Placement(lead_in_mm=(20.0, 0.0), tab_mm=(40.0, 40.0)),
        Placement(lead_in_mm=(20.0, 0.0), tab_mm=(28.0, 0.0)),
        Placement(lead_in_mm=(20.0, 0.0), tab_mm=(12.0, 0.0), tab_width_mm=3.5),
        Placement(start_mm=(72.0, 20.0), lead_in_mm=(60.0, 20.0), tab_mm=(0.0, 20.0)),
    ],
)
@pytest.mark.parametrize("asked_um", [None, 5.0, 2.0])
def test_an_outline_is_skimmed_all_round_a_tab_apart_and_then_over_it(
    plan_with: Planner, placement: Placement, asked_um: float | None, requirement: Requirement
) -> None:
    plan = plan_with(asked=replace(requirement, tolerance_um=asked_um), P1=placement)
    (one,) = (c for c in plan.contours if c.target.id == "P1")
    assert one.has_tab_apart
    assert proved(plan)


def test_a_control_that_applies_the_offset_has_its_tabs_beside_the_lead_in(
    plan_with: Planner, requirement: Requirement
) -> None:
    dialect = replace(requirement.machine.dialect, offset_form=OffsetForm.CONTROLLER)
    asked = replace(requirement, machine=replace(requirement.machine, dialect=dialect))
    plan = plan_with(asked=asked, H1=Placement(lead_in_mm=(28.0, 30.0), tab_mm=(20.0, 10.0)))
    (refusal,) = (f for f in plan.findings if f.code == "place-refused")
    assert Limit.TAB_FORM in refusal.message
    assert proved(plan)


def test_a_tab_apart_is_left_where_it_was_put_by_the_program_itself(
    plan_with: Planner, requirement: Requirement
) -> None:
    plan = plan_with(H1=Placement(lead_in_mm=(28.0, 30.0), tab_mm=(20.0, 10.0)))
    program = write_program(build_path(plan), machine=requirement.machine, title="APART")
    claim = claim_of(plan)
    assert prove_program(program, claim).passed
    # A tab that is asked to be wider than it was left is found too narrow at that very place.
    wider = replace(claim, min_tab_mm=dict(claim.min_tab_mm) | {"H1": 20.0})
    found = [f for f in prove_program(program, wider).findings if f.code == "tab-too-narrow"]
    assert [(f.where.x_mm, f.where.y_mm) for f in found] == [
        (pytest.approx(20.0, abs=0.1), pytest.approx(10.0, abs=0.01))
    ]


def test_a_tab_put_close_behind_the_lead_in_stands_beside_it(plan_with: Planner) -> None:
    usual = next(c for c in plan_with(H1=Placement(lead_in_mm=(28.0, 30.0))).contours
                 if c.target.id == "H1")  # fmt: skip
    _, tab = places_of(usual)
    near = plan_with(H1=Placement(lead_in_mm=(28.0, 30.0), tab_mm=(tab[0] + 0.2, tab[1])))
    (one,) = (c for c in near.contours if c.target.id == "H1")
    assert not one.has_tab_apart
    assert one.tab == usual.tab


@pytest.mark.parametrize(
    ("placement", "limit"),
    [
        (
            Placement(lead_in_mm=(20.0, 10.0), tab_mm=(19.6, 10.0), tab_width_mm=3.0),
            Limit.TAB_CLEAR,
        ),
        (Placement(lead_in_mm=(20.0, 10.0), tab_mm=(20.0, 20.0)), Limit.TAB_ON_WALL),
        (Placement(tab_width_mm=0.01), Limit.TAB_STRENGTH),
        (Placement(tab_width_mm=60.0), Limit.TAB_HALF),
    ],
)
def test_a_tab_is_refused_for_the_limit_that_it_breaks(
    ground: Callable[[str], Ground], placement: Placement, limit: Limit
) -> None:
    assert limit in {c.limit for c in judge(placement, ground("H1")).refusals}


def test_a_start_whose_slot_would_part_the_slug_is_refused_where_it_is_dragged(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    bore = Contour.circle((20.0, 20.0), radius_mm=6.35)
    of = make_part([(Role.OUTLINE, box(0, 0, 40, 40), None), (Role.OPENING, bore, "P1")])
    plan = make_plan(
        of,
        requirement,
        technology=tables.technology,
        catalogue=tables.catalogue,
        rules=tables.rules,
    )
    here = ground_in(plan, "H1", technology=tables.technology)
    assert here is not None

    def states(degrees: float) -> dict[Limit, str]:
        at = np.radians(degrees)
        lead = (20.0 + 6.35 * np.cos(at), 20.0 + 6.35 * np.sin(at))
        # A hole that touches the rough kerf at one place, and a lead-in at another.
        placement = Placement(start_mm=(20.0 + 5.85, 20.0))
        tried = try_place(here, placement, Placeable.LEAD_IN, lead)
        return {limit: state for limit, _, state in tried.checks}

    assert states(60.0)[Limit.SLUG_WHOLE] == "refused"
    assert states(2.0)[Limit.SLUG_WHOLE] == "met"
    # The same where loops take the inside away: no slug is left to be parted.
    loops = replace(here, goes_if_parted=lambda _: True)
    placement = Placement(start_mm=(25.85, 20.0), lead_in_mm=(23.175, 25.4993))
    assert Limit.SLUG_WHOLE not in {c.limit for c in judge(placement, loops).checks}


def test_a_hole_that_gets_smaller_where_it_is_dragged_is_told(
    plan_with: Planner, ground: Callable[[str], Ground]
) -> None:
    here = ground("H1")
    usual = here.planners_site()
    assert usual is not None

    def told(x_mm: float) -> tuple[float, dict[Limit, str]]:
        tried = try_place(here, NOWHERE_PLACED, Placeable.START, (x_mm, 20.0))
        assert tried.start is not None
        words = {limit: said.metric for limit, said, state in tried.checks if state == "warning"}
        return tried.start[2], words

    size, words = told(20.0)
    assert size == usual.start.diameter_mm
    assert Limit.HOLE_SIZE not in words
    size, words = told(5.9)
    assert size < usual.start.diameter_mm
    assert words[Limit.HOLE_SIZE] == (
        f"start hole {size:.3f} mm, usually {usual.start.diameter_mm:.3f} mm"
    )
    plan = plan_with(H1=Placement(start_mm=(5.9, 20.0)))
    (finding,) = (f for f in plan.findings if f.code == "start-hole-smaller")
    assert finding.data == {"diameter_mm": size, "usual_mm": usual.start.diameter_mm}


def test_a_tab_narrower_than_what_holds_the_piece_is_refused_and_a_wide_one_warned_of(
    plan_with: Planner, ground: Callable[[str], Ground], tables: Tables
) -> None:
    here = ground("H1")

    def broken_by(width_mm: float) -> set[Limit]:
        return {c.limit for c in judge(Placement(tab_width_mm=width_mm), here).refusals}

    # The planner's own sizing says where the strength of the rule ends: halve towards it.
    low, high = 0.001, tables.rules.tab_min_mm
    assert not broken_by(high)
    for _ in range(30):
        middle = (low + high) / 2
        low, high = (middle, high) if broken_by(middle) else (low, middle)
    assert broken_by(low) == {Limit.TAB_STRENGTH}
    site = judge(Placement(tab_width_mm=high), here)
    assert site.tab is not None
    assert site.tab.safety == pytest.approx(tables.rules.tab_safety, rel=1e-6)
    for width_mm in (0.9 * tables.rules.tab_min_mm, 1.1 * tables.rules.tab_max_share * 100):
        plan = plan_with(H1=Placement(tab_width_mm=width_mm))
        (said,) = (f for f in plan.findings if f.code == "tab-width-unusual")
        assert said.data["width_mm"] == width_mm
        assert proved(plan)


def test_a_width_is_pulled_by_the_end_of_the_metal(ground: Callable[[str], Ground]) -> None:
    here = ground("H1")
    placed = Placement(lead_in_mm=(20.0, 10.0))
    before = judge(placed, here)
    assert before.tab is not None
    begin, end = solid_ends_mm(before.tab, here.kerf_radius_mm)
    wider = here.target.contour.points_at(np.array([begin - 0.5]))[0]
    tried = try_width(here, placed, (float(wider[0]), float(wider[1])))
    assert tried.text == f"{end - begin + 0.5:.4g} mm"
    apart = replace(placed, tab_mm=(28.0, 10.0))
    stood = judge(apart, here).tab
    assert stood is not None
    begin, end = solid_ends_mm(stood, here.kerf_radius_mm)
    wider = here.target.contour.points_at(np.array([begin - 0.5]))[0]
    tried = try_width(here, apart, (float(wider[0]), float(wider[1])))
    assert float(tried.text.split()[0]) == pytest.approx(end - begin + 1.0, abs=0.01)


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
        (Placeable.TAB, (20.0, 20.0), Limit.TAB_ON_WALL),
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
