"""A shop's own cuts stand above the model of the wire, once they are enough."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from scipy.stats import chi2
from tests.conftest import PartMaker, box
from tests.unit.planning.test_wire_states import PHYSICS, RULES, planned

from kerfwright.adapters.posterior_json import posterior_from, posterior_text
from kerfwright.learning.learn import learn
from kerfwright.planning.plan_answers import plan_answers
from kerfwright.process.borne_feeds import Borne, BorneFeeds, borne_steps
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
    # Counted as no likelier to break than what the model is held to.
    assert contour.flushing.breaks_by_heat == pytest.approx(5)
    answers = plan_answers(plan, technology=tables.technology, physics=PHYSICS)
    (why,) = [a.reason for a in answers if a.path.endswith("/margin_factor")]
    assert dict(why.inputs)["hours"] == pytest.approx(54)


def test_the_program_is_no_faster_than_what_cuts_bore(opening, work, tables):
    # The rate law has learned of faster cuts; whether the wire bore them nobody counted.
    plan = planned(opening, work, shop(work, tables, jobs=4, hours=54.0, faster=20))
    rough, (contour,) = plan.passes[0], plan.contours
    borne = FAST * rough.feed_mm_per_min / rough.learned.feed_factor
    assert rough.feed_mm_per_min > 1.15 * borne
    assert plan.wire_states[0].utilisation > PHYSICS.breaking.most_share
    assert contour.feed_mm_per_min(rough) == pytest.approx(borne)


@pytest.mark.parametrize(
    ("jobs", "hours", "breaks", "words"),
    [
        (2, 54.0, 0, "2 jobs, 54 h, no break so far; 1 more job would lift it"),
        (4, 5.0, 0, "4 jobs, 5 h, no break so far; 10.4 h more without a break would lift it"),
        # By the quantile of chi-squared: 38.3 h with two breaks are wanted at 0.15 an hour.
        (3, 20.0, 2, "3 jobs, 20 h, 2 breaks so far; 15.5 h more without a break"),
    ],
)
def test_with_fewer_cuts_the_feed_is_held_and_the_finding_says_how_many_more(
    opening, work, tables, jobs, hours, breaks, words
):
    plan = planned(opening, work, shop(work, tables, jobs=jobs, hours=hours, breaks=breaks))
    assert plan.contours[0].flushing.margin_factor < 1
    found = codes(plan)
    assert words in found["feed-held-by-wire"].message
    assert "feed-above-wire-model" not in found
    assert plan.wire_states[0].utilisation == pytest.approx(PHYSICS.breaking.most_share)


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


@pytest.mark.parametrize("breaks", [0, 1, 2, 7])
def test_the_hours_wanted_are_those_of_the_exact_limit_of_a_poisson_rate(breaks):
    # Garwood (1936), from memory: chi-squared with 2(n + 1) degrees of freedom over twice the time.
    one = Borne(factor=1.0, jobs=3, hours=1.0, breaks=breaks)
    assert one.hours_wanted(0.15) == pytest.approx(chi2.ppf(0.9, 2 * (breaks + 1)) / 2 / 0.15)


def test_the_fastest_feed_is_that_of_enough_jobs_and_not_of_a_single_one():
    cuts = [(2.0, "wild", 50.0, 0), *((1.5, f"J{n}", 10.0, 0) for n in range(3))]
    feeds = BorneFeeds(steps=borne_steps(cuts), settled_jobs=3, usual_breaks_per_h=0.03)
    assert feeds.fastest(accepted=5).factor == 1.5
    assert feeds.above(1.6).jobs == 1
    assert feeds.above(2.5).jobs == 0


def test_what_cuts_bore_is_kept_with_the_experience(work, tables):
    found = shop(work, tables, jobs=4, hours=20.0).technology.experience
    again = posterior_from(json.loads(posterior_text(found)), sha256="", rules=LEARNING)
    assert again.borne == found.borne
    assert found.borne
