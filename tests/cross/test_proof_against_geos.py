"""Deviations of disturbed paths against shapely (GEOS): signed distances of dense points."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from tests.small_programs import KEY, PUNCH, WINDOW, Shape, claim_for, offset_corners

from kerfwright.geometry.contour import Contour
from kerfwright.nc.timeline import CutHeader, Timeline
from kerfwright.proof.prove import prove_timeline
from kerfwright.trade.part import PartContour, Role

RADIUS = 0.14
CHORDS = 250
"""A quarter of radius 2 mm in 250 chords is within 1e-5 mm: less than the 0.1 µm compared."""


def dense(contour: Contour, steps: int) -> np.ndarray:
    n = len(contour)
    index = np.repeat(np.arange(n), steps)
    return contour.segments.points_at(index, np.tile(np.arange(steps) / steps, n))


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("shape", [WINDOW, KEY, PUNCH], ids=lambda s: s.id)
def test_the_largest_gouge_and_leftover_agree_with_geos(shape: Shape, seed: int) -> None:
    rng = np.random.default_rng(seed)
    wall = shape.part.contour
    path = Shape("X", Role.OPENING, tuple(offset_corners(list(shape.corners), RADIUS)), (0, 0))
    rows = path.part.contour.vertices.copy()
    rows[:, :2] += rng.normal(0.0, 0.003, (len(rows), 2))
    rows[:, 2] *= rng.normal(1.0, 0.002, len(rows))
    disturbed = Contour(rows)
    s = disturbed.segments
    header = CutHeader(
        contour_id=shape.id, pass_number=1, offset_mm=RADIUS, line=1, first_move=0, end_move=len(s)
    )
    timeline = Timeline(
        start_mm=s.start,
        end_mm=s.end,
        centre_mm=s.centre,
        turn=np.sign(s.bulge).astype(np.int8),
        is_rapid=np.zeros(len(s), dtype=np.int8),
        feed_mm_per_min=np.full(len(s), 5.0),
        line=np.arange(2, len(s) + 2),
        headers=(header,),
        happenings=(),
        offsets_mm={},
    )
    part = PartContour(id=shape.id, role=shape.role, contour=wall, layer="0", entities=())
    claim = replace(claim_for([shape]), contours=(part,), kerf_radius_mm={1: RADIUS})
    proof = prove_timeline(timeline, claim, program_sha256="")
    wall_line = shapely.LinearRing(dense(wall, CHORDS))
    path_line = shapely.LinearRing(dense(disturbed, CHORDS))
    gouge = RADIUS - shapely.distance(wall_line, shapely.points(dense(disturbed, 400))).min()
    left = shapely.distance(path_line, shapely.points(dense(wall, 400))).max() - RADIUS
    assert proof.max_gouge_um == pytest.approx(gouge * 1000, abs=0.1)
    assert proof.max_leftover_um == pytest.approx(left * 1000, abs=0.1)
