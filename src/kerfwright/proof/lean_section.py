"""A leaning program as the wire passes one height: a time line of two axes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from kerfwright.nc.timeline import Timeline
from kerfwright.proof.lean_axis import lean_of

_SHORT_MM = 1e-6


def at_height(timeline: Timeline, height_mm: float) -> Timeline:
    """Return a time line as the wire passes one height, its moves taking as long.

    Parameters
    ----------
    timeline : Timeline
    height_mm : float
    """
    lean = lean_of(timeline)
    v = (height_mm - lean.program_mm) / (lean.second_mm - lean.program_mm)
    start = timeline.start_mm + lean.start_mm * v
    end = timeline.end_mm + lean.end_mm * v
    along = np.hypot(*(timeline.end_mm - timeline.start_mm).T)
    other = np.hypot(*(lean.end_mm - lean.start_mm).T)
    counted = np.where(along > 0, along, other)
    here = np.hypot(*(end - start).T)
    # F counts along X Y, along U V where X and Y stand still.
    scaled = timeline.feed_mm_per_min * here / np.maximum(counted, _SHORT_MM)
    is_line = (timeline.turn == 0) & (here > _SHORT_MM)
    return replace(
        timeline,
        start_mm=start,
        end_mm=end,
        feed_mm_per_min=np.where(is_line, scaled, timeline.feed_mm_per_min),
        lean=None,
    )
