"""What each requirement costs."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from tests.conftest import PartMaker, box

from kerfwright.adapters.tables import Tables
from kerfwright.app.what_if import WhatIf, what_if
from kerfwright.costing.estimate import estimate
from kerfwright.geometry.contour import Contour
from kerfwright.planning.planner import make_plan
from kerfwright.trade.part import Part, Role
from kerfwright.trade.requirement import Requirement
from kerfwright.wirepath.builder import build_path


@pytest.fixture
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
    part: Part, requirement: Requirement, tables: Tables
) -> None:
    found = asked(part, requirement, tables)
    base = price_of(part, requirement, tables)
    assert found.as_asked.each == base
    tighter = next(a for a in found.alternatives if a.demand == "tolerance" and a.offer.passes > 3)
    other = replace(requirement, tolerance_um=tighter.offer.tolerance_um)
    assert tighter.offer.each == price_of(part, other, tables)
    assert tighter.saved_each == base - tighter.offer.each
    assert f"{-tighter.saved_each}" in tighter.sentence


def test_a_demand_that_does_not_decide_saves_nothing_by_itself_but_both_together_do(
    part: Part, requirement: Requirement, tables: Tables
) -> None:
    # ±5 µm and Ra 0.8 µm are both what the third pass gives.
    found = asked(part, requirement, tables)
    looser = {a.demand: a for a in found.alternatives if a.offer.passes <= found.as_asked.passes}
    assert looser["tolerance"].saved_each == 0
    assert looser["finish"].saved_each == 0
    assert looser["tolerance and finish"].saved_each > 0
    assert looser["tolerance and finish"].offer.passes == 2


def test_alternatives_are_ranked_by_money_saved(
    part: Part, requirement: Requirement, tables: Tables
) -> None:
    saved = [a.saved_each for a in asked(part, requirement, tables).alternatives]
    assert saved == sorted(saved, reverse=True)


def test_no_offer_of_the_front_is_beaten_by_another(
    part: Part, requirement: Requirement, tables: Tables
) -> None:
    front = asked(part, requirement, tables).front
    assert len(front) > 3
    for a in front:
        for b in front:
            if a is not b:
                assert b.each > a.each or b.tolerance_um > a.tolerance_um or b.ra_um > a.ra_um


def test_a_stack_shares_one_cut_among_its_pieces(
    part: Part, requirement: Requirement, tables: Tables
) -> None:
    thin = replace(requirement, height_mm=5.0, quantities=(4,))
    stack = next(a for a in asked(part, thin, tables).alternatives if a.demand == "height")
    one_load = price_of(part, replace(thin, height_mm=20.0, quantities=(1,)), tables)
    assert stack.offer.each == (one_load / 4).quantize(Decimal("0.01"))


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
