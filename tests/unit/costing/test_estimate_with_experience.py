"""Prices of the hand-made plan when the shop has experience, worked out by hand."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from tests.unit.costing.test_estimate import RATES, path, plan

from kerfwright.costing.estimate import estimate
from kerfwright.costing.times import for_quantity, job_times
from kerfwright.costing.uncertainty import Amount, total, variance_by_cause
from kerfwright.foundation.ranges import Range
from kerfwright.process.experience import Learned

ROUGH = (("cutting rate 1", 0.12), ("cutting rate 2", 0.05))
SKIM = (("cutting rate 1", 0.08), ("cutting rate 2", -0.06))


def learned(loadings, *, job=0.06, scatter=0.09, wire_factor=1.1):
    return Learned(
        experience="ab" * 32,
        records=12,
        feed_factor=1.0,
        feed_loadings=loadings,
        feed_job_log=job,
        feed_scatter_log=scatter,
        feed_shares=(("machine", 0.5), ("material", 0.2), ("job", 0.1), ("cut", 0.2)),
        ra_factor=1.0,
        ra_sigma_log=0.1,
        ra_shares=(("cut", 1.0),),
        size_bias_um=0.0,
        size_sigma_um=2.0,
        is_size_proven=True,
        wire_factor=wire_factor,
        wire_sigma_log=0.04,
        breaks_per_h=Range.exact(0.02),
    )


def experienced(**changes):
    made = plan(**changes)
    passes = tuple(
        dataclasses.replace(p, learned=known, feed_sigma_log=known.feed_sigma_log)
        for p, known in zip(made.choice.passes, (learned(ROUGH), learned(SKIM)), strict=True)
    )
    return dataclasses.replace(made, choice=dataclasses.replace(made.choice, passes=passes))


def lines(p):
    return {line.line.operation: line for line in job_times(p, path(), rates=RATES).lines}


def test_likely_times_stay_and_ranges_follow_what_was_learned():
    plain, known = lines(plan()), lines(experienced())
    assert {k: v.minutes for k, v in plain.items()} == {k: v.minutes for k, v in known.items()}
    # One rough cut: all four causes.  0.12^2 + 0.05^2 + 0.06^2 + 0.09^2 = 0.0286.
    assert known["rough pass"].sigma_log == pytest.approx(math.sqrt(0.0286))
    assert known["set-up"].sigma_log == plain["set-up"].sigma_log


def test_cuts_of_one_line_even_their_scatter_out():
    four = dataclasses.replace(path(), cuts=(path().cuts[2],) * 4)
    (line,) = job_times(experienced(), four, rates=RATES).running
    # Loadings 0.08 and 0.06, the job 0.06, and half the scatter for four cuts alike.
    assert line.sigma_log == pytest.approx(math.sqrt(0.0064 + 0.0036 + 0.0036 + 0.002025))


def test_pieces_even_the_scatter_out_and_nothing_else():
    loadings = lines(experienced())["rough pass"].loadings
    nine = dict(for_quantity(loadings, 9))
    for cause, sigma in loadings:
        assert nine[cause] == pytest.approx(sigma / 3 if cause.startswith("cut to") else sigma)


def test_the_wire_used_moves_with_its_own_factor_and_the_cutting_time():
    plain = estimate(plan(), path(), rates=RATES).consumption[0].amount
    known = estimate(experienced(), path(), rates=RATES).consumption[0].amount
    assert known.likely == pytest.approx(1.1 * plain.likely)
    assert known.high / known.low < plain.high / plain.low


def test_the_estimate_names_the_experience_and_says_who_brings_the_uncertainty():
    est = estimate(experienced(), path(), rates=RATES)
    assert est.experience == "ab" * 32
    assert estimate(plan(), path(), rates=RATES).experience == ""
    (reason,) = (r for r in est.reasons if r.quantity == "cutting_sigma_log")
    shares = dict(reason.inputs)
    assert sum(shares.values()) == pytest.approx(1)
    assert shares["share of machine"] == pytest.approx(2.5 * shares["share of material"])
    causes = {s.cause: s.share_of_variance for s in est.prices[0].spread}
    assert set(causes) == {
        "cutting rate", "drilling rate", "people", "job to job", "cut to cut", "wire use",
        "wear of the tube",
    }  # fmt: skip
    assert sum(causes.values()) == pytest.approx(1)


def test_the_range_of_a_price_agrees_with_a_simulation_of_its_causes():
    p = experienced(quantities=(1, 10))
    times = job_times(p, path(), rates=RATES)
    generator = np.random.default_rng(11)
    for quantity in (1, 10):
        amounts = [line.amount(quantity=quantity) for line in times.lines]
        causes = {c for a in amounts for c in a.by_cause}
        normal = {c: generator.standard_normal(200_000) for c in sorted(causes)}
        drawn = sum(
            a.likely * np.exp(sum(s * normal[c] for c, s in a.by_cause.items())) for a in amounts
        )
        span = total(amounts)
        low, high = np.percentile(drawn, [10, 90])
        assert span.low == pytest.approx(low, rel=0.02)
        assert span.high == pytest.approx(high, rel=0.01)


def test_more_pieces_have_a_narrower_range_for_each():
    few, many = estimate(experienced(quantities=(1, 100)), path(), rates=RATES).prices
    assert many.high / many.low < few.high / few.low


def test_variances_by_cause_add_up_to_the_exact_variance_of_the_sum():
    amounts = [
        Amount(likely=3.0, sigma_log=0.2, cause="x", loadings=(("a", 0.16), ("b", 0.12))),
        Amount(likely=5.0, sigma_log=0.1, cause="y", loadings=(("a", 0.06), ("b", -0.08))),
        Amount(likely=2.0, sigma_log=0.3, cause="people"),
    ]
    mean = [3 * math.exp(0.02), 5 * math.exp(0.005), 2 * math.exp(0.045)]
    # Exponents: 0.04 and 0.01 alone, 0.16 * 0.06 - 0.12 * 0.08 = 0 between the first two.
    exact = mean[0] ** 2 * math.expm1(0.04) + mean[1] ** 2 * math.expm1(0.01)
    exact += mean[2] ** 2 * math.expm1(0.09)
    assert sum(variance_by_cause(amounts).values()) == pytest.approx(exact)


def with_known(share):
    """The same shop, whose cuts have taught a share of what they can."""
    made = experienced()
    passes = tuple(
        dataclasses.replace(p, learned=dataclasses.replace(p.learned, feed_known=share))
        for p in made.choice.passes
    )
    return dataclasses.replace(made, choice=dataclasses.replace(made.choice, passes=passes))


def spread_of_price(p):
    price = estimate(p, path(), rates=RATES).prices[0]
    return math.log(float(price.high) / float(price.low))


def test_what_no_cut_has_taught_moves_all_passes_together_so_that_no_price_is_surer_for_it():
    (rough, *_) = (v for k, v in lines(with_known(0.0)).items() if k == "rough pass")
    # All of a single cut's spread, in the one cause of the tables.
    assert dict(rough.loadings) == {"cutting rate": pytest.approx(math.sqrt(0.0286))}
    spreads = [spread_of_price(with_known(share)) for share in (0.0, 0.25, 0.5, 0.75, 1.0)]
    assert spreads == sorted(spreads, reverse=True)
    # The tables with the same feeds and the same spread of each; wire and breaks differ a little.
    tables = dataclasses.replace(
        with_known(0.0),
        choice=dataclasses.replace(
            with_known(0.0).choice,
            passes=tuple(
                dataclasses.replace(p, learned=None) for p in with_known(0.0).choice.passes
            ),
        ),
    )
    assert spreads[0] == pytest.approx(spread_of_price(tables), rel=2e-3)
    assert spreads[-1] < 0.99 * spreads[0]
