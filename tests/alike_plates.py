"""Plates with one opening drawn many times, and plans of them compared to the last digit."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import ezdxf
import numpy as np

from kerfwright.app.records import JobResult

PITCH_MM = 14.0
HOOK = ((-3, -3), (3.2, -3), (3.2, 2.1), (1.4, 3.3), (-3, 2.6))
"""No turn or mirror brings it onto itself: there is one best place for everything."""


def plate(
    place: Path,
    *,
    columns: int,
    rows: int,
    islands: Sequence[int] = (),
    starts: Sequence[int] = (),
) -> Path:
    """Draw a plate of round openings and hooks, one beside the other, and write it.

    Parameters
    ----------
    place : Path
        Of the drawing.
    columns, rows : int
    islands, starts : sequence of int
        Openings that a small part lies in, and that have their start hole drawn.
    """
    document = ezdxf.new("R2010", units=4)
    space = document.modelspace()
    for n in range(columns * rows):
        x, y = PITCH_MM * (n % columns), PITCH_MM * (n // columns)
        if n % 2:
            space.add_circle((x, y), 3.0)
        else:
            space.add_lwpolyline([(x + u, y + v) for u, v in HOOK], close=True)
        if n in islands:
            space.add_circle((x, y), 0.6)
        if n in starts:
            space.add_circle((x + 0.5, y - 0.25), 0.5, dxfattribs={"layer": "START"})
    right, top = PITCH_MM * columns - 5, PITCH_MM * rows - 5
    space.add_lwpolyline([(-9, -9), (right, -9), (right, top), (-9, top)], close=True)
    document.saveas(place)
    return place


def assert_same(one: JobResult, other: JobResult) -> None:
    """Assert that two jobs have the same findings, prices, plans and moves, to the last digit."""
    assert one.findings == other.findings
    assert one.estimate == other.estimate
    assert one.plan.operations == other.plan.operations
    assert [_decided(c) for c in one.plan.contours] == [_decided(c) for c in other.plan.contours]
    assert (one.path is None) == (other.path is None)
    if one.path is None or other.path is None:
        return
    assert len(one.path.cuts) == len(other.path.cuts)
    for ours, theirs in zip(one.path.cuts, other.path.cuts, strict=True):
        assert ours.stops == theirs.stops
        assert (ours.threads, ours.cuts_wire) == (theirs.threads, theirs.cuts_wire)
        for run, like in ((ours.moves, theirs.moves), (ours.nominal, theirs.nominal)):
            assert (run is None) == (like is None)
            if run is not None and like is not None:
                for name in ("start_mm", "end_mm", "turn", "purpose", "feed_mm_per_min"):
                    assert np.array_equal(getattr(run, name), getattr(like, name)), name


def _decided(c) -> tuple[object, ...]:
    return (
        c.target.id,
        c.start,
        c.lead_station_mm,
        c.tab,
        c.slug,
        c.rough_attendance,
        c.choice,
        c.flushing,
        c.placed,
        [loop.contour.vertices.tolist() for loop in c.loops],
        [corner.vertices.tolist() for corner in c.unreachable],
        None if c.coreless is None else (c.coreless.why, c.coreless.loops.length_mm),
    )
