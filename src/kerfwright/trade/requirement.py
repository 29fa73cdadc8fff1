"""What the customer asks of the part."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Final

from kerfwright.foundation.errors import InputError
from kerfwright.foundation.units import both_roughness
from kerfwright.foundation.zones import zone_asked
from kerfwright.geometry.contour import Contour
from kerfwright.trade.coreless import CorelessWish
from kerfwright.trade.machine import Machine
from kerfwright.trade.material import Material, Wire
from kerfwright.trade.placement import NOWHERE_PLACED, Placement
from kerfwright.trade.stack import Stack
from kerfwright.trade.strings import StringWish
from kerfwright.trade.walls import WallWish


@dataclass(frozen=True, slots=True, kw_only=True)
class Demand:
    """What is asked of a wall.

    Attributes
    ----------
    tolerance_um : float or None
        Half width of the tolerance zone of the wall (``±``).
    ra_um : float or None
        Largest arithmetic mean roughness.
    max_recast_um : float or None

    Raises
    ------
    InputError
        If a value is not above 0.
    """

    tolerance_um: float | None = None
    ra_um: float | None = None
    max_recast_um: float | None = None

    def __post_init__(self) -> None:
        for name in ("tolerance_um", "ra_um", "max_recast_um"):
            _require_above_zero(name, getattr(self, name))

    @property
    def said(self) -> str:
        """What is asked, in words and both unit systems."""
        words = []
        if self.tolerance_um is not None:
            words.append(f"±{zone_asked(self.tolerance_um)}")
        if self.ra_um is not None:
            words.append(both_roughness(self.ra_um))
        if self.max_recast_um is not None:
            words.append(f"recast up to {zone_asked(self.max_recast_um)}")
        return ", ".join(words) or "nothing"


@dataclass(frozen=True, slots=True, kw_only=True)
class Requirement:
    """The demands on one job, in the units kerfwright computes in.

    Attributes
    ----------
    material : Material
    height_mm : float
        Height of the work along the wire.
    tolerance_um : float or None
        Half width of the tolerance zone of the wall (``±``); None if the drawing asks nothing.
    ra_um : float or None
        Largest arithmetic mean roughness; None if the drawing asks nothing.
    max_recast_um : float or None
    wire : Wire or None
        Wire the person insists on; None leaves the choice to the plan.
    quantities : tuple of int
        Quantities to price, ascending.
    stock_margin_mm : float
        Stock around an outline where the drawing gives none.
    machine : Machine
    stack : Stack or None
        Sheets that are cut together; ``height_mm`` is then that of the stack.
    contours : mapping of str to Demand
        Demands on single contours, by id.  What one leaves out (None) is the job's; a larger
        value than the job's is a looser demand.
    walls : mapping of str to Taper, LandAndRelief or Pairing
        Contours whose wall leans, by id.
    placements : mapping of str to Placement
        Where a person put start, lead-in or tab of single contours, by id.
    coreless : CorelessWish
        What becomes of the inside of openings.
    coreless_of : mapping of str to CorelessWish
        The same of single contours, by id.
    strings : StringWish
        Whether outlines side by side are cut with the wire threaded once.
    clamps : tuple of Contour
        Places of clamps beyond those of the drawing, counter-clockwise, mm.

    Raises
    ------
    InputError
        If a length, a roughness or a quantity is not above 0, or the quantities do not ascend.
    """

    material: Material
    height_mm: float
    machine: Machine
    tolerance_um: float | None = None
    ra_um: float | None = None
    max_recast_um: float | None = None
    wire: Wire | None = None
    quantities: tuple[int, ...] = (1,)
    stock_margin_mm: float = 8.0
    stack: Stack | None = None
    contours: Mapping[str, Demand] = field(default_factory=lambda: MappingProxyType({}))
    walls: Mapping[str, WallWish] = field(default_factory=lambda: MappingProxyType({}))
    placements: Mapping[str, Placement] = field(default_factory=lambda: MappingProxyType({}))
    coreless: CorelessWish = CorelessWish.SMALL
    coreless_of: Mapping[str, CorelessWish] = field(default_factory=lambda: MappingProxyType({}))
    strings: StringWish = StringWish.NEVER
    clamps: tuple[Contour, ...] = ()

    def __post_init__(self) -> None:
        for name in ("height_mm", "tolerance_um", "ra_um", "max_recast_um", "stock_margin_mm"):
            _require_above_zero(name, getattr(self, name))
        if self.stack is not None and self.stack.height_mm != self.height_mm:
            raise InputError(
                f"the height is {self.height_mm} mm and that of the stack {self.stack.height_mm}",
                code="requirement-value",
            )
        if not self.quantities or any(q < 1 for q in self.quantities):
            raise InputError(
                f"quantities must be 1 or more, got {self.quantities}", code="requirement-value"
            )
        if list(self.quantities) != sorted(set(self.quantities)):
            raise InputError(
                f"quantities must ascend and differ, got {self.quantities}",
                code="requirement-value",
                remedy="Sort them.",
            )

    @property
    def demand(self) -> Demand:
        """What is asked of every contour that has no demand of its own."""
        return Demand(
            tolerance_um=self.tolerance_um, ra_um=self.ra_um, max_recast_um=self.max_recast_um
        )

    def demand_on(self, contour_id: str) -> Demand:
        """Return what is asked of one contour: its own demands, else the job's."""
        own = self.contours.get(contour_id)
        if own is None:
            return self.demand
        return Demand(
            tolerance_um=_first(own.tolerance_um, self.tolerance_um),
            ra_um=_first(own.ra_um, self.ra_um),
            max_recast_um=_first(own.max_recast_um, self.max_recast_um),
        )

    def placement_of(self, contour_id: str) -> Placement:
        """Return where a person put start, lead-in and tab of one contour."""
        return self.placements.get(contour_id, NOWHERE_PLACED)

    def coreless_on(self, contour_id: str) -> CorelessWish:
        """Return what becomes of the inside of one opening."""
        return self.coreless_of.get(contour_id, self.coreless)

    def require_known(self, contour_ids: Iterable[str]) -> None:
        """Refuse demands and places on contours that the drawing does not have.

        Parameters
        ----------
        contour_ids : iterable of str
            Those of the drawing.

        Raises
        ------
        InputError
            Code ``contour-unknown``; the message names the ids that exist.
        """
        known = list(contour_ids)
        named = *self.contours, *self.walls, *self.placements, *self.coreless_of
        odd = [n for n in named if n not in known]
        if odd:
            raise InputError(
                f"demands or places are given for contour {', '.join(odd)}, which the drawing does "
                f"not have; it has {', '.join(known) or 'none'}",
                code="contour-unknown",
                remedy="Take the ids that `kerfwright check` lists.",
            )


def _first(own: float | None, usual: float | None) -> float | None:
    return usual if own is None else own


_DEMANDS: Final = {
    "height_mm": ("height of the work", "mm", "--height"),
    "tolerance_um": ("tolerance of the wall", "µm", "--tolerance"),
    "ra_um": ("finish", "µm Ra", "--finish"),
    "max_recast_um": ("recast layer allowed", "µm", "--recast"),
    "stock_margin_mm": ("stock around an outline", "mm", "--stock-margin"),
}
"""By field: the demand in the words of the trade, its unit, and the option that gives it."""


def _require_above_zero(name: str, value: float | None) -> None:
    # "not >" refuses nan as well.
    if value is not None and (not value > 0 or math.isinf(value)):
        words, unit, option = _DEMANDS[name]
        raise InputError(
            f"the {words} is given as {value:g} {unit}; it must be above 0",
            code="requirement-value",
            remedy=f"Give a value above 0, or leave {option} out where nothing is asked."
            if name not in ("height_mm", "stock_margin_mm")
            else "Give a value above 0.",
        )
