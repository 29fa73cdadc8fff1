"""What is said before and after cuts: of how many, and no offset of a pass that nobody measured."""

from __future__ import annotations

import dataclasses

import pytest

from kerfwright.cli.record import _sentences
from kerfwright.cli.words import Show
from kerfwright.foundation.errors import InputError
from kerfwright.learning.learn import learn
from kerfwright.learning.moved import moved_along, what_moved
from kerfwright.trade.part import LengthUnit
from simulated_shops import MACHINES, MATERIALS, RULES, TABLES, WIRES, Scene, measured


def cut(number, *, job="J1", material=0, **more):
    there = Scene(
        job=job, machine=MACHINES[0], material=MATERIALS[material], wire=WIRES[1], height_mm=40.0
    )
    return measured(there, number, feed=there.passes(number)[-1].feed_mm_per_min, **more)


def moved(cuts, every):
    after = learn(every, technology=TABLES.technology, catalogue=TABLES.catalogue, rules=RULES)
    return what_moved(
        cuts,
        measured=cuts,
        every=every,
        technology=TABLES.technology,
        before=None,
        after=after,
        rules=RULES,
    )


def said(row):
    return " ".join(_sentences(row, Show(unit=LengthUnit.MILLIMETRE)))


def test_no_offset_is_advised_of_a_pass_of_which_no_size_was_measured():
    sized = [cut(2, job=f"J{n}", size_error_um=9.0) for n in range(3)]
    unsized = cut(1, job="J7", material=1)
    (row,) = moved([unsized], [*sized, unsized])
    # It is expected off all the same: what is lent is only no reason to set anything.
    assert abs(row.after.size_bias_um) > 1
    assert not row.after.is_offset_to_set
    assert "offset" not in said(row)


def test_an_offset_is_advised_of_the_pass_measured_with_the_sizes_it_rests_on():
    sized = [cut(2, job=f"J{n // 2}", size_error_um=9.0) for n in range(6)]
    (row,) = moved(sized, sized)
    assert (row.after.sizes, row.after.size_jobs) == (6, 3)
    assert f"by 6 sizes of 3 jobs set the offset of pass 2 {row.after.size_bias_um:.1f}" in said(
        row
    )


def test_cuts_and_jobs_behind_a_figure_are_counted_apart():
    five = [cut(1, job="J1") for _ in range(5)]
    (row,) = moved(five, [*five, cut(1, job="J2")])
    assert (row.cuts, row.known_cuts, row.known_jobs) == (5, 6, 2)
    assert "from 6 cuts of 2 jobs" in said(row)


def test_a_pass_below_one_and_breaks_below_none_are_refused_each_by_its_name():
    good = cut(1)
    with pytest.raises(InputError, match="pass is 0; it must be 1 or more"):
        dataclasses.replace(good, pass_number=0)
    with pytest.raises(InputError, match="breaks is -1; it must be 0 or more"):
        dataclasses.replace(good, breaks=-1)


def test_passes_without_a_new_cut_are_shown_where_they_moved_with_those_of_the_batch():
    slow = cut(1)
    slow = dataclasses.replace(slow, minutes=3 * slow.minutes)
    after = learn([slow], technology=TABLES.technology, catalogue=TABLES.catalogue, rules=RULES)
    how = {
        "every": [slow],
        "technology": TABLES.technology,
        "before": None,
        "after": after,
        "rules": RULES,
    }
    (own,) = what_moved([slow], measured=[slow], **how)
    along = moved_along([slow], **how)
    assert own.pass_number == 1
    assert [row.pass_number for row in along] == [2, 3, 4, 5, 6]
    for row in along:
        assert (row.cuts, row.known_cuts, row.measured_feed_mm_per_min) == (0, 0, None)
        assert row.after.feed_mm_per_min.likely < 0.9 * row.before.feed_mm_per_min.likely
        # A skim goes as its own plan would say it.
        (as_own,) = what_moved([cut(row.pass_number)], measured=[], **how)
        assert as_own.after.feed_mm_per_min == row.after.feed_mm_per_min


def test_passes_that_stay_as_they_were_are_not_told():
    as_expected = cut(1)
    after = learn(
        [as_expected], technology=TABLES.technology, catalogue=TABLES.catalogue, rules=RULES
    )
    assert not moved_along(
        [as_expected],
        every=[as_expected],
        technology=TABLES.technology,
        before=after,
        after=after,
        rules=RULES,
    )


def test_passes_whose_finish_alone_moved_are_told():
    rough = dataclasses.replace(cut(1, ra_um=5.0))
    after = learn([rough], technology=TABLES.technology, catalogue=TABLES.catalogue, rules=RULES)
    along = moved_along(
        [rough],
        every=[rough],
        technology=TABLES.technology,
        before=None,
        after=after,
        rules=RULES,
    )
    assert [row.pass_number for row in along] == [2, 3, 4, 5, 6]
    for row in along:
        same = row.after.feed_mm_per_min.likely / row.before.feed_mm_per_min.likely
        assert same == pytest.approx(1, abs=0.009)
        assert row.after.tolerance_um == pytest.approx(row.before.tolerance_um, rel=0.009)
        assert row.after.ra_um.likely > 1.01 * row.before.ra_um.likely
