"""Sizes measured between far guides, and sizes that a finer pass lends to a coarser one."""

from __future__ import annotations

import csv
import dataclasses
import io
from pathlib import Path

import pytest

from kerfwright.adapters.cut_files import CutReader, cuts_text
from kerfwright.learning.learn import learn, sizes_beyond, sizes_in_question, standings
from kerfwright.learning.posterior import Posterior
from kerfwright.learning.records import Measure, MeasuredCut
from kerfwright.process.guide_distance import GuidesOff
from kerfwright.process.size_records import rests_words
from kerfwright.process.technology import Pass
from simulated_shops import MACHINES, MATERIALS, RULES, TABLES, WIRES, Scene, measured


def scene(job: str = "later") -> Scene:
    return Scene(job=job, machine=MACHINES[0], material=MATERIALS[0], wire=WIRES[1], height_mm=40.0)


def cut(um: float, job: str, number: int = 4, *, guides: float = 1.0) -> MeasuredCut:
    there = scene(job)
    feed = there.passes(number)[-1].feed_mm_per_min
    one = measured(there, number, feed=feed, size_error_um=um)
    return dataclasses.replace(one, guides_factor=guides)


def jobs(*sizes_um: float, guides: float = 1.0) -> list[MeasuredCut]:
    return [cut(um, f"J{n}", guides=guides) for n, um in enumerate(sizes_um)]


def learned(cuts: list[MeasuredCut]) -> Posterior:
    return learn(cuts, technology=TABLES.technology, catalogue=TABLES.catalogue, rules=RULES)


def passed(cuts: list[MeasuredCut], number: int) -> Pass:
    technology = dataclasses.replace(TABLES.technology, experience=learned(cuts))
    return scene().passes(number, technology)[-1]


def test_sizes_between_far_guides_teach_what_they_come_to_between_close_ones() -> None:
    close = passed(jobs(1.0, -1.0, 1.5, -1.5, 0.5), 4)
    far = passed(jobs(4.0, -4.0, 6.0, -6.0, 2.0, guides=4.0), 4)
    assert far.tolerance_um == pytest.approx(close.tolerance_um)
    assert far.size_bias_um == pytest.approx(close.size_bias_um)
    as_close = passed(jobs(4.0, -4.0, 6.0, -6.0, 2.0), 4)
    assert as_close.tolerance_um > 1.5 * far.tolerance_um


def test_sizes_are_compared_with_what_the_guides_of_their_cut_let_the_pass_hold() -> None:
    """Pass 4 holds 3 um, and 12 where the wire gives way four times as far."""
    sizes = (9.0, 9.2, 9.4, -9.5)

    def asked(guides: float) -> list[tuple[MeasuredCut, ...]]:
        cuts = jobs(*sizes, guides=guides)
        return [
            sizes_in_question(cuts, technology=TABLES.technology, rules=RULES),
            sizes_beyond(cuts, technology=TABLES.technology),
        ]

    assert [len(of) for of in asked(4.0)] == [0, 0]
    assert all(asked(1.0))


def test_what_far_guides_take_is_not_said_to_rest_on_sizes() -> None:
    guides = GuidesOff(usual_gap_mm=10.0, off_mm=120.0, counts_from=1.1)
    technology = dataclasses.replace(
        TABLES.technology, experience=learned(jobs(6.4, -6.4, guides=4.0)), guides=guides
    )
    passes = scene().passes(4, technology)
    assert passes[-1].guides_factor == pytest.approx(4.0)
    assert passes[-1].learned is not None
    assert passes[-1].learned.sizes is not None
    assert passes[-1].learned.sizes.worst
    assert not rests_words(passes, asked_um=1.0)
    wide = dataclasses.replace(technology, experience=learned(jobs(20.0, -20.0, guides=4.0)))
    assert "by the tables pass 4 by itself holds ±12 µm" in rests_words(
        scene().passes(4, wide), asked_um=12.0
    )


def test_what_was_written_is_told_as_it_was_written() -> None:
    one = cut(9.0, "J1", guides=4.0)
    (standing,) = standings([one], technology=TABLES.technology, rules=RULES)
    shown, _ = standing.shown(Measure.SIZE, one, 0.0)
    assert shown == pytest.approx(9.0)
    posterior = learned([cut(40.0, "J1", guides=4.0)])
    (group,) = posterior.size_groups
    assert [record.size_um for record in group.questioned] == [40.0]


def test_the_factor_of_the_guides_is_kept_and_a_file_without_it_has_them_close(
    tmp_path: Path,
) -> None:
    reader = CutReader(catalogue=TABLES.catalogue)
    kept, old = tmp_path / "kept.csv", tmp_path / "old.csv"
    kept.write_text(cuts_text([cut(9.0, "J1", guides=4.0)]), encoding="utf-8")
    rows = list(csv.DictReader(io.StringIO(kept.read_text(encoding="utf-8"))))
    del rows[0]["guides_factor"]
    stream = io.StringIO()
    writer = csv.DictWriter(stream, list(rows[0]))
    writer.writeheader()
    writer.writerows(rows)
    old.write_text(stream.getvalue(), encoding="utf-8")
    assert [reader.read(path)[0][0].guides_factor for path in (kept, old)] == [4.0, 1.0]


def test_the_mean_that_a_finer_pass_lends_is_in_micrometres_as_what_is_held() -> None:
    """Four jobs of +5 um on pass 4 put the rough pass, never measured, 27 um off."""
    cuts = [dataclasses.replace(one, is_size_confirmed=True) for one in jobs(5.0, 5.0, 5.0, 5.0)]
    rough, measured_pass = passed(cuts, 1), passed(cuts, 4)
    assert 0 < rough.size_bias_um <= 5.0
    assert measured_pass.size_bias_um > 3.0
    wall = rough.size_error_um
    assert max(abs(wall.low), abs(wall.high)) < rough.tolerance_um
    # To a finer pass they are as many tolerances, not as many micrometres.
    coarse = [dataclasses.replace(cut(40.0, f"J{n}", 1), is_size_confirmed=True) for n in range(4)]
    assert passed(coarse, 4).size_bias_um < 40.0 / 5
