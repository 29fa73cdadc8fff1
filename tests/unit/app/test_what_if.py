"""What each requirement costs."""

from __future__ import annotations

import math
from dataclasses import replace
from decimal import Decimal
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from tests.conftest import PartMaker, box

from kerfwright.adapters.tables import Tables
from kerfwright.adapters.what_if_shape import what_if_shape
from kerfwright.app.front import front, unbeaten
from kerfwright.app.offers import Priced, Shop
from kerfwright.app.other_wires import bounds, is_as_good, not_told, other_wires
from kerfwright.app.plan_job import Extent
from kerfwright.app.records import JobRequest
from kerfwright.app.stacks import stack_curve
from kerfwright.app.what_if import Alternative, Offer, WhatIf, what_if
from kerfwright.costing.estimate import estimate
from kerfwright.foundation.sources import Source, SourceTag
from kerfwright.geometry.contour import Contour
from kerfwright.planning.inside_corners import with_rounded_corners
from kerfwright.planning.planner import make_plan
from kerfwright.planning.stacking import stack_of, stacked
from kerfwright.trade.catalogue import WireKind
from kerfwright.trade.part import LayerUse, LengthUnit, Part, Role
from kerfwright.trade.requirement import Demand, Requirement
from kerfwright.trade.stack import Holding, Stack
from kerfwright.wirepath.builder import build_path
from kerfwright.wiring import plan_job
from kerfwright.wiring import what_if as wired_what_if

SAMPLES = Path(str(files("kerfwright") / "data/samples"))


@pytest.fixture(scope="module")
def part(make_part: PartMaker) -> Part:
    return make_part(
        [
            (Role.OUTLINE, box(0, 0, 60, 40), None),
            (Role.OPENING, Contour.circle((20, 20), radius_mm=8), "P1"),
        ]
    )


def asked(part: Part, requirement: Requirement, tables: Tables) -> WhatIf:
    found = what_if(
        part,
        requirement,
        catalogue=tables.catalogue,
        rules=tables.rules,
        technology=tables.technology,
        rates=tables.rates,
    )
    assert found is not None
    return found


@pytest.fixture(scope="module")
def usual(part: Part, requirement: Requirement, tables: Tables) -> WhatIf:
    """What each demand of the usual job costs; many tests read it."""
    return asked(part, requirement, tables)


@pytest.fixture(scope="module")
def loose_outline(part: Part, requirement: Requirement, tables: Tables) -> WhatIf:
    """The same with an outline of which less is asked."""
    own = {"P1": Demand(tolerance_um=25.0, ra_um=3.0)}
    return asked(part, replace(requirement, contours=own), tables)


def limits(offer: Offer) -> tuple[float, ...]:
    """Return what an offer promises; nothing promised is no limit."""
    promised = offer.asked.tolerance_um, offer.asked.ra_um, offer.asked.max_recast_um
    return tuple(math.inf if um is None else um for um in promised)


def price_of(part: Part, requirement: Requirement, tables: Tables) -> Decimal:
    plan = make_plan(
        part,
        requirement,
        technology=tables.technology,
        catalogue=tables.catalogue,
        rules=tables.rules,
    )
    price = estimate(plan, build_path(plan), rates=tables.rates).prices[0]
    return price.each


def test_each_alternative_costs_what_the_job_costs_when_asked_so(
    part: Part, requirement: Requirement, tables: Tables, usual: WhatIf
) -> None:
    base = price_of(part, requirement, tables)
    assert usual.as_asked.each == base
    tighter = next(a for a in usual.alternatives if a.demand == "tolerance" and a.offer.passes > 3)
    other = replace(requirement, tolerance_um=tighter.offer.tolerance_um)
    assert tighter.offer.each == price_of(part, other, tables)
    assert tighter.saved_each == base - tighter.offer.each
    assert f"{-tighter.saved_each}" in tighter.sentence


def test_a_demand_that_does_not_decide_saves_nothing_by_itself_but_both_together_do(
    usual: WhatIf,
) -> None:
    # ±5 µm and Ra 1.1 µm are both what the third pass gives.
    looser = {a.demand: a for a in usual.alternatives if a.offer.passes <= usual.as_asked.passes}
    assert looser["finish"].saved_each == 0
    # A wider tolerance takes less measuring, and no less cutting.
    assert looser["tolerance"].offer.passes == 3
    assert abs(looser["tolerance"].machine_minutes_saved_each) < 1e-9
    both_saved = looser["tolerance and finish"].saved_each
    assert 0 < looser["tolerance"].saved_each < both_saved / 2
    assert looser["tolerance and finish"].saved_each > 0
    assert looser["tolerance and finish"].offer.passes == 2


def test_alternatives_are_ranked_by_money_saved(usual: WhatIf) -> None:
    saved = [a.saved_each for a in usual.alternatives]
    assert saved == sorted(saved, reverse=True)


@pytest.mark.parametrize(
    ("limits_um", "own"),
    [
        ({}, {}),
        # Two rows promise the same but for recast, and the coarser one is dearer.
        ({"tolerance_um": 25.0, "ra_um": 0.8, "max_recast_um": 6.5}, {}),
        # The job as asked costs what a row does that promises more.
        ({"tolerance_um": 30.0, "ra_um": 3.0}, {"H1": Demand(tolerance_um=2.5)}),
    ],
)
def test_no_offer_of_the_front_is_beaten_by_another(
    part: Part,
    requirement: Requirement,
    tables: Tables,
    limits_um: dict[str, float],
    own: dict[str, Demand],
) -> None:
    front = asked(part, replace(requirement, contours=own, **limits_um), tables).front
    assert len(front) > 3
    for a in front:
        for b in front:
            if a is not b:
                mine, theirs = limits(a), limits(b)
                assert b.each > a.each or any(y > x for x, y in zip(mine, theirs, strict=True))


def test_a_stack_shares_one_cut_among_its_pieces(
    part: Part, requirement: Requirement, tables: Tables
) -> None:
    thin = replace(requirement, height_mm=5.0, quantities=(4,))
    stack = next(a for a in asked(part, thin, tables).alternatives if a.demand == "height")
    # Four sheets and three joints of 0.02 mm.
    high = replace(thin, height_mm=20.06, quantities=(1,))
    one_load = price_of(part, high, tables)
    # By hand: inspection of three more sheets comes on top of the load of one, and the stack is
    # laid (10 min and 1 min a sheet) and taken apart (1 min a sheet); it is picked up once.
    people, hour = tables.rates.minutes, tables.rates.hour
    measured = people.inspection_base + people.inspection_per_contour * 2 * (
        people.inspection_usual_um / 5.0
    )
    more = Decimal(3 * measured + 10 + 4 + 4) * hour.bench_per_h / 60
    assert abs(stack.offer.each - (one_load + more) / 4) <= Decimal("0.01")


def test_the_stack_of_a_what_if_is_the_one_that_costs_least(
    part: Part, requirement: Requirement, tables: Tables
) -> None:
    for sheet_mm, quantity in ((5.0, 20), (8.0, 30)):
        thin = replace(requirement, height_mm=sheet_mm, quantities=(quantity,))
        found = asked(part, thin, tables)
        shop = Shop(
            part=part, catalogue=tables.catalogue, rules=tables.rules,
            technology=tables.technology, rates=tables.rates, physics=None,
        )  # fmt: skip
        curve = stack_curve(shop, thin, quantity=quantity, holding=Holding.CLAMPED)
        assert curve.best is not None
        best = curve.points[curve.best]
        (stack,) = demands(found, "height")
        assert stack.offer.each == best.offer.each
        assert f"a stack of {best.stack.pieces}," in stack.instead


def test_each_quantity_has_the_stack_that_is_best_for_it(
    part: Part, requirement: Requirement, tables: Tables
) -> None:
    thin = replace(requirement, height_mm=2.0, quantities=(1, 10, 50))
    found = asked(part, thin, tables)
    shop = Shop(
        part=part, catalogue=tables.catalogue, rules=tables.rules,
        technology=tables.technology, rates=tables.rates, physics=None,
    )  # fmt: skip
    best = {}
    for quantity in (1, 10, 50):
        curve = stack_curve(shop, thin, quantity=quantity, holding=Holding.CLAMPED)
        assert curve.best is not None
        best[quantity] = curve.points[curve.best]
    (stack,) = demands(found, "height")
    assert stack.offer.each_at == tuple((q, p.offer.each) for q, p in best.items())
    # The sentence is of the first order that is cut in stacks, and saves what it does for that one.
    assert best[1].stack.pieces == 1 < best[10].stack.pieces
    assert stack.instead.startswith(f"a stack of {best[10].stack.pieces}, ")
    assert "for an order of 10, saves" in stack.sentence
    assert stack.saved_each == dict(found.as_asked.each_at)[10] - best[10].offer.each
    assert dict(stack.asks)["stack"] == "auto"


def test_no_stack_of_more_sheets_than_are_known_to_be_cut_is_offered(
    part: Part, requirement: Requirement, tables: Tables
) -> None:
    thin = replace(requirement, height_mm=0.5, quantities=(150,), tolerance_um=50.0, ra_um=None)
    (stack,) = demands(asked(part, thin, tables), "height")
    # Two covers lie on every stack of so thin a sheet.
    sheets = int(dict(stack.asks)["stack"]) + 2
    assert sheets <= tables.rules.stack_known_sheets
    rules = replace(tables.rules, stack_known_sheets=sheets - 1)
    (lower,) = demands(asked(part, thin, replace(tables, rules=rules)), "height")
    assert int(dict(lower.asks)["stack"]) + 2 <= sheets - 1


def test_a_stack_of_thin_sheet_says_what_its_price_leaves_out(
    part: Part, requirement: Requirement, tables: Tables
) -> None:
    foil = replace(requirement, height_mm=0.5, quantities=(20,))
    found = asked(part, foil, tables)
    (stack,) = demands(found, "height")
    # 20 sheets, two covers and 21 joints.
    assert "a stack of 20, 11.42 mm (0.4496 in) high" in stack.sentence
    assert "cover the stack is not counted" in stack.sentence
    shapes = what_if_shape(found)["alternatives"]
    said = {one["demand"]: one["not_counted"] for one in shapes}
    assert stack.sentence.endswith(said.pop("height"))
    assert set(said.values()) == {""}


def test_every_sheet_of_a_stack_is_loaded_and_measured_even_in_a_last_stack_that_is_not_full(
    part: Part, requirement: Requirement, tables: Tables
) -> None:
    plan = make_plan(
        part,
        requirement,
        technology=tables.technology,
        catalogue=tables.catalogue,
        rules=tables.rules,
    )
    path = build_path(plan)
    # Five sheets in two loads.
    single, stack = (
        {t.operation: t for t in estimate(plan, path, rates=tables.rates, per_load=n).times}
        for n in (1.0, 2.5)
    )
    for operation, one in single.items():
        factor = 2.5 if operation in {"loading", "inspection"} else 1.0
        assert stack[operation].minutes.likely == pytest.approx(factor * one.minutes.likely)
        assert ("2.5 pieces to a stack" in stack[operation].basis) == (factor > 1)


def test_nothing_is_told_that_gives_up_more_for_no_more_saved(
    part: Part, requirement: Requirement, tables: Tables
) -> None:
    # The finish alone decides: giving up the tolerance too saves nothing more.
    wanted = replace(requirement, tolerance_um=25.0, ra_um=0.8, max_recast_um=6.5)
    found = asked(part, wanted, tables)
    (finish,) = [a for a in demands(found, "finish") if a.saved_each > 0]
    combined = [a for a in found.alternatives if " and " in a.demand]
    assert all(a.saved_each > finish.saved_each for a in combined)
    kept = replace(requirement, tolerance_um=5.0, ra_um=0.8)
    assert demands(asked(part, kept, tables), "tolerance and finish")


def test_no_demand_is_given_up_on_a_wall_too_short_to_save_a_cent(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    dial = make_part(
        [
            (Role.OUTLINE, box(0, 0, 60, 40), None),
            (Role.OPENING, Contour.circle((20, 20), radius_mm=1), "P1"),
        ]
    )
    stack = Stack(pieces=500, sheet_mm=0.1, joint_mm=0.0)
    wanted = replace(
        requirement,
        tolerance_um=None,
        ra_um=0.8,
        stack=stack,
        height_mm=stack.height_mm,
        quantities=(500,),
    )
    looser = replace(wanted, ra_um=1.1)
    kept = replace(looser, contours={"H1": Demand(ra_um=0.8)})
    as_asked, on_all, but_the_hole = (
        asked(dial, one, tables).as_asked.each for one in (wanted, looser, kept)
    )
    assert on_all == but_the_hole < as_asked
    found = asked(dial, wanted, tables)
    saving = [a for a in found.alternatives if a.demand in {"finish", "one shape only"}]
    told = [a.step for a in saving if a.saved_each > 0]
    assert any(step.startswith("Keeping Ra 0.8 µm (31 µin) on H1 only") for step in told)
    assert not any(step.startswith("A finish of Ra 1.1 µm") for step in told)


def test_a_recast_layer_among_other_demands_is_named_and_two_demands_need(
    part: Part, requirement: Requirement, tables: Tables
) -> None:
    wanted = replace(requirement, tolerance_um=5.0, ra_um=1.1, max_recast_um=4.2)
    sentences = [a.sentence for a in asked(part, wanted, tables).alternatives]
    assert any("and recast 8.3 µm" in s for s in sentences)
    assert any("the finish asked and the recast asked need the same work" in s for s in sentences)
    assert not any("asked needs" in s and " asked and " in s for s in sentences)


def test_the_next_tighter_recast_is_the_first_that_costs_more_and_the_front_has_it(
    part: Part, requirement: Requirement, tables: Tables
) -> None:
    wanted = replace(requirement, ra_um=None, max_recast_um=3.0, height_mm=60.0)
    found = asked(part, wanted, tables)
    (step,) = [a for a in found.alternatives if a.demand == "recast" and a.saved_each < 0]
    limit_um = float(step.instead.split(" µm")[0])
    # Between what is held now and the step every limit costs what the step does, or the job.
    for share in (0.25, 0.5, 0.75):
        um = limit_um + share * (3.0 - limit_um)
        price = price_of(part, replace(wanted, max_recast_um=um), tables)
        assert price in {found.as_asked.each, step.offer.each}
    # No row of the front is beaten, and one promises no more recast for what the step's passes do.
    rows = [o for o in found.front if (o.asked.max_recast_um or math.inf) <= limit_um]
    assert min(o.passes for o in rows) <= step.offer.passes


def test_nothing_to_cut_gives_nothing_to_ask(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    hole = make_part([(Role.OPENING, Contour.circle((0, 0), radius_mm=0.1), None)])
    assert (
        what_if(
            hole,
            requirement,
            catalogue=tables.catalogue,
            rules=tables.rules,
            technology=tables.technology,
            rates=tables.rates,
        )
        is None
    )


def test_of_equal_offers_one_stays_and_of_others_what_none_beats(usual: WhatIf) -> None:
    one = usual.as_asked
    twin = replace(one, passes=one.passes + 1)
    dearer = replace(one, each=one.each + 1)
    finer = replace(dearer, asked=replace(one.asked, ra_um=0.5))
    assert unbeaten([one, twin, dearer, finer]) == (one, finer)
    assert unbeaten([twin, one]) == (twin,)


def demands(found: WhatIf, kind: str) -> list[Alternative]:
    return [a for a in found.alternatives if a.demand == kind]


def test_one_shape_may_keep_the_demand_while_the_rest_asks_less(
    part: Part, requirement: Requirement, tables: Tables, usual: WhatIf
) -> None:
    kept = demands(usual, "one shape only")
    assert {a.sentence.partition(" only")[0].rpartition(" on ")[2] for a in kept} == {"H1", "P1"}
    bore = next(a for a in kept if " on H1 only" in a.sentence)
    looser = replace(requirement, tolerance_um=10.0, ra_um=1.9, contours={"H1": requirement.demand})
    assert bore.offer.each == price_of(part, looser, tables)
    assert bore.saved_each > 0
    # The bore alone is the shorter wall: keeping it saves more than keeping the outline.
    assert bore.saved_each == max(a.saved_each for a in kept)


def test_demands_of_single_contours_are_priced_by_themselves(
    part: Part, requirement: Requirement, tables: Tables
) -> None:
    own = {"H1": Demand(tolerance_um=2.5)}
    wanted = replace(requirement, ra_um=None, contours=own)
    found = asked(part, wanted, tables)
    (fine,) = [a for a in demands(found, "tolerance") if a.sentence.count(" on H1 ")]
    assert fine.instead.startswith("±3 µm")
    other = replace(wanted, contours={"H1": Demand(tolerance_um=3.0)})
    assert fine.offer.each == price_of(part, other, tables)
    assert fine.saved_each > 0
    rest = [a for a in demands(found, "tolerance") if a.sentence.count(" on P1 ")]
    assert len(rest) == 2


def test_where_another_demand_decides_the_sentence_says_so(usual: WhatIf) -> None:
    (finish,) = [a for a in demands(usual, "finish") if a.saved_each == 0]
    assert finish.sentence.endswith(
        "saves nothing by itself: the tolerance asked needs the same work."
    )
    (wider,) = [a for a in demands(usual, "tolerance") if a.saved_each > 0]
    assert wider.sentence.endswith(
        "off the machine only: the finish asked needs the same work there."
    )


def test_next_larger_and_next_smaller_order_are_priced(
    part: Part, requirement: Requirement, tables: Tables
) -> None:
    found = asked(part, replace(requirement, quantities=(4,)), tables)
    assert [(a.instead, a.saved_each > 0) for a in demands(found, "quantity")] == [
        ("5", True),
        ("2", False),
    ]


def window(make_part: PartMaker, radius_mm: float) -> Part:
    """A plate with a rectangular window; a radius of 0 leaves its corners sharp."""
    sharp = make_part(
        [(Role.OUTLINE, box(0, 0, 60, 40), None), (Role.OPENING, box(10, 10, 40, 30), "P1")]
    )
    if not radius_mm:
        return sharp
    rounded = with_rounded_corners(sharp.contours[1], radius_mm=radius_mm)
    assert rounded is not None
    return replace(sharp, contours=(sharp.contours[0], rounded))


def test_a_radius_that_forces_a_thinner_wire_is_priced_with_its_corners_really_rounded(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    tight = window(make_part, 0.12)
    found = asked(tight, requirement, tables)
    assert found.as_asked.wire_diameter_mm == 0.2
    rounder = next(a for a in demands(found, "inside radius") if a.offer.wire_diameter_mm == 0.25)
    assert rounder.asked == "R 0.12 mm (0.0047 in)"
    # 0.125 + 0.009 mm is what the third pass of the 0.25 mm wire reaches; rounded up.
    assert rounder.instead == "R 0.14 mm (0.0055 in)"
    assert "4 corners of H1" in rounder.sentence
    assert rounder.offer.each == price_of(window(make_part, 0.14), requirement, tables)


def test_a_corner_that_only_a_thicker_wire_leaves_too_round_is_told_by_what_comes_out_now(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    # Corners drawn sharp, ±55 µm and Ra 1.9 µm: two passes.  0.1 + 0.018 (0.2/0.25)^0.5 mm leaves
    # (sqrt 2 - 1) 0.116 = 0.048 mm there, 0.125 + 0.018 mm 0.059: too much.
    thin = tables.catalogue.wire("0.2 mm")
    wanted = replace(requirement, tolerance_um=55.0, ra_um=1.9, wire=thin)
    found = asked(window(make_part, 0.0), wanted, tables)
    rounder = next(a for a in demands(found, "inside radius") if a.offer.wire_diameter_mm == 0.25)
    assert (rounder.asked, rounder.instead) == ("sharp inside corners", "R 0.15 mm (0.0059 in)")
    assert "instead of sharp inside corners, cut at R 0.12 mm (0.0047 in)," in rounder.sentence
    assert "which allows wire of 0.25 mm (0.0098 in) hard brass," in rounder.sentence


def test_a_tighter_radius_is_priced_with_the_thinner_wire_that_reaches_it(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    sharp = window(make_part, 0.0)
    found = asked(sharp, requirement, tables)
    tighter = next(a for a in demands(found, "inside radius") if a.offer.wire_diameter_mm == 0.2)
    assert (tighter.asked, tighter.instead) == ("sharp inside corners", "R 0.11 mm (0.0043 in)")
    assert "any down to R 0.14 mm (0.0055 in) comes out with wire of 0.25 mm" in tighter.sentence
    assert "wire of 0.2 mm (0.0079 in) hard brass is forced" in tighter.sentence
    assert "4 corners of H1 drawn tighter" in tighter.sentence
    thin = replace(requirement, wire=tables.catalogue.wire("0.2 mm"))
    assert tighter.offer.each == price_of(sharp, thin, tables)


def test_a_tighter_radius_is_held_against_the_smallest_that_is_drawn(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    found = asked(window(make_part, 2.0), requirement, tables)
    tighter = next(a for a in demands(found, "inside radius") if a.offer.wire_diameter_mm == 0.2)
    assert (tighter.asked, tighter.instead) == ("R 2 mm (0.0787 in)", "R 0.11 mm (0.0043 in)")
    assert "where the drawing has R 2 mm (0.0787 in)" in tighter.sentence
    assert "drawn tighter" not in tighter.sentence


def test_a_drawing_without_inside_corners_has_no_inside_radius_to_price(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    plain = make_part(
        [(Role.OUTLINE, box(-5, -5, 65, 45), None), (Role.OUTLINE, box(0, 0, 60, 40), "P1")]
    )
    assert not demands(asked(plain, requirement, tables), "inside radius")


def test_a_tighter_radius_is_no_saving_where_the_thinner_wire_alone_saves(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    wanted = replace(
        requirement,
        material=tables.catalogue.material("Ti-6Al-4V"),
        height_mm=25.4,
        tolerance_um=10.0,
        ra_um=None,
        max_recast_um=2.0,
    )
    sharp = window(make_part, 0.0)
    found = asked(sharp, wanted, tables)
    thin = replace(wanted, wire=tables.catalogue.wire("0.2 mm"))
    assert price_of(sharp, thin, tables) < found.as_asked.each
    assert any(a.offer.wire_diameter_mm == 0.2 for a in demands(found, "wire"))
    tighter = [a for a in demands(found, "inside radius") if a.offer.wire_diameter_mm < 0.25]
    assert all(a.saved_each <= 0 for a in tighter)


def test_a_wire_that_saves_less_than_prices_can_tell_does_not_enter_the_front(
    part: Part, requirement: Requirement, tables: Tables
) -> None:
    coarse = replace(tables, rates=replace(tables.rates, same_price_share=0.5))
    front = asked(part, requirement, coarse).front
    assert {o.wire_diameter_mm for o in front} == {0.25}
    exact = replace(tables, rates=replace(tables.rates, same_price_share=0.0))
    cheapest = asked(part, requirement, exact).front
    assert len(cheapest) == len(front)
    assert all(a.each <= b.each for a, b in zip(cheapest, front, strict=True))


def test_the_front_of_a_job_with_own_demands_holds_the_job_as_asked_or_what_beats_it(
    loose_outline: WhatIf,
) -> None:
    asks = limits(loose_outline.as_asked)
    assert any(
        row.each <= loose_outline.as_asked.each
        and all(a <= b for a, b in zip(limits(row), asks, strict=True))
        for row in loose_outline.front
    )


def test_sentences_hold_no_secrets_of_the_shop(usual: WhatIf) -> None:
    words = " ".join(a.sentence for a in usual.alternatives).casefold()
    for secret in ("rate", "margin", "an hour", "pass ", "skim", "offset", "attend"):
        assert secret not in words


def test_every_quantity_asked_is_priced_in_every_offer(
    part: Part, requirement: Requirement, tables: Tables
) -> None:
    wanted = replace(requirement, quantities=(3, 9))
    found = asked(part, wanted, tables)
    assert found.quantities == (3, 9)
    for n, each in found.as_asked.each_at:
        assert each == price_of(part, replace(wanted, quantities=(n,)), tables)
    only = asked(part, replace(wanted, quantities=(9,)), tables)
    for one in found.alternatives:
        if one.demand in {"quantity", "height"}:
            continue
        alone = [
            a.offer.each
            for a in only.alternatives
            if (a.demand, a.instead) == (one.demand, one.instead)
        ]
        assert dict(one.offer.each_at)[9] in alone
    # Three sheets to a stack: nine were three loads of three.
    (stack,) = demands(found, "height")
    assert "stack of 3" in stack.instead
    plan = make_plan(
        part,
        stacked(
            replace(requirement, quantities=(3,)),
            stack_of(3, sheet_mm=requirement.height_mm, rules=tables.rules),
        ),
        technology=tables.technology,
        catalogue=tables.catalogue,
        rules=tables.rules,
    )
    three = estimate(plan, build_path(plan), rates=tables.rates, per_load=3).prices[0]
    # The nine have the stack that is best for nine.
    assert dict(stack.offer.each_at)[9] < (three.likely / 9).quantize(Decimal("0.01"))
    for offer in found.front:
        assert [n for n, _ in offer.each_at] == [3, 9]
    shape = what_if_shape(found)
    assert shape["quantities"] == [3, 9]
    assert shape["as_asked"]["each_at"][1] == {
        "quantity": 9, "each": str(only.as_asked.each)
    }  # fmt: skip


def test_the_front_says_whose_quality_it_tells_where_contours_differ(
    usual: WhatIf, loose_outline: WhatIf
) -> None:
    assert usual.front_is_of == ""
    told = loose_outline.front_is_of
    # A skim round the outline runs over more wall than those of the bore.
    assert told.startswith("What a row promises is for P1, the walls with the same demand that")
    assert "H1 keeps what is asked of it" in told
    assert "pass" not in told


def test_a_limit_that_no_pass_meets_surely_is_told_once_and_again_only_where_it_differs(
    part: Part, requirement: Requirement, tables: Tables
) -> None:
    found = asked(part, replace(requirement, ra_um=0.17), tables)
    kept = [a for a in found.alternatives if "finish" not in a.demand]
    assert {a.offer.wire_diameter_mm for a in kept} == {0.25, 0.2}
    # By hand: Phi(ln(0.15/0.17)/0.2) is one in 4; a 0.20 mm wire leaves 0.14, one in 6.
    (once,) = [text for text in found.front_remarks if "not sure" in text]
    assert once.startswith("The finish asked is not sure: about one piece in 4 would miss.")
    for one in kept:
        differs = "The finish asked is not sure: about one piece in 6 would miss." in one.sentence
        assert differs == ("not sure" in one.sentence) == (one.offer.wire_diameter_mm == 0.2)
    looser = next(a for a in demands(found, "finish") if a.saved_each > 0)
    assert "not sure" not in looser.sentence


def test_a_doubt_on_some_contours_names_them(
    part: Part, requirement: Requirement, tables: Tables
) -> None:
    found = asked(part, replace(requirement, contours={"H1": Demand(ra_um=0.17)}), tables)
    (once,) = [text for text in found.front_remarks if "not sure" in text]
    assert once.startswith("The finish asked of H1 is not sure: about one piece in 4 would miss.")


def test_a_looser_finish_reads_otherwise_in_microinches_too(
    part: Part, requirement: Requirement, tables: Tables
) -> None:
    wide = replace(requirement, tolerance_um=25.0, ra_um=2.0)
    held_um = asked(part, wide, tables).as_asked.ra_um
    looser = demands(asked(part, replace(wide, ra_um=held_um * 0.9999), tables), "finish")
    first, other = (
        float(text.split("(")[1].split(" µin")[0])
        for text in next((a.asked, a.instead) for a in looser if a.saved_each > 0)
    )
    # The next class is 1.9 µm, 75 µin beside 71: less than a step of a twentieth.
    assert other > 1.06 * first


def test_wires_of_every_kind_are_offered_at_the_price_that_a_plan_with_them_gives(
    tmp_path: Path,
) -> None:
    # A shop that trusts the table in every wire: nothing more has to be saved by one not measured.
    (tmp_path / "rates.toml").write_text("[order]\nunmeasured_saving_share = 0.0\n", "utf-8")
    job = JobRequest(
        tables=tmp_path,
        drawing=SAMPLES / "hand_die.dxf",
        material="D2",
        height="70 mm",
        tolerance="±0.005 mm",
        finish="Ra 0.8 µm",
        layer_uses={
            "STOCK": LayerUse.STOCK, "START": LayerUse.START, "DIE": LayerUse.OPENING,
        },
    )  # fmt: skip
    result = plan_job(job, extent=Extent.PRICED)
    found = wired_what_if(result)
    assert found is not None
    cheapest, quickest = demands(found, "wire")
    # Folded behind the best of its kind only where the price is nearly the same.
    for one, like in zip(found.alternatives, found.alike, strict=True):
        if like is not None:
            better = found.alternatives[like]
            assert found.alike[like] is None
            assert better.demand == one.demand
            assert 0 <= better.saved_each - one.saved_each < found.as_asked.each / 100
    kinds = {one.demand for one in found.alternatives}
    assert found.alike.count(None) >= len(kinds)
    assert cheapest.asked == "0.25 mm (0.0098 in) hard brass"
    assert cheapest.instead == "0.25 mm (0.0098 in) diffusion-annealed coated"
    assert cheapest.sentence.startswith(f"Wire of {cheapest.instead} instead of {cheapest.asked}")
    assert cheapest.saved_each > 0
    assert quickest.offer.machine_minutes_each < cheapest.offer.machine_minutes_each
    assert quickest.offer.each > cheapest.offer.each
    for one in (cheapest, quickest):
        asks = dict(one.asks)
        # What the diameter does is not credited to the kind: a plan with the plain wire says it.
        is_other = one.offer.wire_diameter_mm != 0.25
        assert ("The kind in use would by itself save" in one.sentence) == is_other
        if is_other:
            plain = plan_job(
                replace(job, wire=f"{one.offer.wire_diameter_mm} mm"), extent=Extent.PRICED
            ).estimate.prices[0]
            saved = found.as_asked.each - plain.each
            assert f"by itself save EUR {saved} a piece in that diameter" in one.sentence
        assert one.offer.wire_name in asks["wire"]
        whole = plan_job(replace(job, wire=asks["wire"]), extent=Extent.PRICED)
        assert whole.estimate is not None
        assert whole.estimate.prices[0].each == one.offer.each
    assert any(row.each == cheapest.offer.each for row in found.front)


def test_no_wire_of_the_tables_falls_below_its_bound_nor_beats_those_offered(
    part: Part, requirement: Requirement, tables: Tables
) -> None:
    shop = Shop(
        part=part,
        catalogue=tables.catalogue,
        technology=tables.technology,
        rates=tables.rates,
        physics=None,
        rules=tables.rules,
        quantities=requirement.quantities,
    )
    base = shop.price(requirement, quantity=1)
    assert base is not None
    found = other_wires(shop, requirement, base, 1).paying
    least = min([base, *found], key=lambda p: p.offer.each).offer.each
    bounded = bounds(shop, requirement, base, 1)
    assert {b.wire.kind for b in bounded} >= {w.kind for w in tables.catalogue.wires} - {"tungsten"}
    for bound in bounded:
        priced = shop.price(replace(requirement, wire=bound.wire), quantity=1)
        if priced is None or not is_as_good(priced, base):
            continue
        # The path round a thicker wire is a little longer outside and shorter inside.
        assert float(priced.offer.each) > 0.99 * bound.each
        assert priced.offer.machine_minutes_each > 0.99 * bound.minutes_each
        share = 2 * shop.rates.same_price_share if bound.is_known else 0.12
        assert float(priced.offer.each) > (1 - share) * float(least)


def test_a_wire_that_nobody_measured_stands_before_a_known_one_only_where_it_saves_more(
    part: Part, requirement: Requirement, tables: Tables
) -> None:
    # Common practice, no source: a tenth, about what the wire's own part of a feed does to a price.
    assert tables.rates.unmeasured_saving_share == 0.1

    def found(factor: float, tag: SourceTag, share: float = 0.1) -> tuple[str | None, str]:
        """Return the cheapest wire offered beside plain brass, and what is said of it."""
        brass = tables.catalogue.wire("0.25")
        sources = {**brass.sources, "rate_factor": Source(tag=tag)}
        new = replace(brass, kind="new", name="new", rate_factor=factor, sources=sources)
        kinds = (
            WireKind(kind="hard-brass", name=brass.name, aliases=(), wires=(brass,)),
            WireKind(kind="new", name="new", aliases=(), wires=(new,)),
        )
        shop = Shop(
            part=part,
            catalogue=replace(tables.catalogue, wire_kinds=kinds),
            technology=tables.technology,
            rates=replace(tables.rates, unmeasured_saving_share=share),
            physics=None,
            rules=tables.rules,
            quantities=requirement.quantities,
        )
        base = shop.price(requirement, quantity=1)
        assert base is not None
        others = other_wires(shop, requirement, base, 1)
        front_kinds = front(shop, requirement, base, 1, others=others.paying).offers
        names = {one.wire_name for one in front_kinds}
        first = others.paying[0].plan.choice.wire.name if others.paying else None
        assert (first == "new") is ("new" in names)
        said = [not_told(shop, base, one) for one in others.paying]
        is_guess = tag is SourceTag.COMMON_PRACTICE
        assert all(("nobody's measurement" in text) is is_guess for text in said)
        return first, others.held_back

    assert found(1.3, SourceTag.COMMON_PRACTICE)[0] is None
    assert found(1.3, SourceTag.FROM_MEMORY)[0] == "new"
    assert found(1.3, SourceTag.SHOP)[0] == "new"
    assert found(1.3, SourceTag.COMMON_PRACTICE, share=0.0)[0] == "new"
    _, said = found(1.3, SourceTag.COMMON_PRACTICE)
    assert "nobody's measurement; it is put first from 10% on" in said
    assert "less than 0.25 mm (0.0098 in) hard brass at " in said
    assert found(3.0, SourceTag.COMMON_PRACTICE) == ("new", "")


def test_a_quick_wire_is_not_offered_before_one_as_little_known_that_saves_more(
    part: Part, requirement: Requirement, tables: Tables
) -> None:
    brass = tables.catalogue.wire("0.25")
    guess = {**brass.sources, "rate_factor": Source(tag=SourceTag.COMMON_PRACTICE)}

    def offered(dear_per_kg: float) -> tuple[list[str], str]:
        new = [
            replace(brass, kind=name, name=name, rate_factor=factor, price_per_kg=price, sources=of)
            for name, factor, price, of in (
                ("cheap", 1.25, brass.price_per_kg, guess),
                ("quick", 1.5, dear_per_kg, guess),
            )
        ]
        kinds = tuple(
            WireKind(kind=one.kind, name=one.name, aliases=(), wires=(one,))
            for one in (brass, *new)
        )
        shop = Shop(
            part=part,
            catalogue=replace(tables.catalogue, wire_kinds=kinds),
            technology=tables.technology,
            rates=tables.rates,
            physics=None,
            rules=tables.rules,
            quantities=requirement.quantities,
        )
        base = shop.price(requirement, quantity=1)
        assert base is not None
        found = other_wires(shop, requirement, base, 1)
        return [one.plan.choice.wire.name for one in found.paying], found.held_back

    names, said = offered(4 * brass.price_per_kg)
    assert names == []
    assert said.startswith("Wire of 0.25 mm (0.0098 in) cheap would cost")
    assert "No wire of measured rate saves 1%." in said
    assert "By such a rate too wire of 0.25 mm (0.0098 in) quick takes" in said
    # Where it saves the most money too, nothing is held back.
    assert offered(brass.price_per_kg) == (["quick"], "")


def test_steps_of_an_inch_job_are_round_in_inches_and_so_are_the_lines_that_ask_them(
    part: Part, requirement: Requirement, tables: Tables
) -> None:
    inch = replace(part, drawing_unit=LengthUnit.INCH)
    wanted = replace(requirement, tolerance_um=8.0, ra_um=0.9)
    found = asked(inch, wanted, tables)
    offered = [a for kind in ("tolerance", "finish") for a in demands(found, kind)]
    assert len(offered) >= 2
    for one in offered:
        inches = one.instead.split("(")[1].split()[0]
        assert len(inches.lstrip("0.").rstrip("0")) <= 2, one.instead
    lines = [text for a in offered for _, text in a.asks]
    lines += [text for o in found.front for name, text in o.asks if name != "wire"]
    assert lines
    assert all(text.endswith(("in", "µin")) for text in lines), lines
    # What is asked so is read back as what is held, and not as a pass more.
    for text in (t for t in lines if t.startswith("±")):
        number = text.removeprefix("±").removesuffix(" in")
        assert len(number.lstrip("0.").rstrip("0")) <= 2


def test_steps_of_a_metric_job_stay_round_in_micrometres(
    part: Part, requirement: Requirement, tables: Tables
) -> None:
    found = asked(part, replace(requirement, tolerance_um=8.0, ra_um=0.9), tables)
    texts = [text for a in demands(found, "tolerance") for _, text in a.asks]
    assert texts
    assert all(text.endswith("µm") for text in texts)


def test_a_stack_that_was_priced_in_the_search_is_not_planned_again_for_its_sentence(
    part: Part, requirement: Requirement, tables: Tables, monkeypatch: pytest.MonkeyPatch
) -> None:
    planned: list[int] = []
    price = Shop.price

    def counting(self: Shop, wanted: Requirement, **more: Any) -> Priced | None:
        if wanted.stack is not None and wanted.stack.pieces > 1:
            planned.append(wanted.stack.pieces)
        return price(self, wanted, **more)

    monkeypatch.setattr(Shop, "price", counting)
    found = asked(part, replace(requirement, quantities=(12,)), tables)
    assert demands(found, "height")
    assert planned
    assert len(planned) == len(set(planned))
