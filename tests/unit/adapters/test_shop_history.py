"""What happens to a shop's cuts over the years: repeats, mistakes, renames, two people at once."""

from __future__ import annotations

import csv
import dataclasses
import os
import subprocess
import sys
from types import MappingProxyType

import numpy as np
import pytest

from kerfwright.adapters.cut_files import Known, keep_with_job, measured_files, rows_of
from kerfwright.adapters.learning_rules import load_learning_rules
from kerfwright.adapters.shop_folder import ShopFolder
from kerfwright.app.record_cuts import (
    LearningTables,
    record_cuts,
    with_experience,
    withdraw_cuts,
)
from kerfwright.foundation.errors import InputError
from kerfwright.learning.batch import CutBatch
from kerfwright.learning.records import Measure
from simulated_shops import MACHINES, RULES, TABLES, Shop

AGAINST = LearningTables(technology=TABLES.technology, catalogue=TABLES.catalogue, rules=RULES)


@pytest.fixture
def shop(tmp_path):
    return ShopFolder(folder=tmp_path / "shop", catalogue=TABLES.catalogue, rules=RULES)


def record(shop, cuts, against=AGAINST):
    return record_cuts(CutBatch(cuts=tuple(cuts)), store=shop, tables=against)


def feed(posterior):
    fitted = posterior.measures[Measure.FEED]
    return dict(zip(fitted.names, fitted.mean.tolist(), strict=True))


def codes(done):
    # That few jobs moved a feed far has tests of its own.
    return [f.code for f in done.findings if f.code != "few-jobs-moved"]


def test_a_table_that_grows_counts_each_cut_once_wherever_it_was_read(shop):
    cuts = Shop(seed=51).records(5)
    first = record(shop, [dataclasses.replace(c, place="may.csv line 2") for c in cuts[:4]])
    second = record(shop, [dataclasses.replace(c, place="june.csv line 9") for c in cuts])
    assert (first.new, second.new, second.total) == (4, len(cuts) - 4, len(cuts))
    assert codes(second) == ["cuts-recorded-before"]
    at_once = ShopFolder(folder=shop.folder / "other", catalogue=TABLES.catalogue, rules=RULES)
    assert feed(record(at_once, cuts).after) == pytest.approx(feed(second.after))


def test_two_alike_cuts_of_one_table_are_two_and_a_note_tells_a_later_one_apart(shop):
    (cut, *_) = Shop(seed=52).records(1)
    assert record(shop, [cut, cut]).new == 2
    assert record(shop, [cut, cut, cut]).new == 1
    assert record(shop, [cut]).new == 0
    assert record(shop, [dataclasses.replace(cut, note="second plate")]).new == 1


def test_a_machine_file_that_changed_does_not_make_another_cut(shop):
    (cut, *_) = Shop(seed=52).records(1)
    record(shop, [cut])
    faster = dataclasses.replace(cut.machine, rate_factor=1.2, name="Renovated")
    assert record(shop, [dataclasses.replace(cut, machine=faster)]).new == 0


def test_a_cut_recorded_again_with_its_finish_is_pointed_out(shop):
    (cut, *_) = Shop(seed=53).records(1)
    record(shop, [cut])
    done = record(shop, [dataclasses.replace(cut, ra_um=2.9, place="cuts.csv line 7")])
    assert (done.new, codes(done)) == (1, ["cuts-resemble"])
    assert "cuts.csv line 7" in done.findings[0].message


def test_a_batch_taken_back_is_as_if_never_recorded_but_stays_on_file(shop):
    drawn = Shop(seed=54)
    good, wrong = drawn.records(6), drawn.cuts(drawn.scene("wrong"), passes=3, contours=2)
    before = record(shop, good).after
    mistaken = record(shop, wrong)
    assert feed(mistaken.after) != pytest.approx(feed(before))
    done = withdraw_cuts(mistaken.name[:8], reason="another shop's", store=shop, tables=AGAINST)
    assert feed(done.after) == pytest.approx(feed(before))
    assert (done.total, done.before.sha256) == (len(good), mistaken.after.sha256)
    taken = {one.name: one for one in shop.batches()}[mistaken.name]
    assert (taken.withdrawn, taken.cuts, taken.jobs) == ("another shop's", len(wrong), ("wrong",))
    # An old quote that used it can still be computed.
    assert shop.posterior(mistaken.after.sha256).sha256 == mistaken.after.sha256
    again = record(shop, wrong)
    assert again.total == len(good) + len(wrong)
    assert feed(again.after) == pytest.approx(feed(mistaken.after))
    (note,) = (shop.folder / "cuts" / "withdrawn").iterdir()
    assert note.read_text(encoding="utf-8") == "another shop's\n"


def test_only_one_batch_that_counts_can_be_taken_back(shop):
    name = record(shop, Shop(seed=55).records(2)).name
    for wrong in ("", "zz", "../x"):
        with pytest.raises(InputError, match="0 batches"):
            shop.withdraw(wrong, reason="")
    shop.withdraw(name, reason="")
    with pytest.raises(InputError, match="one was taken back"):
        shop.withdraw(name, reason="")
    assert shop.cuts().cuts == ()
    known = with_experience(store=shop, tables=AGAINST).experience
    assert known.measures[Measure.FEED].records == 0


def test_cuts_of_a_material_that_left_the_tables_are_set_aside_until_it_comes_back(shop):
    cuts = Shop(seed=56).records(8)
    done = record(shop, cuts)
    gone = cuts[0].material.id
    less = dataclasses.replace(
        TABLES.catalogue,
        materials=tuple(m for m in TABLES.catalogue.materials if m.id != gone),
    )
    poorer = dataclasses.replace(shop, catalogue=less)
    against = dataclasses.replace(AGAINST, catalogue=less)
    moved = with_experience(store=poorer, tables=against).experience
    assert all(gone not in name for name in feed(moved))
    others = [cut for cut in cuts if cut.material.id != gone]
    assert moved.measures[Measure.FEED].records == len(others) > 0
    again = record(poorer, others, against)
    assert codes(again)[-1] == "cuts-set-aside"
    assert f"material {gone}" in again.findings[-1].message
    back = with_experience(store=shop, tables=AGAINST).experience
    assert feed(back) == pytest.approx(feed(done.after))


def test_cuts_of_a_pass_that_left_the_tables_are_set_aside(shop):
    drawn = Shop(seed=57)
    record(shop, drawn.cuts(drawn.scene("J"), passes=4, contours=1))
    fewer = dataclasses.replace(TABLES.technology, passes=TABLES.technology.passes[:3])
    against = dataclasses.replace(AGAINST, technology=fewer)
    moved = with_experience(store=shop, tables=against).experience
    assert moved.measures[Measure.FEED].records == 3
    done = record(shop, drawn.cuts(drawn.scene("K"), passes=1, contours=1), against)
    assert "cuts-set-aside" in codes(done)


def test_a_machine_that_was_renamed_keeps_what_it_taught(shop, tmp_path):
    cuts = Shop(seed=58).records(20)
    own = tmp_path / "own"
    own.mkdir()
    own.joinpath("learning.toml").write_text(
        '[renamed_machine]\nmachine-0 = "mill-east"\n', encoding="utf-8"
    )
    rules = load_learning_rules(own)
    renamed = dataclasses.replace(shop, rules=rules)
    record(shop, cuts)
    against = dataclasses.replace(AGAINST, rules=rules)
    technology = with_experience(store=renamed, tables=against)
    scene = dataclasses.replace(Shop(seed=58).scene("later"), machine=MACHINES[0])
    east = dataclasses.replace(
        scene, machine=dataclasses.replace(MACHINES[0], id="mill-east", name="Mill east")
    )
    was = scene.passes(3, with_experience(store=shop, tables=AGAINST))
    now = east.passes(3, technology)
    for one, other in zip(was, now, strict=True):
        assert one.feed_mm_per_min == pytest.approx(other.feed_mm_per_min)
        assert one.learned.records == other.learned.records
    # Without the rename the machine is a stranger.
    stranger = east.passes(3, with_experience(store=shop, tables=AGAINST))
    assert stranger[0].feed_sigma_log > was[0].feed_sigma_log


def test_a_chain_of_renames_is_refused(tmp_path):
    text = '[renamed_machine]\na = "b"\nb = "c"\n'
    (tmp_path / "learning.toml").write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match="present name"):
        load_learning_rules(tmp_path)


def test_other_rules_weigh_the_cuts_anew(shop):
    record(shop, Shop(seed=59).records(6))
    tighter = dataclasses.replace(RULES, breaks_per_h=0.3, scatter_df=30)
    other = dataclasses.replace(shop, rules=tighter)
    against = dataclasses.replace(AGAINST, rules=tighter)
    here = with_experience(store=shop, tables=AGAINST).experience
    there = with_experience(store=other, tables=against).experience
    assert there.rules.breaks_per_h == 0.3
    assert feed(there) != feed(here)


def test_cuts_kept_by_a_process_that_was_stopped_are_learned_by_the_next(shop):
    drawn = Shop(seed=60)
    first = record(shop, drawn.records(3)).after
    late = drawn.cuts(drawn.scene("late"), passes=2, contours=2)
    shop.add(CutBatch(cuts=tuple(late)))
    # A file that was being written when the power went.
    (shop.folder / "cuts" / ".half").write_text("job,machine\nJ1", encoding="utf-8")
    known = with_experience(store=shop, tables=AGAINST).experience
    assert known.measures[Measure.FEED].records == first.measures[Measure.FEED].records + 4
    assert shop.current().sha256 == known.sha256


def test_without_anything_learned_kept_cuts_are_learned_from(shop):
    shop.add(CutBatch(cuts=tuple(Shop(seed=61).records(2))))
    assert with_experience(store=shop, tables=AGAINST).experience is not None


PEOPLE = 8
RECORD = """\
import os, sys
from kerfwright.cli.run import run

def record(folder, n):
    return run(["record", "--shop", folder, "--machine", "generic-mm", "--material", "D2",
        "--wire", "0.25mm", "--height", "40mm", "--cut",
        f"job=J{n}; pass=1; length=100 mm; time={40 + n} min"])

# One alone elsewhere loads what records, so that all others begin at the same moment.
codes = [record(sys.argv[1] + "-before", 99)]
people = []
hear, call = os.pipe()
for n in range(int(sys.argv[2])):
    person = os.fork()
    if not person:
        os.close(call)
        os.read(hear, 1)
        os._exit(record(sys.argv[1], n))
    people.append(person)
os.close(call)
codes += [os.waitstatus_to_exitcode(os.waitpid(person, 0)[1]) for person in people]
sys.exit(str(codes) if any(codes) else 0)
"""


@pytest.mark.skipif(not hasattr(os, "fork"), reason="no processes by fork")
def test_several_people_recording_at_once_lose_nothing(shop):
    done = subprocess.run(  # noqa: S603 our own text
        [sys.executable, "-c", RECORD, str(shop.folder), str(PEOPLE)],
        capture_output=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert len(shop.cuts().cuts) == PEOPLE
    # The last one to learn learned from all of them: nobody has to weigh them anew.
    assert shop.current().measures[Measure.FEED].records == PEOPLE


def test_a_file_written_before_a_column_was_there_is_read(shop):
    name = record(shop, Shop(seed=62).records(1)).name
    path = shop.folder / "cuts" / f"{name}.csv"
    whole = rows_of(path)
    kept = [column for column in whole[0] if column not in {"feed_share", "guides_factor", "note"}]
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, kept, extrasaction="ignore")
        writer.writeheader()
        writer.writerows(whole)
    assert {(r["feed_share"], r["guides_factor"]) for r in rows_of(path)} == {("1.0", "1.0")}
    known = Known()
    known.take(rows_of(path))
    assert known.new(Shop(seed=62).records(1)) == ([], [])


def test_numbers_of_another_library_are_written_as_numbers(shop):
    (cut, *_) = Shop(seed=64).records(1)
    strange = dataclasses.replace(
        cut, minutes=np.float64(cut.minutes), ra_um=np.float64(2.5), breaks=np.int64(1)
    )
    record(shop, [strange])
    (found,) = shop.cuts().cuts
    assert (found.minutes, found.ra_um, found.breaks) == (cut.minutes, 2.5, 1)


def test_a_job_keeps_each_of_its_cuts_once(tmp_path):
    cuts = Shop(seed=63).records(3)
    keep_with_job(tmp_path, CutBatch(cuts=tuple(cuts[:2])))
    keep_with_job(tmp_path, CutBatch(cuts=tuple(cuts)))
    assert keep_with_job(tmp_path, CutBatch(cuts=tuple(cuts))) == ()
    assert sum(len(rows_of(path)) for path in measured_files(tmp_path)) == len(cuts)


def test_the_shipped_rules_rename_no_machine():
    assert RULES.renamed_machines == MappingProxyType({})
