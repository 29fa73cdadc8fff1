"""A shop's own cuts stand above the model of the wire, once they are enough."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import poisson
from tests.conftest import PartMaker, box
from tests.unit.planning.test_wire_states import PHYSICS, RULES, planned

from kerfwright.adapters.posterior_json import posterior_from, posterior_text
from kerfwright.foundation.ranges import Range
from kerfwright.learning.learn import learn
from kerfwright.planning.plan_answers import plan_answers
from kerfwright.process.borne_feeds import BorneFeeds, borne_steps
from kerfwright.process.counted_breaks import CountedBreaks
from kerfwright.process.technology import Flushing
from kerfwright.trade.part import Role
from simulated_shops import RULES as LEARNING
from simulated_shops import Scene, measured

FAST = 1.9
"""On the tables' rough feed: more than the model of the wire allows at 40 mm."""


@pytest.fixture(scope="module")
def opening(make_part: PartMaker):
    return make_part([(Role.OPENING, box(0, 0, 20, 10), None)])


@pytest.fixture
def work(requirement):
    return replace(requirement, height_mm=40.0)


def shop(work, tables, *, jobs, hours, breaks=0, factor=FAST, counted=True, faster=0, **more):
    """Return the tables with jobs recorded at a multiple of the rough feed, breaks counted.

    Those that are faster, by 1.3 times, have no count.
    """
    scene = Scene(
        job="",
        machine=work.machine,
        material=work.material,
        wire=tables.catalogue.default_wire,
        height_mm=40.0,
    )
    feed = factor * scene.passes(1)[0].feed_mm_per_min
    length = feed * 60 * hours / jobs
    cuts = [
        measured(
            replace(scene, job=f"J{n}"), 1, feed=feed, length_mm=length,
            breaks=(breaks if n == 0 else 0) if counted else None, **more,
        )
        for n in range(jobs)
    ]  # fmt: skip
    cuts += [
        measured(replace(scene, job=f"F{n}"), 1, feed=1.3 * feed, length_mm=length)
        for n in range(faster)
    ]
    found = learn(cuts, technology=tables.technology, catalogue=tables.catalogue, rules=LEARNING)
    return replace(tables, technology=replace(tables.technology, experience=found))


def counted(*cuts):
    """Return the breaks by the model and counts, a usual cut's known to a factor of 3.6."""
    usual = Range.lognormal(0.03, sigma_log=1.0)
    return CountedBreaks(
        law=PHYSICS.breaking, per_h=usual, before_per_h=usual, burst=0.0, cuts=cuts
    )


def codes(plan):
    return {f.code: f for f in plan.findings}


def test_cuts_without_breaks_lift_the_feed_that_the_model_would_hold(opening, work, tables):
    plan = planned(opening, work, shop(work, tables, jobs=25, hours=54.0))
    rough, (contour,) = plan.passes[0], plan.contours
    # The model alone would hold it: the same feed takes more than it allows.
    assert plan.wire_states[0].utilisation > PHYSICS.breaking.most_share
    assert contour.flushing.margin_factor == pytest.approx(1, abs=0.02)
    assert contour.feed_mm_per_min(rough) == pytest.approx(
        min(rough.feed_mm_per_min, FAST * rough.feed_mm_per_min / rough.learned.feed_factor)
    )
    found = codes(plan)
    assert "feed-held-by-wire" not in found
    assert "wire-break-margin-thin" not in found
    said = found["feed-above-wire-model"].message
    assert "25 jobs, 54 h, no break" in said
    assert "would hold" in said
    # The breaks expected are those of counts and model together, not those of the model alone.
    assert contour.flushing.breaks_by_heat < 5
    per_h = rough.learned.breaks_per_h.likely * contour.flushing.breaks_by_heat
    assert per_h < 0.3 * 5 * 0.03
    answers = plan_answers(plan, technology=tables.technology, physics=PHYSICS)
    (why,) = [a.reason for a in answers if a.path.endswith("/margin_factor")]
    assert dict(why.inputs)["hours"] == pytest.approx(54)


def test_the_program_is_no_faster_than_what_cuts_bore(opening, work, tables):
    # The rate law has learned of faster cuts; whether the wire bore them nobody counted.
    plan = planned(opening, work, shop(work, tables, jobs=4, hours=54.0, faster=20))
    rough, (contour,) = plan.passes[0], plan.contours
    # Feeds are told apart in steps of 5 %.
    borne = 1.05 * FAST * rough.feed_mm_per_min / rough.learned.feed_factor
    assert rough.feed_mm_per_min > 1.15 * borne
    assert plan.wire_states[0].utilisation > PHYSICS.breaking.most_share
    assert contour.feed_mm_per_min(rough) == pytest.approx(borne)


@pytest.mark.parametrize(
    ("jobs", "hours", "breaks", "words"),
    [
        (2, 54.0, 0, "2 jobs, 54 h, no break so far; 1 more job at"),
        (4, 0.4, 0, "4 jobs, 0.4 h, no break so far; 1.3 h more without a break at"),
        (3, 20.0, 8, "3 jobs, 20 h, 8 breaks so far; "),
    ],
)
def test_with_fewer_cuts_the_feed_is_held_and_the_finding_says_how_many_more(
    opening, work, tables, jobs, hours, breaks, words
):
    plan = planned(opening, work, shop(work, tables, jobs=jobs, hours=hours, breaks=breaks))
    assert plan.contours[0].flushing.margin_factor < 1
    assert words in codes(plan)["feed-held-by-wire"].message


@pytest.mark.parametrize(("hours", "is_lifted"), [(1.0, False), (1.6, True)])
def test_the_hours_that_the_finding_asks_for_lift_the_feed(opening, work, tables, hours, is_lifted):
    # 0.4 h and the 1.3 h more that it asks for.
    plan = planned(opening, work, shop(work, tables, jobs=4, hours=hours))
    assert ("feed-held-by-wire" not in codes(plan)) == is_lifted


def test_six_jobs_without_a_break_are_no_feed_to_hold_back_from(opening, work, tables):
    # Some five hours in all: the program runs within the range that the shop's own cuts have.
    plan = planned(opening, work, shop(work, tables, jobs=6, hours=5.2))
    rough, (contour,) = plan.passes[0], plan.contours
    assert contour.feed_mm_per_min(rough) >= rough.feed_range_mm_per_min.low
    assert contour.flushing.margin_factor == 1
    assert "feed-held-by-wire" not in codes(plan)
    one = planned(opening, work, shop(work, tables, jobs=1, hours=5.2))
    assert one.contours[0].flushing.margin_factor < 0.95


def test_more_hours_never_hold_a_feed_back_and_more_breaks_never_lift_it(opening, work, tables):
    def factor(hours: float, breaks: int) -> float:
        made = shop(work, tables, jobs=4, hours=hours, breaks=breaks)
        return planned(opening, work, made).contours[0].flushing.margin_factor

    by_hours = [factor(hours, 2) for hours in (1.0, 4.0, 12.0, 40.0)]
    by_breaks = [factor(12.0, breaks) for breaks in (0, 1, 3, 10)]
    assert by_hours == sorted(by_hours)
    assert by_breaks == sorted(by_breaks, reverse=True)
    assert by_hours[0] < by_hours[-1]
    assert by_breaks[0] > by_breaks[-1]


def test_breaks_at_a_slower_feed_count_against_a_faster_one():
    fast = (1.15, 6.0, 0)
    alone = counted(fast).rate_per_h(1.15).likely
    with_slower = counted(fast, (1.0, 20.0, 10)).rate_per_h(1.15).likely
    assert with_slower > 1.5 * alone


def test_without_counts_no_feed_is_borne_that_the_model_would_hold():
    # A usual cut is a usual cut, and nearer the break the curve bends: the middle of the product
    # of two unsure things lies above the product of the middles, on the safe side.
    assert counted().likely_per_h(0.65) == pytest.approx(0.03, rel=0.01)
    most = PHYSICS.breaking.most_share
    assert counted().likely_per_h(most) > 5 * 0.03
    assert 0.85 < counted().share_borne(accepted_per_h=5 * 0.03, at_most=2.0) < most


@pytest.mark.parametrize(
    "cuts",
    [
        [(1.15, 5.0, 0)],
        [(1.15, 20.0, 1), (0.9, 30.0, 0)],
        [(0.63, 95.0, 0)],
        [(0.63, 93.5, 20)],
        [(0.59, 46.5, 2)],
    ],
)
def test_counts_and_model_agree_with_draws_that_are_weighed_by_their_likelihood(cuts):
    # Importance sampling from the tables, the likelihoods of scipy: of the counts at the feeds that
    # they had.  Nothing else was learned, so that whatever is known of the rate comes from them.
    random = np.random.default_rng(5)
    law = PHYSICS.breaking
    sigma = math.hypot(law.charge_sigma_log, law.sigma_log)
    rate = 0.03 * np.exp(random.normal(0, 1.0, 400_000))
    off = np.exp(random.normal(0, sigma, 400_000))
    xs, ys = (np.array(side) for side in zip(*law.relative_rate, strict=True))
    slope = math.log(ys[-1] / ys[-2]) / (xs[-1] - xs[-2])

    def curve(share):
        return np.interp(share, xs, ys) * np.exp(slope * np.maximum(share - xs[-1], 0))

    def factor(share):
        return curve(share * off) / curve(0.65 * off)

    log_weight = sum(poisson.logpmf(n, rate * factor(u) * t) for u, t, n in cuts)
    weight = np.exp(log_weight - log_weight.max())
    for share in (0.6, 0.8, 1.15):
        values = rate * factor(share)
        order = np.argsort(values)
        below = np.cumsum(weight[order]) / weight.sum()
        drawn = np.exp(np.interp([0.1, 0.5, 0.9], below, np.log(values[order])))
        found = counted(*cuts).rate_per_h(share)
        assert [found.low, found.likely, found.high] == pytest.approx(drawn, rel=0.06)


def test_what_a_shop_learned_elsewhere_counts_until_cuts_of_its_own_decide():
    high, tables = Range.lognormal(0.12, sigma_log=0.8), Range.lognormal(0.03, sigma_log=1.0)

    def rate(hours: float) -> float:
        made = CountedBreaks(
            law=PHYSICS.breaking,
            per_h=high,
            before_per_h=tables,
            burst=0.0,
            cuts=((0.65, hours, round(0.03 * hours)),),
        )
        return made.likely_per_h(0.65)

    # Of a usual cut, F is 1: without cuts it is what was learned, with many what they counted.
    assert rate(0.001) == pytest.approx(0.12, rel=0.02)
    assert rate(2000.0) == pytest.approx(0.03, rel=0.05)
    assert 0.03 < rate(5.0) < 0.12


def test_the_hours_wanted_are_just_enough():
    made = counted((1.15, 0.3, 0))
    hours = made.hours_wanted(1.15, accepted_per_h=0.15)
    assert hours > 0
    assert made.with_more(1.15, hours).likely_per_h(1.15) == pytest.approx(0.15, rel=0.02)


def test_cuts_that_broke_often_do_not_lift_it(opening, work, tables):
    plan = planned(opening, work, shop(work, tables, jobs=25, hours=54.0, breaks=12))
    assert "feed-held-by-wire" in codes(plan)


def test_cuts_under_open_nozzles_or_without_a_count_lift_nothing(work, tables):
    for more in ({"flushing": Flushing.ONE_OPEN}, {"counted": False}):
        made = shop(work, tables, jobs=25, hours=54.0, **more)
        assert not made.technology.experience.borne


def test_nozzles_that_do_not_close_are_held_by_the_model_whatever_was_cut(opening, work, tables):
    made = shop(work, tables, jobs=25, hours=54.0)
    for rules in (
        replace(RULES, nozzles=Flushing.BOTH_OPEN),
        replace(RULES, nozzles=Flushing.ONE_OPEN),
    ):
        assert "feed-above-wire-model" not in codes(planned(opening, work, made, rules=rules))


def test_the_fastest_feed_is_that_of_enough_jobs_and_not_of_a_single_one():
    cuts = [(2.0, "wild", 50.0, 0), *((1.5, f"J{n}", 10.0, 0) for n in range(3))]
    feeds = BorneFeeds(
        steps=borne_steps(cuts), settled_jobs=3, usual_breaks_per_h=0.03, usual_sigma_log=1.0
    )
    assert feeds.fastest().factor == 1.5
    assert feeds.above(1.6).jobs == 1
    assert feeds.above(2.5).jobs == 0
    # Each step alone: the wild job by itself, and the hours of the three.
    assert [(s.factor, s.hours) for s in feeds.single_steps] == [(2.0, 50.0), (1.5, 30.0)]


def test_what_cuts_bore_is_kept_with_the_experience(work, tables):
    found = shop(work, tables, jobs=4, hours=20.0).technology.experience
    again = posterior_from(json.loads(posterior_text(found)), sha256="", rules=LEARNING)
    assert again.borne == found.borne
    assert found.borne


@pytest.mark.parametrize(("breaks", "warns"), [(0, False), (1, False), (60, True)])
def test_breaks_are_warned_of_by_the_counts_where_there_are_enough(
    opening, work, tables, breaks, warns
):
    # 1.46 times the feed of the tables: warm by the model, and below what it would hold.
    learned = shop(work, tables, jobs=25, hours=54.0, breaks=breaks, factor=1.46)
    plan = planned(opening, work, learned)
    rough = plan.wire_states[0]
    assert PHYSICS.breaking.raised_share < rough.utilisation <= PHYSICS.breaking.most_share
    assert rough.is_counted
    found = codes(plan).get("wire-break-margin-thin")
    assert bool(found) == warns
    if found:
        assert "The shop's own cuts at this feed or faster: 25 jobs, 54 h, 60 breaks" in (
            found.message
        )
        assert "Counts and model together expect" in found.message
        assert "a rank, not a count" not in found.message


def test_without_counts_the_model_alone_warns(opening, work, tables):
    learned = shop(work, tables, jobs=25, hours=54.0, factor=1.46, counted=False)
    plan = planned(opening, work, learned)
    assert not plan.wire_states[0].is_counted
    assert "a rank, not a count" in codes(plan)["wire-break-margin-thin"].message


@pytest.mark.parametrize("nozzles", [Flushing.SEALED, Flushing.ONE_OPEN, Flushing.BOTH_OPEN])
@pytest.mark.parametrize("is_counted", [False, True])
def test_breaks_by_heat_of_a_pass_and_of_its_contour_have_one_range(
    opening, work, tables, nozzles, is_counted
):
    known = shop(work, tables, jobs=25, hours=54.0, factor=1.0, breaks=20) if is_counted else tables
    plan = planned(opening, work, known, rules=replace(RULES, nozzles=nozzles))
    answers = [*plan_answers(plan, technology=known.technology, physics=PHYSICS)]
    (rough, contour) = (
        next(a for a in answers if (a.about, a.name) == (about, "breaks by heat"))
        for about in ("pass 1", "H1")
    )
    assert rough.reason.value == pytest.approx(contour.reason.value)
    assert rough.reason.range.low == pytest.approx(contour.reason.range.low, rel=1e-5)
    assert rough.reason.range.high == pytest.approx(contour.reason.range.high, rel=1e-5)
    assert dict(rough.reason.shares) == pytest.approx(dict(contour.reason.shares), abs=1e-6)
