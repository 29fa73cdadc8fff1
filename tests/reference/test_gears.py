"""Gears against a rack that is rolled through the blank, circles laid in the spaces, and tables."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from shapely import affinity

from kerfwright.geometry.contour import Contour
from kerfwright.profiles.gear_data import Gear
from kerfwright.profiles.gear_outline import gear_outline

SPLINE = {"pressure_angle_deg": 30.0, "addendum": 0.5, "dedendum": 0.75, "root_radius": 0.3}
OUTSIDE = [
    Gear(module_mm=1.0, teeth=20),
    Gear(module_mm=1.0, teeth=8),
    Gear(module_mm=0.5, teeth=17, shift=0.3, thinning_mm=0.03),
    Gear(module_mm=1.0, teeth=24, **SPLINE),
]
FIT_MM = 5e-4
"""Arcs follow curves so closely; chords and steps of the check below stay an order under it."""


def polygon_of(contour: Contour, chords: int = 24) -> shapely.Polygon:
    s = contour.segments
    at = np.repeat(np.arange(len(s)), chords)
    return shapely.Polygon(s.points_at(at, np.tile(np.arange(chords) / chords, len(s))))


def rolled(gear: Gear, wedge: shapely.Polygon) -> shapely.Geometry:
    """Roll the basic rack of ISO 53 past a blank, as a hob does, and return what is left."""
    m, alpha = gear.module_mm, gear.pressure_angle_rad
    radius, wide = (gear.root_radius or 0.38) * m, math.pi * m / 4 + gear.thinning_mm / 2
    low, high = -gear.dedendum * m, 2 * m
    sides = [wide + y * math.tan(alpha) for y in (low, high)]
    sharp = shapely.Polygon(
        [(-sides[0], low), (sides[0], low), (sides[1], high), (-sides[1], high)]
    )
    tip = sharp.buffer(-radius, join_style="mitre").buffer(radius, quad_segs=48)
    tooth = tip.union(sharp.intersection(shapely.box(-9, 0, 9, 9)))
    reach = 3.5 * m
    places = [
        affinity.rotate(
            affinity.translate(tooth, along, gear.reference_mm / 2 + gear.shift * m),
            2 * along / gear.reference_mm,
            origin=(0, 0),
            use_radians=True,
        )
        for along in np.linspace(-reach, reach, 501)
    ]
    blank = shapely.Point(0, 0).buffer(gear.tip_mm / 2, quad_segs=1000)
    return blank.intersection(wedge).difference(shapely.union_all(places))


@pytest.mark.parametrize("gear", OUTSIDE, ids=["20", "undercut", "shifted", "spline"])
def test_a_rack_that_rolls_past_leaves_the_same_space(gear: Gear) -> None:
    half, far = math.pi / gear.teeth, gear.tip_mm
    x, y = far * math.sin(half), far * math.cos(half)
    wedge = shapely.Polygon([(0, 0), (x, y), (0, far / math.cos(half)), (-x, y)])
    outline = gear_outline(gear)
    ours = affinity.rotate(
        polygon_of(outline.contour), math.pi / 2 - half, origin=(0, 0), use_radians=True
    )
    assert rolled(gear, wedge).hausdorff_distance(ours.intersection(wedge)) < 1.2 * FIT_MM
    assert outline.is_undercut == (gear.teeth == 8)


@pytest.mark.parametrize(
    "gear",
    [*OUTSIDE, Gear(module_mm=1.0, teeth=41, is_internal=True, shift=0.2)],
    ids=["20", "undercut", "shifted", "spline", "inside"],
)
def test_a_pin_in_a_space_touches_both_flanks_where_the_formula_says(gear: Gear) -> None:
    pin_mm = gear.usual_pin_mm
    measured_mm = gear.over_pins_mm(pin_mm)
    middle_mm = (measured_mm + (pin_mm if gear.is_internal else -pin_mm)) / 2
    if gear.teeth % 2:
        middle_mm /= math.cos(math.pi / (2 * gear.teeth))
    angle = 0.0 if gear.is_internal else math.pi / gear.teeth
    centre = shapely.Point(middle_mm * math.cos(angle), middle_mm * math.sin(angle))
    wall = polygon_of(gear_outline(gear).contour).exterior
    assert wall.distance(centre) == pytest.approx(pin_mm / 2, abs=1.2 * FIT_MM)


@pytest.mark.parametrize("gear", OUTSIDE[:3], ids=["20", "undercut", "shifted"])
def test_the_gap_between_two_flats_is_the_span(gear: Gear) -> None:
    teeth = gear.usual_span_teeth
    turn = 0.0 if teeth % 2 else -math.pi / gear.teeth
    outline = gear_outline(gear)
    teeth_only = polygon_of(outline.contour).difference(
        shapely.Point(0, 0).buffer(outline.form_mm / 2 - FIT_MM, quad_segs=1000)
    )
    p = affinity.rotate(teeth_only, turn, origin=(0, 0), use_radians=True)
    # The jaws stand square to the middle of the teeth they close on; other teeth do not count.
    reach, far = teeth * math.pi / gear.teeth, gear.tip_mm
    sector = [(0.0, 0.0)] + [
        (far * math.cos(a), far * math.sin(a)) for a in np.linspace(-reach, reach, 90)
    ]
    low, high = (p.intersection(shapely.Polygon(sector)).bounds[k] for k in (1, 3))
    half = gear.span_mm(teeth) / 2
    assert (-low, high) == pytest.approx((half, half), abs=1.2 * FIT_MM)


def test_worked_examples() -> None:
    # Elements of Metric Gear Technology, table 10-1: m 10, z 12, x +0.3 (as read on a page).
    example = Gear(module_mm=10.0, teeth=12, shift=0.3)
    assert example.reference_thickness_mm == pytest.approx(17.8918, abs=5e-5)
    # Profile shifted external spur gears, bolsover.com: m 3, z 24, x 0.36, items 13 and 19.
    wheel = Gear(module_mm=3.0, teeth=24, shift=0.36)
    assert wheel.base_mm == pytest.approx(67.6579, abs=5e-5)
    assert wheel.root_mm == pytest.approx(66.660, abs=5e-4)
    # Span of m 3, z 24, x +0.4 over 4 teeth (a textbook example; from memory).
    spanned = Gear(module_mm=3.0, teeth=24, shift=0.4)
    assert spanned.usual_span_teeth == 4
    assert spanned.span_mm(4) == pytest.approx(32.8266, abs=5e-5)
