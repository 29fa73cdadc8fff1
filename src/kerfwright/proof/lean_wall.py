"""The leaning wire's cylinder against the wanted wall, height by height.

At each height the distance in space of spots of the wall from the nearest position of the axis is
compared with the offset of the pass: nearer is a gouge, farther is stock left.  That is the
deviation normal to the wall.  Spots lie on every piece, close to its ends and beside every end of
a move; heights are added where the worst deviation differs between neighbouring ones.

What is left in a corner is allowed only where no wire with the wall's own ruling could stand: it
would cut another part of the wall by more than half of what is left.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely

from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.geometry.segments import Flags, Floats, Indices
from kerfwright.nc.timeline import Timeline
from kerfwright.proof.lean_axis import AxisMoves, axis_moves, distances
from kerfwright.proof.lean_wanted import WallSpots, Wanted
from kerfwright.proof.records import Claim, Deviation, HeightDeviation, Unreachable
from kerfwright.trade.part import PartContour, Role

UM_PER_MM = 1e3
LEVELS = 5
"""Heights at which every pass is looked at first."""
_MOST_LEVELS = 33
_SHORT_MM = 0.02
"""Of a shorter move both ends are looked at, and no place between them."""
_UNEVEN = 0.25
"""Heights are added between two whose worst deviations differ by this share of the tolerance."""
_BEYOND_MM = 0.05
"""How far beyond its offset a path is followed; stock above that reads as this much."""
_BLOCKED_SHARE = 0.5
_INSIDE_MM = 0.005
"""A wire centre this far inside the part is on the wrong side, not a matter of digits."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LeaningContour:
    """One leaning contour with its wanted wall.

    Attributes
    ----------
    part : PartContour
    wanted : Wanted
    tolerance_mm : float
        Largest deviation that passes.
    stands_mm : (float, float)
        Heights between which it is the wall of the part; beyond them only its cuts run along it.
    """

    part: PartContour
    wanted: Wanted
    tolerance_mm: float
    stands_mm: tuple[float, float]


@dataclass(slots=True, kw_only=True)
class _Seen:
    """What one pass leaves at one height."""

    height_mm: float
    near_mm: float = 0.0
    near_at: tuple[float, float] = (0.0, 0.0)
    left_mm: float = 0.0
    left_at: tuple[float, float] = (0.0, 0.0)
    forced_mm: float = 0.0
    forced_at: tuple[float, float] = (0.0, 0.0)
    forced_count: int = 0
    mean_mm: float = 0.0
    spots: int = 0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WallJudgement:
    """All leaning walls judged.

    Attributes
    ----------
    deviations : tuple of Deviation
    unreachable : tuple of Unreachable
    findings : tuple of Finding
    heights_mm : tuple of float
        All heights looked at.
    by_height : tuple of HeightDeviation
        Where each wall stands, after its last pass.
    samples : int
    """

    deviations: tuple[Deviation, ...]
    unreachable: tuple[Unreachable, ...]
    findings: tuple[Finding, ...]
    heights_mm: tuple[float, ...]
    by_height: tuple[HeightDeviation, ...]
    samples: int


def judge_walls(
    timeline: Timeline, claim: Claim, contours: Sequence[LeaningContour]
) -> WallJudgement:
    """Compare every pass of every leaning contour with its wanted wall.

    Parameters
    ----------
    timeline : Timeline
    claim : Claim
    contours : sequence of LeaningContour
    """
    findings: list[Finding] = []
    deviations: list[Deviation] = []
    unreachable: list[Unreachable] = []
    by_height: list[HeightDeviation] = []
    heights: set[float] = set()
    samples = 0
    for one in contours:
        last: list[_Seen] = []
        for number in claim.passes_of(one.part.id):
            moves = moves_of(timeline, one.part.id, number)
            if not len(moves):
                continue
            axis = axis_moves(timeline, moves)
            findings += _wrong_side(timeline, axis, one, claim, number)
            seen = _of_pass(axis, one, claim, offset_of(timeline, claim, one, number))
            findings += _pass_findings(seen, one, claim, number)
            heights |= {s.height_mm for s in seen}
            samples += sum(s.spots for s in seen)
            last = seen
        low, high = one.stands_mm
        last = [s for s in last if low <= s.height_mm <= high]
        if last:
            deviations.append(_deviation(one, last))
            unreachable += _unreachable(one, last)
            by_height += [_at(one, seen) for seen in last]
    return WallJudgement(
        deviations=tuple(deviations),
        unreachable=tuple(unreachable),
        findings=tuple(findings),
        heights_mm=tuple(sorted(heights)),
        by_height=tuple(by_height),
        samples=samples,
    )


def _at(one: LeaningContour, seen: _Seen) -> HeightDeviation:
    return HeightDeviation(
        contour_id=one.part.id,
        height_mm=seen.height_mm,
        max_gouge_um=seen.near_mm * UM_PER_MM,
        max_leftover_um=seen.left_mm * UM_PER_MM,
    )


def moves_of(timeline: Timeline, contour_id: str, number: int | None = None) -> Indices:
    """Return the cutting moves under the headers of a contour, of one pass or of all."""
    rows = [
        np.arange(h.first_move, h.end_move)
        for h in timeline.headers
        if h.contour_id == contour_id and number in {None, h.pass_number}
    ]
    every = np.concatenate([np.zeros(0, dtype=np.intp), *rows])
    cutting: Indices = every[timeline.is_rapid[every] == 0]
    return cutting


def offset_of(timeline: Timeline, claim: Claim, one: LeaningContour, number: int) -> float:
    """Return how far the axis is to stand off the wall in a pass, mm."""
    stated = [
        h.offset_mm
        for h in timeline.headers
        if h.contour_id == one.part.id and h.pass_number == number
    ]
    return claim.offset_mm.get((one.part.id, number), max(stated, default=0.0))


def _of_pass(axis: AxisMoves, one: LeaningContour, claim: Claim, offset_mm: float) -> list[_Seen]:
    even = np.linspace(0.0, claim.height_mm, LEVELS).tolist()
    levels = sorted({*even, *one.stands_mm})
    seen = {z: _at_height(axis, one, claim, z, offset_mm) for z in levels}
    while len(seen) < _MOST_LEVELS:
        order = sorted(seen)
        added = [
            (a + b) / 2
            for a, b in pairwise(order)
            if _differ(seen[a], seen[b], one.tolerance_mm)
            and b - a > claim.height_mm / (_MOST_LEVELS - 1) * 1.5
        ]
        if not added:
            break
        for z in added:
            seen[z] = _at_height(axis, one, claim, z, offset_mm)
    return [seen[z] for z in sorted(seen)]


def _differ(a: _Seen, b: _Seen, tolerance_mm: float) -> bool:
    limit = _UNEVEN * tolerance_mm
    return abs(a.near_mm - b.near_mm) > limit or abs(a.left_mm - b.left_mm) > limit


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HeightLook:
    """A wall at one height beside the axis of one pass.

    Attributes
    ----------
    spots : WallSpots
    away_mm : (m,) float
        Distance in space of each from the axis, no more than the offset and 50 µm.
    is_forced : (m,) bool
        Where no wire with the wall's own ruling could take what is left.
    beside : (k, 2) float
        Further places of the wall beside the ends and middles of moves, for gouges.
    near_mm : (k,) float
        Their distances.
    """

    spots: WallSpots
    away_mm: Floats
    is_forced: Flags
    beside: Floats
    near_mm: Floats


def look_at(
    axis: AxisMoves, one: LeaningContour, claim: Claim, height_mm: float, offset_mm: float
) -> HeightLook:
    """Return the distances of a wall from the axis at one height.

    Parameters
    ----------
    axis : AxisMoves
        Of one pass.
    one : LeaningContour
    claim : Claim
    height_mm, offset_mm : float
    """
    spots = one.wanted.spots(height_mm)
    within = offset_mm + _BEYOND_MM
    begin, end = axis.at(height_mm)
    # A move that begins where the one before ended is not looked at there twice.
    begins = np.append(True, (begin[1:] != end[:-1]).any(axis=1))
    is_long = np.hypot(*(end - begin).T) > _SHORT_MM
    looked = np.vstack([begin[begins], end, (begin + end)[is_long] / 2])
    beside = one.wanted.beside(looked, height_mm)
    every = np.vstack([spots.points, beside])
    found = distances(axis, every, height_mm, within_mm=within)
    away, near = found[: len(spots)], found[len(spots) :]
    left = away - offset_mm
    rows = np.flatnonzero(left > one.tolerance_mm)
    is_forced = np.zeros(len(spots), dtype=bool)
    is_forced[rows] = _forced(one, claim, spots, rows, left[rows], height_mm, offset_mm)
    return HeightLook(spots=spots, away_mm=away, is_forced=is_forced, beside=beside, near_mm=near)


def _at_height(
    axis: AxisMoves, one: LeaningContour, claim: Claim, height_mm: float, offset_mm: float
) -> _Seen:
    look = look_at(axis, one, claim, height_mm, offset_mm)
    spots, beside, away, near = look.spots, look.beside, look.away_mm, look.near_mm
    seen = _Seen(height_mm=height_mm, spots=len(spots) + len(beside))
    for points, distance in ((spots.points, away), (beside, near)):
        if not len(points):
            # Beside a contour of nothing but close corners no further place is looked at.
            continue
        k = int(np.argmin(distance))
        if offset_mm - distance[k] > seen.near_mm:
            seen.near_mm = float(offset_mm - distance[k])
            seen.near_at = (float(points[k, 0]), float(points[k, 1]))
    left, free = away - offset_mm, ~look.is_forced
    if look.is_forced.any():
        rows = np.flatnonzero(look.is_forced)
        k = int(rows[np.argmax(left[rows])])
        seen.forced_mm = float(left[k])
        seen.forced_at = (float(spots.points[k, 0]), float(spots.points[k, 1]))
        seen.forced_count = len(rows)
    if free.any():
        k = int(np.flatnonzero(free)[np.argmax(left[free])])
        seen.left_mm = max(float(left[k]), 0.0)
        seen.left_at = (float(spots.points[k, 0]), float(spots.points[k, 1]))
        seen.mean_mm = float(left[free].mean())
    return seen


def _forced(
    one: LeaningContour,
    claim: Claim,
    spots: WallSpots,
    rows: Indices,
    left_mm: Floats,
    height_mm: float,
    offset_mm: float,
) -> Flags:
    """Return of which spots no wire with the wall's own ruling could take the stock."""
    result = np.zeros(len(rows), dtype=bool)
    if not len(rows):
        return result
    normal, aside = spots.normals[rows], spots.aside[rows]
    rise = -(normal * aside).sum(axis=1)
    size = np.sqrt(1.0 + rise * rise)
    # The axis stands off along the normal in space and runs along the ruling.
    through = spots.points[rows] + offset_mm * (normal - aside * rise[:, None]) / size[:, None]
    low = through - aside * height_mm
    for z in np.linspace(0.0, claim.height_mm, LEVELS):
        other, tree = one.wanted.spots(float(z)).points, one.wanted.tree(float(z))
        centre = low + aside * z
        steep = float(np.sqrt(1.0 + (aside * aside).sum(axis=1).max()))
        who, which = tree.query(
            shapely.points(centre), predicate="dwithin", distance=offset_mm * steep
        )
        w, m = other[which] - centre[who], aside[who]
        scale = 1.0 / (1.0 + (m * m).sum(axis=1))
        near = np.sqrt(np.maximum((w * w).sum(axis=1) - (w * m).sum(axis=1) ** 2 * scale, 0.0))
        cut = np.zeros(len(rows))
        np.maximum.at(cut, who, offset_mm - near)
        result |= cut > _BLOCKED_SHARE * left_mm
    return result


def _wrong_side(
    timeline: Timeline, axis: AxisMoves, one: LeaningContour, claim: Claim, number: int
) -> Iterator[Finding]:
    """Yield a refusal where the axis runs inside the part."""
    for z in np.linspace(0.0, claim.height_mm, LEVELS):
        polygon = one.wanted.polygon(float(z)).buffer(0)
        shapely.prepare(polygon)
        _, end = axis.at(float(z))
        inside = shapely.contains_xy(polygon, end[:, 0], end[:, 1])
        wrong = inside if one.part.role is Role.OUTLINE else ~inside
        if not wrong.any():
            continue
        edge = np.zeros(len(end))
        edge[wrong] = _edge_mm(polygon, end[wrong])
        k = int(np.argmax(edge))
        if edge[k] > _INSIDE_MM:
            yield _finding(
                "path-in-part",
                f"pass {number} runs {edge[k]:.4f} mm inside the part at contour {one.part.id}, "
                f"{z:.3f} mm up",
                one,
                number,
                (float(end[k, 0]), float(end[k, 1])),
                line=int(timeline.line[axis.move[k]]),
                remedy="check the sign of the taper, the planes and the side of the offset",
                depth_mm=float(edge[k]),
                height_mm=float(z),
            )
            return


def _edge_mm(area: shapely.Geometry, points: Floats) -> Floats:
    """Return how far points are from the edge of an area."""
    rings = [shapely.get_coordinates(r) for r in shapely.get_rings(shapely.get_parts(area))]
    sides = [np.stack([ring[:-1], ring[1:]], axis=1) for ring in rings]
    tree = shapely.STRtree(shapely.linestrings(np.concatenate(sides)))
    _, away = tree.query_nearest(shapely.points(points), return_distance=True, all_matches=False)
    found: Floats = away
    return found


def _pass_findings(
    seen: Sequence[_Seen], one: LeaningContour, claim: Claim, number: int
) -> Iterator[Finding]:
    near = max(seen, key=lambda s: s.near_mm)
    left = max(seen, key=lambda s: s.left_mm)
    is_last = number == claim.passes_of(one.part.id)[-1]
    if near.near_mm > one.tolerance_mm:
        depth_um = near.near_mm * UM_PER_MM
        what = "cuts" if is_last else "comes nearer than its offset by"
        into = f" into contour {one.part.id}" if is_last else f" at contour {one.part.id}"
        yield _finding(
            "gouge" if is_last else "stock-taken",
            f"pass {number} {what} {depth_um:.1f} µm{into}, {near.height_mm:.3f} mm up",
            one,
            number,
            near.near_at,
            remedy="keep the wire off the wall by its offset, normal to the wall, at every height",
            depth_um=depth_um,
            height_mm=near.height_mm,
        )
    if left.left_mm > one.tolerance_mm:
        left_um = left.left_mm * UM_PER_MM
        more = " or more" if left.left_mm >= _BEYOND_MM - one.tolerance_mm else ""
        yield _finding(
            "uncut-wall" if is_last else "off-path",
            f"pass {number} leaves {left_um:.1f} µm{more} beyond its offset on contour "
            f"{one.part.id}, {left.height_mm:.3f} mm up, where the wire could reach",
            one,
            number,
            left.left_at,
            remedy="lead the wire along the wall at its offset, at every height",
            leftover_um=left_um,
            height_mm=left.height_mm,
        )


def _finding(
    code: str,
    message: str,
    one: LeaningContour,
    number: int,
    place: tuple[float, float],
    *,
    line: int | None = None,
    remedy: str,
    **data: float,
) -> Finding:
    return Finding(
        code=code,
        severity=Severity.REFUSAL,
        message=message,
        where=Place(
            contour_id=one.part.id,
            pass_number=number,
            x_mm=place[0],
            y_mm=place[1],
            line=line,
        ),
        remedy=remedy,
        data=data,
    )


def _deviation(one: LeaningContour, seen: Sequence[_Seen]) -> Deviation:
    near = max(seen, key=lambda s: s.near_mm)
    left = max(seen, key=lambda s: s.left_mm)
    return Deviation(
        contour_id=one.part.id,
        max_gouge_um=near.near_mm * UM_PER_MM,
        max_leftover_um=left.left_mm * UM_PER_MM,
        gouge_at_mm=near.near_at if near.near_mm > 0 else None,
        leftover_at_mm=left.left_at if left.left_mm > 0 else None,
        mean_um=float(np.mean([s.mean_mm for s in seen])) * UM_PER_MM,
    )


def _unreachable(one: LeaningContour, seen: Sequence[_Seen]) -> Iterator[Unreachable]:
    """Yield the worst place of stock that no wire reaches; its length is not measured."""
    worst = max(seen, key=lambda s: s.forced_mm)
    if worst.forced_count:
        yield Unreachable(
            contour_id=one.part.id,
            x_mm=worst.forced_at[0],
            y_mm=worst.forced_at[1],
            leftover_um=worst.forced_mm * UM_PER_MM,
            length_mm=0.0,
        )
