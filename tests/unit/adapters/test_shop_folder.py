"""The shop's folder: what goes in comes out, and nothing is changed unseen."""

from __future__ import annotations

import dataclasses

import pytest

from kerfwright.adapters.cut_files import keep_with_job, refused_text
from kerfwright.adapters.learning_rules import load_learning_rules
from kerfwright.adapters.shop_folder import ShopFolder
from kerfwright.foundation.errors import FileError, InputError
from kerfwright.foundation.findings import Finding, Severity
from kerfwright.learning.batch import CutBatch, RefusedRow
from kerfwright.learning.learn import learn
from kerfwright.learning.records import Measure
from simulated_shops import MACHINES, RULES, TABLES, Shop

REFUSED = RefusedRow(
    line=3,
    text="A1,,0.25 mm",
    finding=Finding(
        code="row-length", severity=Severity.REFUSAL, message="Line 3 is not taken: short."
    ),
)


@pytest.fixture
def shop(tmp_path):
    return ShopFolder(folder=tmp_path / "shop", catalogue=TABLES.catalogue, rules=RULES)


def batch(seed=3, jobs=3, *, refused=()):
    cuts = Shop(seed=seed).records(jobs)
    rich = [
        dataclasses.replace(c, ra_um=1.1 + i / 7, size_error_um=-i / 3, wire_kg=0.1, breaks=i % 2)
        for i, c in enumerate(cuts)
    ]
    return CutBatch(cuts=tuple(rich), refused=tuple(refused), name="cuts.csv")


def test_cuts_come_back_bit_for_bit(shop):
    given = batch()
    added = shop.add(given)
    assert added.cuts == given.cuts
    kept = shop.cuts().cuts
    assert {cut.batch for cut in kept} == {added.name}
    assert all(cut.recorded for cut in kept)
    assert tuple(dataclasses.replace(cut, batch="", recorded="") for cut in kept) == given.cuts


def test_a_machine_keeps_what_the_tables_made_of_it_when_it_was_measured(shop):
    fast = dataclasses.replace(MACHINES[0], rate_factor=1.7, best_tolerance_um=1.0)
    cut = dataclasses.replace(batch().cuts[0], machine=fast)
    shop.add(CutBatch(cuts=(cut,)))
    (found,) = shop.cuts().cuts
    assert (found.machine.rate_factor, found.machine.best_tolerance_um) == (1.7, 1.0)


def test_the_same_batch_twice_is_kept_once_and_another_beside_it(shop):
    assert shop.add(batch()).name
    assert not shop.add(batch()).name
    assert shop.add(batch(seed=4)).name
    assert len(shop.cuts().cuts) == len(batch().cuts) + len(batch(seed=4).cuts)


def test_refused_rows_are_kept_as_they_were_written_with_their_reason(shop, tmp_path):
    given = batch(refused=[REFUSED])
    shop.add(given)
    (kept,) = (shop.folder / "cuts" / "refused").iterdir()
    assert kept.read_text(encoding="utf-8") == refused_text(given)
    assert "\n# Line 3 is not taken: short.\nA1,,0.25 mm\n" in refused_text(given)
    names = [path.name for path in keep_with_job(tmp_path / "job", given)]
    assert len(names) == 2
    assert all((tmp_path / "job" / name).is_file() for name in names)


def test_a_changed_file_of_cuts_is_noticed(shop):
    shop.add(batch())
    (path,) = (shop.folder / "cuts").glob("*.csv")
    path.write_text(path.read_text(encoding="utf-8").replace("J1", "J9"), encoding="utf-8")
    with pytest.raises(InputError, match="changed since it was recorded"):
        shop.cuts()


def test_a_posterior_comes_back_and_says_the_same(shop):
    cuts = batch(jobs=12).cuts
    made = learn(cuts, technology=TABLES.technology, catalogue=TABLES.catalogue, rules=RULES)
    saved = shop.save(made)
    again = shop.current()
    assert again.sha256 == saved.sha256 != ""
    scene = Shop(seed=3).scene("later")
    for one, other in zip(
        *(
            scene.passes(5, dataclasses.replace(TABLES.technology, experience=p))
            for p in (saved, again)
        ),
        strict=True,
    ):
        assert one.feed_mm_per_min == other.feed_mm_per_min
        assert one.feed_sigma_log == pytest.approx(other.feed_sigma_log, rel=1e-9)
        breaks = [p.learned.breaks_per_h.high for p in (one, other)]
        assert breaks[0] == pytest.approx(breaks[1], rel=1e-9)


def test_the_same_content_has_the_same_hash_and_another_another(shop):
    cuts = batch(jobs=5).cuts
    one, two = (
        learn(cuts, technology=TABLES.technology, catalogue=TABLES.catalogue, rules=RULES)
        for _ in range(2)
    )
    other = learn(cuts[1:], technology=TABLES.technology, catalogue=TABLES.catalogue, rules=RULES)
    assert shop.save(one).sha256 == shop.save(two).sha256 != shop.save(other).sha256


def test_earlier_posteriors_stay_when_more_is_learned(shop):
    first = shop.save(
        learn(batch().cuts, technology=TABLES.technology, catalogue=TABLES.catalogue, rules=RULES)
    )
    second = shop.save(
        learn(
            batch(seed=4).cuts,
            technology=TABLES.technology,
            catalogue=TABLES.catalogue,
            rules=RULES,
        )
    )
    assert shop.current().sha256 == second.sha256
    back = shop.posterior(first.sha256[:16])
    assert back.sha256 == first.sha256
    assert back.measures[Measure.FEED].mean.tolist() == first.measures[Measure.FEED].mean.tolist()


def test_an_unknown_or_damaged_posterior_is_refused(shop):
    saved = shop.save(
        learn(batch().cuts, technology=TABLES.technology, catalogue=TABLES.catalogue, rules=RULES)
    )
    for name in ("0" * 64, "../current", ""):
        with pytest.raises(FileError, match="experience called"):
            shop.posterior(name)
    path = shop.folder / "learned" / f"{saved.sha256}.json"
    path.write_text(path.read_text(encoding="utf-8").replace("1", "2", 1), encoding="utf-8")
    with pytest.raises(FileError, match="not what was written"):
        shop.current()


def test_a_shop_that_has_nothing_yet_is_empty(shop):
    assert shop.cuts().cuts == ()
    assert shop.current() is None


def test_the_rules_of_a_shop_replace_the_shipped_ones_value_by_value(tmp_path):
    (tmp_path / "learning.toml").write_text("[model]\nscatter_df = 4\n", encoding="utf-8")
    rules = load_learning_rules(tmp_path)
    assert rules.scatter_df == 4
    assert rules.breaks_per_h == RULES.breaks_per_h


@pytest.mark.parametrize(
    ("text", "match"),
    [
        ("[share.feed]\nmachine = 0.5\n", "add up to 1"),
        ("[share.feed]\nmachine = 0\n", "above 0"),
        ("[model]\nscatter = 4\n", "one of"),
        ("[breaks]\nper_h = -1\n", "above 0"),
    ],
)
def test_rules_that_cannot_be_are_refused(tmp_path, text, match):
    (tmp_path / "learning.toml").write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=match):
        load_learning_rules(tmp_path)


def test_the_shipped_shares_add_up_and_every_figure_has_a_source():
    for measure in Measure:
        assert sum(RULES.shares[measure].values()) == pytest.approx(1)
    assert len(RULES.sources) == 20 + 9 * len(Measure)
