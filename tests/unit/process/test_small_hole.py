from __future__ import annotations

import pytest

from kerfwright.adapters.tables import load_tables
from kerfwright.foundation.errors import RangeError
from kerfwright.process.small_hole import drill

TABLES = load_tables()
LAW = TABLES.technology.small_hole


def test_a_one_millimetre_hole_through_steel_is_drilled_in_about_two_minutes():
    # By hand: 30 mm/min in the table for 1 mm; 50 mm deep is L/D 50, so 30/1.5 = 20 mm/min;
    # the tube is 1 - 2 * 0.045 = 0.91 mm and travels 50 + 1.5 * 0.91 = 51.365 mm.
    hole = drill(50, diameter_mm=1.0, material=TABLES.catalogue.material("D2"), law=LAW)
    assert hole.minutes.likely == pytest.approx(51.365 / 20)
    assert hole.tube_diameter_mm == pytest.approx(0.91)
    assert hole.tube_used_mm == pytest.approx(0.8 * 50)
    assert not hole.is_too_deep


def test_carbide_takes_four_times_as_long_and_eats_the_tube():
    steel, carbide = (
        drill(20, diameter_mm=1.0, material=TABLES.catalogue.material(m), law=LAW)
        for m in ("D2", "carbide")
    )
    assert carbide.minutes.likely == pytest.approx(4 * steel.minutes.likely)
    assert carbide.tube_used_mm == pytest.approx(60)


def test_between_table_diameters_the_feed_lies_between():
    # Half way from 1 mm (30) to 2 mm (20) the table gives 25 mm/min.
    hole = drill(15, diameter_mm=1.5, material=TABLES.catalogue.material("D2"), law=LAW)
    assert hole.minutes.likely == pytest.approx((15 + 1.5 * 1.41) * 1.1 / 25)


def test_a_hole_deeper_than_practice_is_marked():
    assert drill(31, diameter_mm=0.3, material=TABLES.catalogue.material("D2"), law=LAW).is_too_deep


def test_a_hole_no_wider_than_its_overcut_is_refused():
    with pytest.raises(RangeError, match="overcut"):
        drill(10, diameter_mm=0.09, material=TABLES.catalogue.material("D2"), law=LAW)


def test_every_family_of_material_can_be_drilled():
    for material in TABLES.catalogue.materials:
        assert drill(10, diameter_mm=1.0, material=material, law=LAW).minutes.likely > 0
