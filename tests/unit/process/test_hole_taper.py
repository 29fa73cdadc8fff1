"""A hole's taper beside the tolerance that is asked of it."""

from __future__ import annotations

import pytest

from kerfwright.adapters.tables import load_tables
from kerfwright.process.hole_taper import taper_finding
from kerfwright.process.small_hole import HoleDemand, predict_hole

TABLES = load_tables()
LAW = TABLES.technology.small_hole
STEEL = TABLES.catalogue.material("D2")


def codes(depth_mm: float, tolerance_um: float) -> list[str]:
    hole = predict_hole(
        depth_mm,
        diameter_mm=1.0,
        material=STEEL,
        law=LAW,
        demand=HoleDemand(tolerance_um=tolerance_um),
    )
    return [f.code for f in hole.findings]


def test_a_deep_hole_leaves_its_zone_by_its_taper_and_a_shallow_one_does_not() -> None:
    code = "hole-taper-beyond-tolerance"
    narrows_um = LAW.taper_mm_per_mm * 60 * 1000
    assert code in codes(60, narrows_um - 1)
    assert code not in codes(60, narrows_um + 1)
    assert code not in codes(6, narrows_um - 1)


@pytest.mark.parametrize(
    ("asked_um", "says"), [(30.0, "unless the mouth is set high"), (10.0, "wherever the mouth")]
)
def test_up_to_twice_the_half_zone_a_mouth_set_high_still_holds(asked_um: float, says: str) -> None:
    found = taper_finding(asked_um, depth_mm=25.0, taper_mm_per_mm=0.0014)
    assert found is not None
    assert says in found.message
    assert found.data["narrows_um"] == pytest.approx(35)


def test_a_hole_without_a_tolerance_is_told_nothing() -> None:
    assert taper_finding(None, depth_mm=25.0, taper_mm_per_mm=0.0014) is None
