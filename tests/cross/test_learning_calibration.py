"""Ranges against simulated shops: eighty of a hundred later cuts and jobs lie inside.

The shops are drawn in ``tests/simulated_shops.py``, each with variances of its own; the learner
sees only the measured times.
"""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from tests.soak import SOAK
from tests.unit.costing.test_estimate import RATES, cut, moves, plan

from kerfwright.costing.times import job_times
from kerfwright.costing.uncertainty import total
from kerfwright.learning.learn import learn
from kerfwright.motion.moves import CutKind, Purpose, WirePath
from kerfwright.planning.flushing_state import CLOSED_NOZZLES
from kerfwright.process.nozzles import NozzleRate, nozzle_rate, rough_range_mm_per_min
from kerfwright.process.technology import Flushing, PassChoice
from simulated_shops import (
    MACHINES,
    MATERIALS,
    ODD_MATERIALS,
    ODD_WIRES,
    RULES,
    TABLES,
    WIRES,
    Scene,
    Shop,
    measured,
)

SHOPS = 1500 if SOAK else 100
JOBS_MEASURED = (2, 8, 25)
LATER = 6
CLOSED = NozzleRate()


def path_of(passes, contours, rate=CLOSED):
    """A wire path with every pass along 100 mm of every contour."""
    kinds = {1: CutKind.ROUGH}
    return WirePath(
        cuts=tuple(
            cut(
                kinds.get(p.number, CutKind.SKIM),
                p.number,
                moves(
                    (100.0, Purpose.WALL, p.feed_mm_per_min * (rate.factor if p.is_rough else 1))
                ),
            )
            for p in passes
            for _ in range(contours)
        )
    )


def planned(scene, passes, rate=CLOSED):
    made = plan()
    choice = PassChoice(wire=scene.wire, passes=passes, limiting="none", further=(), findings=())
    washed = dataclasses.replace(
        CLOSED_NOZZLES,
        nozzles=scene.flushing,
        along_factor=rate.factor,
        along_loadings=rate.loadings,
        beside_factor=rate.factor,
        beside_loadings=rate.loadings,
    )
    contours = tuple(dataclasses.replace(c, flushing=washed) for c in made.contours)
    return dataclasses.replace(made, choice=choice, contours=contours)


def outcomes(tail, *, is_odd=False):
    """Whether later cuts and jobs lie in their 10-90 % ranges, by count of jobs measured.

    And rough cuts under nozzles that do not close, by their state.
    """
    cuts, jobs, washed = {}, {}, {}
    law = TABLES.technology.rough
    for seed in range(SHOPS):
        shop = Shop(seed=seed, tail=tail, is_odd=is_odd)
        known = JOBS_MEASURED[seed % len(JOBS_MEASURED)]
        posterior = learn(
            shop.records(known),
            technology=TABLES.technology,
            catalogue=TABLES.catalogue,
            rules=RULES,
        )
        technology = dataclasses.replace(TABLES.technology, experience=posterior)
        for n in range(LATER):
            scene = shop.scene(f"later {n}")
            count, contours = int(shop.generator.integers(1, 5)), int(shop.generator.integers(1, 7))
            passes = scene.passes(count, technology)
            true = shop.cuts(scene, passes=count, contours=contours)
            for done in true:
                one = passes[done.pass_number - 1]
                span = rough_range_mm_per_min(one, scene.flushing, law=law)
                inside = span.low < done.feed_mm_per_min < span.high
                cuts.setdefault(known, []).append((inside, 1 / len(true)))
                if one.is_rough and scene.flushing is not Flushing.SEALED:
                    washed.setdefault(scene.flushing, []).append((inside, 1 / contours))
            rate = nozzle_rate(scene.flushing, law=law, learned=passes[0].learned)
            times = job_times(
                planned(scene, passes, rate), path_of(passes, contours, rate), rates=RATES
            )
            span = total(line.amount() for line in times.running)
            inside = span.low < sum(done.minutes for done in true) < span.high
            jobs.setdefault(known, []).append((inside, 1.0))
    return cuts, jobs, washed


def share(found):
    inside, weight = np.array([pair for pairs in found.values() for pair in pairs]).T
    return float(np.average(inside, weights=weight))


@pytest.mark.parametrize("tail", ["normal", *(["student"] if SOAK else [])])
def test_the_ranges_of_later_cuts_and_jobs_cover_eighty_in_a_hundred(tail):
    cuts, jobs, washed = outcomes(tail)
    assert share(cuts) == pytest.approx(0.80, abs=0.03)
    assert share(jobs) == pytest.approx(0.80, abs=0.03)
    # With few jobs measured and with many: wider for the noise of a third of the shops.
    for found in (cuts, jobs):
        for known in JOBS_MEASURED:
            assert share({known: found[known]}) == pytest.approx(0.80, abs=0.06)
    # Rough cuts under open nozzles by themselves: a fifth of the jobs, and cuts of a shop share
    # one factor.
    for state in washed:
        assert share({state: washed[state]}) == pytest.approx(0.80, abs=0.08)


def test_the_ranges_cover_tall_work_coated_wire_and_odd_materials_too():
    # Shops that cut nothing else, so that what their cuts teach of it counts.
    cuts, jobs, _ = outcomes("normal", is_odd=True)
    assert share(cuts) == pytest.approx(0.80, abs=0.03)
    assert share(jobs) == pytest.approx(0.80, abs=0.03)
    for found in (cuts, jobs):
        for known in JOBS_MEASURED:
            assert share({known: found[known]}) == pytest.approx(0.80, abs=0.06)


def test_cuts_of_a_wire_a_material_and_tall_work_narrow_what_each_brings():
    odd = {
        "wire": (MATERIALS[0], ODD_WIRES[1], 40.0),
        "material": (ODD_MATERIALS[3], WIRES[1], 40.0),
        "height": (MATERIALS[0], WIRES[1], 250.0),
    }
    for material, wire, height_mm in odd.values():
        there = Scene(
            job="", machine=MACHINES[0], material=material, wire=wire, height_mm=height_mm
        )
        (plain,) = there.passes(1)
        records = [
            measured(dataclasses.replace(there, job=f"J{n}"), 1, feed=1.3 * plain.feed_mm_per_min)
            for n in range(12)
        ]
        known = learn(
            records, technology=TABLES.technology, catalogue=TABLES.catalogue, rules=RULES
        )
        technology = dataclasses.replace(TABLES.technology, experience=known)
        (one,) = there.passes(1, technology)
        # What jobs and cuts bring is left, and little else.
        assert one.feed_sigma_log < 0.2
        assert one.learned.feed_factor == pytest.approx(1.3, abs=0.06)
        assert one.learned.feed_known > 0.9
        # In routine work of the machine the rest of it counts as little as it did before.
        usual = Scene(
            job="", machine=MACHINES[0], material=MATERIALS[0], wire=WIRES[1], height_mm=40.0
        )
        elsewhere = usual.passes(1, technology)[0].learned
        assert elsewhere.feed_factor < 1.3
        assert elsewhere.feed_known < one.learned.feed_known


def test_what_tall_cuts_teach_of_the_law_counts_in_taller_work_by_its_slope():
    there = {
        h: Scene(job="", machine=MACHINES[0], material=MATERIALS[0], wire=WIRES[1], height_mm=h)
        for h in (40.0, 150.0, 250.0)
    }
    feeds = {40.0: 1.0, 150.0: 1.25}
    records = [
        measured(
            dataclasses.replace(scene, job=f"J{n} {h}"),
            1,
            feed=feeds[h] * scene.passes(1)[0].feed_mm_per_min,
        )
        for n in range(12)
        for h, scene in there.items()
        if h in feeds
    ]
    known = learn(records, technology=TABLES.technology, catalogue=TABLES.catalogue, rules=RULES)
    technology = dataclasses.replace(TABLES.technology, experience=known)
    taught = there[150.0].passes(1, technology)[0]
    taller = there[250.0].passes(1, technology)[0]
    before = there[250.0].passes(1)[0]
    assert taught.learned.feed_factor == pytest.approx(1.25, abs=0.05)
    # H_f moved, so that 250 mm is faster as well, and less sure than 150 mm.
    assert taller.learned.feed_factor > 1.05
    assert taught.feed_sigma_log < taller.feed_sigma_log < before.feed_sigma_log


def test_a_well_measured_shop_that_scatters_widely_has_cuts_that_even_out():
    # Jobs and cuts bring 0.32 together, nearly all that the tables have for everything (0.35).
    job_sigma, cut_sigma, contours = 0.2, 0.25, 20
    generator = np.random.default_rng(1)
    there = Scene(job="", machine=MACHINES[0], material=MATERIALS[0], wire=WIRES[1], height_mm=30.0)

    def feeds(one, off, count):
        scatter = cut_sigma * generator.standard_normal(count)
        return one.feed_mm_per_min * np.exp(off + scatter)

    records = [
        measured(dataclasses.replace(there, job=f"J{n}"), one.number, feed=feed)
        for n, off in enumerate(job_sigma * generator.standard_normal(80))
        for one in there.passes(3)
        for feed in feeds(one, off, 3)
    ]
    posterior = learn(
        records, technology=TABLES.technology, catalogue=TABLES.catalogue, rules=RULES
    )
    passes = there.passes(3, dataclasses.replace(TABLES.technology, experience=posterior))
    assert all(one.learned.feed_known > 0.95 for one in passes)
    times = job_times(planned(there, passes), path_of(passes, contours), rates=RATES)
    span = total(line.amount() for line in times.running)
    true = np.array(
        [
            sum((100.0 / feeds(one, off, contours)).sum() for one in there.passes(3))
            for off in job_sigma * generator.standard_normal(4_000)
        ]
    )
    # Eighty jobs leave the variances of jobs and cuts a fifth unsure.
    assert np.mean((span.low < true) & (true < span.high)) == pytest.approx(0.80, abs=0.06)


def test_true_factors_are_recovered_within_their_ranges():
    # What machines, materials, wires and passes bring together, jobs and cuts left out.
    inside = []
    for seed in range(SHOPS // 2 if SOAK else SHOPS // 5):
        shop = Shop(seed=10_000 + seed)
        posterior = learn(
            shop.records(25), technology=TABLES.technology, catalogue=TABLES.catalogue, rules=RULES
        )
        technology = dataclasses.replace(TABLES.technology, experience=posterior)
        for n in range(8):
            scene = shop.scene(f"later {n}")
            for plain, one in zip(scene.passes(4), scene.passes(4, technology), strict=True):
                true = shop.known_log(scene, plain)
                deviation = np.sqrt(sum(s**2 for _, s in one.learned.feed_loadings))
                inside.append(abs(true - np.log(one.learned.feed_factor)) < 1.2816 * deviation)
    assert np.mean(inside) == pytest.approx(0.80, abs=0.04)


def test_more_records_bring_the_factors_nearer_to_the_truth():
    def error(jobs):
        squares = []
        for seed in range(20 if SOAK else 5):
            shop = Shop(seed=20_000 + seed)
            posterior = learn(
                shop.records(jobs),
                technology=TABLES.technology,
                catalogue=TABLES.catalogue,
                rules=RULES,
            )
            technology = dataclasses.replace(TABLES.technology, experience=posterior)
            for n in range(10):
                scene = shop.scene(f"later {n}")
                for plain, one in zip(scene.passes(4), scene.passes(4, technology), strict=True):
                    true = shop.known_log(scene, plain)
                    squares.append((true - np.log(one.learned.feed_factor)) ** 2)
        return np.sqrt(np.mean(squares))

    none, few, some, many = (error(jobs) for jobs in (0, 5, 40, 320))
    assert none > few > some > many
    # What stays is mostly combinations that even 320 jobs met once or never.
    assert many < none / 3
