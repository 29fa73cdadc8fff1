"""What of a price goes with a feed that is less sure than in routine work."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from tests.unit.app.test_range_of_savings import shop_of
from tests.unit.app.test_what_if import Part, Requirement, Tables, part
from tests.unit.costing.test_estimate_with_experience import ROUGH, learned

from kerfwright.app.offers import Priced
from kerfwright.costing.feed_parts import FeedPart, feed_parts

__all__ = ["part"]


@pytest.fixture(scope="module")
def tall(part: Part, requirement: Requirement, tables: Tables) -> Priced:
    wanted = replace(requirement, height_mm=150.0, quantities=(2,))
    priced = shop_of(part, tables).price(wanted, quantity=2)
    assert priced is not None
    return priced


def known_by(
    tall: Priced, tables: Tables, shares: tuple[tuple[str, float], ...]
) -> tuple[FeedPart, ...]:
    known = replace(learned(ROUGH), feed_shares=shares)
    choice = tall.plan.choice
    passes = tuple(replace(one, learned=known) for one in choice.passes)
    plan = replace(tall.plan, choice=replace(choice, passes=passes))
    return feed_parts(plan, tall.estimate, technology=tables.technology)


def test_routine_work_has_no_part_of_its_own(
    part: Part, requirement: Requirement, tables: Tables
) -> None:
    height_mm = tables.technology.feed_spread.routine_height_mm
    priced = shop_of(part, tables).price(replace(requirement, height_mm=height_mm), quantity=1)
    assert priced is not None
    assert not [p for p in priced.offer.feed_parts if p.level.startswith("rough law")]


def test_the_parts_are_no_more_than_the_price_and_the_time_of_a_piece(tall: Priced) -> None:
    parts = tall.offer.feed_parts
    assert {p.level for p in parts} == {"rough law of tall work", "skim law of tall work"}
    assert 0 < math.fsum(p.each for p in parts) < float(tall.offer.each)
    assert 0 < math.fsum(p.minutes for p in parts) < tall.offer.machine_minutes_each


def test_cuts_leave_no_more_of_an_unknown_than_of_its_kind(tall: Priced, tables: Tables) -> None:
    none = known_by(tall, tables, (("machine", 0.7), ("cut", 0.3)))
    assert {p.sigma_log for p in none} == {0.0}
    some = known_by(tall, tables, (("height", 0.04), ("cut", 0.96)))
    sigma_log = learned(ROUGH).feed_sigma_log
    assert max(p.sigma_log for p in some) == pytest.approx(sigma_log * 0.2)
    # Cuts that told nothing of it leave what the tables have.
    all_of_it = known_by(tall, tables, (("height", 1.0),))
    before = [p.sigma_log for p in tall.offer.feed_parts]
    assert [p.sigma_log for p in all_of_it] == pytest.approx([min(s, sigma_log) for s in before])
