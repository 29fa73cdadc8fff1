"""The order of cuts: all roughs, attended cut-offs, skims; shortest way between starts."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

from kerfwright.foundation.units import mass_text
from kerfwright.geometry.segments import Floats, Indices
from kerfwright.planning.plan import (
    ContourPlan,
    Operation,
    OperationKind,
    RoughAttendance,
    Span,
)
from kerfwright.planning.string_order import turns_of
from kerfwright.planning.string_plan import PartString
from kerfwright.trade.part import Role

_GAIN_MM = 1e-6
"""A nanometre of gain is rounding, and would let the search run for ever."""

_MOST_IMPROVED = 400
"""Above this many starts the nearest-neighbour tour is kept as it is (2-opt grows squared)."""


def shortest_tour(points_mm: Sequence[tuple[float, float]]) -> list[int]:
    """Return an order of visiting points from the first: nearest neighbour, then 2-opt.

    The tour is open: it does not come back.  It is short, not proved shortest.

    Examples
    --------
    >>> shortest_tour([(0.0, 0.0), (9.0, 0.0), (1.0, 0.0), (5.0, 0.0)])
    [0, 2, 3, 1]
    """
    if not points_mm:
        return []
    tour, left = [0], np.ones(len(points_mm), dtype=bool)
    left[0] = False
    while left.any():
        tour.append(int(np.where(left, _away(points_mm, tour[-1]), np.inf).argmin()))
        left[tour[-1]] = False
    if len(tour) > _MOST_IMPROVED:
        return tour
    away = np.array([_away(points_mm, k) for k in range(len(points_mm))])
    order: list[int] = _uncrossed(np.array(tour), away).tolist()
    return order


def _away(points_mm: Sequence[tuple[float, float]], k: int) -> Floats:
    """Return the distance of a point to every point, (n,) mm."""
    here = points_mm[k]
    return np.array([math.dist(here, point) for point in points_mm])


def _uncrossed(tour: Indices, away: Floats) -> Indices:
    """Return a tour with stretches turned round until turning none more makes it shorter."""
    improved = True
    while improved:
        improved = False
        for i in range(len(tour) - 2):
            begin = i + 2
            while begin < len(tour):
                a, b = tour[i], tour[i + 1]
                ends, beyond = tour[begin:], tour[begin + 1 :]
                # The tour is open: after its last point there is no way.
                now = away[a, b] + np.append(away[ends[:-1], beyond], 0.0)
                then = away[a, ends] + np.append(away[b, beyond], 0.0)
                better = np.flatnonzero(then < now - _GAIN_MM)
                if not len(better):
                    break
                end = begin + int(better[0]) + 1
                tour[i + 1 : end] = tour[i + 1 : end][::-1].copy()
                improved, begin = True, end
    return tour


def depths(contours: Sequence[ContourPlan]) -> dict[str, int]:
    """Return how deep each contour lies among those that are cut, outermost 0."""
    parent = {c.target.id: c.target.parent_id for c in contours}
    known: dict[str, int] = {}

    def depth(name: str) -> int:
        if name not in known:
            around = parent.get(name)
            known[name] = 0 if around not in parent or around is None else depth(around) + 1
        return known[name]

    for name in parent:
        depth(name)
    return known


def order_operations(
    contours: Sequence[ContourPlan],
    *,
    skim_flushing: str = "",
    strings: tuple[PartString, ...] = (),
    seconds: tuple[ContourPlan, ...] = (),
) -> tuple[Operation, ...]:
    """Return the operations of a job in order.

    All roughs run alone, but for those in which a piece comes free or its tab yields; a part on a
    tab that yields is attended until it is cut off.  Then, from the innermost
    contours outwards: the slugs of openings are cut off with someone there and the openings
    skimmed alone; outlines are skimmed while the frame still holds them, then cut off attended
    and their tab span skimmed.  A piece is thus never loose while something inside it still has
    to be cut.  Where the inside of an opening is cut away whole there is nothing to cut off.
    Each contour has the skims of its own passes, one after the other while the wire
    stays threaded.  Outlines of strings follow each other as the wire gets to them.

    Parameters
    ----------
    contours : sequence of ContourPlan
        In the order of roughing.
    skim_flushing : str
        How to set the water for skims.
    strings : tuple of PartString
        Outlines that are cut with the wire threaded once; they are the last of `contours`.
    seconds : tuple of ContourPlan
        Second cuts of openings made in two; each comes right after the skims of the first.
    """
    steps: list[tuple[OperationKind, ContourPlan, int, Span, str]] = [
        (OperationKind.ROUGH, c, 1, Span.BODY if c.coreless is None else Span.INSIDE, "")
        for c in contours
        if c.rough_attendance is RoughAttendance.NONE
    ]
    depth = depths(contours)
    for level in sorted(set(depth.values()), reverse=True):
        here = [c for c in contours if depth[c.target.id] == level]
        openings = [c for c in here if c.target.role is Role.OPENING]
        outlines = [c for c in here if c.target.role is Role.OUTLINE]
        for c in openings:
            if c.coreless is not None:
                continue
            if c.rough_attendance is not RoughAttendance.NONE:
                steps.append((OperationKind.ROUGH, c, 1, Span.BODY, _catch(c)))
            steps.append((OperationKind.CUT_OFF, c, 1, Span.TAB, _instruction(c)))
        for c in openings:
            mine = [s for s in seconds if s.follows and s.follows.wall.first_id == c.target.id]
            steps += [*_skims([c], Span.WHOLE), *_second_passes(mine)]
        steps += [
            (OperationKind.ROUGH, c, 1, Span.BODY, _catch(c))
            for c in outlines
            if c.rough_attendance is not RoughAttendance.NONE
        ]
        turns = turns_of(outlines, strings, is_interrupted=len(outlines) < len(contours))
        steps += list(_skims(turns.skims, Span.BODY))
        for c in turns.cut_offs:
            steps.append((OperationKind.CUT_OFF, c, 1, Span.TAB, _instruction(c)))
            steps += list(_skims([c], Span.TAB))
    return tuple(
        Operation(
            number=k,
            kind=kind,
            contour_id=c.target.id,
            pass_number=number,
            span=span,
            attended=span is Span.TAB or bool(said) or _is_on_weak_tab(c),
            instruction=said,
            flushing=skim_flushing if kind is OperationKind.SKIM else c.flushing.advice,
        )
        for k, (kind, c, number, span, said) in enumerate(steps, start=1)
    )


def _skims(
    contours: Sequence[ContourPlan], span: Span
) -> Iterator[tuple[OperationKind, ContourPlan, int, Span, str]]:
    """Yield the skim passes contour by contour."""
    for c in contours:
        for one in c.passes[1:]:
            yield OperationKind.SKIM, c, one.number, span, ""


def _second_passes(
    seconds: Sequence[ContourPlan],
) -> Iterator[tuple[OperationKind, ContourPlan, int, Span, str]]:
    """Yield the passes of second cuts, all round: the slug is out."""
    for c in seconds:
        for one in c.cut_passes:
            kind = OperationKind.ROUGH if one.is_rough else OperationKind.SKIM
            yield kind, c, one.number, Span.WHOLE, ""


def _is_on_weak_tab(c: ContourPlan) -> bool:
    """Return whether a tab that yields is all that the program leaves to hold a part.

    An opening loses its slug before it is skimmed; a part is skimmed on its tab.
    """
    is_weak = c.rough_attendance is RoughAttendance.WEAK_TAB
    return is_weak and c.target.role is Role.OUTLINE


def _instruction(c: ContourPlan) -> str:
    """Return what the attendant does before a piece is cut free."""
    name, mass = c.target.id, mass_text(c.slug.mass_kg).upper()
    if c.slug.is_part:
        return (
            f"SECURE PART {name} ({mass}) SO THAT IT CANNOT MOVE OR FALL: THE NEXT CUT FREES IT. "
            "HANDS OUT, COVERS SHUT, THEN START"
        )
    return (
        f"SUPPORT SLUG {name} ({mass}): THE NEXT CUT FREES IT, TAKE IT OUT AT THE STOP AFTER. "
        "HANDS OUT, COVERS SHUT, THEN START"
    )


def _catch(c: ContourPlan) -> str:
    """Return what the attendant does where pieces come free in the rough pass."""
    if c.rough_attendance is RoughAttendance.WEAK_TAB:
        return (
            f"THE TAB OF {c.target.id} YIELDS: CLAMP THE SHEET BETWEEN PLATES OR SUPPORT THE "
            "PIECE, LOW FLUSHING PRESSURE, STAND BY UNTIL "
            f"{'IT IS CUT OFF' if _is_on_weak_tab(c) else 'THIS CUT ENDS'}"
        )
    return (
        f"SMALL PIECES OF {c.target.id} COME FREE IN THIS CUT: STAND BY, CATCH THEM WITH A MAGNET"
    )
