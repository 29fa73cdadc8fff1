"""A leaning contour of 2 000 points in several passes: plan and program, and its proof.

Goals are 2 s for plan and program and 5 s for the proof at eleven heights, in four passes.  The
peer of the proof is what shapely needs to measure the same number of points of a section against
the path in the plane alone, without any lean: a bound from below for whoever goes by sections.
"""

from __future__ import annotations

import math
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import ezdxf
import numpy as np
import shapely

from kerfwright.app.plan_job import Extent
from kerfwright.app.records import JobRequest
from kerfwright.proof import lean_wall
from kerfwright.proof.prove import prove_program
from kerfwright.wiring import plan_job

GOAL_PLAN_S, GOAL_PROOF_S = 2.0, 5.0
POINTS = 2_000
HEIGHTS = 11


def drawing(folder: Path) -> Path:
    """Draw a ring with twelve waves, 40 mm in radius, as chords."""
    t = np.linspace(0.0, 2 * math.pi, POINTS, endpoint=False)
    radius = 40.0 + 1.5 * np.cos(12 * t)
    document = ezdxf.new("R2010")
    document.header["$INSUNITS"] = 4
    corners = np.column_stack([radius * np.cos(t), radius * np.sin(t)])
    document.modelspace().add_lwpolyline(corners.tolist(), close=True)
    place = folder / "waves.dxf"
    document.saveas(place)
    return place


def _peer_s(count: int, levels: int) -> float:
    random = np.random.default_rng(5)
    t = np.linspace(0.0, 2 * math.pi, 2 * POINTS, endpoint=False)
    way = 40.0 * np.column_stack([np.cos(t), np.sin(t)])
    looked = np.repeat(way, math.ceil(count / len(way)), axis=0)[:count]
    looked = looked + random.normal(scale=0.05, size=looked.shape)
    begin = time.process_time()
    for _ in range(levels):
        tree = shapely.STRtree(shapely.linestrings(np.stack([way, np.roll(way, -1, axis=0)], 1)))
        tree.query_nearest(shapely.points(looked), return_distance=True, all_matches=False)
    return time.process_time() - begin


def rows() -> Iterator[dict[str, Any]]:
    """Yield the rows of the table; CPU time."""
    with tempfile.TemporaryDirectory() as folder:
        request = JobRequest(
            drawing=drawing(Path(folder)),
            material="D2",
            height="20 mm",
            tolerance="±0.005 mm",
            finish="Ra 0.6 µm",
            tapers={"P1": "taper=2° out from top"},
        )
        # Tables and libraries are there by the second time.
        plan_job(request, extent=Extent.PRICED)
        begin = time.process_time()
        plan_job(request, extent=Extent.PRICED)
        planned_s = time.process_time() - begin
        done = plan_job(request)
    passes = len(done.plan.passes)
    yield {
        "name": f"leaning contour of {POINTS} points, {passes} passes: to its path and price",
        "ours_s": planned_s,
        "peer_s": GOAL_PLAN_S,
        "ratio": GOAL_PLAN_S / planned_s,
        "note": "peer: the goal",
    }
    assert done.program is not None
    assert done.claim is not None
    usual = lean_wall.LEVELS
    lean_wall.LEVELS = HEIGHTS
    try:
        begin = time.process_time()
        proof = prove_program(done.program, done.claim)
        proved_s = time.process_time() - begin
    finally:
        lean_wall.LEVELS = usual
    levels = passes * HEIGHTS
    note = f"{proof.samples} points, {'passed' if proof.passed else 'REFUSED'}"
    name = f"its proof at {HEIGHTS} heights of each pass"
    peer_s = _peer_s(proof.samples // levels, levels)
    for said, against_s in (("shapely in the plane", peer_s), ("the goal", GOAL_PROOF_S)):
        yield {
            "name": name,
            "ours_s": proved_s,
            "peer_s": against_s,
            "ratio": against_s / proved_s,
            "note": f"peer: {said}; {note}",
        }
