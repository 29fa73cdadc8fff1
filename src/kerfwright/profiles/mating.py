"""Punch and die from the drawing of a sheet part, and a contour made larger for shrinkage."""

from __future__ import annotations

from typing import Final

from kerfwright.foundation.errors import InputError
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.offset import offset_contour

_LARGEST_SHARE: Final = 0.5
"""Clearance to a side above half the sheet's thickness is a slip of the pen."""
_LARGEST_SHRINKAGE: Final = 0.5


def clearance_mm(sheet_mm: float, share: float) -> float:
    """Return the clearance to each side from the sheet's thickness and the share of it.

    Raises
    ------
    InputError
        Code ``clearance-range``.
    """
    if not sheet_mm > 0:
        raise InputError(
            f"the sheet's thickness is above 0, not {sheet_mm:g} mm.", code="clearance-range"
        )
    if not 0 < share <= _LARGEST_SHARE:
        raise InputError(
            f"a clearance to a side of {100 * share:g} % of the sheet is not above 0 and at most "
            f"{100 * _LARGEST_SHARE:g} %.",
            code="clearance-range",
            remedy="Give the clearance of one side, such as 6%.",
        )
    return sheet_mm * share


def into_the_metal(contour: Contour, distance_mm: float, *, name: str) -> Contour:
    """Return a contour of a part moved into the part's metal, which lies left of its travel.

    Raises
    ------
    InputError
        Code ``clearance-closes`` where nothing or more than one loop is left.
    """
    loops = offset_contour(contour, distance_mm=distance_mm).loops
    if len(loops) != 1:
        left = "nothing" if not loops else f"{len(loops)} pieces"
        raise InputError(
            f"with a clearance of {distance_mm:.4g} mm to each side {left} of {name} would be "
            "left.",
            code="clearance-closes",
            remedy="Take a smaller clearance.",
        )
    return loops[0].contour


def scale_for(shrinkage: float) -> float:
    """Return by what a cavity is larger than the part that shrinks in it: 1 / (1 - shrinkage).

    Raises
    ------
    InputError
        Code ``shrinkage-range``.
    """
    if not 0 < shrinkage < _LARGEST_SHRINKAGE:
        raise InputError(
            f"a shrinkage of {100 * shrinkage:g} % is not above 0 and below "
            f"{100 * _LARGEST_SHRINKAGE:g} %.",
            code="shrinkage-range",
        )
    return 1 / (1 - shrinkage)
