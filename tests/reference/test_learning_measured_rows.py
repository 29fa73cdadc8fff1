"""Rows measured by others, each predicted from the rest: nearer than a constant, which is what the
tables are here, for they know nothing of pulse settings.

No set has two materials, heights or machines: settings are put into the places of wire, height and
pass, so that this tests shrinking and crossing on measured numbers, not how far those lie apart.

Sources: a 15-run design in Inconel 825 (data file of a public repository, read; it names no
thickness, wire or machine, so only ratios are tested), the control tests of Sato et al. (Tables 6
and 7, read), a published response surface of titanium (equations read, attribution from memory;
its rows are computed, not measured) and the gain of coated wire in two alloys (Antar et al.,
Procedia Engineering 19 (2011) 3-8, from memory).  The single published points of the folder hold no
two rates of one machine, so that no ratio can be tested on them.
"""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import binomtest, wilcoxon
from tests.reference.facts_beside import rows
from tests.soak import SOAK

from kerfwright.adapters.learning_rules import load_learning_rules
from kerfwright.learning.fitting import fit_measure
from kerfwright.learning.learn import learn
from kerfwright.learning.records import CROSSED, Input, Measure

RULES = load_learning_rules()


_PLACES = (Input.WIRE, Input.HEIGHT, Input.PASS, Input.MATERIAL)


def names_of(settings):
    """Levels in the learner's order: settings take the places of wire, height and pass."""
    by_kind = dict.fromkeys(CROSSED, "the same in all rows")
    by_kind |= dict(zip(_PLACES, settings, strict=False))
    return tuple(f"{kind} {level}" for kind, level in by_kind.items())


def left_out(settings, logs, *, measure, sigma_log):
    """Errors in logarithms of each row predicted from the others: of the learner, of a constant.

    The absolute level is not in the tables (machine and height unknown), so that both take the
    mean of the other rows for it.
    """
    names = [names_of(row) for row in settings]
    ours, tables = [], []
    for i, here in enumerate(names):
        rest = [k for k in range(len(names)) if k != i]
        level = np.mean(logs[rest])
        fitted = fit_measure(
            (logs[rest] - level) / sigma_log,
            [(*names[k], f"job {k}") for k in rest],
            measure=measure,
            rules=RULES,
        )
        look = fitted.outlook([here])
        ours.append(logs[i] - level - sigma_log * look.mean[0])
        tables.append(logs[i] - level)
    return np.array(ours), np.array(tables)


def rms(errors):
    return float(np.sqrt(np.mean(errors**2)))


def inconel():
    found = rows("inconel_825.csv")
    settings = [(r["on_us"], r["off_us"], r["current_a"]) for r in found]
    return found, settings


@pytest.mark.parametrize(
    ("column", "measure", "sigma_log"),
    [("ra_um", Measure.RA, RULES.ra_sigma_log), ("removal_mm3_per_min", Measure.FEED, 0.35)],
)
def test_each_row_in_inconel_is_nearer_than_a_constant(column, measure, sigma_log):
    found, settings = inconel()
    logs = np.log([float(r[column]) for r in found])
    ours, tables = left_out(settings, logs, measure=measure, sigma_log=sigma_log)
    assert rms(ours) < 0.5 * rms(tables)


def test_roughness_in_inconel_beats_the_cube_root_of_the_energy_too():
    # Ra ~ E^(1/3) with E ~ current x on-time (PROCESS.md section 3.2) as the figure to be moved.
    found, settings = inconel()
    energy = np.array([float(r["current_a"]) * float(r["on_us"]) for r in found])
    logs = np.log([float(r["ra_um"]) for r in found]) - np.log(energy) / 3
    ours, law = left_out(settings, logs, measure=Measure.RA, sigma_log=RULES.ra_sigma_log)
    assert rms(ours) < 0.7 * rms(law)


def test_the_rate_in_inconel_is_not_told_better_than_by_a_rate_in_proportion_to_the_mean_current():
    # What is not beaten, held here so that nobody claims it: two runs at each setting teach no more
    # than that law, neither in its place nor as a correction of it.  The tables have it, as the
    # charge for a volume; they are not asked for it here, as no plan holds pulse settings.
    found, settings = inconel()
    on, off, current_a = (
        np.array([float(r[key]) for r in found]) for key in ("on_us", "off_us", "current_a")
    )
    logs = np.log([float(r["removal_mm3_per_min"]) for r in found])
    ours, _ = left_out(settings, logs, measure=Measure.FEED, sigma_log=0.35)
    moved, law = left_out(
        settings, logs - np.log(current_a * on / (on + off)), measure=Measure.FEED, sigma_log=0.35
    )
    assert rms(law) == pytest.approx(0.249, abs=0.002)
    assert rms(ours) > 1.1 * rms(law)
    assert rms(moved) == pytest.approx(rms(law), rel=0.05)


def test_a_shuffled_table_teaches_nothing():
    # The same learner on rows whose settings were mixed up must not find an order in them.
    found, settings = inconel()
    logs = np.log([float(r["ra_um"]) for r in found])
    ratios = []
    for seed in range(10 if SOAK else 4):
        mixed = [settings[k] for k in np.random.default_rng(seed).permutation(len(settings))]
        ours, tables = left_out(mixed, logs, measure=Measure.RA, sigma_log=RULES.ra_sigma_log)
        ratios.append(rms(ours) / rms(tables))
    assert np.median(ratios) > 0.9


def test_four_rows_whose_settings_interact_neither_help_nor_hurt():
    # Speed-ups 1.24 submerged and 2.90 in the open (PROCESS.md vector 10): the effect of the
    # control depends on the flushing, which three rows cannot tell.  Nothing is gained here.
    found = rows("control.csv")
    settings = [(r["bath"], r["off_time"]) for r in found]
    logs = -np.log([float(r["time_s"]) for r in found])
    ours, tables = left_out(settings, logs, measure=Measure.FEED, sigma_log=0.35)
    assert rms(ours) == pytest.approx(rms(tables), rel=0.05)
    # Three rows settle three effects exactly: least squares then misses the fourth by the whole
    # interaction, ln 2.90 - ln 1.24.  Shrinking is what keeps three rows from doing harm.
    control = {c: logs[2 * n + 1] - logs[2 * n] for n, c in enumerate(("submerged", "open"))}
    interaction = abs(control["open"] - control["submerged"])
    assert interaction == pytest.approx(np.log(2.90 / 1.24), abs=0.01)
    assert rms(ours) < 0.7 * interaction


def every_measured_row():
    """Errors of all measured rows that there are, in the tables' deviations: ours, the tables'."""
    found, settings = inconel()
    sets = [
        (settings, [float(r["ra_um"]) for r in found], Measure.RA, RULES.ra_sigma_log),
        (settings, [float(r["removal_mm3_per_min"]) for r in found], Measure.FEED, 0.35),
    ]
    control = rows("control.csv")
    of = [(r["bath"], r["off_time"]) for r in control]
    sets.append((of, [1 / float(r["time_s"]) for r in control], Measure.FEED, 0.35))
    errors = [
        np.array(left_out(at, np.log(values), measure=measure, sigma_log=sigma)) / sigma
        for at, values, measure, sigma in sets
    ]
    return np.hstack(errors)


def test_all_measured_rows_together_are_nearer_than_constants():
    # 15 of Ra, 15 of rate and 4 of times, none left away: each predicted from the others of its
    # set.  Rows of one set are no independent tests; test_a_shuffled_table_teaches_nothing says
    # what the same learner makes of rows without an order.
    ours, tables = every_measured_row()
    nearer = int((abs(ours) < abs(tables)).sum())
    assert len(ours) == 34
    assert nearer == 24
    assert binomtest(nearer, 34, alternative="greater").pvalue == pytest.approx(0.012, abs=0.001)
    assert wilcoxon(abs(ours) - abs(tables), alternative="less").pvalue < 1e-3
    assert rms(ours) == pytest.approx(0.86, abs=0.02)
    assert rms(tables) == pytest.approx(1.79, abs=0.01)
    # The rows of Sato et al. alone: as the tables, see the test before.
    assert rms(ours[-4:]) == pytest.approx(rms(tables[-4:]), rel=0.05)


@pytest.mark.parametrize(
    ("column", "measure", "sigma_log", "expected"),
    [
        ("ra_um", Measure.RA, RULES.ra_sigma_log, (0.23, 0.39, 87)),
        ("removal_mm3_per_min", Measure.FEED, 0.35, (0.49, 1.03, 82)),
    ],
)
def test_the_ratio_of_two_rows_is_nearer_too_with_both_left_out(
    column, measure, sigma_log, expected
):
    # No mean level plays a part: the ratio of each of the 105 pairs from the other 13 rows.  The
    # tables, which know no settings, say 1.
    found, settings = inconel()
    logs, names = np.log([float(r[column]) for r in found]), [names_of(s) for s in settings]
    ours, tables = [], []
    for i, k in itertools.combinations(range(len(names)), 2):
        rest = [n for n in range(len(names)) if n not in (i, k)]
        fitted = fit_measure(
            (logs[rest] - logs[rest].mean()) / sigma_log,
            [(*names[n], f"job {n}") for n in rest],
            measure=measure,
            rules=RULES,
        )
        look = fitted.outlook([names[i], names[k]]).mean
        tables.append(logs[i] - logs[k])
        ours.append(tables[-1] - sigma_log * (look[0] - look[1]))
    ours, tables = np.array(ours), np.array(tables)
    assert rms(ours) == pytest.approx(expected[0], abs=0.02)
    assert rms(tables) == pytest.approx(expected[1], abs=0.01)
    assert int((abs(ours) < abs(tables)).sum()) == pytest.approx(expected[2], abs=2)


def titanium():
    found = rows("titanium_surface.csv")
    settings = [(r["on_dial"], r["off_dial"], r["current_dial"], r["servo_v"]) for r in found]
    return found, settings


@pytest.mark.parametrize(
    ("column", "measure", "sigma_log"),
    [
        ("feed_mm_per_min", Measure.FEED, 0.35),
        ("ra_um", Measure.RA, RULES.ra_sigma_log),
    ],
)
def test_a_few_points_of_the_titanium_surface_tell_the_others(column, measure, sigma_log):
    # Sixteen of 81 points are known, the other 65 are predicted: the surface is smooth, so that
    # leaving out one at a time would be no test.
    found, settings = titanium()
    logs = np.log([float(r[column]) for r in found])
    ratios = []
    for seed in range(5):
        known = np.random.default_rng(seed).choice(len(logs), 16, replace=False)
        asked = np.setdiff1d(np.arange(len(logs)), known)
        level = logs[known].mean()
        fitted = fit_measure(
            (logs[known] - level) / sigma_log,
            [(*names_of(settings[k]), f"job {k}") for k in known],
            measure=measure,
            rules=RULES,
        )
        look = fitted.outlook([names_of(settings[k]) for k in asked])
        ours = logs[asked] - level - sigma_log * look.mean
        ratios.append(rms(ours) / rms(logs[asked] - level))
    # The worst draw knows but one point of some setting.
    assert max(ratios) < 0.7
    assert np.median(ratios) < 0.6


# Rate of coated over plain brass wire: +40 % in a nickel alloy, +70 % in a titanium alloy.  The
# nearest materials of the tables stand for them: only ratios are used.
COATED = {"Inconel 718": 1.4, "Ti-6Al-4V": 1.7}


@pytest.mark.parametrize("asked", COATED)
def test_the_gain_of_coated_wire_in_one_alloy_tells_that_in_another(asked):
    # The whole way: cuts of plain and coated wire in one alloy, with the shipped tables, then the
    # ratio of the two wires in the other.  Nothing of the other alloy is recorded.
    from simulated_shops import MACHINES, TABLES, Scene, measured

    def scene(material, wire, job="later"):
        return Scene(
            job=job,
            machine=MACHINES[0],
            material=TABLES.catalogue.material(material),
            wire=TABLES.catalogue.wire(wire),
            height_mm=30.0,
        )

    plain, coated = "0.25 mm hard brass", "0.25 mm diffusion annealed"
    (shown,) = (name for name in COATED if name != asked)
    at = scene(shown, plain).passes(1)[0].feed_mm_per_min
    cuts = [
        measured(scene(shown, wire, f"J{n} {wire}"), 1, feed=at * gain)
        for n in range(4)
        for wire, gain in ((plain, 1.0), (coated, COATED[shown]))
    ]
    posterior = learn(cuts, technology=TABLES.technology, catalogue=TABLES.catalogue, rules=RULES)

    def error(technology):
        feeds = [
            scene(asked, wire).passes(1, technology)[0].feed_mm_per_min for wire in (coated, plain)
        ]
        return abs(np.log(feeds[0] / feeds[1] / COATED[asked]))

    shipped = error(TABLES.technology)
    learned = error(replace(TABLES.technology, experience=posterior))
    assert learned < shipped
