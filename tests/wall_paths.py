"""Paths along plain walls, as the reader would give them, with claims of one contour."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from tests.small_programs import WINDOW, Shape, claim_for

from kerfwright.geometry.contour import Contour
from kerfwright.nc.timeline import CutHeader, Timeline
from kerfwright.proof.records import Claim
from kerfwright.trade.part import PartContour, Role

RADIUS = 0.140


def opening(contour: Contour, name: str = "H1") -> PartContour:
    return PartContour(id=name, role=Role.OPENING, contour=contour, layer="0", entities=())


def outline(contour: Contour, name: str = "P1") -> PartContour:
    return PartContour(id=name, role=Role.OUTLINE, contour=contour, layer="0", entities=())


def claim_of(*parts: PartContour, cut: str, radius: float = RADIUS) -> Claim:
    return replace(
        claim_for([WINDOW]),
        contours=parts,
        cut_ids=frozenset({cut}),
        kerf_radius_mm={1: radius},
    )


def timeline_along(path: Contour, *, name: str, offset: float = RADIUS) -> Timeline:
    """One pass along a closed path, as the reader would give it."""
    s = path.segments
    n = len(s)
    turn = np.sign(s.bulge).astype(np.int8)
    header = CutHeader(
        contour_id=name, pass_number=1, offset_mm=offset, line=1, first_move=0, end_move=n
    )
    return Timeline(
        start_mm=s.start,
        end_mm=s.end,
        centre_mm=s.centre,
        turn=turn,
        is_rapid=np.zeros(n, dtype=np.int8),
        feed_mm_per_min=np.full(n, 5.0),
        line=np.arange(2, n + 2),
        headers=(header,),
        happenings=(),
        offsets_mm={},
    )


def ring(corners: list[tuple[float, float, float]]) -> Contour:
    """Return the closed path of a rounded polygon."""
    return Shape("X", Role.OPENING, tuple(corners), (0.0, 0.0)).part.contour


def square(side: float) -> list[tuple[float, float, float]]:
    """Return a clockwise square with sharp corners: the sense of an opening."""
    return [(0.0, 0.0, 0.0), (0.0, side, 0.0), (side, side, 0.0), (side, 0.0, 0.0)]
