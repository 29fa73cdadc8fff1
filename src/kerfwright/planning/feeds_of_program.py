"""Why passes run at other feeds in the program than in the pass table: water and lean."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Final

from kerfwright.foundation.answers import Answer
from kerfwright.foundation.ranges import Range
from kerfwright.foundation.sources import Reason, Source, SourceTag
from kerfwright.planning.plan import ContourPlan, Plan
from kerfwright.process.loadings import spread_of

_COMPUTED: Final = Source(tag=SourceTag.COMPUTED)
_NAMED: Final = 4
"""So many contours are named in a formula."""
_SAME: Final = 1e-9
"""Feeds nearer than this share are one."""


def of_the_table(plan: Plan, reason: Reason, *, pass_number: int) -> Reason:
    """Return the reason of a feed of the pass table with the feeds that the program has instead.

    Parameters
    ----------
    plan : Plan
    reason : Reason
    pass_number : int
    """
    others = [
        (c.target.id, c.feed_mm_per_min(one))
        for c in plan.walls
        for one in c.cut_passes
        if one.number == pass_number and c.feed_mm_per_min(one) != one.feed_mm_per_min
    ]
    if not others:
        return reason
    told = ", ".join(f"{name} {feed:.4g} mm/min" for name, feed in others[:_NAMED])
    more = f" and {len(others) - _NAMED} more" if len(others) > _NAMED else ""
    return replace(
        reason,
        formula=f"{reason.formula}; of the pass table, the nozzles closed and the wire upright: in "
        f"this program {told}{more}, see 'feed in this program'",
    )


def at_the_place(plan: Plan, reason: Reason, *, pass_number: int) -> Reason:
    """Return the reason of the feed at the worst place with the contour that has it.

    Parameters
    ----------
    plan : Plan
    reason : Reason
    pass_number : int
    """
    for c in plan.walls:
        one = next((p for p in c.cut_passes if p.number == pass_number), None)
        if one is None:
            continue
        feeds = [c.feed_mm_per_min(one)]
        if one.is_rough and c.flushing.meets_edge:
            feeds.append(c.edge_feed_mm_per_min)
        if any(math.isclose(feed, reason.value, rel_tol=_SAME) for feed in feeds):
            return replace(reason, inputs=(*reason.inputs, ("contour", c.target.id)))
    return reason


def program_feed_answers(contour: ContourPlan) -> Iterator[Answer]:
    """Yield why passes of a contour run at another feed than that of the pass table.

    Parameters
    ----------
    contour : ContourPlan
    """
    state, lean = contour.flushing, contour.lean
    for one in contour.cut_passes:
        feed = contour.feed_mm_per_min(one)
        if feed == one.feed_mm_per_min:
            continue
        water = contour.feed_loadings(one)
        sigma = math.hypot(one.feed_sigma_log, spread_of(water))
        factors: Sequence[tuple[str, float]] = (("lean_factor", lean.skim_factor),)
        if one.is_rough:
            factors = (("along_factor", state.along_factor), ("lean_factor", lean.rough_factor))
        yield Answer(
            about=contour.target.id,
            name=f"pass {one.number} feed in this program",
            path="",
            reason=Reason(
                quantity="feed_mm_per_min",
                value=feed,
                formula="feed of the pass, nozzles closed and the wire upright, x along_factor of "
                "the water x lean_factor beyond the water's; corners and the edge of the stock "
                "take more off"
                if one.is_rough
                else "feed of the pass, the wire upright, x lean_factor; corners take more off",
                inputs=(("pass_mm_per_min", one.feed_mm_per_min), *factors),
                source=_COMPUTED,
                range=Range.lognormal(feed, sigma_log=sigma) if sigma else None,
                shares=tuple(
                    (name, (part / sigma) ** 2)
                    for name, part in (("feed", one.feed_sigma_log), *water)
                    if part
                )
                if sigma
                else (),
            ),
            also="rough" if one.is_rough else "skim",
        )
