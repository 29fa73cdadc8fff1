"""How sure a saving is: what both plans share moves both, what one has of its own moves it."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from importlib.resources import files
from pathlib import Path

import pytest
from tests.unit.app.test_what_if import Part, Requirement, Tables, WhatIf, asked, demands, part

from kerfwright.app.offers import Offer, Shop
from kerfwright.app.records import JobRequest
from kerfwright.app.savings_answers import savings_answers
from kerfwright.foundation.ranges import Z_10_90
from kerfwright.foundation.sources import Reason
from kerfwright.planning.stacking import stack_of, stacked
from kerfwright.process.feed_beyond import wire_gain_log
from kerfwright.process.technology import Technology
from kerfwright.wiring import plan_job, what_if

__all__ = ["part"]

SAMPLES = Path(str(files("kerfwright") / "data/samples"))
CENT = 0.01
"""To which prices are rounded."""


@pytest.fixture(scope="module")
def blocks(requirement: Requirement) -> Requirement:
    return replace(requirement, height_mm=40.0, quantities=(5,))


@pytest.fixture(scope="module")
def found(part: Part, blocks: Requirement, tables: Tables) -> WhatIf:
    return asked(part, blocks, tables)


def shop_of(part: Part, tables: Tables, technology: Technology | None = None) -> Shop:
    return Shop(
        part=part,
        catalogue=tables.catalogue,
        technology=technology or tables.technology,
        rates=tables.rates,
        physics=None,
        rules=tables.rules,
    )


def reason(found: WhatIf, demand: str, name: str = "") -> Reason:
    (number,) = (n for n, a in enumerate(found.alternatives, 1) if a.demand == demand)
    wanted = f"saving {number}", name or demand
    (one,) = (a for a in savings_answers(found) if (a.about, a.name) == wanted)
    return one.reason


def saved(
    price: Callable[[Technology], tuple[Offer, Offer]], ends: list[Technology]
) -> list[tuple[float, float]]:
    """Return what is saved of money and minutes with the tables at either end of one figure."""
    pairs = [price(technology) for technology in ends]
    return [
        (float(a.each - b.each), a.machine_minutes_each - b.machine_minutes_each) for a, b in pairs
    ]


def test_the_saving_of_a_stack_is_as_unsure_as_the_height_that_only_it_has(
    found: WhatIf, part: Part, blocks: Requirement, tables: Tables
) -> None:
    law, spread = tables.technology.rough, tables.technology.feed_spread
    (height,) = demands(found, "height")
    high = stacked(
        blocks,
        stack_of(int(dict(height.asks)["stack"]), sheet_mm=40.0, rules=tables.rules),
    )

    def price(technology: Technology) -> tuple[Offer, Offer]:
        shop = shop_of(part, tables, technology)
        one, other = (shop.price(r, quantity=5) for r in (blocks, high))
        assert one is not None
        assert other is not None
        return one.offer, other.offer

    out = Z_10_90 * spread.height_scale_log
    ends = [
        replace(
            tables.technology,
            rough=replace(law, height_scale_mm=law.height_scale_mm * math.exp(z)),
        )
        for z in (-out, out)
    ]
    moved = saved(price, ends)
    for name, values in zip(("", "machine time each less"), zip(*moved, strict=True), strict=True):
        span = reason(found, "height", name).range
        assert span is not None
        assert span.low < min(values) < span.likely < max(values) < span.high
        # It is one cause among several: a range far beyond it would be no answer either.
        assert span.high - span.low < 2 * (max(values) - min(values))
        shares = dict(reason(found, "height", name).shares)
        assert max(shares, key=lambda who: shares[who]) == "rough law of tall work"
        assert sum(shares.values()) == pytest.approx(1)


def test_what_is_beyond_routine_in_both_plans_leaves_the_difference_of_its_amounts(
    part: Part, blocks: Requirement, tables: Tables
) -> None:
    tall = asked(part, replace(blocks, height_mm=150.0, quantities=(1,)), tables)
    number, step = next(
        (n, a)
        for n, a in enumerate(tall.alternatives, 1)
        if {"tolerance", "finish"} & set(a.demand.split()) and a.machine_minutes_saved_each > 1
    )
    assert tall.as_asked is not None
    assert step.offer.passes < tall.as_asked.passes
    answers = {(a.about, a.name): a.reason for a in savings_answers(tall)}
    one, so = answers[f"saving {number}", step.demand], answers[f"saving {number}", "price each so"]
    assert one.range is not None
    assert so.range is not None
    # The rough pass is the same in both: only the skim that goes is as unsure as it is.
    levels = {p.level for p in step.offer.feed_parts}
    assert "rough law of tall work" in levels
    assert dict(one.shares).get("rough law of tall work", 0.0) < 1e-3
    assert dict(one.shares)["skim law of tall work"] > 1e-2
    assert one.range.high - one.range.low < so.range.high - so.range.low


def test_the_saving_of_another_wire_is_as_unsure_as_its_rate_factor(
    found: WhatIf, part: Part, blocks: Requirement, tables: Tables
) -> None:
    spread = tables.technology.feed_spread
    shop = shop_of(part, tables)
    base = shop.price(blocks, quantity=5)
    assert base is not None
    used = base.plan.choice.wire
    coated = max(
        (wire for wire in tables.catalogue.wires if wire.diameter_mm == used.diameter_mm),
        key=lambda wire: wire.rate_factor,
    )
    gain_log = wire_gain_log(coated, material=blocks.material, spread=spread)

    def each_with(rate_factor: float) -> Offer:
        wire = replace(coated, rate_factor=rate_factor)
        priced = shop.price(replace(blocks, wire=wire), quantity=5)
        assert priced is not None
        return priced.offer

    offer = each_with(coated.rate_factor)
    likely = base.offer.each - offer.each
    step = replace(found.alternatives[0], demand="wire", offer=offer, saved_each=likely)
    span = reason(replace(found, as_asked=base.offer, alternatives=(step,)), "wire").range
    assert span is not None
    out = Z_10_90 * gain_log
    ends = [
        float(base.offer.each - each_with(coated.rate_factor * math.exp(z)).each)
        for z in (-out, out)
    ]
    assert span.low <= ends[0] + CENT < span.likely < ends[1] - CENT <= span.high


def test_a_stack_of_a_later_order_is_held_against_the_job_as_asked_at_that_order() -> None:
    punch = JobRequest(
        drawing=SAMPLES / "pawl_punch.dxf",
        material="carbide",
        height="20 mm",
        tolerance="±0.004 mm",
        finish="Ra 0.4 µm",
        quantities=(1, 5),
    )
    found = what_if(plan_job(punch))
    assert found is not None
    number, step = next((n, a) for n, a in enumerate(found.alternatives, 1) if a.pieces == 5)
    reasons = {a.name: a.reason for a in savings_answers(found) if a.about == f"saving {number}"}
    saved = reasons[step.demand]
    inputs = dict(saved.inputs)
    assert inputs["pieces"] == 5
    assert saved.value == pytest.approx(inputs["each as asked"] - inputs["each so"])
    assert saved.range is not None
    assert saved.range.low < saved.value < saved.range.high
    assert saved.range.likely == pytest.approx(saved.value, abs=0.01)
    less = reasons["machine time each less"]
    assert less.range is not None
    assert less.range.likely == pytest.approx(less.value, abs=0.01)
