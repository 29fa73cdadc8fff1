"""What the customer asks of the part."""

from __future__ import annotations

import math
from dataclasses import dataclass

from kerfwright.foundation.errors import InputError
from kerfwright.trade.machine import Machine
from kerfwright.trade.material import Material, Wire


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

    def __post_init__(self) -> None:
        for name in ("height_mm", "tolerance_um", "ra_um", "max_recast_um", "stock_margin_mm"):
            value = getattr(self, name)
            # "not >" refuses nan as well.
            if value is not None and (not value > 0 or math.isinf(value)):
                raise InputError(f"{name} must be above 0, got {value}", code="requirement-value")
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
