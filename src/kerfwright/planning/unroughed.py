"""Dead ends that the rough pass does not fit and a later pass would enter, through full metal.

An offset leaves out a slot narrower than twice its distance; the smaller offset of a skim goes in.
A skim has power and feed for a thin layer: in full metal its wire stalls, shorts or parts.  In the
tip of a sharp corner every pass goes further than the one before, by the difference of their
offsets over the sine of half the angle; there the metal is a tip, and wires take it every day.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely

from kerfwright.foundation.counts import counted
from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.nearest import NearestIndex
from kerfwright.geometry.offset import OffsetLoop
from kerfwright.geometry.regions import flattened, largest_inscribed_circle
from kerfwright.geometry.segments import Floats, Indices
from kerfwright.process.technology import PassChoice
from kerfwright.trade.part import PartContour

SLOT_NOT_ROUGHED: Final = "slot-not-roughed"
_MOST_KERFS: Final = 1.0
"""Widths of the rough kerf that a skim may go through full metal (common practice, no source)."""
_SAID_KERFS: Final = 0.25
"""Less is said of no tip (common practice, no source)."""
_CHORD_MM: Final = 1e-3
_WITHIN_MM: Final = 1e-3
"""Exactness of the width that a refusal names."""
_UM: Final = 1000.0
_S_PER_MIN: Final = 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Unroughed:
    """Where a later pass goes furthest into metal that no pass before it clears.

    Attributes
    ----------
    pass_number : int
    depth_mm : float
        Of the wire centre, beyond the kerf of every pass before.
    x_mm, y_mm : float
    places : int
        Tips and slots in which a pass does so.
    """

    pass_number: int
    depth_mm: float
    x_mm: float
    y_mm: float
    places: int

    def moved(self, by_mm: tuple[float, float]) -> Unroughed:
        """Return the same of the contour at another place."""
        return Unroughed(
            pass_number=self.pass_number,
            depth_mm=self.depth_mm,
            x_mm=self.x_mm + by_mm[0],
            y_mm=self.y_mm + by_mm[1],
            places=self.places,
        )


def kerf_radii_mm(choice: PassChoice) -> tuple[float, ...]:
    """Return how far each pass clears metal from its wire centre, mm."""
    return tuple(choice.wire.radius_mm + one.gap_um / _UM for one in choice.passes)


def is_too_deep(found: Unroughed, choice: PassChoice) -> bool:
    """Return whether a skim cannot go so far through full metal."""
    return found.depth_mm > _MOST_KERFS * 2 * kerf_radii_mm(choice)[0]


def find_unroughed(loops: Sequence[OffsetLoop], radii_mm: Sequence[float]) -> Unroughed | None:
    """Return where a later pass goes furthest into full metal.

    None where none does by more than a quarter of the width of the rough kerf.

    Looked at are the ends and middles of the segments of its path: the path leaves that of the
    pass before at the mouth of a dead end and is furthest from it at its bottom, a corner or arc.

    Parameters
    ----------
    loops : sequence of OffsetLoop
        Path of each pass.
    radii_mm : sequence of float
        How far each clears metal.
    """
    worst: Unroughed | None = None
    least_mm = _SAID_KERFS * 2 * radii_mm[0]
    for number in range(1, len(loops)):
        s = loops[number].contour.segments
        every = np.arange(len(s))
        points = np.concatenate([s.start, s.points_at(every, np.full(len(s), 0.5))])
        depth = np.full(len(points), np.inf)
        for before in range(number):
            ahead = np.flatnonzero(depth > 0)
            if not len(ahead):
                break
            radius = radii_mm[before]
            beside = _beside(loops[before], loops[number].source, points, ahead, radius)
            depth[ahead] = np.minimum(depth[ahead], beside - radius)
        deep = np.flatnonzero(depth > 0)
        if not len(deep):
            continue
        exact = np.full(len(deep), np.inf)
        for before in range(number):
            away, _ = NearestIndex(loops[before].contour.segments).query(points[deep])
            exact = np.minimum(exact, away - radii_mm[before])
        row = int(np.argmax(exact))
        if exact[row] > (least_mm if worst is None else worst.depth_mm):
            worst = Unroughed(
                pass_number=number + 1,
                depth_mm=float(exact[row]),
                x_mm=float(points[deep[row], 0]),
                y_mm=float(points[deep[row], 1]),
                places=_runs(deep[exact > least_mm] % len(s), len(s)),
            )
    return worst


def _beside(
    loop: OffsetLoop, source: Indices, points: Floats, rows: Indices, enough_mm: float
) -> Floats:
    """Return distances of points to what of a loop runs beside the same wall; inf where nothing.

    An upper bound of the distance to the loop, and nearly always the distance where that is more
    than `enough_mm`.
    """
    low = min(int(loop.source.min()), int(source.min()))
    high = max(int(loop.source.max()), int(source.max()))
    asked = source[rows % len(source)] - low
    every = np.arange(len(loop.source))
    found = np.full(len(rows), np.inf)
    # Along one wall a loop may have several segments: its first and its last are asked.
    for order in (every, every[::-1]):
        place = np.full(high - low + 1, -1, dtype=np.intp)
        place[loop.source[order] - low] = order
        at = place[asked]
        same = np.flatnonzero((at >= 0) & (found > enough_mm))
        away = loop.contour.segments.distances(at[same], points[rows[same]])
        found[same] = np.minimum(found[same], away)
    return found


def _runs(segments: Indices, count: int) -> int:
    """Return into how many runs round a loop some of its segments fall."""
    inside = np.zeros(count, dtype=bool)
    inside[segments] = True
    return max(1, int((inside & ~np.roll(inside, 1)).sum()))


def width_mm(missed: Sequence[Contour], found: Unroughed) -> float:
    """Return how wide the dead end is, where it is widest, that the rough pass leaves out.

    Parameters
    ----------
    missed : sequence of Contour
        Regions that the rough pass does not reach.
    found : Unroughed
        In one of them.
    """
    place = shapely.Point(found.x_mm, found.y_mm)
    areas = [shapely.Polygon(flattened(one, chord_error_mm=_CHORD_MM)) for one in missed]
    here = missed[int(np.argmin([area.distance(place) for area in areas]))]
    return 2 * largest_inscribed_circle(here, within_mm=_WITHIN_MM)[2]


def refusal_of(
    target: PartContour, found: Unroughed, choice: PassChoice, *, wide_mm: float
) -> Finding:
    """Return the refusal of a contour with a dead end that a skim would cut from full metal.

    Parameters
    ----------
    target : PartContour
    found : Unroughed
    choice : PassChoice
    wide_mm : float
        Of the dead end, by :func:`width_mm`.
    """
    rough = choice.passes[0]
    needed, most = 2 * rough.offset_mm, _MOST_KERFS * 2 * kerf_radii_mm(choice)[0]
    return Finding(
        code=SLOT_NOT_ROUGHED,
        severity=Severity.REFUSAL,
        message=f"{target.id} has a dead end {wide_mm:.3f} mm wide, and the rough pass needs "
        f"{needed:.3f} mm (wire {choice.wire.diameter_mm:.3f} mm, offset {rough.offset_mm:.4f} "
        f"mm): it stays out. Pass {found.pass_number} would go {found.depth_mm:.2f} mm through "
        f"full metal there; a skim takes at most {most:.2f} mm, the width of the rough kerf "
        "(common practice, no source), before the wire stalls or breaks.",
        where=Place(
            contour_id=target.id,
            x_mm=found.x_mm,
            y_mm=found.y_mm,
            pass_number=found.pass_number,
        ),
        remedy=f"Widen it to more than {needed:.3f} mm, or end it where it is narrower.",
        data={
            "needed_mm": needed,
            "width_mm": wide_mm,
            "depth_mm": found.depth_mm,
            "limit_mm": most,
            "wire_mm": choice.wire.diameter_mm,
        },
    )


def warning_of(target: PartContour, found: Unroughed, choice: PassChoice) -> Finding:
    """Return what is said of tips that a skim cuts from full metal, not too far.

    Parameters
    ----------
    target : PartContour
    found : Unroughed
    choice : PassChoice
    """
    most = _MOST_KERFS * 2 * kerf_radii_mm(choice)[0]
    slow_s = found.depth_mm / choice.passes[0].feed_mm_per_min * _S_PER_MIN
    tips = counted(found.places, "tip")
    return Finding(
        code="skim-through-tip",
        severity=Severity.WARNING,
        message=f"Pass {found.pass_number} goes up to {found.depth_mm:.2f} mm through full metal "
        f"in {tips} of {target.id} that the rough pass does not reach; up to {most:.2f} mm, the "
        "width of the rough kerf, is usual in sharp corners (common practice, no source). Its "
        f"feed is that of a thin layer, and the time does not count some {max(slow_s, 1):.0f} s "
        "at each.",
        where=Place(
            contour_id=target.id,
            x_mm=found.x_mm,
            y_mm=found.y_mm,
            pass_number=found.pass_number,
        ),
        remedy="Let the gap control slow down there, and watch the wire at the first one; a round "
        "or wider tip, or a thinner wire, leaves less.",
        data={"depth_mm": found.depth_mm, "limit_mm": most, "places": float(found.places)},
    )
