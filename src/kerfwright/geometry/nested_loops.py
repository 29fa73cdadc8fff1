"""Loops inside loops, so close that a disc run along all of them leaves nothing inside.

Write ``P`` for a loop, ``depth(x)`` for the distance of a point inside it from it.  Of any such
point the segment to its nearest point of the wall crosses ``P``, so the distance of ``x`` from
``P`` is just its depth.  A disc of radius ``R`` run along ``P`` hence takes all down to the depth
``R``, and loops no more than ``R`` apart leave nothing, whatever the shape.  Loops up to ``2 R``
apart leave nothing where the inside is smooth and wide, but may leave something in a corner: that
between two loops a pitch ``p`` apart is covered where sin(half the angle) >= (p - R) / R.  So each
loop has the next one at the wide pitch where that is shown to be enough, and at the close one
where it is not: each island by itself.  What comes out is looked at as a whole, by polygons.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely

from kerfwright.foundation.errors import InputError
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.intersect import cross
from kerfwright.geometry.nearest import NearestIndex
from kerfwright.geometry.offset import OffsetLoop, offset_contour
from kerfwright.geometry.regions import flattened
from kerfwright.geometry.rings import rolled
from kerfwright.geometry.segments import Segments

_LOOK_SHARE = 0.25
"""Of the radius: spacing of the places at which two loops are compared."""
_SMOOTH_RAD = 1e-6
"""A joint that turns by less is smooth."""
_CHORD_MM = 1e-4
_QUARTER_CHORDS = 32
"""A disc of chords drawn in it is 0.06 % too narrow."""
_MOST_DEEP = 10_000
"""Loops one inside the other; a shape of a metre at a pitch of 0.05 mm."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class NestedLoop:
    """A closed loop and the loops next to it inside.

    Attributes
    ----------
    contour : Contour
        All loops in one sense of travel.
    step_mm : float
        From the loop around it; 0 for the outermost.
    inner : tuple of NestedLoop
        Largest first; empty for an innermost one.
    """

    contour: Contour
    step_mm: float
    inner: tuple[NestedLoop, ...]

    def every(self) -> Iterator[NestedLoop]:
        """Yield this loop and all inside it, each before what is inside it."""
        yield self
        for one in self.inner:
            yield from one.every()

    @property
    def count(self) -> int:
        """How many loops there are."""
        return sum(1 for _ in self.every())

    @property
    def length_mm(self) -> float:
        """Length of all loops."""
        return math.fsum(one.contour.length_mm for one in self.every())

    def moved(self, by_mm: tuple[float, float]) -> NestedLoop:
        """Return the loops at another place."""
        return NestedLoop(
            contour=self.contour.transformed(shift_mm=by_mm),
            step_mm=self.step_mm,
            inner=tuple(one.moved(by_mm) for one in self.inner),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Pitch:
    """How far apart loops may be for a disc of one radius.

    Attributes
    ----------
    radius_mm : float
        Of the disc.
    wide_mm : float
        Between loops where nothing is left at it; above the radius, below twice it.
    close_mm : float
        Between loops elsewhere; below the radius.

    Raises
    ------
    InputError
        Code ``pitch-value``.
    """

    radius_mm: float
    wide_mm: float
    close_mm: float

    def __post_init__(self) -> None:
        if not 0 < self.close_mm < self.radius_mm < self.wide_mm < 2 * self.radius_mm:
            raise InputError(
                f"loops {self.wide_mm:.4g} mm apart, and {self.close_mm:.4g} mm where that leaves "
                f"something, do not suit a kerf of {2 * self.radius_mm:.4g} mm",
                code="pitch-value",
                remedy="Take the wide pitch between one and two kerf radii, the close one below "
                "one.",
            )

    @classmethod
    def of_kerf(cls, radius_mm: float, *, overlap_share: float, least_share: float) -> Pitch:
        """Return the pitch for shares of the kerf's width that neighbouring loops overlap by.

        Parameters
        ----------
        radius_mm : float
            Half the kerf's width.
        overlap_share : float
            Of the width, on straight and smooth stretches; below a half.
        least_share : float
            Of the width, everywhere.

        Examples
        --------
        >>> pitch = Pitch.of_kerf(0.2, overlap_share=0.25, least_share=0.05)
        >>> round(pitch.wide_mm, 6), round(pitch.close_mm, 6)
        (0.3, 0.18)
        """
        width = 2 * radius_mm
        return cls(
            radius_mm=radius_mm,
            wide_mm=width * (1 - overlap_share),
            close_mm=radius_mm - width * least_share,
        )

    @property
    def least_half_angle_rad(self) -> float:
        """Half the sharpest corner in which loops at the wide pitch leave nothing."""
        return math.asin((self.wide_mm - self.close_mm) / self.close_mm)


def nested_loops(outermost: Contour, *, pitch: Pitch) -> NestedLoop:
    """Return loops inside a contour, along which a disc leaves nothing of its inside.

    Every point inside is nearer than ``radius_mm`` to a loop; it is nearer than ``close_mm``, so
    that neighbouring kerfs overlap.

    Parameters
    ----------
    outermost : Contour
        Closed, travelled with its inside on the right, as an opening's wire path is.
    pitch : Pitch

    Raises
    ------
    InputError
        Code ``loop-sense`` if the inside lies on the left.

    Examples
    --------
    >>> path = Contour.circle((0.0, 0.0), radius_mm=1.0).reversed()
    >>> pitch = Pitch.of_kerf(0.2, overlap_share=0.25, least_share=0.05)
    >>> loops = nested_loops(path, pitch=pitch)
    >>> [round(one.contour.bounds_mm[2], 6) for one in loops.every()]
    [1.0, 0.7, 0.4, 0.1]
    """
    if not outermost.area_mm2 < 0:
        raise InputError(
            "the loop has its inside on its left; an opening's path has it on its right",
            code="loop-sense",
        )
    found = _nested(outermost, 0.0, pitch, _MOST_DEEP)
    if _has_changed(found, pitch) and not _leaves_nothing(found, pitch):
        # Three chambers about a hub may pass the look at edges alone; close loops always do.
        found = _all_close(outermost, 0.0, pitch)
    return found


def _nested(loop: Contour, step_mm: float, pitch: Pitch, deep: int) -> NestedLoop:
    assert deep > 0, "loops do not come to an end"
    steady = _steady(loop, pitch)
    if steady:
        # From the innermost of them on it is looked at anew; then outwards again.
        found = _nested(steady[-1], pitch.wide_mm, pitch, deep - 1)
        for one in steady[-2::-1]:
            found = NestedLoop(contour=one, step_mm=pitch.wide_mm, inner=(found,))
        return NestedLoop(contour=loop, step_mm=step_mm, inner=(found,))
    inner = [_nested(one, step, pitch, deep - 1) for one, step in _next(loop, pitch)]
    return NestedLoop(contour=loop, step_mm=step_mm, inner=tuple(inner))


def _steady(loop: Contour, pitch: Pitch) -> list[Contour]:
    """Return as many loops a wide pitch apart as keep all segments of a loop, outermost first.

    Corners of such loops run along straight lines, and so do smooth joints: of all that lie
    between a loop and one inside it that keeps its shape, no vertex need be sought.
    """
    if not _is_open(loop, pitch):
        return []
    low, best = 0, loop
    # Of a circle and a regular polygon twice the area over the length is the depth itself.
    likely = min(_deepest(loop), 2 * abs(loop.area_mm2) / loop.length_mm)
    trial = math.ceil(likely / pitch.wide_mm) - 1
    high = trial + 1
    while low < trial < high:
        found = _inset(loop, trial * pitch.wide_mm)
        if len(found) == 1 and _keeps_shape(loop, found[0]):
            low, best = trial, _in_order(found[0])
        else:
            high = trial
        trial = (low + high) // 2
    shares = np.arange(1, low + 1) / max(low, 1)
    change = best.vertices - loop.vertices
    # An arc that keeps its ends smooth keeps its sweep.
    change[:, 2] = 0.0
    return [Contour(loop.vertices + share * change) for share in shares]


def _in_order(inset: OffsetLoop) -> Contour:
    """Return an inset that begins with the segment beside its loop's first."""
    first = int(np.argmin(inset.source))
    return Contour(rolled(inset.contour.vertices, -first))


def _all_close(loop: Contour, step_mm: float, pitch: Pitch) -> NestedLoop:
    """Return loops at the close pitch throughout."""
    inner = _inset(loop, pitch.close_mm) if _deepest(loop) > pitch.close_mm else []
    return NestedLoop(
        contour=loop,
        step_mm=step_mm,
        inner=tuple(_all_close(one.contour, pitch.close_mm, pitch) for one in inner),
    )


def _has_changed(loops: NestedLoop, pitch: Pitch) -> bool:
    """Return whether a loop lies a wide pitch inside one of another shape.

    Where loops keep their shape, and where they are close, nothing is left whatever the shape.
    """
    return any(
        inner.step_mm == pitch.wide_mm
        and (len(one.inner) > 1 or len(inner.contour) != len(one.contour))
        for one in loops.every()
        for inner in one.inner
    )


def _leaves_nothing(loops: NestedLoop, pitch: Pitch) -> bool:
    """Return whether discs along all loops cover what is inside the outermost, by polygons."""
    radius = (pitch.radius_mm + pitch.close_mm) / 2
    rings = [flattened(one.contour, chord_error_mm=_CHORD_MM) for one in loops.every()]
    kerfs = shapely.buffer(
        [shapely.linearrings(ring) for ring in rings], radius, quad_segs=_QUARTER_CHORDS
    )
    left = shapely.difference(shapely.Polygon(rings[0]), shapely.union_all(kerfs))
    return bool(left.area <= _CHORD_MM * _CHORD_MM)


def _next(loop: Contour, pitch: Pitch) -> list[tuple[Contour, float]]:
    """Return the loops next inside one, each with its distance from it."""
    deepest = _deepest(loop)
    if deepest <= pitch.close_mm:
        return []
    # What the disc leaves along this loop, island by island.
    spacing = pitch.radius_mm * _LOOK_SHARE
    found: list[tuple[Contour, float]] = []
    for island in _inset(loop, pitch.close_mm):
        beyond = (
            _inset(island.contour, pitch.wide_mm - pitch.close_mm)
            if deepest > pitch.wide_mm
            else []
        )
        contours = [one.contour for one in beyond]
        if contours and _farthest_mm(island.contour, contours, spacing) <= pitch.close_mm:
            found += [(one, pitch.wide_mm) for one in contours]
        else:
            found.append((island.contour, pitch.close_mm))
    return found


def _inset(loop: Contour, by_mm: float) -> list[OffsetLoop]:
    """Return the loops inside a loop at a distance."""
    if _is_circle(loop):
        (x, y), radius = loop.segments.centre[0], float(loop.segments.radius[0])
        if radius <= by_mm:
            return []
        circle = Contour.circle((float(x), float(y)), radius_mm=radius - by_mm).reversed()
        return [OffsetLoop(contour=circle, source=np.arange(len(circle)))]
    return list(offset_contour(loop, distance_mm=-by_mm).loops)


def _is_circle(loop: Contour) -> bool:
    s = loop.segments
    return bool(s.is_arc.all()) and float(np.ptp(s.centre, axis=0).max()) == 0


def _deepest(loop: Contour) -> float:
    """Return a bound on how deep any point inside a loop lies."""
    x0, y0, x1, y1 = loop.bounds_mm
    return min(x1 - x0, y1 - y0, 2 * math.sqrt(abs(loop.area_mm2) / math.pi)) / 2


def _keeps_shape(loop: Contour, inset: OffsetLoop) -> bool:
    """Return whether an inset has all segments of its loop, in order: it runs beside all of it."""
    # A rolled corner has a negative source: its surroundings are looked at in the other way.
    first = rolled(inset.source, -int(np.argmin(inset.source)))
    return bool(np.array_equal(first, np.arange(len(loop))))


def _is_open(loop: Contour, pitch: Pitch) -> bool:
    """Return whether wide loops leave nothing in any corner of the inside.

    Beside an arc the angle of a corner changes from loop to loop: there only smooth joints count.
    """
    s = loop.segments
    heading, onward = s.end_tangent, rolled(s.start_tangent, -1)
    turn = np.arctan2(cross(heading, onward), (heading * onward).sum(axis=1))
    # The inside lies on the right: a corner of the inside turns right.
    half_angle = (math.pi - np.maximum(-turn, 0.0)) / 2
    is_curved = s.is_arc | rolled(s.is_arc, -1)
    is_smooth = np.abs(turn) < _SMOOTH_RAD
    is_open = np.where(is_curved, is_smooth, half_angle >= pitch.least_half_angle_rad)
    return bool(is_open.all())


def _farthest_mm(island: Contour, loops: list[Contour], spacing_mm: float) -> float:
    """Return a bound on how far any point inside an island lies from loops inside it.

    Away from the loops the distance grows towards the island's edge.  It changes by no more than
    the way walked, so between two places `s` apart it is at most half of the sum of theirs and
    `s`.
    """
    s = island.segments
    count = np.maximum(np.ceil(s.length / spacing_mm), 1).astype(np.intp)
    which = np.repeat(np.arange(len(s)), count)
    place = np.arange(len(which)) - (np.cumsum(count) - count)[which]
    points = s.points_at(which, place / count[which])
    every = Segments.joined([one.segments for one in loops])
    here, _ = NearestIndex(every).query(points)
    after = rolled(here, -1)
    return float(((here + after + (s.length / count)[which]) / 2).max())
