"""What passes hurt and what skims take of it, worked out by hand from the pass table."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tests.unit.process.samples import by_likely, requirement
from tests.unit.process.test_wire_state import TABLES, passes

from kerfwright.foundation.findings import Severity
from kerfwright.process.choice import choose_passes
from kerfwright.process.hurt_layer import (
    hurt_layers,
    layer_findings,
    ra_left_um,
    recast_left_um,
)
from kerfwright.process.spark_surface import choose_energies
from kerfwright.process.technology import Technology

LAW = TABLES.technology.spark.surface


def test_the_layers_of_the_shipped_table_in_steel_are_those_worked_out_by_hand():
    found = hurt_layers(passes(6), law=LAW)
    # Recast + 3 Ra: 12 + 8.4, 6.5 + 4.2, 3.5 + 2.4, 1.5 + 1.35, 0.8 + 0.75, 0.5 + 0.45.
    assert [one.hurt_um for one in found] == pytest.approx([20.4, 10.7, 5.9, 2.85, 1.55, 0.95])
    # Less 35, 12, 5, 2 and 1 of stock.
    assert [one.left_by_next_um for one in found] == pytest.approx([0, 0, 0.9, 0.85, 0.55, 0.95])
    # Pass 4 leaves 2.85, skims 5 and 6 take 3.
    assert [one.left_at_end_um for one in found] == pytest.approx([0, 0, 0, 0, 0.55, 0.95])


def test_the_recast_left_is_that_of_the_last_pass_or_what_older_ones_left():
    left = [recast_left_um(passes(n), law=LAW) for n in range(1, 7)]
    assert left == pytest.approx([12, 6.5, 3.5, 1.5, 0.85, 0.55])


def test_more_stock_for_a_skim_takes_the_older_layer_away():
    made = passes(5)
    thorough = (*made[:4], replace(made[4], stock_um=2.85))
    assert recast_left_um(thorough, law=LAW) == made[4].recast_um
    assert layer_findings(thorough, law=LAW, max_recast_um=0.9) == []


def test_what_stands_is_a_warning_where_the_drawing_limits_recast_and_else_nothing():
    (warning,) = layer_findings(passes(5), law=LAW, max_recast_um=1.0)
    assert warning.severity is Severity.WARNING
    assert "pass 4 hurts 2.85 µm" in warning.message
    assert "skim 5 takes 2 µm (0.00008 in) at most" in warning.message
    assert "sectioned" in warning.remedy
    assert len(layer_findings(passes(4), law=LAW, max_recast_um=2.0)) == 1
    assert layer_findings(passes(5), law=LAW, max_recast_um=None) == []


def test_a_recast_limit_counts_what_older_passes_left():
    tables = by_likely(TABLES)

    def count(limit_um: float, table: Technology) -> int:
        wanted = requirement(TABLES, max_recast_um=limit_um)
        choice = choose_passes(wanted, technology=table, catalogue=TABLES.catalogue)
        return len(choice.passes)

    # Pass 5 alone leaves 0.8 µm, and takes all of pass 4 that stands before it.
    assert count(0.82, tables.technology) == 5
    # Skims whose sparks take one depth of their craters only: 2 µm of the 2.85 of pass 4 are taken
    # as the table has it, so that 0.85 stand beneath.
    surface = replace(LAW, crater_layers_per_skim=1.0)
    spark = replace(tables.technology.spark, surface=surface)
    weak = replace(tables.technology, spark=spark)
    assert count(0.86, weak) == 5
    assert count(0.82, weak) == 6


def test_of_peaks_that_the_skims_take_in_part_the_rest_of_the_roughness_stands():
    # By hand: peaks of pass 1 are 3 x 2.8 = 8.4 µm; a skim of 4.2 leaves half of Ra 2.8.
    rough, skim = passes(2)
    shallow = (rough, replace(skim, stock_um=4.2, ra_um=0.3))
    assert ra_left_um(shallow, law=LAW) == pytest.approx(1.4)
    assert ra_left_um((rough, replace(skim, stock_um=8.4)), law=LAW) == skim.ra_um
    (warning,) = layer_findings(shallow, law=LAW, max_recast_um=None, ra_um=2.0)
    assert (warning.code, warning.severity) == ("skim-leaves-old-peaks", Severity.WARNING)
    assert warning.data["ra_left_um"] == pytest.approx(1.4)
    assert layer_findings(shallow, law=LAW, max_recast_um=None, ra_um=None) == []


def test_two_skims_together_take_the_peaks_of_the_rough_pass():
    # By hand: peaks of 8.4 µm less 3 and 3.6 leave 1.8, a Ra of 0.6; less 3 alone it were 1.8.
    rough, first, second = passes(3)
    made = (
        rough,
        replace(first, stock_um=3.0, ra_um=0.2),
        replace(second, stock_um=3.6, ra_um=0.2),
    )
    assert ra_left_um(made, law=LAW) == pytest.approx(0.6)


@pytest.mark.parametrize("count", range(1, 7))
def test_the_shipped_skims_take_all_peaks_before_them(count):
    made = passes(count)
    assert ra_left_um(made, law=LAW) == made[-1].ra_um


def test_energies_chosen_by_the_spark_leave_nothing_of_an_older_layer():
    # The chain by energies is built so; the same rule applied to its passes must find nothing.
    chosen = choose_energies(
        material=TABLES.catalogue.material("D2"), law=TABLES.technology.spark, ra_um=0.25
    )
    template = passes(1)[0]
    made = [
        replace(
            template,
            number=p.number,
            stock_um=p.stock_um,
            ra_um=p.surface.ra_um.likely,
            recast_um=p.surface.recast_um.likely,
        )
        for p in chosen.passes
    ]
    assert len(made) > 3
    for layer in hurt_layers(made, law=LAW)[:-1]:
        assert layer.left_by_next_um == pytest.approx(0, abs=1e-9)
