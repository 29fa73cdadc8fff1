"""The numbers of a shop from few jobs, counted by hand."""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import Decimal

import pytest

from kerfwright.app.enquiries import Stage
from kerfwright.app.shop_numbers import (
    JobNumbers,
    Occupied,
    Said,
    Way,
    numbers_of,
    tolerance_group,
)
from kerfwright.foundation.ranges import Range

MONDAY = datetime.fromisoformat("2026-03-02 00:00")


def job(name: str, stage: str = "done", **more: object) -> JobNumbers:
    return JobNumbers(
        **{"id": name, "title": name, "customer": "", "asked": {}, "stage": Stage(stage)} | more  # type: ignore[arg-type]
    )


def on(machine: str, first_h: float, last_h: float) -> Occupied:
    hours = (MONDAY + timedelta(hours=h) for h in (first_h, last_h))
    return Occupied(machine=machine, begin=next(hours), end=next(hours))


def test_a_price_with_the_hours_that_were_marked() -> None:
    whole = job(
        "a",
        price=Decimal("500.00"),
        attended_min=Range(low=50, likely=60, high=75),
        alone_min=Range(low=100, likely=120, high=150),
        attended_per_h=Decimal(85),
        alone_per_h=Decimal(40),
        attended=Said(minutes=90, count=4, of=4),
        alone=Said(minutes=105, count=3, of=3),
    )
    # Half an hour more at 85, a quarter of an hour less at 40.
    assert whole.price_at_marked == Decimal("532.50")
    part = job("a", **{n: getattr(whole, n) for n in ("price", "attended_min", "attended_per_h")})
    assert part.price_at_marked is None


def test_only_jobs_of_which_every_minute_was_said_are_compared() -> None:
    quoted = Range(low=50, likely=60, high=75)
    jobs = [
        job("in", attended_min=quoted, attended=Said(minutes=70, count=2, of=2)),
        job("out", attended_min=quoted, attended=Said(minutes=90, count=2, of=2)),
        job("part", attended_min=quoted, attended=Said(minutes=10, count=1, of=2)),
        job("none", attended_min=quoted),
        job("old", attended_min=quoted, attended=Said(minutes=10, count=1, of=0)),
    ]
    against = numbers_of(jobs, begin=None, end=MONDAY).against[0]
    assert against.jobs == ("in", "out")
    assert (against.quoted_min, against.marked_min) == (120, 160)
    assert (against.inside.count, against.inside.of) == (1, 2)


def test_jobs_that_overlap_on_a_machine_count_once_and_only_within_the_period() -> None:
    jobs = [
        job("a", occupied=on("M1", -10, 5), breaks=2),
        job("b", occupied=on("M1", 3, 8)),
        job("c", "ordered", occupied=on("M1", 20, 30)),
        job("d", occupied=on("M2", 30, 40)),
        job("e", "declined", occupied=on("M2", 1, 2)),
    ]
    found = numbers_of(jobs, begin=MONDAY, end=MONDAY + timedelta(hours=24))
    (used,) = found.used
    assert (used.machine, used.jobs, used.breaks) == ("M1", ("a", "b", "c"), 2)
    assert used.hours == pytest.approx(8 + 4)
    assert used.of_hours == 24


def test_quotes_are_won_lost_or_wait_and_each_is_named() -> None:
    jobs = [
        job("a", customer="Mill"), job("b", "ordered", customer="Mill"),
        job("c", "declined", customer="Mill"), job("d", "quoted", customer="Mill"),
        job("e", "open", customer="Mill"), job("f", "declined", asked={"tolerance": "±2 µm"}),
    ]  # fmt: skip
    won = {(w.way, w.group): w for w in numbers_of(jobs, begin=None, end=MONDAY).won}
    every = won[Way.ALL, "all quotes"]
    assert (every.won, every.lost, every.waiting) == (("a", "b"), ("c", "f"), ("d",))
    assert (every.share.count, every.share.of) == (2, 4)
    mill = won[Way.CUSTOMER, "Mill"]
    assert (mill.share.count, mill.share.of) == (2, 3)
    # By hand: z = 1.959964, p = 2/3, n = 3.
    assert mill.share.low == pytest.approx(0.2077, abs=5e-5)
    assert mill.share.high == pytest.approx(0.9385, abs=5e-5)
    assert won[Way.TOLERANCE, "±0.003 mm or closer"].lost == ("f",)


@pytest.mark.parametrize(
    ("text", "group"),
    [("", "none asked"), ("±0.01 mm", "±0.01 mm"), ("+/-0.0004 in", "±0.01 mm"),
     ("0.02mm", "wider than ±0.01 mm"), ("±2 µm", "±0.003 mm or closer"), ("H7", "H7")],
)  # fmt: skip
def test_tolerances_are_grouped_in_either_unit(text: str, group: str) -> None:
    assert tolerance_group(text) == group
