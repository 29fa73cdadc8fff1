"""The estimate, line by line."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from kerfwright.foundation.ranges import Range


class TimeKind(StrEnum):
    """Whose hour a time is."""

    PROGRAMMING = "programming"
    MACHINE_ATTENDED = "machine-attended"
    MACHINE_UNATTENDED = "machine-unattended"
    BENCH = "bench"
    """Inspection, removal and drilling: a person, not the wire machine."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeLine:
    """One line of the time table.

    Attributes
    ----------
    operation : str
        ``"programming"``, ``"set-up"``, ``"start-hole drilling"``, ``"threading"``,
        ``"rough pass"``, ``"skim pass 2"`` …, ``"cut-off"``, ``"removal"``, ``"inspection"``.
    kind : TimeKind
    per_piece : bool
        False for what is paid once a job.
    minutes : Range
    basis : str
        How it was computed: ``"412.3 mm at 2.58 mm/min"``.
    """

    operation: str
    kind: TimeKind
    per_piece: bool
    minutes: Range
    basis: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Consumption:
    """One consumable.

    Attributes
    ----------
    item : str
    per_piece : bool
    amount : Range
    unit : str
    unit_price : Decimal
    basis : str
    """

    item: str
    per_piece: bool
    amount: Range
    unit: str
    unit_price: Decimal
    basis: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceLine:
    """One line of a price at one quantity; amounts in the estimate's currency."""

    item: str
    low: Decimal
    likely: Decimal
    high: Decimal
    basis: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Price:
    """The price at one quantity.

    Attributes
    ----------
    quantity : int
    lines : tuple of PriceLine
        Their likely amounts add up to ``likely``.
    low, likely, high : Decimal
        For all pieces together.
    each : Decimal
        Likely price of one piece.
    hours : Range
        Machine hours for all pieces.
    """

    quantity: int
    lines: tuple[PriceLine, ...]
    low: Decimal
    likely: Decimal
    high: Decimal
    each: Decimal
    hours: Range


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """Time, consumption and prices."""

    currency: str
    times: tuple[TimeLine, ...]
    consumption: tuple[Consumption, ...]
    prices: tuple[Price, ...]
