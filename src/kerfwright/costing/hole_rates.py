"""What small-hole work costs besides the common rates: the costing part of ``holes.toml``."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from kerfwright.foundation.sources import Source


@dataclass(frozen=True, slots=True, kw_only=True)
class HoleRates:
    """Minutes and prices of a small-hole machine.

    Attributes
    ----------
    tube_change_min, tube_change_itself_min, guide_change_min : float
    dress_min, dress_by_hand_min : float
    touch_min, retract_min : float
        For each hole.
    inspection_per_size_min, inspection_per_hole_min : float
        For each piece.
    machine_unattended_per_h, machine_attended_per_h : Decimal
    guide_price : Decimal
    guide_life_holes : float
    water_price_per_m3 : Decimal
    sources : mapping of str to Source
    """

    tube_change_min: float
    tube_change_itself_min: float
    guide_change_min: float
    dress_min: float
    dress_by_hand_min: float
    touch_min: float
    retract_min: float
    inspection_per_size_min: float
    inspection_per_hole_min: float
    machine_unattended_per_h: Decimal
    machine_attended_per_h: Decimal
    guide_price: Decimal
    guide_life_holes: float
    water_price_per_m3: Decimal
    sources: Mapping[str, Source]
