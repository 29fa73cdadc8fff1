"""Cut-offs that take longer than somebody is taken to stand by."""

from __future__ import annotations

import numpy as np

from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.foundation.sizes import both_sizes, slow_feeds
from kerfwright.foundation.units import minutes_text
from kerfwright.motion.moves import Cut, CutKind, WirePath
from kerfwright.planning.plan import ContourPlan, Plan

_SPARE = 0.9
"""Share of the wait that a tab as proposed takes: its width is rounded."""
_STEP_MM = 0.1
_LEAST_MM = 0.3
"""Narrower tabs are not proposed (common practice, no source)."""


def slow_cut_offs(plan: Plan, path: WirePath) -> tuple[Finding, ...]:
    """Return a finding for each cut-off that frees its piece later than somebody waits.

    The proof refuses such a program: after so long nobody can be taken to stand by still.

    Parameters
    ----------
    plan : Plan
    path : WirePath
        Of that plan.
    """
    targets = {c.target.id: c for c in plan.contours}
    found = (_finding(plan, targets[cut.contour_id], cut) for cut in path.cuts if _frees(cut))
    return tuple(f for f in found if f is not None)


def _frees(cut: Cut) -> bool:
    return cut.kind is CutKind.CUT_OFF and cut.pass_number == 1


def _finding(plan: Plan, contour: ContourPlan, cut: Cut) -> Finding | None:
    most_min = plan.rules.cut_off_wait_min
    feeds = np.where(cut.moves.feed_mm_per_min > 0, cut.moves.feed_mm_per_min, np.inf)
    minutes = float((cut.moves.lengths_mm() / feeds).sum())
    if minutes <= most_min or contour.tab is None:
        return None
    width_mm, feed = contour.tab.width_mm, contour.feed_mm_per_min(contour.passes[0])
    narrower_mm = width_mm - (minutes - _SPARE * most_min) * feed
    narrower_mm = np.floor(narrower_mm / _STEP_MM) * _STEP_MM
    name = contour.target.id
    remedy = (
        f"Ask for a tab that is through in time, --tab-width '{name}: {narrower_mm:.1f} mm', and "
        "read what the plan says of its strength; or cut faster: submerge the work, close the "
        "nozzles."
        if narrower_mm >= _LEAST_MM
        else "Cut faster: submerge the work, close the nozzles; or hold the piece by other means "
        "and take less height at a time."
    )
    x, y = cut.moves.start_mm
    return Finding(
        code="cut-off-too-slow",
        severity=Severity.WARNING,
        message=f"Cutting off {name} takes {minutes_text(minutes)} at {slow_feeds(feed)} a minute: "
        f"the tab is {both_sizes(width_mm)} wide. Somebody is taken to stand by for "
        f"{minutes_text(most_min)} after a stop, not longer, and the piece comes free at the end.",
        where=Place(contour_id=name, x_mm=float(x), y_mm=float(y)),
        remedy=remedy,
        data={
            "minutes": minutes,
            "limit_min": most_min,
            "tab_mm": width_mm,
            "in_time_mm": float(narrower_mm),
        },
    )
