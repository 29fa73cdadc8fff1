"""The wall that a program leaves against the wall of the drawing, place by place.

The verdict keeps the worst of each contour; this keeps everything that was measured, for looking
at.  A deviation is exact at its points, which are those of :mod:`kerfwright.proof.sweep` and, so
that arcs can be drawn, points along each arc.  Where the wire centre crosses the wall or runs in
the part, a deviation ends at the kerf radius: the verdict measures how much deeper it is.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from kerfwright.geometry.segments import Flags, Floats, Indices, Segments
from kerfwright.proof.passes import UM_PER_MM, PassRun, Spots, Worst, joined_spots
from kerfwright.proof.records import Claim
from kerfwright.proof.stock import judge_stock
from kerfwright.proof.track import Track
from kerfwright.proof.wall import Wall

_DRAWN_MM: Final = 0.002
"""Chords of the wall stay this near to it: below a pixel at any zoom that helps."""
_MOST_CHORDS: Final = 400
_ALL: Final = -1.0
"""Threshold below every distance: places where a kerf is nearest count like the farthest."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WorstPlace:
    """One of the places of a contour that are farthest from the drawing.

    Attributes
    ----------
    contour_id : str
    x_mm, y_mm : float
        On the wall as drawn.
    deviation_um : float
        Positive where stock is left, negative where the kerf went too deep.
    is_out_of_reach : bool
        Whether no wire of this kerf gets there.
    pass_number : int
        The pass that came nearest.
    line : int
        Line of its program that did.
    """

    contour_id: str
    x_mm: float
    y_mm: float
    deviation_um: float
    is_out_of_reach: bool
    pass_number: int
    line: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DeviationMap:
    """What every contour is off by, along the wall.

    Attributes
    ----------
    contour_ids : tuple of str
        All contours of the claim, in its order.
    first : (contours + 1,) int
        First point of each contour, with the total count at the end.
    points_mm : (n, 2) float
        Points of the wall as drawn, in order of travel.
    normals : (n, 2) float
        Unit normals into the free side.
    deviation_um : (n,) float
        Positive where stock is left, negative where the kerf went too deep; nan on a contour that
        is not cut.
    is_out_of_reach : (n,) bool
        Where no wire of this kerf gets.
    worst : tuple of WorstPlace
        Of each contour the deepest gouge, the most stock left, and the worst place out of reach;
        the largest first.
    """

    contour_ids: tuple[str, ...]
    first: Indices
    points_mm: Floats
    normals: Floats
    deviation_um: Floats
    is_out_of_reach: Flags
    worst: tuple[WorstPlace, ...]


def deviation_map(
    track: Track, wall: Wall, claim: Claim, runs: tuple[PassRun, ...]
) -> DeviationMap:
    """Measure the wall that is left, along every contour.

    Parameters
    ----------
    track : Track
    wall : Wall
    claim : Claim
    runs : tuple of PassRun
        Of that track.
    """
    spots = _spots(wall, runs)
    stock = np.full(len(spots), np.inf)
    pass_of = np.full(len(spots), -1, dtype=np.intp)
    for place, run in enumerate(runs):
        left = run.sweep.distances(spots.index, spots.points_mm) - run.radius_mm
        better = left < stock
        stock[better], pass_of[better] = left[better], place
    forced, _, _ = judge_stock(wall, claim, runs, spots, stock, pass_of, Worst(wall))
    deviation = np.where(np.isfinite(stock), stock, np.nan) * UM_PER_MM
    contour = wall.contour_of[spots.index]
    return DeviationMap(
        contour_ids=tuple(part.id for part in wall.contours),
        first=np.searchsorted(contour, np.arange(len(wall.contours) + 1)),
        points_mm=spots.points_mm,
        normals=wall.free_normals(spots.index, spots.fraction),
        deviation_um=deviation,
        is_out_of_reach=forced,
        worst=_worst(track, wall, runs, spots, deviation, forced, pass_of),
    )


def _spots(wall: Wall, runs: tuple[PassRun, ...]) -> Spots:
    """Return the points to measure in order of travel: ends, middles, extremes, arcs' chords."""
    segments = wall.segments
    n = len(segments)
    plain_index = np.tile(np.arange(n), 3)
    plain = np.repeat([0.0, 0.5, 1.0], n)
    arcs_index, arcs = _along_arcs(segments)
    further = [run.sweep.further_stations(_ALL) for run in runs]
    index = np.concatenate([plain_index, arcs_index, *(i for i, _ in further)])
    fraction = np.concatenate([plain, arcs, *(f for _, f in further)])
    order = np.lexsort((fraction, index))
    index, fraction = index[order], fraction[order]
    is_new = np.ones(len(index), dtype=bool)
    is_new[1:] = (np.diff(index) != 0) | (np.diff(fraction) > 0)
    index, fraction = index[is_new], fraction[is_new]
    points = segments.points_at(index, fraction)
    return joined_spots([Spots(index=index, fraction=fraction, points_mm=points)])


def _along_arcs(segments: Segments) -> tuple[Indices, Floats]:
    """Return points within arcs, so that their chords stay near: ``s = R (1 - cos(step / 2))``."""
    arcs = np.flatnonzero(segments.is_arc)
    radius = np.maximum(segments.radius[arcs], _DRAWN_MM)
    step = np.maximum(2 * np.arccos(1 - _DRAWN_MM / radius), np.pi / _MOST_CHORDS)
    count = np.ceil(np.abs(segments.sweep[arcs]) / step).astype(np.intp)
    inner = np.maximum(count - 1, 0)
    which = np.repeat(np.arange(len(arcs)), inner)
    first = np.cumsum(inner) - inner
    fraction = (np.arange(len(which)) - first[which] + 1) / count[which]
    return arcs[which], fraction


def _worst(
    track: Track,
    wall: Wall,
    runs: tuple[PassRun, ...],
    spots: Spots,
    deviation_um: Floats,
    forced: Flags,
    pass_of: Indices,
) -> tuple[WorstPlace, ...]:
    contour = wall.contour_of[spots.index]
    known = np.isfinite(deviation_um)
    rows: list[int] = []
    for k in range(len(wall.contours)):
        mine = contour == k
        for chosen in (mine & known & ~forced, mine & known & forced):
            found = np.flatnonzero(chosen)
            if len(found):
                extremes = {int(found[np.argmax(deviation_um[found])])}
                if not forced[found[0]]:
                    extremes.add(int(found[np.argmin(deviation_um[found])]))
                rows += sorted(extremes)
    rows.sort(key=lambda row: -abs(deviation_um[row]))
    places = []
    for row in rows:
        run = runs[pass_of[row]]
        _, nearest = run.sweep.index.query(spots.points_mm[row : row + 1])
        places.append(
            WorstPlace(
                contour_id=wall.contours[contour[row]].id,
                x_mm=float(spots.points_mm[row, 0]),
                y_mm=float(spots.points_mm[row, 1]),
                deviation_um=float(deviation_um[row]),
                is_out_of_reach=bool(forced[row]),
                pass_number=run.number,
                line=int(track.line[run.elements[nearest[0]]]),
            )
        )
    return tuple(places)
