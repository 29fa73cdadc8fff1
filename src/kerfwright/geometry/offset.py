"""Exact offset of contours of lines and arcs.

Every element of the contour is moved along its own normals, so arcs stay arcs about their own
centres; corners that open are rolled round; the result is split where it meets itself, and the
pieces stay whose middle is no nearer to the contour than the distance.  What remains is stitched
into loops: local and global loops vanish, islands split off by themselves.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from kerfwright.foundation.errors import InputError
from kerfwright.foundation.places import place_words
from kerfwright.foundation.tolerances import DEFAULT_TOLERANCES, Tolerances
from kerfwright.geometry.chain import Chain, prepare
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.offset_loops import Offset, OffsetLoop
from kerfwright.geometry.pieces import kept_pieces
from kerfwright.geometry.reach import unreachable
from kerfwright.geometry.segments import Indices
from kerfwright.geometry.stitch import stitched

__all__ = ["Offset", "OffsetLoop", "offset_contour", "offset_passes", "unreachable"]


def _require_usable(contour: Contour, distances_mm: Sequence[float], limit_mm: float) -> None:
    """Raise where no offset is defined."""
    x, y = contour.vertices[0, :2]
    where = f"contour from {place_words(x, y)}"
    if not contour.is_closed:
        raise InputError(
            "an open chain has no inside to keep clear of; an offset takes a closed contour.",
            code="offset-open",
            where=where,
            remedy="Close the contour.",
        )
    if abs(contour.area_mm2) <= limit_mm * contour.length_mm:
        raise InputError(
            f"the contour encloses {contour.area_mm2:.3g} mm² on a length of"
            f" {contour.length_mm:.6g} mm, which is no area.",
            code="offset-no-area",
            where=where,
            remedy="Remove the doubled line, or draw both walls.",
        )
    for distance in distances_mm:
        if not math.isfinite(distance):
            raise InputError(
                f"the offset distance must be finite, got {distance} mm.",
                code="offset-distance",
                where=where,
            )


def _unmoved(contour: Contour) -> Offset:
    return Offset(distance_mm=0.0, loops=(_freeze(contour, np.arange(len(contour))),))


def _freeze(contour: Contour, source: Indices) -> OffsetLoop:
    source.setflags(write=False)
    return OffsetLoop(contour=contour, source=source)


def _one(chain: Chain, distance_mm: float, tolerances: Tolerances) -> Offset:
    elements, pieces = kept_pieces(chain, distance_mm=distance_mm, tolerances=tolerances)
    loops = stitched(elements, pieces, side=chain.side, tolerances=tolerances)
    loops.sort(key=lambda loop: -abs(loop.area_mm2))
    return Offset(
        distance_mm=distance_mm,
        loops=tuple(_freeze(loop.contour, chain.source[loop.element]) for loop in loops),
    )


def offset_passes(
    contour: Contour,
    *,
    distances_mm: Sequence[float],
    tolerances: Tolerances = DEFAULT_TOLERANCES,
) -> tuple[Offset, ...]:
    """Offset a contour to several distances, sharing the work between them.

    Parameters
    ----------
    contour : Contour
        Closed and free of crossings.
    distances_mm : sequence of float
        Signed distances, mm: positive to the left of travel.  0 gives the contour itself.
    tolerances : Tolerances, optional

    Returns
    -------
    tuple of Offset
        In the order of the distances.

    Raises
    ------
    InputError
        ``offset-open``, ``offset-no-area`` or ``offset-distance``.

    Examples
    --------
    >>> hole = Contour.circle((0.0, 0.0), radius_mm=5.0)
    >>> rough, skim = offset_passes(hole, distances_mm=(0.2, 0.15))
    >>> [round(o.loops[0].contour.bounds_mm[2], 6) for o in (rough, skim)]
    [4.8, 4.85]
    """
    _require_usable(contour, distances_mm, tolerances.validity_mm)
    chains: dict[float, Chain] = {}
    for side in (1.0, -1.0):
        reach = max((side * d for d in distances_mm), default=0.0)
        if reach > 0:
            chains[side] = prepare(contour, side=side, reach_mm=reach, tolerances=tolerances)
    return tuple(
        _one(chains[math.copysign(1.0, d)], float(d), tolerances) if d else _unmoved(contour)
        for d in distances_mm
    )


def offset_contour(
    contour: Contour, *, distance_mm: float, tolerances: Tolerances = DEFAULT_TOLERANCES
) -> Offset:
    """Offset a closed contour by a signed distance.

    Parameters
    ----------
    contour : Contour
        Closed and free of crossings.
    distance_mm : float
        Positive to the left of travel, negative to the right, mm; 0 gives the contour itself.
    tolerances : Tolerances, optional

    Returns
    -------
    Offset

    Raises
    ------
    InputError
        ``offset-open``, ``offset-no-area`` or ``offset-distance``.

    Examples
    --------
    >>> square = Contour.from_rows([(0, 0), (10, 0), (10, 10), (0, 10)])
    >>> inside = offset_contour(square, distance_mm=1.0)
    >>> round(inside.loops[0].contour.area_mm2, 6)
    64.0
    >>> outside = offset_contour(square, distance_mm=-1.0)
    >>> outside.loops[0].source.tolist()
    [-1, 0, -2, 1, -3, 2, -4, 3]
    """
    return offset_passes(contour, distances_mm=(distance_mm,), tolerances=tolerances)[0]
