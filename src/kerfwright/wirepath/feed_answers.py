"""Why the feed is taken back at corners and arcs, pass by pass; built when asked."""

from __future__ import annotations

from typing import Final

import numpy as np

from kerfwright.foundation.answers import Answer
from kerfwright.foundation.sources import Reason, Source, SourceTag
from kerfwright.motion.moves import CutKind, Purpose, WirePath
from kerfwright.planning.plan import Plan
from kerfwright.process.wire_physics import WirePhysics
from kerfwright.wirepath.trailing import limits_of

_COMPUTED: Final = Source(tag=SourceTag.COMPUTED)
_SLOWED: Final = (Purpose.WALL, Purpose.CORNER, Purpose.OVERLAP, Purpose.CUT_OFF)
_IS_SLOWED: Final = np.array([purpose in _SLOWED for purpose in range(max(Purpose) + 1)])
"""By the number of a purpose."""


def feed_answers(plan: Plan, path: WirePath, *, physics: WirePhysics) -> tuple[Answer, ...]:
    """Return lag allowed and least feed factor of each pass with their reasons.

    Parameters
    ----------
    plan : Plan
    path : WirePath
        Drawn with the same constants.
    physics : WirePhysics
    """
    limits, least_factor = limits_of(plan, physics=physics), _least(plan, path)
    found = []
    for one in plan.passes:
        limit = limits[one.number]
        allowance = Reason(
            quantity="corner_allowance_um",
            value=limit.allowed_um,
            formula="share x tolerance held by the pass",
            inputs=(
                ("share", physics.feeds.tolerance_share),
                ("tolerance_um", one.tolerance_um),
            ),
            source=physics.feeds.sources["tolerance_share"],
        )
        least = Reason(
            quantity="least_feed_factor",
            value=least_factor[one.number],
            formula="the least over corners and arcs of (largest lag allowed there / lag)^(1/n), "
            "in steps, not below the least; with the likely lag",
            inputs=(
                ("lag_um", limit.lag_um),
                ("allowance_um", limit.allowed_um),
                ("n", limit.feed_exponent),
                ("step", limit.rules.factor_step),
                ("least", limit.rules.least_factor),
            ),
            source=_COMPUTED,
        )
        for name, reason in (
            ("corner allowance", allowance),
            ("corner slow-down least feed factor", least),
        ):
            found.append(Answer(about=f"pass {one.number}", name=name, path="", reason=reason))
    return tuple(found)


def _least(plan: Plan, path: WirePath) -> dict[int, float]:
    """Return the least feed along the wall over the usual one, any contour, by pass."""
    flushed = {c.target.id: c.flushing.rate_factor for c in plan.contours}
    usual = {one.number: one.feed_mm_per_min for one in plan.passes}
    least = dict.fromkeys(usual, 1.0)
    for cut in path.cuts:
        feeds = cut.moves.feed_mm_per_min[_IS_SLOWED[cut.moves.purpose]]
        if len(feeds):
            derated = flushed[cut.contour_id] if cut.kind is not CutKind.SKIM else 1.0
            factor = float(feeds.min()) / (usual[cut.pass_number] * derated)
            least[cut.pass_number] = min(least[cut.pass_number], factor)
    return least
