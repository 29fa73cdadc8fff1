"""Walls made in two cuts, as the operator and the inspector need to know them."""

from __future__ import annotations

import math
from dataclasses import dataclass

from kerfwright.planning.plan import Plan
from kerfwright.trade.walls import WallPart


@dataclass(frozen=True, slots=True, kw_only=True)
class LandFacts:
    """Land and relief of one opening.

    Attributes
    ----------
    first_id, second_id : str
        Names of the two cuts, in their order.
    first, second : WallPart
        What each makes.
    land_mm, relief_mm : (float, float)
        Heights above the underside between which each stands.
    angle_deg : float
        Of the relief to the vertical.
    opens_mm : float
        How far the relief lies behind the land at its far end, each wall.
    first_passes, second_passes : tuple of int
    """

    first_id: str
    second_id: str
    first: WallPart
    second: WallPart
    land_mm: tuple[float, float]
    relief_mm: tuple[float, float]
    angle_deg: float
    opens_mm: float
    first_passes: tuple[int, ...]
    second_passes: tuple[int, ...]


def lands_of(plan: Plan) -> tuple[LandFacts, ...]:
    """Return the lands and reliefs of a plan.

    Parameters
    ----------
    plan : Plan
    """
    firsts = {c.target.id: c for c in plan.contours}
    found = []
    for c in plan.seconds:
        assert c.follows is not None
        split = c.follows.wall
        stands = {part: split.stands_mm(name) for part, name in zip(
            (split.first, split.second), split.ids, strict=True
        )}  # fmt: skip
        low, high = stands[WallPart.RELIEF]
        found.append(
            LandFacts(
                first_id=split.first_id,
                second_id=split.second_id,
                first=split.first,
                second=split.second,
                land_mm=stands[WallPart.LAND],
                relief_mm=(low, high),
                angle_deg=math.degrees(math.atan(split.slope)),
                opens_mm=(high - low) * split.slope,
                first_passes=tuple(p.number for p in firsts[split.first_id].cut_passes),
                second_passes=tuple(p.number for p in c.cut_passes),
            )
        )
    return tuple(found)
