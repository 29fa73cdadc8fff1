"""Start holes that are there and part a slug: the tab holds one piece, the other falls early."""

from __future__ import annotations

from functools import partial
from typing import Final

import numpy as np

from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.foundation.sizes import both_sizes
from kerfwright.geometry.nearest import NearestIndex
from kerfwright.geometry.regions import contains_points
from kerfwright.planning.led import led_of
from kerfwright.planning.memory import Memory
from kerfwright.planning.plan import ContourPlan, Plan
from kerfwright.trade.part import Role

PARTED: Final = "start-hole-parts-slug"
_AROUND: Final = 720
"""Points on the edge of a hole; a strip of the slug narrower than half a degree holds nothing."""


def parted_slug_findings(plan: Plan, *, memory: Memory | None = None) -> list[Finding]:
    """Return a warning for each opening whose start hole leaves its slug in several pieces.

    The edge of the hole runs in and out of the slug: each run inside is an edge of another piece.

    Parameters
    ----------
    plan : Plan
    memory : Memory, optional
        Where to keep, and find, what other plans of the same part have too.
    """
    memory = Memory() if memory is None else memory
    led = led_of(plan, memory)
    radius_mm = plan.choice.wire.radius_mm if plan.passes else 0.0
    found = []
    for one in plan.contours:
        if one.target.role is not Role.OPENING or one.tab is None or one.start.diameter_mm <= 0:
            continue
        first = led[one.target.id].first if one.target.id in led else one
        start, kerf_mm = first.start, radius_mm + first.passes[0].gap_um / 1000
        pieces = memory.shapes.once(
            partial(_pieces, first, kerf_mm=kerf_mm),
            "pieces",
            first.loops[0].contour,
            (start.x_mm, start.y_mm, start.diameter_mm),
            kerf_mm,
        )
        if pieces > 1:
            found.append(_parted(one, pieces))
    return found


def _pieces(one: ContourPlan, *, kerf_mm: float) -> int:
    """Return in how many pieces the start hole leaves the slug; 1 where it lies in it."""
    start, path = one.start, one.loops[0].contour
    turn = np.linspace(0.0, 2 * np.pi, _AROUND, endpoint=False)
    radius = start.diameter_mm / 2
    edge = np.column_stack((start.x_mm + radius * np.cos(turn), start.y_mm + radius * np.sin(turn)))
    distance, _ = NearestIndex(path.segments).query(edge)
    is_in_slug = (distance > kerf_mm) & contains_points(path, edge)
    return int(np.count_nonzero(is_in_slug & ~np.roll(is_in_slug, 1)))


def _parted(one: ContourPlan, pieces: int) -> Finding:
    start, name = one.start, one.target.id
    return Finding(
        code=PARTED,
        severity=Severity.WARNING,
        message=f"The start hole of {name}, Ø{both_sizes(start.diameter_mm)}, reaches across the "
        f"slug and leaves it in {pieces} pieces. The tab holds one of them; what lies before it "
        "on the way comes free while the rough cut runs on.",
        where=Place(contour_id=name, x_mm=start.x_mm, y_mm=start.y_mm),
        remedy="Stand by for the whole rough cut and stop it where the first piece is cut round, "
        "cut the inside away whole, or start from a smaller hole.",
        data={"pieces": pieces, "diameter_mm": start.diameter_mm},
    )
