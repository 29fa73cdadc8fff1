"""What a what-if says of a job whose stack was asked for by number."""

from __future__ import annotations

import re
from dataclasses import replace
from decimal import Decimal

import pytest
from tests.unit.app.test_what_if import Part, Requirement, Tables, WhatIf, asked, demands, part

from kerfwright.planning.stacking import stack_of, stacked

__all__ = ["part"]


def of_stack(
    part: Part, requirement: Requirement, tables: Tables, pieces: int, *quantities: int
) -> WhatIf:
    thin = replace(requirement, height_mm=2.0, quantities=quantities)
    return asked(part, stacked(thin, stack_of(pieces, sheet_mm=2.0, rules=tables.rules)), tables)


@pytest.fixture(scope="module")
def low(part: Part, requirement: Requirement, tables: Tables) -> WhatIf:
    return of_stack(part, requirement, tables, 4, 24)


def money(sentence: str) -> list[Decimal]:
    return [Decimal(m) for m in re.findall(r"[A-Z]{3} (\d+\.\d+)", sentence)]


def test_another_stack_is_offered_for_the_same_order_at_its_price(
    low: WhatIf, part: Part, requirement: Requirement, tables: Tables
) -> None:
    (height,) = demands(low, "height")
    number = int(dict(height.asks)["stack"])
    assert number > 4
    assert "instead of stacks of 4, saves" in height.sentence
    as_such = of_stack(part, requirement, tables, number, 24)
    assert height.offer.each == as_such.as_asked.each < low.as_asked.each


def test_the_stack_that_is_best_is_offered_no_other(
    low: WhatIf, part: Part, requirement: Requirement, tables: Tables
) -> None:
    (height,) = demands(low, "height")
    best = of_stack(part, requirement, tables, int(dict(height.asks)["stack"]), 24)
    assert not demands(best, "height")
    for step in demands(best, "quantity"):
        assert "by itself" not in step.sentence


def test_another_order_says_what_of_its_saving_is_the_stack_and_what_the_quantity(
    low: WhatIf,
) -> None:
    (height,) = demands(low, "height")
    steps = demands(low, "quantity")
    assert {step.instead for step in steps} == {"10", "25"}
    for step in steps:
        total, by_stack, by_quantity = money(step.sentence)
        assert by_stack == height.saved_each
        assert total == abs(step.saved_each)
        sign = -1 if "a piece more." in step.sentence else 1
        assert by_stack + sign * by_quantity == step.saved_each
        assert f"The order of 24, in stacks of {dict(height.asks)['stack']}," in step.sentence
    (fewer,) = (step for step in steps if step.instead == "10")
    assert "against that the order of 10 costs" in fewer.sentence


def test_pieces_stacked_for_nothing_are_offered_one_at_a_time(
    part: Part, requirement: Requirement, tables: Tables
) -> None:
    found = of_stack(part, requirement, tables, 10, 1)
    (height,) = demands(found, "height")
    assert height.sentence.startswith("Cutting one at a time, instead of stacks of 10, saves")
    assert dict(height.asks) == {"stack": "1", "covers": ""}


def test_each_of_several_orders_has_its_own_best_stack(
    part: Part, requirement: Requirement, tables: Tables
) -> None:
    found = of_stack(part, requirement, tables, 4, 4, 24)
    (height,) = demands(found, "height")
    each_at = dict(height.offer.each_at)
    assert set(each_at) == {4, 24}
    assert each_at[24] < dict(found.as_asked.each_at)[24]
    assert dict(height.asks)["stack"] == "auto"


def test_a_stack_beyond_what_is_known_says_so_in_its_sentence(
    part: Part, requirement: Requirement, tables: Tables
) -> None:
    blocks = replace(requirement, height_mm=40.0, quantities=(5,))
    (beyond,) = demands(asked(part, blocks, tables), "height")
    most_mm = tables.technology.limits.most_known_height_mm
    assert stack_of(5, sheet_mm=40.0, rules=tables.rules).height_mm > most_mm
    assert "beyond the height that our figures are known for: a test cut first." in beyond.sentence
    # One that is not says nothing of the kind, and what holds as asked too is no news.
    low = replace(requirement, height_mm=15.0, quantities=(5,))
    (within,) = demands(asked(part, low, tables), "height")
    assert "known for" not in within.sentence
    tall = replace(requirement, height_mm=most_mm + 10, quantities=(1,))
    assert not any("known for" in a.sentence for a in asked(part, tall, tables).alternatives)
