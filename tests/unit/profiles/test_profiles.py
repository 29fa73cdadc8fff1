"""Plain profiles, punch and die, and what is no gear."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import pytest
import shapely

from kerfwright.foundation.errors import KerfwrightError
from kerfwright.geometry.contour import Contour
from kerfwright.profiles import mating, plain
from kerfwright.profiles.gear_data import Gear, angle_of_involute, involute
from kerfwright.profiles.gear_outline import gear_outline


def test_areas_are_those_of_the_formulas() -> None:
    segment = 2 * math.asin(3 / 8)
    keyed = plain.bore(8.0, key_width_mm=3.0, across_mm=9.4)
    mouth = math.sqrt(4.0**2 - 1.5**2)
    below = 16 * math.pi - 16 / 2 * (segment - math.sin(segment))
    assert keyed.area_mm2 == pytest.approx(below + 3 * (5.4 - mouth))
    assert keyed.bounds_mm == pytest.approx((-4, -4, 4, 5.4))
    assert plain.slot(10.0, 4.0).area_mm2 == pytest.approx(6 * 4 + 4 * math.pi)
    sharp, flats = 50 * math.sqrt(3), 2 * (math.sqrt(3) - math.pi / 2)
    assert plain.polygon(6, 10.0).area_mm2 == pytest.approx(sharp)
    assert plain.polygon(6, 10.0, corner_mm=1.0).area_mm2 == pytest.approx(sharp - flats, rel=1e-3)
    assert plain.polygon(5, 10.0).bounds_mm[1] == pytest.approx(-5.0)
    assert len(plain.rectangle(4.0, 4.0, corner_mm=2.0)) == 4


def test_between_punch_and_die_the_clearance_is_everywhere_the_same() -> None:
    gear = gear_outline(Gear(module_mm=1.0, teeth=12)).contour
    punch = mating.into_the_metal(gear, 0.06, name="P1")
    points = shapely.points(punch.points_at(punch.stations_mm))
    wall = shapely.LinearRing(gear.points_at([gear.length_mm * k / 20000 for k in range(20000)]))
    assert shapely.distance(points, wall) == pytest.approx(0.06, abs=2e-4)
    assert mating.clearance_mm(1.5, 0.04) == pytest.approx(0.06)
    # Moulded 2 % smaller, the part has its size: 1 / 0.98.
    assert mating.scale_for(0.02) * 0.98 == pytest.approx(1.0)


def test_the_involute_goes_there_and_back() -> None:
    assert involute(math.radians(20)) == pytest.approx(0.0149044, abs=5e-8)  # any handbook
    assert angle_of_involute(0.0149043839) == pytest.approx(math.radians(20), abs=1e-8)


GEAR = {"module_mm": 1.0, "teeth": 20}


@pytest.mark.parametrize(
    ("make", "code"),
    [
        (lambda: Gear(module_mm=1.0, teeth=3), "gear-data"),
        (lambda: Gear(module_mm=math.nan, teeth=20), "gear-data"),
        (lambda: Gear(**GEAR, pressure_angle_deg=60.0), "gear-data"),
        (lambda: Gear(**GEAR, thinning_mm=2.0), "gear-data"),
        (lambda: Gear(**GEAR, shift=-9.0), "gear-data"),
        (lambda: Gear(module_mm=1.0, teeth=12, shift=0.95), "gear-pointed"),
        (lambda: gear_outline(Gear(**GEAR, root_radius=0.6)), "gear-root-radius"),
        (
            lambda: gear_outline(Gear(**GEAR, is_internal=True, root_radius=0.9)),
            "gear-root-radius",
        ),
        (lambda: Gear(**GEAR).span_mm(9), "gear-span"),
        (lambda: Gear(**GEAR, is_internal=True).span_mm(3), "gear-span"),
        (lambda: Gear(**GEAR).over_pins_mm(0.1), "gear-pin"),
        (lambda: Gear(**GEAR).over_pins_mm(9.0), "gear-pin"),
        (lambda: plain.bore(0.0), "profile-size"),
        (lambda: plain.bore(8.0, key_width_mm=9.0, across_mm=9.0), "profile-size"),
        (lambda: plain.bore(8.0, key_width_mm=3.0, across_mm=7.0), "profile-size"),
        (lambda: plain.slot(4.0, 4.0), "profile-size"),
        (lambda: plain.polygon(2, 4.0), "profile-size"),
        (lambda: plain.polygon(6, 10.0, corner_mm=6.0), "profile-size"),
        (lambda: plain.rectangle(10.0, 4.0, corner_mm=-1.0), "profile-size"),
        (lambda: mating.clearance_mm(1.0, 6.0), "clearance-range"),
        (lambda: mating.clearance_mm(0.0, 0.06), "clearance-range"),
        (
            lambda: mating.into_the_metal(
                Contour.circle((0.0, 0.0), radius_mm=0.1), 0.2, name="P1"
            ),
            "clearance-closes",
        ),
        (lambda: mating.scale_for(1.5), "shrinkage-range"),
    ],
)
def test_what_makes_no_profile_is_refused(make: Callable[[], Any], code: str) -> None:
    with pytest.raises(KerfwrightError) as refused:
        make()
    assert refused.value.code == code
