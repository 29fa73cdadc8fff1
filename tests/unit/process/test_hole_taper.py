"""A hole's taper beside the tolerance that is asked of it."""

from __future__ import annotations

import pytest

from kerfwright.adapters.tables import load_tables
from kerfwright.foundation.errors import RangeError
from kerfwright.process.hole_taper import closing_finding, taper_finding
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


@pytest.mark.parametrize("diameter_mm", [0.3, 0.5, 1.0])
def test_a_hole_is_refused_from_just_the_depth_at_which_it_cannot_be_predicted(
    diameter_mm: float,
) -> None:
    ends_mm = diameter_mm / LAW.taper_mm_per_mm
    for depth_mm in (ends_mm * 0.999, ends_mm * 1.001):
        closed = closing_finding(
            depth_mm, diameter_mm=diameter_mm, taper_mm_per_mm=LAW.taper_mm_per_mm
        )
        if closed is None:
            hole = predict_hole(depth_mm, diameter_mm=diameter_mm, material=STEEL, law=LAW)
            assert hole.exit_diameter_mm > 0
        else:
            assert depth_mm > ends_mm
            assert closed.data["closes_mm"] == pytest.approx(ends_mm)
            with pytest.raises(RangeError, match="to nothing"):
                predict_hole(depth_mm, diameter_mm=diameter_mm, material=STEEL, law=LAW)
