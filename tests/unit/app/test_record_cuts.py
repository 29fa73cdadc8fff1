"""Recording: keep, learn, show what moved; and compute old quotes as they were."""

from __future__ import annotations

import dataclasses

import pytest

from kerfwright.adapters.shop_folder import ShopFolder
from kerfwright.app.record_cuts import LearningTables, record_cuts, with_experience
from kerfwright.foundation.errors import FileError, InputError, RangeError
from kerfwright.learning.batch import CutBatch
from simulated_shops import RULES, TABLES, Shop


@pytest.fixture
def shop(tmp_path):
    return ShopFolder(folder=tmp_path / "shop", catalogue=TABLES.catalogue, rules=RULES)


def record(shop, cuts, technology=TABLES.technology):
    return record_cuts(CutBatch(cuts=tuple(cuts)), store=shop, tables=against(technology))


def against(technology=TABLES.technology, rules=RULES):
    return LearningTables(technology=technology, catalogue=TABLES.catalogue, rules=rules)


def moved(shop, technology=TABLES.technology, sha256=None):
    return with_experience(store=shop, tables=against(technology), sha256=sha256)


def test_before_and_after_show_what_moved_and_by_how_much_it_narrowed(shop):
    cuts = Shop(seed=21).records(6)
    done = record(shop, cuts)
    assert done.total == len(cuts)
    assert done.before is None
    assert sum(row.cuts for row in done.moved) == len(cuts)
    for row in done.moved:
        assert row.narrowing < 1
        # The mean goes from the tables towards what was measured.
        was, now = (s.feed_mm_per_min.likely for s in (row.before, row.after))
        if abs(row.measured_feed_mm_per_min / was - 1) > 0.3:
            assert (now - was) * (row.measured_feed_mm_per_min - was) > 0


def test_a_short_cut_with_a_slip_in_its_time_hardly_moves_what_is_said_as_measured(shop):
    drawn = Shop(seed=21)
    (one, *_) = drawn.cuts(drawn.scene("a1"), passes=1, contours=1)
    right = dataclasses.replace(one, length_mm=493.0, minutes=170.0, feed_share=1.0)
    slip = dataclasses.replace(right, job="a6", length_mm=200.0, minutes=6.8)
    (row,) = record(shop, [right, slip]).moved
    # 2.9 and 29.4 mm/min: 693 mm in 176.8 min, not their mean of 16.2.
    assert row.measured_feed_mm_per_min == pytest.approx(693 / 176.8)
    assert row.measured_least_mm_per_min == pytest.approx(493 / 170)
    assert row.measured_most_mm_per_min == pytest.approx(200 / 6.8)


def test_a_shop_folder_that_was_moved_is_said_to_be_missing(shop, tmp_path):
    first = record(shop, Shop(seed=25).records(4))
    shop.folder.rename(tmp_path / "elsewhere")
    with pytest.raises(FileError) as caught:
        moved(shop, sha256=first.after.sha256)
    assert caught.value.code == "shop-folder-missing"
    assert "--shop" in caught.value.remedy


def test_a_second_batch_starts_from_the_first(shop):
    drawn = Shop(seed=22)
    first = record(shop, drawn.records(4))
    second = record(shop, drawn.cuts(drawn.scene("later"), passes=3, contours=2))
    assert second.before.sha256 == first.after.sha256 == second.after.previous
    assert second.total == first.total + 6


def test_the_same_batch_again_changes_nothing_and_says_so(shop):
    cuts = Shop(seed=23).records(4)
    first, again = record(shop, cuts), record(shop, cuts)
    assert again.total == first.total
    assert again.after.sha256 == first.after.sha256
    assert [f.code for f in again.findings] == ["cuts-recorded-before"]
    assert all(row.narrowing == pytest.approx(1) for row in again.moved)


def test_nothing_taken_is_said_and_teaches_nothing(shop):
    done = record(shop, [])
    assert (done.after, done.total) == (None, 0)
    assert [f.code for f in done.findings] == ["cuts-none-taken"]
    assert shop.current() is None


def test_an_earlier_quote_can_be_computed_as_it_was(shop):
    drawn = Shop(seed=24)
    first = record(shop, drawn.records(5)).after.sha256
    scene = drawn.scene("quoted")
    quoted = scene.passes(4, moved(shop))
    record(shop, drawn.records(30))
    now = scene.passes(4, moved(shop))
    then = scene.passes(4, moved(shop, sha256=first))
    assert [p.feed_mm_per_min for p in then] == [p.feed_mm_per_min for p in quoted]
    assert [p.feed_mm_per_min for p in now] != [p.feed_mm_per_min for p in quoted]
    assert {p.learned.experience for p in then} == {first}


def test_when_the_tables_change_the_cuts_are_weighed_anew_and_old_experience_is_refused(shop):
    drawn = Shop(seed=25)
    first = record(shop, drawn.records(5)).after.sha256
    other = dataclasses.replace(
        TABLES.technology, skim=dataclasses.replace(TABLES.technology.skim, height_exponent=0.4)
    )
    with pytest.raises(InputError, match="other tables"):
        moved(shop, other, sha256=first)
    anew = moved(shop, other).experience
    assert anew.sha256 == shop.current().sha256 != first
    assert moved(shop, other).experience.sha256 == anew.sha256
    done = record(shop, drawn.cuts(drawn.scene("later"), passes=1, contours=1))
    assert done.before is None
    assert done.total > 1


def test_a_pass_that_the_tables_lack_is_refused_before_anything_is_kept(shop):
    drawn = Shop(seed=26)
    (cut,) = drawn.cuts(drawn.scene("J"), passes=1, contours=1)
    with pytest.raises(RangeError, match="1 to 6"):
        record(shop, [dataclasses.replace(cut, pass_number=7)])
    assert shop.cuts().cuts == ()


def test_without_experience_the_tables_stand(shop):
    assert moved(shop) is TABLES.technology
