"""What is said before and after cuts: of how many, and no offset of a pass that nobody measured."""

from __future__ import annotations

import dataclasses

import pytest

from kerfwright.app.doubted_cuts import doubts
from kerfwright.cli.record import _sentences
from kerfwright.cli.words import Show
from kerfwright.foundation.errors import InputError
from kerfwright.learning.far import far_values
from kerfwright.learning.learn import learn
from kerfwright.learning.moved import moved_and_along
from kerfwright.learning.records import Measure
from kerfwright.process.nozzles import rough_range_mm_per_min
from kerfwright.process.passes import passes_for
from kerfwright.process.technology import Flushing
from kerfwright.trade.part import LengthUnit
from simulated_shops import MACHINES, MATERIALS, RULES, TABLES, WIRES, Scene, Shop, measured


def cut(number, *, job="J1", material=0, **more):
    there = Scene(
        job=job, machine=MACHINES[0], material=MATERIALS[material], wire=WIRES[1], height_mm=40.0
    )
    return measured(there, number, feed=there.passes(number)[-1].feed_mm_per_min, **more)


def moved(cuts, every):
    after = learn(every, technology=TABLES.technology, catalogue=TABLES.catalogue, rules=RULES)
    return moved_and_along(
        cuts,
        measured=cuts,
        every=every,
        technology=TABLES.technology,
        before=None,
        after=after,
        rules=RULES,
    )[0]


def said(row):
    return " ".join(_sentences(row, Show(unit=LengthUnit.MILLIMETRE)))


def test_no_offset_is_advised_of_a_pass_of_which_no_size_was_measured():
    sized = [cut(2, job=f"J{n}", size_error_um=9.0) for n in range(3)]
    unsized = cut(1, job="J7", material=1)
    (row,) = moved([unsized], [*sized, unsized])
    # It is expected off all the same: what is lent is only no reason to set anything.
    assert abs(row.after.size_bias_um) > 1
    assert row.after.offset is None
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
    (own,), along = moved_and_along([slow], measured=[slow], **how)
    assert own.pass_number == 1
    assert [row.pass_number for row in along] == [2, 3, 4, 5, 6]
    for row in along:
        assert (row.cuts, row.known_cuts, row.measured_feed_mm_per_min) == (0, 0, None)
        assert row.after.feed_mm_per_min.likely < 0.9 * row.before.feed_mm_per_min.likely
        # A skim goes as its own plan would say it.
        (as_own,), _ = moved_and_along([cut(row.pass_number)], measured=[], **how)
        assert as_own.after.feed_mm_per_min == row.after.feed_mm_per_min


def test_passes_that_stay_as_they_were_are_not_told():
    as_expected = cut(1)
    after = learn(
        [as_expected], technology=TABLES.technology, catalogue=TABLES.catalogue, rules=RULES
    )
    _, along = moved_and_along(
        [as_expected],
        measured=[as_expected],
        every=[as_expected],
        technology=TABLES.technology,
        before=after,
        after=after,
        rules=RULES,
    )
    assert not along


def test_passes_whose_finish_alone_moved_are_told():
    rough = dataclasses.replace(cut(1, ra_um=5.0))
    after = learn([rough], technology=TABLES.technology, catalogue=TABLES.catalogue, rules=RULES)
    _, along = moved_and_along(
        [rough],
        measured=[rough],
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


def ends(one):
    return (one.low, one.likely, one.high)


def some_hundred_cuts():
    shop, found = Shop(seed=11), []
    named = {m.id: dataclasses.replace(m, name=m.id) for m in MACHINES}
    for n in range(60):
        there = shop.scene(f"J{n}")
        for number in range(1, 2 + n % 5):
            feed = there.passes(number)[-1].feed_mm_per_min * (0.7 + 0.05 * (n % 9))
            slips = {"size_error_um": float(n % 7 - 3)} if n % 2 else {}
            cut = measured(there, number, feed=feed, ra_um=1.0 + 0.1 * (n % 4), **slips)
            found.append(
                dataclasses.replace(cut, machine=named[cut.machine.id], flushing=there.flushing)
            )
    return found


def one_by_one(row, one, *, before, after, every):
    """Compute the row of a pass as if it were alone: by the passes of a plan up to it."""
    plans = [
        passes_for(
            one.pass_number,
            material=one.material,
            height_mm=one.height_mm,
            wire=one.wire,
            machine=one.machine,
            technology=dataclasses.replace(TABLES.technology, experience=experience),
        )[-1]
        for experience in (before, after)
    ]
    law, nozzles = TABLES.technology.rough, row.nozzles
    for plan, sight in zip(plans, (row.before, row.after), strict=True):
        feed = rough_range_mm_per_min(plan, nozzles, law=law)
        assert ends(sight.feed_mm_per_min) == pytest.approx(ends(feed), rel=1e-12)
        assert sight.ra_um.likely == pytest.approx(plan.ra_um, rel=1e-12)
        assert sight.tolerance_um == pytest.approx(plan.tolerance_um, rel=1e-12)
        if plan.learned is not None:
            assert sight.size_bias_um == pytest.approx(plan.learned.size_bias_um, rel=1e-12)
            assert ends(sight.breaks_per_h) == pytest.approx(
                ends(plan.learned.breaks_per_h), rel=1e-12
            )
    is_closed = any(
        (c.machine, c.material, c.wire, c.pass_number)
        == (one.machine, one.material, one.wire, one.pass_number)
        and (c.flushing is Flushing.SEALED or c.pass_number > 1)
        for c in every
    )
    if nozzles is Flushing.SEALED or is_closed:
        assert row.closed_feed_mm_per_min is None
    else:
        assert row.closed_feed_mm_per_min == pytest.approx(
            tuple(plan.feed_mm_per_min for plan in plans), rel=1e-12
        )


def test_rows_of_a_large_table_are_those_of_its_passes_one_by_one():
    cuts = some_hundred_cuts()
    assert len(cuts) > 150
    old, new = cuts[:60], cuts[60:]
    how = {"technology": TABLES.technology, "catalogue": TABLES.catalogue, "rules": RULES}
    before, after = learn(old, **how), learn(cuts, **how)
    moved_rows, along = moved_and_along(
        new,
        measured=new,
        every=cuts,
        technology=TABLES.technology,
        before=before,
        after=after,
        rules=RULES,
    )
    assert len(moved_rows) > 60
    assert along
    firsts = {}
    for one in new:
        nozzles = one.flushing if one.pass_number == 1 else Flushing.SEALED
        scene = (one.machine.id, one.material.id, one.wire.diameter_mm, one.height_mm)
        firsts.setdefault((*scene, one.pass_number, nozzles), one)
    assert len(firsts) == len(moved_rows)
    for row, one in zip(moved_rows, firsts.values(), strict=True):
        one_by_one(row, one, before=before, after=after, every=cuts)
    for row in along:
        like = next(
            c
            for c in new
            if (c.machine.name, c.material.name, f"{c.wire.diameter_mm:g} mm {c.wire.name}")
            == (row.machine, row.material, row.wire)
            and c.height_mm == row.height_mm
        )
        assert row.cuts == 0
        # It has no cut of its own: closed nozzles are those of the first cut beside it.
        one = dataclasses.replace(like, pass_number=row.pass_number)
        one_by_one(row, one, before=before, after=after, every=cuts)


def test_a_measured_feed_is_told_at_full_feed_beside_that_over_all_moves():
    slowed = [
        dataclasses.replace(one, feed_share=0.5, minutes=2 * one.minutes)
        for one in (cut(1, job=f"J{n}") for n in range(3))
    ]
    (row,) = moved(slowed, slowed)
    assert row.measured_full_mm_per_min == pytest.approx(2 * row.measured_feed_mm_per_min)
    # The cuts went as expected: what is expected lies beside the figure at full feed.
    assert row.after.feed_mm_per_min.likely == pytest.approx(row.measured_full_mm_per_min, rel=0.01)
    words = Show(unit=LengthUnit.MILLIMETRE)
    assert f"{words.feed(row.measured_full_mm_per_min)} mm/min at full feed" in said(row)
    (even,) = moved([cut(1)], [cut(1)])
    assert "at full feed" not in said(even)


def test_breaks_of_a_row_that_is_not_believed_are_named_in_its_question():
    tables = {"technology": TABLES.technology, "catalogue": TABLES.catalogue, "rules": RULES}
    good = cut(2)
    wild = dataclasses.replace(good, minutes=120 * good.minutes, breaks=30)
    after = learn([wild], **tables)
    far = far_values([wild], before=None, after=after, **tables)
    assert Measure.FEED in {one.measure for one in far}
    (row,) = moved([wild], [wild])
    messages = [f.message for f in doubts(far, [row], batch="x", rules=RULES, after=after)]
    told = [m for m in messages if "30 breaks" in m]
    assert len(told) == 1
    was, now = (f"{100 * s.breaks_per_h.likely:.2g}" for s in (row.before, row.after))
    if Measure.BREAKS not in {one.measure for one in far}:
        assert f"expected at {was} and are at {now}" in told[0]
