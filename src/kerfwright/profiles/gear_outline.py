"""The outline of a spur gear as lines and arcs.

Half a tooth space is made: outside an involute and the trochoid that the rounded tip of the basic
rack leaves at its root, undercut where the rack undercuts; inside an involute and a round between
flank and root circle.  Both are interpolated by splines, replaced by arcs within the fit
tolerance, mirrored and turned.

References
----------
ISO 53 for the rack.  The trochoid is the envelope of the rounded tip as the rack's pitch line
rolls on the reference circle, derived here.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
from scipy.interpolate import make_interp_spline
from scipy.optimize import brentq

from kerfwright.foundation.errors import RangeError
from kerfwright.foundation.tolerances import DEFAULT_TOLERANCES, TINY, Tolerances
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.curves import Curve
from kerfwright.geometry.fitting import fit_arcs
from kerfwright.geometry.segments import Floats
from kerfwright.profiles.gear_data import USUAL_ROOT_RADIUS, Gear

_NODES: Final = 41
"""Of the interpolation: it leaves the curves by less than a nanometre (tests)."""
_DEGREE: Final = 5
_LEAN_RAD: Final = 1e-14
"""To which the end of an undercut is found."""
_MORE_INVOLUTE: Final = "Take more teeth, a larger profile shift or a smaller dedendum."
_SHORT_MM: Final = 1e-6
"""Arcs of root or tip circle below this length are left out."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GearOutline:
    """A gear's teeth.

    Attributes
    ----------
    contour : Contour
        Closed, counter-clockwise about the origin; a tooth, inside a space, lies on the X axis.
    form_mm : float
        Diameter on which the involute meets the round at its root, mm.
    tightest_mm : float
        Radius of the tightest round inside the metal's corner, mm.
    is_undercut : bool
        Whether the rack takes away some of the involute.
    """

    contour: Contour
    form_mm: float
    tightest_mm: float
    is_undercut: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class _Half:
    """Half a tooth space or, inside, of a tooth: points from its middle outwards along the wall."""

    root: Floats
    """(n, 2) mm, from the root circle to the flank."""
    flank: Floats
    """(n, 2) mm, from the round to the tip circle."""
    is_undercut: bool
    tightest_mm: float


def gear_outline(gear: Gear, *, tolerances: Tolerances = DEFAULT_TOLERANCES) -> GearOutline:
    """Return the teeth of a gear.

    Raises
    ------
    RangeError
        Code ``gear-root-radius``: a round that does not fit between the flanks, or reaches above
        the tip circle.
    """
    half = _inside(gear) if gear.is_internal else _outside(gear)
    parts = [p for p in (half.root, half.flank) if len(p)]
    fits = fit_arcs([_curve(part) for part in parts], tolerances=tolerances)
    # From the root circle to the tip circle, polar angles measured from the middle of a space
    # outside and of a space inside, where the root lies.
    wall = np.concatenate([*(fit.vertices[:-1] for fit in fits), fits[-1].vertices[-1:]])
    return GearOutline(
        contour=_ring(wall, gear),
        form_mm=2 * float(np.hypot(*half.flank[0])),
        tightest_mm=half.tightest_mm,
        is_undercut=half.is_undercut,
    )


def _curve(points: Floats) -> Curve:
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    spline = make_interp_spline(along, points, k=_DEGREE)
    return Curve.from_bspline(np.asarray(spline.c), knots=np.asarray(spline.t), degree=_DEGREE)


def _spread(low: float, high: float) -> Floats:
    """Return nodes that crowd at both ends, where interpolation errs most."""
    share = (1 - np.cos(np.linspace(0.0, math.pi, _NODES))) / 2
    nodes: Floats = low + (high - low) * share
    return nodes


def _at(radius_mm: Floats, angle_rad: Floats) -> Floats:
    return np.stack([radius_mm * np.cos(angle_rad), radius_mm * np.sin(angle_rad)], axis=1)


def _flank(gear: Gear, from_roll: float, to_roll: float) -> Floats:
    """Return the involute by roll angle, polar angles from the middle of the space."""
    roll = _spread(from_roll, to_roll)
    half = gear.base_half_rad - (roll - np.arctan(roll))
    angle = half if gear.is_internal else math.pi / gear.teeth - half
    return _at(gear.base_mm / 2 * np.hypot(1.0, roll), angle)


def _roll(gear: Gear, radius_mm: float) -> float:
    return math.sqrt(max((2 * radius_mm / gear.base_mm) ** 2 - 1.0, 0.0))


@dataclass(frozen=True, slots=True)
class _RackTip:
    """The rounded tip of the rack that makes the teeth, seen from the pitch point."""

    gear: Gear
    radius_mm: float
    depth_mm: float
    """Of the round's centre below the pitch line, mm."""
    aside_mm: float
    """Of the round's centre from the middle of the rack's tooth, mm."""

    @classmethod
    def of(cls, gear: Gear) -> _RackTip:
        alpha, module = gear.pressure_angle_rad, gear.module_mm
        space_mm = math.pi * module - gear.reference_thickness_mm
        deep_mm = module * (gear.dedendum - gear.shift)
        # At most the rounds of both flanks meet in the middle of the rack's tip.
        full_mm = (space_mm / 2 - deep_mm * math.tan(alpha)) / (
            1 / math.cos(alpha) - math.tan(alpha)
        )
        radius_mm = _fitting(gear, full_mm)
        depth_mm = deep_mm - radius_mm
        aside_mm = space_mm / 2 - depth_mm * math.tan(alpha) - radius_mm / math.cos(alpha)
        return cls(gear, radius_mm, depth_mm, max(aside_mm, 0.0))

    def points(self, lean_rad: Floats) -> Floats:
        """Return the trochoid by the lean of its normal: a quarter turn at the root circle."""
        cos, sin = np.cos(lean_rad), np.sin(lean_rad)
        along = self.depth_mm * cos / sin
        turn = (along - self.aside_mm) / (self.gear.reference_mm / 2)
        across = along + self.radius_mm * cos
        up = self.gear.reference_mm / 2 - self.depth_mm - self.radius_mm * sin
        # Polar angle from the middle of the space, to the side of this flank.
        return _at(np.hypot(across, up), np.arctan2(across, up) - turn)


def _outside(gear: Gear) -> _Half:
    tip = _RackTip.of(gear)
    alpha = gear.pressure_angle_rad
    joint = tip.points(np.array([alpha]))[0]
    top = _roll(gear, gear.tip_mm / 2)
    flank_depth_mm = tip.depth_mm + tip.radius_mm * math.sin(alpha)
    lean, begin = alpha, _roll(gear, float(np.hypot(*joint)))
    is_undercut = flank_depth_mm > gear.reference_mm / 2 * math.sin(alpha) ** 2 + _SHORT_MM
    if is_undercut:
        lean = _crossing(gear, tip)
        begin = _roll(gear, float(np.hypot(*tip.points(np.array([lean]))[0])))
    if begin >= top:
        raise RangeError(
            "the rack leaves no involute below the tip circle.",
            code="gear-root-radius",
            remedy=_MORE_INVOLUTE,
        )
    root = tip.points(_spread(math.pi / 2, lean))
    return _Half(
        root=root,
        flank=_flank(gear, begin, top),
        is_undercut=is_undercut,
        tightest_mm=_tightest(root),
    )


def _crossing(gear: Gear, tip: _RackTip) -> float:
    """Return the lean at which the trochoid leaves the involute that it undercuts."""

    def beyond(lean: float) -> float:
        x, y = tip.points(np.array([lean]))[0]
        return math.atan2(y, x) - (math.pi / gear.teeth - gear.half_angle_rad(math.hypot(x, y)))

    # From the root outwards, the first place outside the base circle where it is no more beyond.
    leans = np.linspace(math.pi / 2, gear.pressure_angle_rad, 400)
    leans = leans[2 * np.hypot(*tip.points(leans).T) > gear.base_mm]
    for before, lean in pairwise(leans.tolist()):
        if beyond(lean) <= 0:
            return float(brentq(beyond, lean, before, xtol=_LEAN_RAD))
    raise RangeError(
        "the rack leaves no involute at all.", code="gear-root-radius", remedy=_MORE_INVOLUTE
    )


def _inside(gear: Gear) -> _Half:
    root_mm, base_mm = gear.root_mm / 2, gear.base_mm / 2
    top = _roll(gear, gear.tip_mm / 2)

    def aside(round_mm: float) -> float:
        """Half angle between the middle of the space and the centre of the round, rad."""
        roll = _roll(gear, root_mm - round_mm)
        return gear.base_half_rad - round_mm / base_mm - (roll - math.atan(roll))

    deepest_mm = root_mm - gear.tip_mm / 2
    full_mm = deepest_mm
    if aside(deepest_mm) < 0:
        full_mm = float(brentq(aside, 0.0, deepest_mm))
    radius_mm = _fitting(gear, full_mm)
    roll = _roll(gear, root_mm - radius_mm)
    begin = roll + radius_mm / base_mm
    centre = _at(np.array([root_mm - radius_mm]), np.array([aside(radius_mm)]))[0]
    flank = _flank(gear, begin, top)
    root = flank[:0]
    if radius_mm > _SHORT_MM:
        out = math.atan2(centre[1], centre[0])
        onto = math.atan2(flank[0, 1] - centre[1], flank[0, 0] - centre[0])
        root = centre + _at(np.full(_NODES, radius_mm), _spread(out, onto))
    return _Half(root=root, flank=flank, is_undercut=False, tightest_mm=radius_mm)


def _tightest(points: Floats) -> float:
    """Return the smallest radius of curvature along points, mm."""
    if len(points) < 3:
        return 0.0
    a, b, c = points[:-2], points[1:-1], points[2:]
    ab, bc, ca = (np.hypot(*(q - p).T) for p, q in ((a, b), (b, c), (c, a)))
    cross = np.abs((b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0])
    return float((ab * bc * ca / np.maximum(2 * cross, TINY)).min())


def _ring(wall: Floats, gear: Gear) -> Contour:
    """Return all teeth from the wall of half a space, which goes from root to tip."""
    half = math.pi / gear.teeth
    bulge = wall[:, 2]
    mirrored = np.column_stack([wall[::-1, 0], -wall[::-1, 1], np.append(bulge[-2::-1], 0.0)])
    begin = math.atan2(wall[0, 1], wall[0, 0])
    end = math.atan2(wall[-1, 1], wall[-1, 0])
    rows: list[Floats] = []
    if begin * gear.root_mm / 2 > _SHORT_MM:
        mirrored[-1, 2] = math.tan(2 * begin / 4)
        rows += [mirrored, wall.copy()]
    else:
        rows += [mirrored[:-1], wall.copy()]
    space = np.concatenate(rows)
    land = 2 * (half - end)
    space[-1, 2] = math.tan(land / 4)
    if land * gear.tip_mm / 2 < _SHORT_MM:
        space = space[:-1]
    turned = []
    shift = 0.0 if gear.is_internal else half
    for tooth in range(gear.teeth):
        angle = shift + 2 * half * tooth
        cos, sin = math.cos(angle), math.sin(angle)
        x, y = space[:, 0], space[:, 1]
        turned.append(np.column_stack([x * cos - y * sin, x * sin + y * cos, space[:, 2]]))
    return Contour(np.concatenate(turned))


def _fitting(gear: Gear, full_mm: float) -> float:
    """Return the radius at the root, mm, of which the largest that fits is given."""
    if gear.root_radius is None:
        return max(min(USUAL_ROOT_RADIUS * gear.module_mm, full_mm), 0.0)
    radius_mm = gear.root_radius * gear.module_mm
    if radius_mm > full_mm + _SHORT_MM:
        raise RangeError(
            f"a radius of {radius_mm:.4g} mm at the root does not fit between the flanks.",
            code="gear-root-radius",
            remedy=f"Take {math.floor(full_mm / gear.module_mm * 1000) / 1000:g} modules or less "
            f"({full_mm:.4f} mm).",
        )
    return radius_mm
