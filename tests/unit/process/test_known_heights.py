"""Foil and tall work: the curve of the rate is only drawn on to them, and that is said."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tests.unit.process.samples import requirement

from kerfwright.adapters.tables import load_tables
from kerfwright.foundation.errors import InputError
from kerfwright.process.choice import choose_passes

TABLES = load_tables()


def said(height_mm, tables=TABLES):
    asked = replace(requirement(tables), height_mm=height_mm)
    found = choose_passes(asked, technology=tables.technology, catalogue=tables.catalogue).findings
    return [f for f in found if f.code == "height-beyond-data"]


@pytest.mark.parametrize("height_mm", [5.0, 40.0, 200.0])
def test_nothing_is_said_where_practice_trusts_the_curve(height_mm):
    assert said(height_mm) == []


@pytest.mark.parametrize(("height_mm", "word"), [(0.1, "lower"), (4.99, "lower"), (201, "taller")])
def test_work_beyond_that_is_named_with_its_limit_and_all_that_hangs_on_it(height_mm, word):
    (finding,) = said(height_mm)
    assert word in finding.message
    assert "The feeds are drawn on" in finding.message
    assert "Gap, finish, recast layer and tolerance" in finding.message
    limit = finding.data["least_mm" if word == "lower" else "most_mm"]
    assert f"{limit:g} mm" in finding.message


def test_a_shop_that_knows_its_foil_says_so_once(tmp_path):
    (tmp_path / "passes.toml").write_text("[limits]\nleast_known_height_mm = 0.05\n", "utf-8")
    assert said(0.1, load_tables(tmp_path)) == []


def test_limits_that_leave_no_height_are_refused(tmp_path):
    (tmp_path / "passes.toml").write_text("[limits]\nleast_known_height_mm = 300\n", "utf-8")
    with pytest.raises(InputError, match="below most_known_height_mm"):
        load_tables(tmp_path)
