"""A straight land with relief beyond it: what is cut first, and what the first leaves."""

from __future__ import annotations

import math

from kerfwright.foundation.errors import InputError
from kerfwright.foundation.sizes import both_lengths
from kerfwright.trade.part import PartContour, Role
from kerfwright.trade.walls import LandAndRelief, SplitWall, WallPart


def split_wall(one: PartContour, asked: LandAndRelief, *, height_mm: float) -> SplitWall:
    """Return how land and relief of an opening share its wall.

    The relief comes first unless a person says otherwise.  Run on through the land, its wire stays
    on the side of the waste: it leaves a wedge there, 0 at the edge and land × tan(angle) at the
    face, and the land's wire takes that last, along the finished edge.

    Parameters
    ----------
    one : PartContour
    asked : LandAndRelief
    height_mm : float
        Of the work.

    Raises
    ------
    InputError
        ``land-on-outline`` if the contour is an outline, ``land-beyond-work`` if the land is as
        high as the work.
    """
    if one.role is not Role.OPENING:
        raise InputError(
            f"{one.id} is an outline: the first cut would free the part before the second is made",
            code="land-on-outline",
            remedy="Plan the tapered and the straight cut of a part as two jobs, and hold it for "
            "the second; land and relief in one program are for openings.",
        )
    if not asked.land_mm < height_mm:
        raise InputError(
            f"a land of {both_lengths(asked.land_mm)} leaves no relief in work of "
            f"{both_lengths(height_mm)}",
            code="land-beyond-work",
            remedy="Give a lower land, or leave the wall straight.",
        )
    first = asked.first or WallPart.RELIEF
    second = WallPart.LAND if first is WallPart.RELIEF else WallPart.RELIEF
    return SplitWall(
        first_id=one.id,
        second_id=f"{one.id}-{second.upper()}",
        second=second,
        edge_mm=asked.edge_mm(height_mm),
        land_at_top=asked.at_top,
        height_mm=height_mm,
        slope=math.tan(math.radians(asked.angle_deg)),
    )
