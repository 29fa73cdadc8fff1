"""Breaks to be expected: counts, their ranges, and what they cost."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import nbinom, poisson
from tests.conftest import PartMaker, box
from tests.unit.costing.test_estimate_with_experience import ROUGH, learned

from kerfwright.adapters.tables import Tables, load_tables
from kerfwright.adapters.wire_physics import load_wire_physics
from kerfwright.costing.breaks import BREAKS, HELP, RETHREADING, expected_breaks, with_breaks
from kerfwright.costing.cut_spread import CUTTING
from kerfwright.costing.estimate import estimate
from kerfwright.costing.records import TimeKind
from kerfwright.costing.times import job_times
from kerfwright.costing.uncertainty import (
    Amount,
    chance_of_any,
    count_range,
    total,
    variance_by_cause,
    whole_counts,
)
from kerfwright.foundation.ranges import Z_10_90, Range
from kerfwright.motion.moves import WirePath
from kerfwright.planning.plan import Plan
from kerfwright.planning.planner import make_plan
from kerfwright.process.technology import Flushing
from kerfwright.trade.part import Role
from kerfwright.trade.requirement import Requirement
from kerfwright.wirepath.builder import build_path

RULES = load_tables().rules
PHYSICS = load_wire_physics()


@pytest.fixture
def job(make_part: PartMaker, requirement: Requirement, tables: Tables):
    part = make_part([(Role.OPENING, box(0, 0, 60, 40), None)])

    def make(**changes) -> tuple[Plan, WirePath]:
        plan = make_plan(
            part,
            replace(requirement, **{k: v for k, v in changes.items() if k != "nozzles"}),
            technology=tables.technology,
            catalogue=tables.catalogue,
            rules=replace(RULES, nozzles=changes.get("nozzles", Flushing.SEALED)),
            physics=PHYSICS,
        )
        return plan, build_path(plan, physics=PHYSICS)

    return make


@pytest.mark.parametrize("sigma_log", [0.0, 0.3, 1.0])
@pytest.mark.parametrize("mean", [0.05, 0.7, 3.0, 40.0])
def test_the_range_of_a_count_is_that_of_a_negative_binomial(mean, sigma_log):
    found = count_range(mean, sigma_log=sigma_log)
    over = math.expm1(sigma_log**2)
    law = poisson(mean) if over == 0 else nbinom(1 / over, 1 / (1 + mean * over))
    assert found.likely == pytest.approx(mean / math.exp(sigma_log**2 / 2))
    assert found.low == min(law.ppf(0.1), found.likely)
    assert found.high == max(law.ppf(0.9), found.likely)


@pytest.mark.parametrize("sigma_log", [0.0, 0.3, 1.0])
@pytest.mark.parametrize("mean", [0.05, 0.7, 3.0, 40.0])
def test_whole_counts_and_the_chance_of_any_are_those_of_a_negative_binomial(mean, sigma_log):
    over = math.expm1(sigma_log**2)
    law = poisson(mean) if over == 0 else nbinom(1 / over, 1 / (1 + mean * over))
    found = whole_counts(mean, sigma_log=sigma_log)
    assert [found.low, found.likely, found.high] == list(law.ppf([0.1, 0.5, 0.9]))
    assert chance_of_any(mean, sigma_log=sigma_log) == pytest.approx(law.sf(0))


@pytest.mark.parametrize("burst", [0.5, 4.0])
@pytest.mark.parametrize("mean", [0.05, 3.0, 40.0])
def test_bursts_make_a_count_wider_about_the_same_mean(mean, burst):
    over = math.expm1(0.3**2) + burst / mean
    law = nbinom(1 / over, 1 / (1 + mean * over))
    assert law.var() == pytest.approx(mean * (1 + burst) + mean**2 * math.expm1(0.3**2))
    found = whole_counts(mean, sigma_log=0.3, burst=burst)
    assert [found.low, found.likely, found.high] == list(law.ppf([0.1, 0.5, 0.9]))
    any_, alone = (chance_of_any(mean, sigma_log=0.3, burst=b) for b in (burst, 0.0))
    assert any_ == pytest.approx(law.sf(0))
    assert any_ < alone


def test_the_time_of_breaks_has_the_variance_of_their_bursts():
    one = Amount(likely=6.0, sigma_log=0.0, cause=BREAKS, count=2.0, burst=3.0)
    (variance,) = variance_by_cause([one]).values()
    # Three minutes each: 3^2 times a variance of 2 (1 + 3).
    assert variance == pytest.approx(9 * 8)


def test_very_many_counts_are_as_uncertain_as_their_rate():
    found = count_range(5000.0, sigma_log=0.5)
    usual = Range.lognormal(5000.0 / math.exp(0.125), sigma_log=0.5)
    assert found.low == pytest.approx(usual.low, rel=0.01)
    assert found.high == pytest.approx(usual.high, rel=0.01)


def test_mean_and_variance_of_a_count_are_those_of_a_simulation():
    likely, sigma, count_likely = 30.0, 0.6, 5.0
    mean_count = count_likely * math.exp(sigma**2 / 2)
    amount = Amount(likely=likely, sigma_log=sigma, cause=BREAKS, count=mean_count)
    random = np.random.default_rng(7)
    rates = count_likely * np.exp(sigma * random.standard_normal(400_000))
    times = random.poisson(rates) * (likely / count_likely)
    assert amount.mean == pytest.approx(times.mean(), rel=0.01)
    (variance,) = variance_by_cause([amount]).values()
    assert variance == pytest.approx(times.var(), rel=0.03)


def test_a_count_widens_a_sum_only_upwards_of_the_likely():
    rest = Amount(likely=300.0, sigma_log=0.01, cause=CUTTING)
    breaks = Amount(likely=6.0, sigma_log=1.0, cause=BREAKS, count=1.0)
    with_chance, without = (total([rest, one]) for one in (breaks, replace(breaks, count=None)))
    assert with_chance.likely == without.likely
    assert with_chance.high > without.high


def test_the_count_is_time_times_rate_times_risk(job, tables: Tables):
    plan, path = job()
    rates = tables.rates.breaks
    found = expected_breaks(plan, path, rates=rates)
    lines = {
        t.operation: t.minutes.likely / 60 for t in estimate(plan, path, rates=tables.rates).times
    }
    # By hand, closed nozzles: the factor of the table at the share of each pass.
    curve = np.array(PHYSICS.breaking.relative_rate)
    share = {s.pass_number: s.utilisation for s in plan.wire_states}
    by_hand = 0.0
    for operation, hours in lines.items():
        if operation in ("rough pass", "cut-off") or operation.startswith("skim"):
            words = operation.split(",")[0].split()
            number = int(words[-1]) if words[0] == "skim" else 1
            by_hand += hours * 0.03 * np.interp(share[number], curve[:, 0], curve[:, 1])
    # Ways through open kerf, a little of the time, break no wire.
    assert found.likely == pytest.approx(by_hand, rel=0.03)
    assert found.likely < by_hand


def test_open_nozzles_break_more_wires(job, tables: Tables):
    closed, one, both = (
        expected_breaks(*job(nozzles=state), rates=tables.rates.breaks) for state in Flushing
    )
    # Slower and so cooler, but dirtier for longer: more breaks an hour, and more hours.
    assert both.by_risk > 1.5 * one.by_risk > 1.6 * closed.by_risk
    assert both.likely > 2 * one.likely > 2.5 * closed.likely


def test_breaks_cost_machine_time_and_a_hand_and_the_price_adds_up(job, tables: Tables):
    plan, path = job()
    priced = estimate(plan, path, rates=tables.rates)
    lines = {t.operation: t for t in priced.times}
    expected = expected_breaks(plan, path, rates=tables.rates.breaks).likely
    assert lines[RETHREADING].kind is TimeKind.MACHINE_UNATTENDED
    assert lines[RETHREADING].minutes.likely == pytest.approx(expected * 6)
    assert lines[HELP].kind is TimeKind.MACHINE_ATTENDED
    assert lines[HELP].minutes.likely == pytest.approx(expected * 0.3 * 10)
    assert lines[RETHREADING].minutes.low == 0
    (price,) = priced.prices
    assert sum(line.likely for line in price.lines) == price.likely
    assert BREAKS in {s.cause for s in price.spread}
    assert any(r.quantity == "wire_breaks" and r.range is not None for r in priced.reasons)


def test_of_a_burst_only_the_share_that_wants_a_hand_counts(job, tables: Tables):
    # Breaks in bursts of a geometric number (mean 2: 2 beyond Poisson), each wanting a hand by
    # chance: the variance of the hands beyond Poisson over their mean, drawn 400 000 times.
    random = np.random.default_rng(8)
    bursts = random.poisson(1.5, 400_000)
    more = random.negative_binomial(np.maximum(bursts, 1), 0.5)
    counts = np.where(bursts > 0, bursts + more, 0)
    hands = random.binomial(counts, 0.3)
    drawn = [c.var() / c.mean() - 1 for c in (hands, counts)]
    assert drawn[0] / drawn[1] == pytest.approx(0.3, rel=0.03)
    plan, path = job()
    rates = replace(tables.rates, breaks=replace(tables.rates.breaks, burst=2.0))
    lines = {t.line.operation: t for t in with_breaks(
        job_times(plan, path, rates=rates), plan, path, rates=rates
    ).lines}  # fmt: skip
    every, helped = lines[RETHREADING], lines[HELP]
    assert every.burst == pytest.approx(2.0)
    assert helped.burst / every.burst == pytest.approx(rates.breaks.help_share)
    wide = count_range(helped.count, sigma_log=helped.sigma_log, burst=helped.burst)
    assert helped.line.minutes.high == pytest.approx(wide.high * rates.breaks.help_min)


def test_a_machine_threaded_by_hand_wants_somebody_for_every_break(
    job, requirement: Requirement, tables: Tables
):
    plan, path = job(machine=replace(requirement.machine, threads_itself=False))
    lines = {t.operation: t for t in estimate(plan, path, rates=tables.rates).times}
    expected = expected_breaks(plan, path, rates=tables.rates.breaks).likely
    assert HELP not in lines
    assert lines[RETHREADING].kind is TimeKind.MACHINE_ATTENDED
    assert lines[RETHREADING].minutes.likely == pytest.approx(expected * 16)


def test_many_pieces_even_out_the_chance_but_not_the_rate(job, tables: Tables):
    plan, path = job(quantities=(1, 1000))
    one, many = estimate(plan, path, rates=tables.rates).prices

    def line(price):
        return next(li for li in price.lines if li.item == RETHREADING)

    assert float(line(many).likely) == pytest.approx(1000 * float(line(one).likely), rel=0.2)
    assert line(one).low == 0
    assert line(many).low > 0


def test_without_rates_of_breaks_or_states_of_the_wire_nothing_is_added(job, tables: Tables):
    plan, path = job()
    for one, rates in (
        (plan, replace(tables.rates, breaks=None)),
        (replace(plan, wire_states=()), tables.rates),
    ):
        operations = {t.operation for t in estimate(one, path, rates=rates).times}
        assert not operations & {RETHREADING, HELP}


# Not of one open: there the rough pass breaks more than usual and the skims less, so that by
# chance the whole lies about where the shop's own figure does.
@pytest.mark.parametrize("state", [Flushing.SEALED, Flushing.BOTH_OPEN])
def test_what_a_shop_knows_of_its_breaks_takes_the_place_of_the_model(job, tables: Tables, state):
    plan, path = job(nozzles=state)
    rates = tables.rates.breaks
    assert rates is not None

    def knowing(low: float, likely: float, high: float) -> float:
        known = replace(learned(ROUGH), breaks_per_h=Range(low=low, likely=likely, high=high))
        passes = tuple(replace(p, learned=known) for p in plan.choice.passes)
        told = replace(
            plan,
            choice=replace(plan.choice, passes=passes),
            contours=tuple(
                replace(c, choice=replace(c.choice, passes=passes)) for c in plan.contours
            ),
        )
        return expected_breaks(told, path, rates=rates).by_risk

    # Known to a hundredth, its own nozzles are in the figure and count no more.
    assert knowing(0.299, 0.3, 0.301) == pytest.approx(1, abs=1e-3)
    # As wide as the tables, the model counts in full; between, by the share of the variance.
    wide = math.exp(Z_10_90 * rates.sigma_log)
    full = expected_breaks(plan, path, rates=rates).by_risk
    assert abs(full - 1) > 0.05
    assert knowing(0.03 / wide, 0.03, 0.03 * wide) == pytest.approx(full)
    half = math.exp(Z_10_90 * rates.sigma_log / 2)
    between = knowing(0.03 / half, 0.03, 0.03 * half)
    assert min(full, 1.0) < between < max(full, 1.0)


def test_breaks_of_counts_and_model_together_count_whole_however_well_a_rate_is_known(
    job, tables: Tables
):
    plan, path = job()
    rates = tables.rates.breaks
    known = replace(learned(ROUGH), breaks_per_h=Range(low=0.299, likely=0.3, high=0.301))
    passes = tuple(replace(p, learned=known) for p in plan.choice.passes)

    def count(by_heat: float, counted: float) -> float:
        contours = tuple(
            replace(
                c,
                choice=replace(c.choice, passes=passes),
                flushing=replace(c.flushing, breaks_by_heat=by_heat, counted_sigma_log=counted),
            )
            for c in plan.contours
        )
        told = replace(plan, choice=replace(plan.choice, passes=passes), contours=contours)
        found = expected_breaks(told, path, rates=rates)
        assert (found.experience, found.is_counted) == (known.experience, counted > 0)
        return found.likely

    # What is known to a hundredth has the model in it, unless the cuts were counted at such feeds.
    assert count(3.0, 0.0) == pytest.approx(count(1.0, 0.0), rel=1e-2)
    rough = count(2.0, 0.5) - count(1.0, 0.5)
    assert count(3.0, 0.5) - count(1.0, 0.5) == pytest.approx(2 * rough)
    assert rough > 0.2 * count(1.0, 0.5)
