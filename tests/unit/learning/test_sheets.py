"""Rows of one sheet that are off alike: one slip, or how the machine is, against exact sums."""

from __future__ import annotations

import dataclasses
import itertools
import math

import numpy as np
import pytest
from scipy.stats import multivariate_normal, norm

from kerfwright.learning.crossed import Design
from kerfwright.learning.learn import learn
from kerfwright.learning.sheet_levels import weigh_sheets
from kerfwright.learning.slips import Slips
from kerfwright.learning.solve import fit_robust
from kerfwright.process.sheet_records import SheetRecord, lines_words, sheet_findings
from simulated_shops import MACHINES, MATERIALS, RULES, TABLES, WIRES, Scene, Shop, measured

SLIPS = Slips(share=0.0, sigma=6.0, sheet_share=0.02)


def by_every_way(level, mean, covariance, own):
    """Mean, covariance and chance of no slip, summed over which sheets hold one."""
    count, found = len(level), []
    for way in itertools.product((0, 1), repeat=count):
        if any(one and abs(z - m) < 2 for one, z, m in zip(way, level, mean, strict=True)):
            continue
        # A slip is about the tables, whatever the shop's own middle is.
        cut = 1.0 - np.array(way)
        prior = math.prod(0.02 if one else 0.98 for one in way)
        picked = np.diag(cut)
        whole = picked @ covariance @ picked + np.diag(own + 36.0 * (1 - cut))
        weight = prior * multivariate_normal.pdf(level, mean=mean * cut, cov=whole)
        gain = covariance @ picked @ np.linalg.inv(whole)
        found.append(
            (
                weight,
                mean + gain @ (level - mean * cut),
                covariance - gain @ picked @ covariance,
                way,
            )
        )
    part = np.array([one[0] for one in found])
    part /= part.sum()
    middle = part @ np.array([one[1] for one in found])
    spread = sum(
        p * (c + np.outer(m - middle, m - middle))
        for p, (_, m, c, _) in zip(part, found, strict=True)
    )
    return middle, spread, 1 - part @ np.array([one[3] for one in found], dtype=float)


@pytest.mark.parametrize(
    "level", [(0.4,), (2.6,), (3.1,), (6.6,), (3.2, 3.0), (6.6, -0.2, 3.4), (3, 3.1, 2.9, 3)]
)
def test_sheets_leave_the_mean_and_the_spread_of_the_exact_sum(level):
    count = len(level)
    mean, covariance = np.linspace(0.1, 0.3, count), 0.5 * np.ones((count, count))
    covariance += np.diag(np.linspace(0.2, 0.4, count))
    own = np.linspace(0.05, 0.15, count)
    found = weigh_sheets(np.array(level), mean=mean, covariance=covariance, own=own, slips=SLIPS)
    left = np.linalg.inv(np.linalg.inv(covariance) + found.precision)
    middle = left @ (np.linalg.solve(covariance, mean) + found.pull)
    exact, spread, honest = by_every_way(np.array(level), mean, covariance, own)
    assert middle == pytest.approx(exact, abs=1e-8)
    assert left == pytest.approx(spread, abs=1e-8)
    assert found.honest == pytest.approx(honest, abs=1e-8)


def jobs_of_one_machine(jobs, rows):
    """Rows of as many jobs on one machine: a level that all share, and that of each job."""
    own = np.repeat(np.arange(jobs), rows)
    return Design(
        columns=np.column_stack([np.zeros(jobs * rows, dtype=np.int64), 1 + own]),
        variance=np.array([0.8, *[0.1] * jobs]),
        is_job=np.array([False, *[True] * jobs]),
    )


@pytest.mark.parametrize("off", [2.3, 2.8, 3.0, 3.3, 4.0, 6.6, -3.1])
@pytest.mark.parametrize(("jobs", "rows"), [(2, 1), (3, 1), (3, 2), (8, 4)])
def test_a_fit_with_one_sheet_is_the_exact_sum_of_both_ways(off, jobs, rows):
    """Normal scatter and known variances: ``y = u + job + e``, and one shift of all or none."""
    design, count = jobs_of_one_machine(jobs, rows), jobs * rows
    values = off + 0.2 * np.random.default_rng(3).standard_normal(count)
    found = fit_robust(
        values,
        design,
        scatter_variance=0.1,
        df=math.inf,
        scale_sigma_log=0.0,
        slips=SLIPS,
        hands=np.zeros(count, dtype=np.int64),
    )
    own = np.kron(np.eye(jobs), np.full((rows, rows), 0.1)) + 0.1 * np.eye(count)
    whole = own + 0.8 * np.ones((count, count))
    gain = np.linalg.solve(whole, 0.8 * np.ones(count))
    # What lies between rows is alike in both ways; of their mean the scatter is known.
    level, scatter = values.mean(), own.sum() / count**2
    cut = 0.98 * norm.pdf(level, scale=math.sqrt(0.8 + scatter))
    slip = 0.02 * norm.pdf(level, scale=math.sqrt(36 + 0.1 / count))
    ways = [(cut, float(gain @ values), 0.8 - 0.8 * float(gain.sum())), (slip, 0.0, 0.8)]
    part = np.array([one[0] for one in ways])
    part /= part.sum()
    mean = float(part @ [one[1] for one in ways])
    variance = float(part @ [one[2] + (one[1] - mean) ** 2 for one in ways])
    assert found.mean[0] == pytest.approx(mean, abs=0.003)
    assert 1 / found.precision[0, 0] == pytest.approx(variance, abs=0.003)


def scene(job, material=MATERIALS[0]):
    return Scene(job=job, machine=MACHINES[0], material=material, wire=WIRES[1], height_mm=40.0)


def sheet(name, factor, jobs, *, passes=(1,), **changes):
    """Rows of a sheet, each job some hundredths apart."""
    return [
        dataclasses.replace(
            measured(at, one.number, feed=factor * (1 + 0.03 * n) * one.feed_mm_per_min),
            batch=name,
            place=f"{name}.csv line {n + 2}",
        )
        for n, at in ((n, scene(f"{name} {n}", **changes)) for n in range(jobs))
        for one in at.passes(max(passes))
        if one.number in passes
    ]


def learned(cuts):
    return learn(cuts, technology=TABLES.technology, catalogue=TABLES.catalogue, rules=RULES)


def after(cuts, **changes):
    technology = dataclasses.replace(TABLES.technology, experience=learned(cuts))
    return scene("later", **changes).passes(1, technology)[0]


@pytest.mark.parametrize("factor", [1 / 60, 1 / 10, 1 / 5, 5, 10, 25.4, 60])
@pytest.mark.parametrize(("jobs", "passes"), [(3, (1,)), (3, (1, 2, 3)), (25, (1, 2, 3, 4))])
def test_a_sheet_mistyped_throughout_hardly_moves_the_feed_and_narrows_nothing(
    factor, jobs, passes
):
    one = after(sheet("A", factor, jobs, passes=passes))
    assert abs(math.log(one.learned.feed_factor) / math.log(factor)) < 0.06
    assert one.feed_sigma_log > 0.97 * scene("tables").passes(1)[0].feed_sigma_log


@pytest.mark.parametrize("factor", [1 / 10, 1 / 4, 4, 10])
def test_a_shop_that_is_known_keeps_its_feed_when_a_longer_sheet_is_mistyped(factor):
    known = sheet("good", 0.9, 5)
    before, now = after(known), after(known + sheet("bad", factor, 9))
    assert now.learned.feed_factor == pytest.approx(before.learned.feed_factor, rel=0.06)


@pytest.mark.parametrize("factor", [1 / 10, 1 / 4, 4, 10])
def test_another_sheet_of_other_jobs_or_a_person_settles_it(factor):
    first = sheet("A", factor, 3)
    for cuts in (
        first + sheet("B", factor, 1),
        [dataclasses.replace(cut, is_sheet_confirmed=True) for cut in first],
    ):
        found = learned(cuts)
        assert found.sheets == ()
        assert abs(math.log(after(cuts).learned.feed_factor / factor)) < 0.12


def test_another_sheet_that_is_off_by_another_factor_settles_nothing():
    found = learned(sheet("A", 10, 3) + sheet("B", 0.1, 3))
    assert {one.record.batch for one in found.sheets} == {"A", "B"}


@pytest.mark.parametrize("factor", [1.3, 1 / 1.5, 1.8])
def test_a_sheet_within_what_machines_do_is_believed_as_jobs_are(factor):
    cuts = sheet("A", factor, 4)
    apart = [dataclasses.replace(cut, batch="") for cut in cuts]
    one, other = after(cuts), after(apart)
    assert one.learned.feed_factor == pytest.approx(other.learned.feed_factor, rel=0.02)
    assert learned(cuts).sheets == ()


def test_slips_in_part_of_a_sheet_do_not_move_what_only_they_have():
    """Five good rows in steel, three in a nickel alloy mistyped: the alloy had no others."""
    nickel = TABLES.catalogue.material("Inconel 718")
    part = [dataclasses.replace(c, batch="A") for c in sheet("N", 10, 3, material=nickel)]
    one = after(sheet("A", 1.0, 5) + part, material=nickel)
    assert one.learned.feed_factor == pytest.approx(1.0, abs=0.12)


def test_the_question_names_rows_factor_and_chance_and_is_asked_by_every_plan():
    found = learned(sheet("A", 60, 3, passes=(1, 2)))
    (asked,) = found.sheets
    assert asked.record.factor == pytest.approx(61.8, rel=0.08)
    assert asked.record.chance > 0.99
    assert asked.record.jobs == ("A 0", "A 1", "A 2")
    technology = dataclasses.replace(TABLES.technology, experience=found)
    rough, skim, other = scene("later").passes(3, technology)
    assert rough.learned.sheets == skim.learned.sheets == (asked.record,)
    assert other.learned.sheets == ()
    (finding,) = sheet_findings([*rough.learned.sheets, *skim.learned.sheets])
    assert finding.code == "sheet-in-question"
    assert "A.csv lines 2 to 4" in finding.message
    assert "near 60: hours for minutes" in finding.message
    assert "record --confirm A" in finding.remedy


def test_a_wild_shop_recorded_in_one_sheet_is_recovered_as_in_many():
    """Effects of a hundred jobs drawn as the rules have them: no tail of theirs is a slip."""
    asked = []
    for seed in range(6):
        shop = Shop(seed=seed)
        cuts = shop.records(100)
        one = [dataclasses.replace(cut, batch="A") for cut in cuts]
        apart, together = learned(cuts), learned(one)
        asked += together.sheets
        later = [shop.scene(f"L{n}") for n in range(20)]
        for at in later:
            feeds = [
                at.passes(1, dataclasses.replace(TABLES.technology, experience=known))[0]
                for known in (apart, together)
            ]
            ratio = math.log(feeds[1].feed_mm_per_min / feeds[0].feed_mm_per_min)
            assert abs(ratio) < 0.5 * feeds[0].feed_sigma_log
    assert len(asked) <= 1


def test_ra_and_wire_of_a_sheet_are_judged_as_its_feed_is():
    rows = [
        dataclasses.replace(cut, ra_um=39.37 * 2.8, wire_kg=1000 * 0.7, length_mm=cut.length_mm)
        for cut in sheet("A", 1.0, 4)
    ]
    found = learned(rows)
    assert {one.record.measure for one in found.sheets} == {"ra", "wire"}
    assert after(rows).ra_um == pytest.approx(scene("t").passes(1)[0].ra_um, rel=0.06)


def test_the_order_of_rows_plays_no_part():
    cuts = sheet("A", 4, 3) + sheet("B", 0.2, 4) + sheet("C", 1.0, 3)
    one, other = after(cuts), after(cuts[::-1])
    assert one.learned.feed_factor == pytest.approx(other.learned.feed_factor, rel=1e-6)


def test_rows_are_named_by_runs_of_lines():
    places = [f"a.csv line {n}" for n in (2, 3, 4, 8)] + ["b.csv line 5"]
    assert lines_words(places) == "a.csv lines 2 to 4, 8; b.csv line 5"


def test_a_factor_like_no_slip_is_said_plainly():
    record = SheetRecord(batch="A", measure="feed", places=(), jobs=("J",), factor=4, chance=0.5)
    assert record.times_words == "about 4 times"
