"""The rules of planning come from a table with sources; a shop's own stand over them."""

from __future__ import annotations

from dataclasses import MISSING, fields
from pathlib import Path

import pytest

from kerfwright.adapters.tables import load_tables
from kerfwright.app.records import JobRequest
from kerfwright.foundation.errors import InputError
from kerfwright.foundation.sources import SourceTag
from kerfwright.planning.rules import PlanningRules
from kerfwright.wiring import plan_job

WHEEL = Path(__file__).parents[3] / "src/kerfwright/data/samples/escape_wheel.dxf"


def test_every_figure_of_the_rules_has_a_source_and_none_a_default_in_code():
    rules = load_tables().rules
    figures = {f.name for f in fields(PlanningRules)} - {
        "sources",
        "outside_corners",
        "nozzles",
        "upper_gap_mm",
        "lower_gap_mm",
        "bath",
        "mouths",
    }
    assert set(rules.sources) == figures
    assert all(f.default is MISSING for f in fields(PlanningRules) if f.name in figures)
    for name, source in rules.sources.items():
        assert source.tag is not SourceTag.SHOP, name
        assert source.citation or source.tag is SourceTag.COMMON_PRACTICE, name
    assert "Ahmed" in rules.sources["thin_web_mm"].citation


@pytest.mark.parametrize(
    ("height_mm", "hole_mm"), [(5, 1.5), (50, 1.5), (50.1, 2.0), (100, 2.0), (101, 3.0), (400, 3.0)]
)
def test_higher_work_gets_a_wider_start_hole(height_mm, hole_mm):
    assert load_tables().rules.preferred_hole_mm(height_mm) == hole_mm


def test_a_shops_rule_reaches_the_plan(tmp_path):
    (tmp_path / "planning.toml").write_text("[piece]\ntab_min_mm = 4.25\n", "utf-8")
    request = JobRequest(drawing=WHEEL, material="C270 brass", height="6 mm", tables=tmp_path)
    plan = plan_job(request).plan
    assert plan.rules.tab_min_mm == 4.25
    assert plan.rules.sources["tab_min_mm"].tag is SourceTag.SHOP
    assert plan.rules.overlap_mm == load_tables().rules.overlap_mm
    widths = [c.tab.width_mm for c in plan.contours if c.tab is not None]
    # A small piece gets less, the largest share of its perimeter; a heavy one more.
    assert widths.count(4.25) > len(widths) / 2


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("[piece]\ntab_safety = 0.5\n", "1 or more"),
        ("[stack]\nstack_measured = 2.5\n", "a whole number"),
        ("[stack]\nstack_measured = 0\n", "above 0"),
        ("[piece]\ntab_max_share = 1.5\n", "share"),
        ("[entry]\noverlap = 1\n", "overlap_mm"),
        ("[start_hole]\ntight_wall_clearance_mm = 2\n", "at most the usual"),
        ("[start_hole]\nhole_diameters_mm = [2, 1]\n", "ascending"),
        ("[thin]\nthin_web_mm = 0\n", "above 0"),
    ],
)
def test_a_rule_that_no_plan_can_work_by_is_refused(text, word, tmp_path):
    (tmp_path / "planning.toml").write_text(text, "utf-8")
    with pytest.raises(InputError, match=word) as caught:
        load_tables(tmp_path)
    assert caught.value.where == str(tmp_path / "planning.toml")
