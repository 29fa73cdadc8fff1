"""Cuts under nozzles that do not close teach their factor, and a forecast under them has it."""

from __future__ import annotations

import dataclasses
import hashlib
import json
import math

import pytest

from kerfwright.adapters.job_measured import OfJob
from kerfwright.adapters.posterior_json import posterior_from, posterior_text
from kerfwright.cli.record import _sentences
from kerfwright.cli.words import Show
from kerfwright.foundation.ranges import Range
from kerfwright.learning.far import far_values
from kerfwright.learning.learn import learn, standings
from kerfwright.learning.moved import moved_and_along
from kerfwright.learning.outcome import PassForecast
from kerfwright.learning.records import Measure
from kerfwright.learning.tables_hash import tables_sha256
from kerfwright.process.nozzles import nozzle_rate, rough_range_mm_per_min
from kerfwright.process.technology import Flushing
from kerfwright.trade.part import LengthUnit
from simulated_shops import MACHINES, MATERIALS, RULES, TABLES, WIRES, Scene, measured

LAW = TABLES.technology.rough
OPEN = Flushing.BOTH_OPEN
PRIOR = LAW.flushing_sigma_log[OPEN]
WITHOUT = dataclasses.replace(
    TABLES.technology,
    rough=dataclasses.replace(LAW, flushing_sigma_log={}),
    scaling=dataclasses.replace(TABLES.technology.scaling, gap_diameter_exponent_sigma=0.0),
    feed_spread=dataclasses.replace(TABLES.technology.feed_spread, routine_height_mm=0.0),
)
"""Figures as kept before the factors, the sparks of thin wires and unusual work had a spread."""


def scene(job="J1"):
    return Scene(job=job, machine=MACHINES[0], material=MATERIALS[0], wire=WIRES[1], height_mm=40.0)


def rough_cuts(count, *, per_job=1, state=Flushing.SEALED, factor=1.0, rate=1.0, begin=0):
    """Rough cuts at `factor` of the feed under closed nozzles, the machine's own rate besides."""
    found = []
    for n in range(count):
        where = scene(f"J{begin + n // per_job}")
        feed = where.passes(1)[0].feed_mm_per_min * factor * rate
        # A little scatter, the same whatever the case: no shop repeats itself to the digit.
        feed *= math.exp(0.05 * (-1, 1, 0.5, -0.5)[n % 4])
        found.append(measured(where, 1, feed=feed, flushing=state))
    return found


def learned(cuts, technology=TABLES.technology):
    return learn(cuts, technology=technology, catalogue=TABLES.catalogue, rules=RULES)


def passes(posterior, count=4):
    return scene("later").passes(
        count, dataclasses.replace(TABLES.technology, experience=posterior)
    )


def forecast(posterior, state=OPEN):
    return rough_range_mm_per_min(passes(posterior)[0], state, law=LAW)


def sigma(span):
    return math.log(span.high / span.low) / (2 * 1.2815516)


@pytest.mark.parametrize(
    ("state", "low", "high"), [(Flushing.ONE_OPEN, 0.6, 0.8), (OPEN, 0.3, 0.5)]
)
def test_the_spread_of_a_factor_is_that_of_the_interval_its_source_states(state, low, high):
    assert LAW.flushing_sigma_log[state] == pytest.approx(
        math.log(high / low) / (2 * 1.2816), abs=5e-4
    )


def test_closed_nozzles_have_no_spread_of_their_own():
    assert nozzle_rate(Flushing.SEALED, law=LAW).loadings == ()


def test_without_a_shop_the_range_under_open_nozzles_is_wider_by_the_factor():
    one = scene().passes(1)[0]
    closed, opened = (rough_range_mm_per_min(one, s, law=LAW) for s in (Flushing.SEALED, OPEN))
    assert opened.likely == pytest.approx(0.4 * closed.likely)
    assert sigma(closed) == pytest.approx(0.35, abs=1e-6)
    assert sigma(opened) == pytest.approx(math.hypot(0.35, PRIOR), abs=1e-6)


def test_a_shop_of_closed_nozzles_alone_keeps_the_spread_of_the_factor_of_open_ones():
    # Twenty-five cuts of D2 under closed nozzles: the rate is known, what open ones cost is not.
    known = learned(rough_cuts(25, rate=1.2))
    one = passes(known)[0]
    opened = forecast(known)
    assert one.feed_sigma_log < 0.2
    assert sigma(opened) == pytest.approx(math.hypot(one.feed_sigma_log, PRIOR), abs=1e-6)
    # Of a known rate what its source names lies in it, 0.3 to 0.5; the middle of these is 0.387.
    assert opened.low < 0.31 * one.feed_mm_per_min
    assert opened.high > 0.5 * one.feed_mm_per_min


def test_where_closed_nozzles_are_known_cuts_under_open_ones_teach_the_factor():
    before = learned(rough_cuts(25))
    after = learned([*rough_cuts(25), *rough_cuts(40, state=OPEN, factor=0.5, begin=100)])
    was, now = passes(before), passes(after)
    # 0.5 for 0.4 is a quarter more: four fifths of it and more go to the factor.
    whole = math.log(0.5 / 0.4)
    (factor,) = (n.factor for n in now[0].learned.nozzles if n.state == OPEN)
    assert math.log(factor) > 0.8 * whole
    moved = math.log(now[0].feed_mm_per_min / was[0].feed_mm_per_min)
    assert abs(moved) < 0.15 * whole
    for old, new in zip(was[1:], now[1:], strict=True):
        assert abs(math.log(new.feed_mm_per_min / old.feed_mm_per_min)) < 0.1 * whole
    # And the forecast under open nozzles narrows and moves to what was measured.
    assert sigma(forecast(after)) < sigma(forecast(before))
    nominal = scene().passes(1)[0].feed_mm_per_min
    assert forecast(after).likely == pytest.approx(0.5 * nominal, rel=0.06)


def test_cuts_under_open_nozzles_alone_leave_open_which_of_the_two_was_off():
    # Forty cuts at 0.5 raised the feed under closed nozzles 1.25 times, as sure of it as of what
    # was cut, and the skims 1.13 times: but 0.5 lies in the interval that the factor ships with.
    # The machine's own rate is the less sure of the two, so that most of it still goes there.
    cuts = rough_cuts(40, state=OPEN, factor=0.5)
    alone, without = learned(cuts), learned(cuts, WITHOUT)
    one, *skims = passes(alone)
    nominal, *plain = scene().passes(4)
    old, *old_skims = passes(without)
    assert old.feed_mm_per_min == pytest.approx(1.25 * nominal.feed_mm_per_min, rel=0.01)
    assert one.feed_mm_per_min < 1.18 * nominal.feed_mm_per_min
    closed = one.feed_range_mm_per_min
    assert closed.low < nominal.feed_mm_per_min < closed.high
    assert one.feed_sigma_log > 2.5 * old.feed_sigma_log
    for table, before, now in zip(plain, old_skims, skims, strict=True):
        moved, was = (p.feed_mm_per_min / table.feed_mm_per_min - 1 for p in (now, before))
        assert 0 < moved < 0.75 * was
    # What was measured is known all the same: the two are off together or not at all.
    opened = forecast(alone)
    assert opened.likely == pytest.approx(0.5 * nominal.feed_mm_per_min, rel=0.06)
    assert sigma(opened) < sigma(closed) < sigma(rough_range_mm_per_min(nominal, OPEN, law=LAW))


def test_what_one_open_nozzle_showed_says_nothing_new_of_two():
    after = learned(
        [*rough_cuts(25), *rough_cuts(40, state=Flushing.ONE_OPEN, factor=0.8, begin=100)]
    )
    by_state = {n.state: n for n in passes(after)[0].learned.nozzles}
    assert by_state[Flushing.ONE_OPEN].factor > 1.1
    assert by_state[OPEN].factor == 1
    assert math.hypot(*(s for _, s in by_state[OPEN].loadings)) == pytest.approx(PRIOR)


def test_skims_have_no_level_of_the_nozzles():
    where = scene()
    feed = where.passes(2)[1].feed_mm_per_min
    cuts = [
        measured(where, 2, feed=0.8 * feed, flushing=state) for state in (Flushing.SEALED, OPEN)
    ]
    closed, opened = (learned([cut]) for cut in cuts)
    assert closed.measures[Measure.FEED].names == opened.measures[Measure.FEED].names
    for one, other in zip(passes(closed), passes(opened), strict=True):
        assert one.feed_mm_per_min == other.feed_mm_per_min
    assert passes(closed)[1].learned.nozzles == ()


def test_a_cut_under_open_nozzles_is_far_off_by_their_spread_too():
    far = {"technology": TABLES.technology, "catalogue": TABLES.catalogue, "rules": RULES}
    limit = 3 * math.hypot(0.35, PRIOR)
    for off, count in ((limit - 0.02, 0), (limit + 0.02, 1)):
        (cut,) = rough_cuts(1, state=OPEN, factor=0.4 * math.exp(0.05 - off))
        assert len(far_values([cut], before=None, after=None, **far)) == count
    (stand,) = standings([cut], technology=TABLES.technology, rules=RULES)
    (told,) = stand.told
    assert (told.level, told.step) == ("nozzles both-open", 1.0)
    assert told.variance == pytest.approx((PRIOR / 0.35) ** 2)


def test_experience_without_the_level_has_the_spread_of_the_tables():
    # As kept before nozzles had a level: its names have none.
    old = learned(rough_cuts(25))
    assert not any(name.startswith("nozzles") for name in old.measures[Measure.FEED].names)
    (opened,) = (n for n in passes(old)[0].learned.nozzles if n.state == OPEN)
    assert opened.factor == 1.0
    assert dict(opened.loadings) == pytest.approx({"nozzles both-open": PRIOR})


def test_experience_with_the_level_is_the_same_after_it_was_kept():
    made = learned([*rough_cuts(5), *rough_cuts(5, state=OPEN, factor=0.5, begin=10)])
    again = posterior_from(json.loads(posterior_text(made)), sha256="x", rules=RULES)
    one, other = (passes(p)[0].learned.nozzles for p in (made, again))
    for mine, kept in zip(one, other, strict=True):
        assert kept.factor == pytest.approx(mine.factor)
        assert dict(kept.loadings) == pytest.approx(dict(mine.loadings), abs=1e-9)


def test_figures_kept_without_the_spread_have_the_hash_and_the_ranges_of_their_time():
    assert "flushing_sigma_log" not in repr(WITHOUT.rough).replace("'flushing_sigma_log.", "")
    text = repr((dataclasses.replace(WITHOUT, experience=None), TABLES.catalogue))
    assert tables_sha256(WITHOUT, TABLES.catalogue) == hashlib.sha256(text.encode()).hexdigest()
    assert tables_sha256(TABLES.technology, TABLES.catalogue) != tables_sha256(
        WITHOUT, TABLES.catalogue
    )
    assert nozzle_rate(OPEN, law=WITHOUT.rough).loadings == ()
    posterior = learned(rough_cuts(5, state=OPEN, factor=0.5), WITHOUT)
    assert not any(n.startswith("nozzles") for n in posterior.measures[Measure.FEED].names)


def test_nozzles_that_all_but_close_have_little_of_the_spread_of_open_ones():
    # By the flow model at 0.95 of the usual rate: ln 0.95 / ln 0.7 of the way to one open nozzle.
    rate = nozzle_rate(Flushing.ONE_OPEN, law=LAW, factor=0.95)
    ((_, spread),) = rate.loadings
    way = math.log(0.95) / math.log(0.7)
    assert spread == pytest.approx(way * LAW.flushing_sigma_log[Flushing.ONE_OPEN])


def test_what_was_learned_of_open_nozzles_counts_as_far_as_they_are_open():
    # Cuts at 0.5 where the tables have 0.4.  A gap of which the model says 0.4^w stands w of the
    # way from closed to open, so it is moved by that power: ln K is a straight line in w.
    known = passes(learned([*rough_cuts(25), *rough_cuts(40, state=OPEN, factor=0.5)]))[0].learned
    moved = {
        way: nozzle_rate(OPEN, law=LAW, learned=known, factor=0.4**way).factor
        for way in (0.25, 0.5, 1.0)
    }
    assert moved[1.0] == pytest.approx(0.5, rel=0.03)
    for way in (0.25, 0.5):
        assert math.log(moved[way]) == pytest.approx(way * math.log(moved[1.0]))
    # Nozzles that all but close are not lifted above closed ones.
    assert nozzle_rate(OPEN, law=LAW, learned=known, factor=0.999).factor < 1


def test_a_job_planned_under_open_nozzles_says_so_of_its_rough_cuts():
    # The plan ran at 0.45 of the feed, 0.4 of the tables times 1.125 that the shop knew; corners
    # took the rest. What is left for the learner to take as known are the corners.
    said = {
        n: PassForecast(
            number=n, wall_mm=100, minutes=Range.exact(9), feed_share=share, ra_um=1, tolerance_um=9
        )
        for n, share in ((1, 0.9 * 0.45), (2, 0.8))
    }
    job = OfJob(passes=said, nozzles=OPEN, nozzles_factor=0.4 * 1.125)
    assert job.feed_share(1, says_nozzles=False) == pytest.approx(0.9)
    assert job.feed_share(1, says_nozzles=True) == 1.0
    assert job.feed_share(2, says_nozzles=False) == 0.8


def moved_rows(cuts, every):
    before, after = None, learned(every)
    return moved_and_along(
        cuts,
        measured=cuts,
        every=every,
        technology=TABLES.technology,
        before=before,
        after=after,
        rules=RULES,
    )[0]


def test_before_and_after_say_what_open_cuts_alone_did_to_the_feed_of_closed_nozzles():
    cuts = rough_cuts(40, state=OPEN, factor=0.5)
    (row,) = moved_rows(cuts, cuts)
    before, after = row.closed_feed_mm_per_min
    assert before == pytest.approx(scene().passes(1)[0].feed_mm_per_min)
    # The share of the rate in what the two together showed: 1.25 to the power of 0.71.
    rate, factor = 0.35**2 * 0.8, PRIOR**2
    assert after / before == pytest.approx(1.25 ** (rate / (rate + factor)), rel=0.015)
    said = _sentences(row, Show(unit=LengthUnit.MILLIMETRE))
    assert "no cut with closed nozzles tells" in said[-1]
    assert f"{after:.2f} mm/min" in said[-1]


def test_one_cut_with_closed_nozzles_ends_that_word():
    cuts = rough_cuts(10, state=OPEN, factor=0.5)
    (row,) = moved_rows(cuts, [*cuts, *rough_cuts(1, begin=50)])
    assert row.closed_feed_mm_per_min is None
    closed = rough_cuts(10)
    assert moved_rows(closed, closed)[0].closed_feed_mm_per_min is None
