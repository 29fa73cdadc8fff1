"""The feeds of rough passes that are not those of the pass table, and why."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from kerfwright.planning.plan import ContourPlan, Plan
from kerfwright.process.technology import Flushing

_ALIKE: Final = 4
"""Decimals of a feed in mm/min to which contours are told together: none sets a feed finer."""
_OPEN: Final = {
    Flushing.ONE_OPEN: "one nozzle open",
    Flushing.BOTH_OPEN: "both nozzles open",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class RoughFeed:
    """A rough feed of the program beside that of the pass table.

    Attributes
    ----------
    feed_mm_per_min : float
    contour_ids : tuple of str
    why : str
        In plain words.
    """

    feed_mm_per_min: float
    contour_ids: tuple[str, ...]
    why: str


def rough_feeds(plan: Plan) -> tuple[RoughFeed, ...]:
    """Return the usual rough feeds of contours that run at another than the table's.

    Parameters
    ----------
    plan : Plan
    """
    groups: dict[tuple[float, str], list[str]] = {}
    for c in plan.contours:
        if c.flushing.rate_factor != 1:
            feed = round(c.feed_mm_per_min(c.passes[0]), _ALIKE)
            groups.setdefault((feed, _why(c)), []).append(c.target.id)
    return tuple(
        RoughFeed(feed_mm_per_min=feed, contour_ids=tuple(ids), why=why)
        for (feed, why), ids in groups.items()
    )


def _why(contour: ContourPlan) -> str:
    state = contour.flushing
    reasons = []
    if state.nozzles in _OPEN:
        reasons.append(_OPEN[state.nozzles])
    if state.edge_share > 0:
        reasons.append("beside the edge of the stock")
    if state.margin_factor < 1:
        reasons.append("held for the wire")
    return ", ".join(reasons)
