"""Wires in work too tall for them, guides far off, and the pressure that a tab bears."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace
from statistics import NormalDist

import numpy as np
import pytest
from scipy.integrate import solve_bvp
from tests.conftest import PartMaker, box
from tests.unit.planning.test_wire_states import PHYSICS, RULES, planned

from kerfwright.foundation.findings import Severity
from kerfwright.learning.tables_hash import tables_sha256
from kerfwright.planning.far_from_routine import routine_height_mm
from kerfwright.planning.guides_off import at_set_up
from kerfwright.planning.plan import Tab
from kerfwright.planning.sheets import sheets_of
from kerfwright.planning.stacking import stack_of, stacked
from kerfwright.planning.tab_water import borne_bar
from kerfwright.process.choice import passes_of
from kerfwright.process.feed_advice import feed_limits
from kerfwright.process.guide_distance import GuidesOff, counted_factor, give_factor
from kerfwright.process.passes import passes_for
from kerfwright.process.technology import StockBy
from kerfwright.trade.part import Role
from kerfwright.trade.stack import Holding


@pytest.fixture(scope="module")
def outline(make_part: PartMaker):
    return make_part([(Role.OUTLINE, box(0, 0, 20, 10), None)])


def found(plan, code):
    return [f for f in plan.findings if f.code == code]


@pytest.mark.parametrize(
    ("wire", "height_mm", "warns"),
    [("0.10", 150.0, True), ("0.10", 30.0, False), ("0.25", 240.0, False), ("0.25", 300.0, True)],
)
def test_a_wire_in_work_far_taller_than_is_routine_for_it_is_warned_of(
    outline, requirement, tables, wire, height_mm, warns
):
    asked = replace(
        requirement,
        height_mm=height_mm,
        wire=tables.catalogue.wire(wire),
        machine=replace(requirement.machine, max_height_mm=400.0),
    )
    plan = planned(outline, asked, tables)
    told = found(plan, "wire-thin-for-height")
    assert bool(told) == warns
    if warns:
        assert f"trails by {plan.wire_states[0].lag_um:.0f} µm" in told[0].message


def test_the_barrel_told_of_tall_work_is_that_of_the_finished_wall(outline, requirement, tables):
    asked = replace(
        requirement, height_mm=150.0, wire=tables.catalogue.wire("0.10"), tolerance_um=6.0
    )
    plan = planned(outline, asked, tables)
    (told,) = found(plan, "wire-thin-for-height")
    barrels = [state.barrel_um for state in plan.wire_states]
    assert len(barrels) > 1
    assert f"{barrels[-1]:.0f}" != f"{max(barrels):.0f}"
    after = f"the wall is {barrels[-1]:.0f} µm fuller at mid-height after the last of"
    assert after in told.message


def test_the_routine_height_goes_with_the_tension(tables):
    fine, thick = (tables.catalogue.wire(name) for name in ("0.10", "0.20"))
    assert routine_height_mm(thick, rules=RULES) == pytest.approx(
        4 * routine_height_mm(fine, rules=RULES)
    )


@pytest.mark.parametrize("off_mm", [10.0, 60.0])
def test_guides_far_off_let_the_wire_give_way_as_a_string_does(off_mm):
    def bow(span: float, height: float) -> float:
        # y'' = -1 over the work, from the middle, where the slope is nought, to the face; beyond
        # it the wire runs straight to the guide.
        free = (span - height) / 2
        solved = solve_bvp(
            lambda x, y: [y[1], -1.0 + 0 * x],
            lambda a, b: [a[1], b[0] + free * b[1]],
            [0.0, height / 2],
            [[0.0, 0.0], [0.0, 0.0]],
            tol=1e-8,
        )
        return float(solved.sol(0.0)[0])

    height_mm = 40.0
    span_mm = PHYSICS.tension.span_mm(height_mm)
    wanted = bow(span_mm + 2 * off_mm, height_mm) / bow(span_mm, height_mm)
    guides = GuidesOff(
        usual_gap_mm=PHYSICS.tension.guide_gap_mm, off_mm=2 * off_mm, counts_from=1.1
    )
    assert give_factor(height_mm, guides=guides) == pytest.approx(wanted, rel=1e-6)
    assert give_factor(height_mm, guides=replace(guides, off_mm=0.0)) == 1


def test_what_passes_hold_widens_without_a_step_as_guides_go_further_off():
    def counted(off_mm):
        guides = GuidesOff(usual_gap_mm=10.0, off_mm=off_mm, counts_from=1.1)
        return counted_factor(40.0, guides=guides)

    factors = [counted(0.01 * n) for n in range(1000)]
    assert (factors[0], factors[200]) == (1, 1)
    assert factors[-1] == pytest.approx(
        give_factor(40.0, guides=GuidesOff(usual_gap_mm=10.0, off_mm=9.99, counts_from=1.1))
    )
    steps = [after - before for before, after in itertools.pairwise(factors)]
    assert min(steps) >= -1e-12
    assert max(steps) < 0.001


FAR = replace(RULES, upper_gap_mm=60.0, lower_gap_mm=60.0)


def test_what_guides_close_to_the_work_hold_is_not_promised_of_guides_far_off(
    outline, requirement, tables
):
    asked = replace(requirement, height_mm=40.0, tolerance_um=2.5)
    near = planned(outline, asked, tables)
    assert not found(near, "guides-far-off")
    far = planned(outline, asked, tables, rules=FAR)
    (told,) = found(far, "guides-far-off")
    # Four times as far: 2 x 180 - 40 over 2 x 60 - 40.
    assert told.data["factor"] == pytest.approx(4)
    # By itself the last pass holds four times as little; the rough pass before it takes the rest.
    last = far.passes[-1]
    itself_um = last.tolerance_um / last.undercut_factor
    assert itself_um == pytest.approx(4 * near.passes[-1].tolerance_um)
    assert told.data["holds_um"] == pytest.approx(last.tolerance_um)
    assert "536 for 1609 Hz" in told.message
    (refused,) = found(far, "tolerance-beyond-process")
    assert refused.data["best_um"] == pytest.approx(told.data["holds_um"])
    assert "with the heads close to the work ±2.5 µm" in refused.remedy


@pytest.mark.parametrize(
    ("give", "counted", "is_told"),
    [(1.04, 1.0, False), (1.06, 1.02, False), (1.09, 1.08, False), (1.1, 1.1, True)],
)
def test_guides_are_told_as_far_off_from_where_their_give_counts_in_full(
    outline, requirement, tables, give, counted, is_told
):
    # Work of 40 mm between guides 60 mm apart: 2 x 60 - 40, and each guide off takes off twice.
    off_mm = (give - 1) * 80 / 4
    rules = replace(RULES, upper_gap_mm=off_mm, lower_gap_mm=off_mm)
    assert rules.guides_give_way == 1.1
    asked = replace(requirement, height_mm=40.0, tolerance_um=50.0)
    near, far = (planned(outline, asked, tables, rules=one) for one in (RULES, rules))
    # What is held widens with it before it is told.
    assert far.passes[0].tolerance_um == pytest.approx(counted * near.passes[0].tolerance_um)
    assert bool(found(far, "guides-far-off")) == is_told


def test_a_refusal_names_the_guides_from_where_their_give_counts_in_full(
    outline, requirement, tables
):
    asked = replace(requirement, height_mm=40.0, tolerance_um=1.0)
    for off_mm, is_named in ((1.8, False), (2.0, True)):
        rules = replace(RULES, upper_gap_mm=off_mm, lower_gap_mm=off_mm)
        (refused,) = found(planned(outline, asked, tables, rules=rules), "tolerance-beyond-process")
        assert ("with the heads close to the work" in refused.remedy) == is_named


@pytest.mark.parametrize("tolerance_um", [100.0, 60.0, 55.0, 45.0, 36.0, 34.0])
def test_passes_are_chosen_by_what_they_hold_between_these_guides(
    outline, requirement, tables, tolerance_um
):
    asked = replace(requirement, height_mm=40.0, tolerance_um=tolerance_um, ra_um=None)
    far = planned(outline, asked, tables, rules=FAR)
    assert far.passes[-1].tolerance_um <= tolerance_um
    assert not any(f.severity is Severity.REFUSAL for f in far.findings)
    # One pass fewer would not hold it.
    fewer = len(far.passes) - 1
    if fewer:
        technology = at_set_up(tables.technology, rules=FAR, physics=PHYSICS)
        wire = far.choice.wire
        less = passes_of(fewer, requirement=asked, wire=wire, technology=technology)
        assert less[-1].tolerance_um > tolerance_um


def test_a_pass_between_guides_far_off_has_one_zone_with_its_reason_and_range(
    outline, requirement, tables
):
    asked = replace(requirement, height_mm=40.0, tolerance_um=45.0)
    near = planned(outline, asked, tables).passes[0]
    far = planned(outline, asked, tables, rules=FAR).passes[0]
    assert far.tolerance_um == pytest.approx(4 * near.tolerance_um)
    assert far.size_sigma_um == pytest.approx(4 * near.size_sigma_um)
    assert far.tolerance_range_um.low == pytest.approx(4 * near.tolerance_range_um.low)
    assert far.tolerance_range_um.high == pytest.approx(4 * near.tolerance_range_um.high)
    reason = [r for r in far.reasons if r.quantity == "tolerance_um"][-1]
    assert reason.value == pytest.approx(far.tolerance_um)
    assert dict(reason.inputs)["factor"] == pytest.approx(4)
    assert sum(share for _, share in reason.shares) == pytest.approx(1)
    # What the sparks leave has nothing to do with the guides.
    assert (far.gap_um, far.ra_um, far.recast_um) == (near.gap_um, near.ra_um, near.recast_um)


def test_a_further_pass_is_told_with_what_it_would_hold_between_these_guides(
    outline, requirement, tables
):
    asked = replace(requirement, height_mm=40.0, tolerance_um=None, ra_um=None)
    far = planned(outline, asked, tables, rules=FAR)
    # 4 x 10 by itself; the rough pass before it goes deeper than the stock in part of the walls.
    technology = at_set_up(tables.technology, rules=FAR, physics=PHYSICS)
    wire = far.choice.wire
    _, second = passes_of(2, requirement=asked, wire=wire, technology=technology)
    assert second.tolerance_um / second.undercut_factor == pytest.approx(40)
    assert f"hold ±{second.tolerance_um:.3g} µm" in far.choice.further[0]


def test_gaps_that_the_tables_cover_take_nothing_and_keep_the_record_of_the_figures(tables):
    near = replace(RULES, upper_gap_mm=1.0)
    here = at_set_up(tables.technology, rules=near, physics=PHYSICS)
    assert counted_factor(40.0, guides=here.guides) == 1
    assert at_set_up(tables.technology, rules=RULES, physics=PHYSICS) is tables.technology
    far = at_set_up(tables.technology, rules=FAR, physics=PHYSICS)
    assert far is at_set_up(tables.technology, rules=FAR, physics=PHYSICS)
    assert far is at_set_up(far, rules=FAR, physics=PHYSICS)
    # Of a job, not of the figures: what was learned from them still knows their name.
    assert tables_sha256(far, tables.catalogue) == tables_sha256(
        tables.technology, tables.catalogue
    )


def test_the_sheets_of_a_stack_are_held_by_guides_as_far_off_as_the_stack_is_high(
    requirement, tables
):
    stack = stack_of(20, sheet_mm=2.0, rules=RULES, holding=Holding.CLAMPED, covers=0)
    asked = stacked(replace(requirement, height_mm=2.0), stack)
    wire = tables.catalogue.default_wire
    technology = at_set_up(tables.technology, rules=FAR, physics=PHYSICS)
    held = []
    for figures, rules in ((tables.technology, RULES), (technology, FAR)):
        # One pass: no stock of later ones that it could scatter beyond.
        passes = passes_of(1, requirement=asked, wire=wire, technology=figures)
        sheets = sheets_of(
            passes,
            asked,
            wire=wire,
            technology=figures,
            physics=PHYSICS.with_nozzles_off(rules.nozzles_off_mm),
        )
        held.append([s.range_um.high - s.range_um.low for s in sheets])
    factor = counted_factor(asked.height_mm, guides=technology.guides)
    assert factor > 3
    assert held[1] == pytest.approx([factor * width for width in held[0]])


def far_passes(off_mm: float, count: int, tables, requirement, stock_by=StockBy.TABLE):
    guides = GuidesOff(usual_gap_mm=10.0, off_mm=off_mm, counts_from=1.1)
    return passes_for(
        count,
        material=requirement.material,
        height_mm=40.0,
        wire=tables.catalogue.default_wire,
        machine=requirement.machine,
        technology=replace(tables.technology, guides=guides if off_mm else None),
        stock_by=stock_by,
    )


@pytest.mark.parametrize("off_mm", [20.0, 80.0, 120.0, 210.0])
@pytest.mark.parametrize("stock_by", StockBy)
def test_the_share_of_simulated_walls_beyond_what_is_promised_is_the_allowed_one(
    tables, requirement, off_mm, stock_by
):
    count, walls = 4, 200_000
    near = far_passes(0.0, count, tables, requirement, stock_by)
    far = far_passes(off_mm, count, tables, requirement, stock_by)
    factor = (2 * (60.0 + off_mm) - 40.0) / 80.0
    random = np.random.default_rng(20)
    # Metal against nominal, cut pass by pass; what the last pass scatters all passes share.
    shared = factor * near[-1].size_sigma_um
    day = random.normal(0.0, shared, walls)
    metal = np.full(walls, np.inf)
    for one in near:
        left_um = sum(p.stock_um for p in near[one.number :])
        own = math.sqrt((factor * one.size_sigma_um) ** 2 - shared**2)
        gap = 0.0 if one is near[-1] else one.gap_um * one.gap_sigma_log
        aimed = left_um + day + random.normal(0.0, own, walls) + random.normal(0.0, gap, walls)
        metal = np.minimum(metal, aimed)
    beyond = float((np.abs(metal) > far[-1].tolerance_um).mean())
    assert beyond == pytest.approx(2 * NormalDist().cdf(-2.0), abs=0.015)
    span = far[-1].size_error_um
    low, high = np.quantile(metal, [0.1, 0.9])
    assert (span.low, span.high) == pytest.approx((low, high), abs=0.015 * far[0].size_sigma_um)
    assert span.low < span.likely < span.high
    # Without the undercut too many would have been promised.
    by_itself = factor * near[-1].tolerance_um
    if off_mm > 80:
        assert float((np.abs(metal) > by_itself).mean()) > 0.15


def test_guides_close_to_the_work_hold_what_the_tables_say(tables, requirement):
    close = far_passes(0.0, 6, tables, requirement)
    barely = far_passes(2.0, 6, tables, requirement)
    assert barely == close
    assert all(p.undercut_factor < 1.02 for p in far_passes(5.0, 6, tables, requirement))


def test_what_is_undercut_widens_without_a_step_as_guides_go_further_off(tables, requirement):
    zones = [
        far_passes(off, 4, tables, requirement)[-1].tolerance_um for off in np.arange(0, 60, 0.5)
    ]
    steps = np.diff(zones)
    assert steps.min() >= 0
    assert steps.max() < 0.6


def test_far_guides_are_warned_of_with_the_share_that_no_skim_can_mend(
    outline, requirement, tables
):
    asked = replace(requirement, height_mm=40.0, tolerance_um=55.0, ra_um=None)
    far = planned(outline, asked, tables, rules=FAR)
    (told,) = found(far, "guides-far-off")
    left_um = sum(p.stock_um for p in far.passes)
    assert f"only {left_um:g} µm" in told.message
    assert "no skim puts metal back" in told.message
    refused = planned(outline, replace(asked, tolerance_um=12.0), tables, rules=FAR)
    (beyond,) = found(refused, "tolerance-beyond-process")
    assert "of stock left for the skims" in beyond.remedy


def test_a_pass_may_trail_at_corners_by_half_of_the_stock_that_later_ones_take(tables, requirement):
    share = PHYSICS.feeds.tolerance_share
    for off_mm in (0.0, 120.0, 210.0):
        passes = far_passes(off_mm, 4, tables, requirement)
        limits = feed_limits(
            passes, wire=tables.catalogue.default_wire, height_mm=40.0, physics=PHYSICS
        )
        left_um = sum(p.stock_um for p in passes)
        wanted = share * (left_um if off_mm else passes[0].tolerance_um)
        assert limits[0].allowed_um == pytest.approx(wanted)
        # The last pass has what it holds by itself: a wall undercut lets no corner be worse.
        last = passes[-1]
        itself_um = last.tolerance_um / last.undercut_factor
        assert limits[-1].allowed_um == pytest.approx(share * itself_um)


def tab(safety: float) -> Tab:
    return Tab(
        start_station_mm=0.0,
        end_station_mm=3.0,
        width_mm=3.0,
        weight_n=1.0,
        flushing_n=9.0,
        safety=safety,
    )


def test_a_tab_bears_the_pressure_at_which_it_keeps_its_safety(tables):
    law = tables.technology.flushing
    usual = 10 * law.water.rough_pressure_mpa
    asked = RULES.tab_safety
    assert borne_bar(tab(asked), rules=RULES, law=law) == pytest.approx(usual)
    # At half the safety weight and push may be 5 N in all, 4 N of them push.
    assert borne_bar(tab(asked / 2), rules=RULES, law=law) == pytest.approx(usual * 4 / 9)
    assert borne_bar(tab(asked / 20), rules=RULES, law=law) == 0


def test_foil_and_fine_wire_are_flushed_low_and_a_plate_high(outline, requirement, tables):
    def said(height_mm: float, wire: str = "0.25") -> str:
        asked = replace(requirement, height_mm=height_mm, wire=tables.catalogue.wire(wire))
        return planned(outline, asked, tables).operations[0].flushing

    assert "high pressure, about 8 to 18 bar" in said(40.0)
    foil = said(0.05)
    assert "low pressure, about 0.3 to 1 bar, for work of 0.05 mm" in foil
    assert "The tab bears no jet" in foil
    assert "low pressure, about 2 to 4.5 bar, for a wire of 0.1 mm" in said(20.0, "0.10")
    assert "less pressure, about 4 to 9 bar" in said(5.0)
