"""What hours and consumables cost, and how long people and the drill take."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from kerfwright.foundation.sources import Source
from kerfwright.process.technology import SmallHoleLaw


@dataclass(frozen=True, slots=True, kw_only=True)
class HourRates:
    """Prices of an hour, in the currency of the table.

    Attributes
    ----------
    machine_unattended_per_h : Decimal
        The machine alone.
    machine_attended_per_h : Decimal
        Machine and attendant together.
    programming_per_h, bench_per_h : Decimal
    sources : mapping of str to Source
    """

    machine_unattended_per_h: Decimal
    machine_attended_per_h: Decimal
    programming_per_h: Decimal
    bench_per_h: Decimal
    sources: Mapping[str, Source]


@dataclass(frozen=True, slots=True, kw_only=True)
class HumanMinutes:
    """How long people take, in minutes.

    Attributes
    ----------
    programming_base, programming_per_contour : float
    set_up : float
        Once a job.
    loading_per_piece : float
    threading_automatic, threading_by_hand : float
        For each threading.
    attended_stop : float
        For each stop at which the machine waits for a person.
    removal_per_piece_freed : float
        For each slug or part that comes free.
    start_hole_handling : float
        Positioning for each hole.
    inspection_base, inspection_per_contour : float
        For each piece.
    inspection_usual_um : float
        A contour held tighter than this takes longer by the ratio of the two tolerances.
    inspection_most : float
        Largest such factor.
    stack_base, stack_per_sheet, unstack_per_sheet : float
        For each stack, and for each of its sheets before and after the cut.
    stack_per_bolt, stack_weld : float
        For each screw of a bolted stack, and for a welded one.
    human_sigma_log : float
        Standard deviation of the logarithm of any of these.
    sources : mapping of str to Source
    """

    programming_base: float
    programming_per_contour: float
    set_up: float
    loading_per_piece: float
    threading_automatic: float
    threading_by_hand: float
    attended_stop: float
    removal_per_piece_freed: float
    start_hole_handling: float
    inspection_base: float
    inspection_per_contour: float
    inspection_usual_um: float
    inspection_most: float
    human_sigma_log: float
    sources: Mapping[str, Source]
    stack_base: float = 0.0
    stack_per_sheet: float = 0.0
    unstack_per_sheet: float = 0.0
    stack_per_bolt: float = 0.0
    stack_weld: float = 0.0

    def threading(self, *, by_itself: bool) -> float:
        """Return the minutes of one threading, by the machine itself or by hand."""
        return self.threading_automatic if by_itself else self.threading_by_hand


@dataclass(frozen=True, slots=True, kw_only=True)
class ConsumableRates:
    """Prices and lives of what is used up; the wire carries its own price.

    Attributes
    ----------
    electricity_per_kwh, filter_price : Decimal
    filter_life_h : float
        Cutting hours of one set of filters.
    resin_price_per_l : Decimal
    resin_l_per_h : float
    electrode_price_per_m : Decimal
    sources : mapping of str to Source
    """

    electricity_per_kwh: Decimal
    filter_price: Decimal
    filter_life_h: float
    resin_price_per_l: Decimal
    resin_l_per_h: float
    electrode_price_per_m: Decimal
    sources: Mapping[str, Source]


@dataclass(frozen=True, slots=True, kw_only=True)
class BreakRates:
    """How often the wire breaks, and how long a break keeps machine and people.

    Attributes
    ----------
    machine_min : float
        Back to the start, thread, and up to the place through the open kerf.
    help_min : float
        Of a person at the machine, for a break that wants one.
    help_share : float
        Share of breaks that want a person on a machine that threads itself.
    per_h, sigma_log : float
        Breaks in an hour of a usual cut and the standard deviation of its logarithm, as the rules
        of learning have them.
    burst : float
        Variance of a count beyond Poisson over its mean: one break brings others.
    sources : mapping of str to Source
    """

    machine_min: float
    help_min: float
    help_share: float
    per_h: float
    sigma_log: float
    burst: float
    sources: Mapping[str, Source]


@dataclass(frozen=True, slots=True, kw_only=True)
class RateTable:
    """Everything a price needs besides the plan.

    Attributes
    ----------
    currency : str
        Three letters (ISO 4217).
    hour : HourRates
    minutes : HumanMinutes
    consumption : ConsumableRates
    drilling : SmallHoleLaw
        Time and tube of start holes.
    minimum_order : Decimal
    same_price_share : float
        Two ways of cutting whose prices differ by less than this share cost the same: the usual
        one is then taken.
    sources : mapping of str to Source
    breaks : BreakRates or None
        None leaves breaks of the wire out of account.
    unmeasured_saving_share : float
        What a wire whose rate nobody has measured must save, to stand before one that is known;
        0 in figures kept before there was such a share.
    """

    currency: str
    hour: HourRates
    minutes: HumanMinutes
    consumption: ConsumableRates
    drilling: SmallHoleLaw
    minimum_order: Decimal
    same_price_share: float
    sources: Mapping[str, Source]
    breaks: BreakRates | None = None
    unmeasured_saving_share: float = 0.0
