"""The figures of a job, kept in one file that stands for a folder of tables."""

from __future__ import annotations

import json
import math

import pytest

from kerfwright.adapters.kept_tables import differences, kept_text, unchanged
from kerfwright.adapters.learning_rules import load_cut_limits, load_learning_rules
from kerfwright.adapters.machines import load_machine, machine_tables
from kerfwright.adapters.table_files import SHIPPED, every_table
from kerfwright.adapters.tables import load_tables
from kerfwright.adapters.wire_physics import load_wire_physics
from kerfwright.foundation.errors import FileError, InputError
from kerfwright.learning.learn import learn
from simulated_shops import Shop


@pytest.fixture
def own(tmp_path):
    (tmp_path / "passes.toml").write_text("[rough]\nshop_derate = 0.61\n", encoding="utf-8")
    (tmp_path / "learning.toml").write_text("[breaks]\nper_h = 0.05\n", encoding="utf-8")
    return tmp_path


@pytest.fixture
def kept(own, tmp_path):
    path = tmp_path / "tables.json"
    path.write_text(kept_text(every_table(own), machine_tables("generic-inch")), encoding="utf-8")
    return path


def test_what_was_kept_reads_as_the_folder_did(kept, own):
    assert load_tables(kept) == load_tables(own)
    assert load_tables(kept).technology.rough.shop_derate == 0.61
    assert load_learning_rules(kept) == load_learning_rules(own)
    assert load_wire_physics(kept) == load_wire_physics(own)
    assert load_machine(kept) == load_machine(str(kept)) == load_machine("generic-inch")


def test_every_shipped_table_is_kept_also_one_that_comes_later(kept):
    document = json.loads(kept.read_text(encoding="utf-8"))
    assert set(document["tables"]) == {path.name for path in SHIPPED.glob("*.toml")}


def test_the_kept_figures_stand_when_the_folder_changes(kept, own):
    (own / "passes.toml").write_text("[rough]\nshop_derate = 0.5\n", encoding="utf-8")
    assert load_tables(own).technology.rough.shop_derate == 0.5
    assert load_tables(kept).technology.rough.shop_derate == 0.61


def without(path, *keys):
    document = json.loads(path.read_text(encoding="utf-8"))
    table = document["tables"]
    for key in keys[:-1]:
        table = table[key]
    del table[keys[-1]]
    document["kerfwright"] = "0.0.9"
    path.write_text(json.dumps(document), encoding="utf-8")


@pytest.mark.parametrize("keys", [("rates.toml",), ("passes.toml", "rough", "shop_derate")])
def test_figures_that_a_later_version_needs_are_asked_for_not_filled_in(kept, keys):
    without(kept, *keys)
    with pytest.raises(InputError, match=keys[-1]) as caught:
        load_tables(kept)
    assert "kept by kerfwright 0.0.9" in caught.value.remedy
    assert "--today" in caught.value.remedy


LATER = (
    ("model", "slip_share"),
    ("model", "slip_sigmas"),
    ("model", "job_slip_share"),
    ("model", "sheet_slip_share"),
    ("model", "settled_jobs"),
    ("model", "size_prior_jobs"),
    ("model", "size_accident_chance"),
    ("limits",),
)


def test_figures_kept_before_slips_were_judged_open_and_weigh_cuts_as_then(kept):
    for keys in LATER:
        without(kept, "learning.toml", *keys)
    rules = load_learning_rules(kept)
    assert (rules.slip_share, rules.job_slip_share, rules.sheet_slip_share) == (0, 0, 0)
    assert rules.breaks_per_h == 0.05
    assert load_cut_limits(kept) == load_cut_limits()
    posterior = learn(
        Shop(seed=3).records(4),
        technology=load_tables(kept).technology,
        catalogue=load_tables(kept).catalogue,
        rules=rules,
    )
    assert posterior.few_jobs == {}
    assert posterior.size_groups == ()


def test_figures_kept_before_there_were_strings_open_and_string_nothing(kept):
    without(kept, "planning.toml", "string")
    assert load_tables(kept).rules.string_most_parts == 0


def with_value(kept, value, file, *keys):
    document = json.loads(kept.read_text(encoding="utf-8"))
    *tables, last = keys
    node = document["tables"][file]
    for key in tables:
        node = node[key]
    node[last] = {"value": value, "tag": "c"}
    kept.write_text(json.dumps(document), encoding="utf-8")


def test_figures_kept_before_wear_went_with_the_current_open_and_wear_wires_alike(kept):
    without(kept, "wire_physics.toml", "tension", "wear_mm3_per_c")
    with_value(kept, 0.85, "wire_physics.toml", "tension", "section_left")
    tension, wire = load_wire_physics(kept).tension, load_tables().catalogue.default_wire
    assert [tension.worn_share(wire, mean_a=a) for a in (1.0, 30.0)] == [pytest.approx(0.15)] * 2


def test_a_shop_cannot_give_the_figure_that_wear_had_before(tmp_path):
    (tmp_path / "wire_physics.toml").write_text("[tension]\nsection_left = 0.8\n")
    with pytest.raises(InputError, match="section_left") as caught:
        load_wire_physics(tmp_path)
    assert "wear_mm3_per_c" in str(caught.value)


def test_figures_that_no_plan_used_are_read_where_they_were_kept_and_refused_of_a_shop(
    kept, tmp_path
):
    for key, value in (("lean_deg", 5), ("lean_factor", 0.8)):
        with_value(kept, value, "passes.toml", "rough", key)
    with pytest.raises(InputError, match="lean_"):
        load_tables(kept)
    without(kept, "passes.toml", "feed_spread", "routine_height_mm")
    assert load_tables(kept).technology.rough.lean_factor == 0.8
    (tmp_path / "passes.toml").write_text("[rough]\nlean_factor = 0.1\n")
    with pytest.raises(InputError, match="lean_factor"):
        load_tables(tmp_path)


def test_figures_kept_when_they_counted_open_and_say_nothing(kept):
    document = json.loads(kept.read_text(encoding="utf-8"))
    document["tables"]["planning.toml"]["stack"]["stack_tall_mm"] = {"value": 80, "tag": "c"}
    kept.write_text(json.dumps(document), encoding="utf-8")
    assert load_tables(kept).rules == load_tables().rules


def test_figures_kept_before_thin_sparks_wild_factors_stacks_and_unmeasured_wires_had_limits(kept):
    for keys in (
        ("passes.toml", "scaling", "gap_diameter_exponent_sigma"),
        *(("spark.toml", "erodibility", f"{end}_{span}_rate_factor")
          for end in ("least", "most") for span in ("known", "possible")),
        ("spark.toml", "erodibility", "unknown_factor"),
        ("planning.toml", "stack", "stack_known_sheets"),
        ("planning.toml", "stack", "stack_air_share"),
        ("rates.toml", "order", "unmeasured_saving_share"),
    ):  # fmt: skip
        without(kept, *keys)
    then = load_tables(kept)
    assert then.technology.scaling.gap_diameter_exponent_sigma == 0
    assert then.technology.spark.erodibility.most_possible_rate_factor == math.inf
    assert then.technology.spark.erodibility.least_known_rate_factor == 0
    assert then.rules.stack_known_sheets == math.inf
    assert then.rules.stack_air_share == 1
    assert then.rates.unmeasured_saving_share == 0


def test_a_missing_figure_is_called_missing_also_where_the_version_is_the_same(kept):
    document = json.loads(kept.read_text(encoding="utf-8"))
    del document["tables"]["passes.toml"]["rough"]["shop_derate"]
    kept.write_text(json.dumps(document), encoding="utf-8")
    with pytest.raises(InputError, match=r"rough\.shop_derate is missing") as caught:
        load_tables(kept)
    assert "an earlier build" in caught.value.remedy


@pytest.mark.parametrize("text", ["{}", "[]", "nothing", '{"format": "kerfwright-tables"}'])
def test_another_file_is_no_kept_figures(tmp_path, text):
    path = tmp_path / "tables.json"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=r"kept figures|no JSON"):
        load_tables(path)


def test_a_changed_or_lost_file_is_refused(kept, tmp_path):
    with pytest.raises(InputError, match="were changed"):
        unchanged(kept, sha256="0" * 64)
    with pytest.raises(FileError, match="cannot be read"):
        unchanged(tmp_path / "gone.json", sha256="0" * 64)
    with pytest.raises(FileError, match="cannot be read"):
        load_tables(tmp_path / "gone.json")


def test_differences_are_figures_not_words_about_them():
    before = {"a": {"value": 1, "tag": "c"}, "b": {"c": 2}, "gone": 3, "citations": {"x": "y"}}
    after = {"a": {"value": 1, "tag": "a", "source": "read"}, "b": {"c": 4}, "new": 5}
    assert list(differences(before, after)) == [("b.c", 2, 4), ("gone", 3, None), ("new", None, 5)]
