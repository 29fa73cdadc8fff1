"""Ranges of the passes against the intervals that the trade gives (PROCESS section 6).

All of them are common practice, no source: tool steel, brass 0.25 mm, 20 to 50 mm.
"""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from tests.reference.test_process_tables import TABLES, pass_list

from kerfwright.adapters.learning_rules import load_learning_rules
from kerfwright.adapters.machines import load_machine
from kerfwright.process.passes import passes_for

GAP_UM = [(30, 45), (15, 20), (8, 10), (4, 6), (2, 3)]
RECAST_UM = [(8, 15), (5, 8), (3, 4), (1, 2)]
STOCK_UM = [(30, 50), (10, 15), (4, 6), (1, 3)]


@pytest.mark.parametrize(("number", "printed"), list(enumerate(GAP_UM, start=1)))
def test_the_range_of_the_gap_is_as_wide_as_the_interval(number, printed):
    span = pass_list()[number - 1].gap_range_um
    assert span.high / span.low == pytest.approx(printed[1] / printed[0], rel=0.01)
    assert printed[0] <= span.likely <= printed[1]


@pytest.mark.parametrize(("number", "printed"), list(enumerate(RECAST_UM, start=1)))
def test_the_range_of_the_recast_is_as_wide_as_the_interval(number, printed):
    span = pass_list()[number - 1].recast_range_um
    assert span.high / span.low == pytest.approx(printed[1] / printed[0], rel=0.01)
    assert printed[0] <= span.likely <= printed[1]


def test_the_deepest_recast_of_a_rough_pass_is_three_deviations_up():
    rough = pass_list()[0]
    assert rough.recast_um * math.exp(3 * rough.recast_sigma_log) == pytest.approx(25, rel=0.02)


@pytest.mark.parametrize(("number", "printed"), list(enumerate(STOCK_UM, start=2)))
def test_the_gaps_bring_out_the_intervals_of_the_stock_without_being_told(number, printed):
    # Nothing in the tables says how sure the stock is.
    span = pass_list()[number - 1].stock_range_um
    width = printed[1] - printed[0]
    assert span.high - span.low == pytest.approx(width, rel=0.45)
    overlap = min(span.high, printed[1]) - max(span.low, printed[0])
    assert overlap > 0.6 * width


@pytest.mark.parametrize("number", range(1, 7))
def test_the_page_on_ranges_prints_the_ranges_of_the_passes(number):
    # On a shipped machine, which holds no better than 2.5 um whatever the tables say.
    one = passes_for(
        number,
        material=TABLES.catalogue.material("D2"),
        height_mm=40.0,
        wire=TABLES.catalogue.wire("0.25"),
        machine=load_machine("generic-mm"),
        technology=TABLES.technology,
    )[-1]
    page = (Path(__file__).parents[2] / "docs/process/ranges.md").read_text("utf-8")
    (row,) = (line for line in page.splitlines() if line.startswith(f"| {number} | "))
    _, gap, _, stock, _, ra, recast, _, wall = (c.strip() for c in row.strip("|").split("|"))
    assert gap == f"{one.gap_range_um.low:.1f}–{one.gap_range_um.high:.1f}"
    assert ra == f"{one.ra_range_um.low:.2f}–{one.ra_range_um.high:.2f}"
    assert recast == f"{one.recast_range_um.low:.1f}–{one.recast_range_um.high:.1f}"
    assert wall == f"±{one.size_error_um.high:.1f}"
    if number > 1:
        assert stock == f"{one.stock_range_um.low:.1f}–{one.stock_range_um.high:.1f}"


def test_a_published_surface_for_titanium_overlaps_the_range_of_its_gap():
    # Kumar, Kumar and Kumar 2013 (equations read, paper from memory): 17-42 um, centre 27.
    span = pass_list(material="Ti-6Al-4V")[0].gap_range_um
    assert span.low < 27 < span.high


def test_published_recasts_in_in718_lie_in_the_range_after_a_skim():
    # 6.2 +- 2.1 um (Materials 2023, 16, 930, read); 5-9 um (Newton et al. 2009, from memory).
    span = pass_list(material="Inconel 718")[1].recast_range_um
    assert span.low < 6.2 < span.high
    assert span.high == pytest.approx(9, rel=0.1)
    assert span.low == pytest.approx(5, rel=0.15)


def test_pass_and_material_make_the_spread_of_roughness_that_learning_starts_from():
    rules = load_learning_rules()
    assert {round(p.ra_sigma_log, 3) for p in pass_list()} == {0.201}
    assert pass_list()[0].ra_sigma_log == pytest.approx(rules.ra_sigma_log, rel=0.01)
