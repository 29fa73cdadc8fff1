"""Walls as a solid gives them."""

from __future__ import annotations

from kerfwright.foundation.errors import InputError
from kerfwright.foundation.places import place_words
from kerfwright.geometry.ruled import crossing
from kerfwright.planning.paired_walls import Joined
from kerfwright.trade.part import PartContour
from kerfwright.trade.walls import GivenWall, PairedWall


def given(one: PartContour, wall: GivenWall) -> Joined:
    """Return the wall of a contour as the solid joins its bottom and top.

    Parameters
    ----------
    one : PartContour
    wall : GivenWall

    Raises
    ------
    InputError
        ``solid-role`` if a person turned an outline into an opening or back, ``rulings-cross`` if
        the wall passes through itself.
    """
    if one.contour.area_mm2 * wall.lower.area_mm2 <= 0:
        raise InputError(
            f"contour {one.id} is said to be an {one.role.value}; in the solid the metal is on "
            "the other side of its wall",
            code="solid-role",
            remedy="Leave its role as the solid gives it, or say not-cut.",
        )
    place = crossing(wall.ruled)
    if place is not None:
        raise InputError(
            f"rulings cross {place.height_mm:.4g} mm up: the wall would pass through itself",
            code="rulings-cross",
            where=place_words(place.x_mm, place.y_mm),
            remedy="Look at the solid there; a straight wire cannot make it.",
        )
    shape = PairedWall(lower=wall.lower, upper=wall.upper, ruled=wall.ruled)
    return Joined(shape=shape, reason=wall.reason)
