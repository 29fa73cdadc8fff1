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
    for c in plan.walls:
        for feed, why in _feeds(c):
            groups.setdefault((round(feed, _ALIKE), why), []).append(c.target.id)
    return tuple(
        RoughFeed(feed_mm_per_min=feed, contour_ids=tuple(ids), why=why)
        for (feed, why), ids in groups.items()
    )


def _feeds(contour: ContourPlan) -> Iterator[tuple[float, str]]:
    state, lean = contour.flushing, contour.lean
    rough = contour.passes[0]
    if not contour.cut_passes[0].is_rough:
        return
    if contour.feed_mm_per_min(rough) != rough.feed_mm_per_min and state.edge_share < 1:
        upright = state if lean.upright is None else lean.upright
        reasons = [_OPEN[upright.nozzles]] if upright.nozzles in _OPEN else []
        reasons += [_leans(contour)] if lean.skim_factor < 1 else []
        reasons += [_HELD] if state.margin_factor < 1 else []
        yield contour.feed_mm_per_min(rough), ", ".join(reasons)
    if state.beside:
        share = "" if state.edge_share == 1 else f", over {state.edge_share:.0%} of the way"
        held = f", {_HELD}" if state.beside_margin_factor < 1 else ""
        yield contour.edge_feed_mm_per_min, f"beside the edge of the stock{share}{held}"


def _leans(contour: ContourPlan) -> str:
    lean = contour.lean
    return f"the wire leans by up to {lean.lean_deg:.3g}° (skims at {lean.skim_factor:.0%})"
