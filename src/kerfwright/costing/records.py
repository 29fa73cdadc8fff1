"""The estimate, line by line."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from kerfwright.foundation.ranges import Range
from kerfwright.foundation.sources import Reason


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
        ``"programming"``, ``"set-up"``, ``"loading"``, ``"start-hole drilling"``,
        ``"start-hole handling"``, ``"threading"``, ``"positioning"``, ``"rough pass"``,
        ``"coreless rough pass"``,
        ``"skim pass 2"`` …, ``"cut-off"``, ``"attended stops"``, ``"removal"``,
        ``"inspection"``, ``"re-threading after breaks"``, ``"help after breaks"``.
    kind : TimeKind
    per_piece : bool
        False for what is paid once a job.
    minutes : Range
    basis : str
        How it was computed: ``"412.3 mm at 2.58 mm/min"``.
    pass_number : int or None
        For cutting: the pass.
    wall_mm, wall_min : float
        For cutting: length along walls and leads, and the likely time of it; what runs through
        open kerf is left out.
    """

    operation: str
    kind: TimeKind
    per_piece: bool
    minutes: Range
    basis: str
    pass_number: int | None = None
    wall_mm: float = 0.0
    wall_min: float = 0.0


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
class Spread:
    """How much of a price and of its range one cause accounts for.

    Attributes
    ----------
    cause : str
        ``"cutting rate"``, ``"drilling rate"``, ``"wear of the tube"``, ``"wire breaks"`` or
        ``"people"``; with experience also ``"job to job"``, ``"cut to cut"`` and ``"wire use"``.
    share_of_price : float
        Fraction of the likely price that moves with it.
    share_of_variance : float
        Fraction of the price's variance that comes from it.
    """

    cause: str
    share_of_price: float
    share_of_variance: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Price:
    """The price at one quantity.

    Attributes
    ----------
    quantity : int
    lines : tuple of PriceLine
        Their likely amounts add up to ``likely``.
    low, likely, high : Decimal
        For all pieces together.  ``likely`` is ``each`` times ``quantity`` to the cent: every face
        shows this total.  It is the price with every cause at its middle, a little
        below the median; low and high are the 10th and 90th percentile.
    each : Decimal
        Likely price of one piece in whole cents.
    hours : Range
        Machine hours for all pieces.
    spread : tuple of Spread
        What makes the range, the largest cause first.
    at_once : int
        Pieces in each stack at this quantity; 1 where they are cut singly.
    """

    quantity: int
    lines: tuple[PriceLine, ...]
    low: Decimal
    likely: Decimal
    high: Decimal
    each: Decimal
    hours: Range
    spread: tuple[Spread, ...] = ()
    at_once: int = 1

    @property
    def loads(self) -> int:
        """Stacks that the quantity takes, or pieces where none is made."""
        return -(-self.quantity // self.at_once)


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """Time, consumption and prices.

    Attributes
    ----------
    currency : str
        Three letters (ISO 4217).
    times : tuple of TimeLine
    consumption : tuple of Consumption
    prices : tuple of Price
        One for each quantity asked.
    reasons : tuple of Reason
        Formula, inputs and source of the main numbers.
    experience : str
        SHA-256 of what the shop had learned when this was computed; empty for the tables alone.
    pieces_each : int
        Pieces that one cut gives: where it is a stack, times and consumption are those of a stack.
        Quantities that are cut otherwise say so (``Price.at_once``).
    """

    currency: str
    times: tuple[TimeLine, ...]
    consumption: tuple[Consumption, ...]
    prices: tuple[Price, ...]
    reasons: tuple[Reason, ...] = ()
    experience: str = ""
    pieces_each: int = 1
