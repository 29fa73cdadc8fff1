"""The feeds of rough passes that are not those of the pass table, and why."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from kerfwright.planning.plan import ContourPlan, Plan
from kerfwright.process.technology import Flushing

_ALIKE: Final = 4
"""Decimals of a feed in mm/min to which contours are told together: none sets a feed finer."""
_HELD: Final = "held for the wire"
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
        for feed, why in _feeds(c):
            groups.setdefault((round(feed, _ALIKE), why), []).append(c.target.id)
    return tuple(
        RoughFeed(feed_mm_per_min=feed, contour_ids=tuple(ids), why=why)
        for (feed, why), ids in groups.items()
    )


def _feeds(contour: ContourPlan) -> Iterator[tuple[float, str]]:
    state = contour.flushing
    if state.along_factor != 1 and state.edge_share < 1:
        reasons = [_OPEN[state.nozzles]] if state.nozzles in _OPEN else []
        reasons += [_HELD] if state.margin_factor < 1 else []
        yield contour.feed_mm_per_min(contour.passes[0]), ", ".join(reasons)
    if state.beside:
        share = "" if state.edge_share == 1 else f", over {state.edge_share:.0%} of the way"
        held = f", {_HELD}" if state.beside_margin_factor < 1 else ""
        yield contour.edge_feed_mm_per_min, f"beside the edge of the stock{share}{held}"
