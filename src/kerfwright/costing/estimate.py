"""From a plan and its wire path to time, consumption and price."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import ROUND_CEILING, ROUND_HALF_EVEN, Decimal
from typing import Final

from kerfwright.costing.breaks import BREAKS, with_breaks
from kerfwright.costing.cut_spread import CUT_TO_CUT, CUTTING, JOB_TO_JOB
from kerfwright.costing.rates import RateTable
from kerfwright.costing.records import (
    Consumption,
    Estimate,
    Price,
    PriceLine,
    Spread,
    TimeKind,
)
from kerfwright.costing.times import DRILLING, PEOPLE, TimedLine, Times, for_quantity, job_times
from kerfwright.costing.uncertainty import Amount, total, variance_by_cause
from kerfwright.foundation.counts import counted
from kerfwright.foundation.ranges import Range
from kerfwright.foundation.sources import Reason, Source, SourceTag
from kerfwright.motion.moves import WirePath
from kerfwright.planning.plan import Plan
from kerfwright.process import consumption as use
from kerfwright.process.experience import Loadings
from kerfwright.process.hole_ranges import TUBE_WEAR
from kerfwright.process.loadings import spread_of, together
from kerfwright.process.nozzles import NOZZLES

_CENT: Final = Decimal("0.01")
_COMPUTED: Final = Source(tag=SourceTag.COMPUTED)
WIRE_USE: Final = "wire use"
MINIMUM: Final = "minimum order"
ROUNDING: Final = "rounding"
"""The line of a price that takes the sum of the others to whole cents a piece."""


def estimate(
    plan: Plan,
    path: WirePath,
    *,
    rates: RateTable,
    per_load: float = 1.0,
    measured: float | None = None,
) -> Estimate:
    """Estimate time, consumption and the price at each quantity asked.

    One factor for the cutting rate moves every pass, and with them wire, electricity, filters
    and resin, together: a material and wire that cut slower than thought do so throughout.
    Where the shop has experience, what passes share is as correlated as it was learned, jobs
    differ, and single cuts scatter independently, so that many of them even out.

    The time of each human operation and the drilling rate have factors of their own, all
    independent.  All are lognormal; the range of a sum has its exact mean and variance and is
    taken as lognormal itself, see :mod:`kerfwright.costing.uncertainty`.

    The likely lines of a price add up to its likely total to the cent, and that is the price each,
    in whole cents, times the pieces: the total that a customer gets who multiplies.  What is paid
    once a job is shared out among the pieces with the rest; a line tells the cents that this
    adds or takes.  Low and high are the
    10th and 90th percentile and do not add up, because not everything goes wrong at once.

    Parameters
    ----------
    plan : Plan
        Its requirement gives the quantities, its passes the spread of the feeds.
    path : WirePath
        Cutting time is the length of every move over its own feed; moves through open kerf
        without one go at the machine's idle speed.
    rates : RateTable
    per_load : float
        Pieces cut at once as a stack, mean over the loads; the quantities then count loads.
    measured : float, optional
        So many of them are measured; all where nothing is said.

    Returns
    -------
    Estimate
        Times and consumption are those of one job (what is paid once) and one piece.

    Raises
    ------
    InputError
        Code ``feed-missing`` or ``pass-unknown``.
    """
    times = job_times(plan, path, rates=rates, per_load=per_load, measured=measured)
    times = with_breaks(times, plan, path, rates=rates)
    used = _consumption(plan, times, rates)
    return Estimate(
        currency=rates.currency,
        times=tuple(line.line for line in times.lines),
        consumption=tuple(u.line for u in used),
        prices=tuple(
            price_at(quantity, times.lines, used, rates, pieces=round(quantity * per_load))
            for quantity in plan.requirement.quantities
        ),
        reasons=(*_reasons(plan, times, used), *times.reasons),
        experience=next((p.learned.experience for p in plan.passes if p.learned), ""),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Used:
    """A consumable with the cause of its range.

    Attributes
    ----------
    line : Consumption
    sigma_log : float
    cause : str
    loadings : Loadings
    """

    line: Consumption
    sigma_log: float
    cause: str
    loadings: Loadings = ()


def running_loadings(running: Sequence[TimedLine]) -> Loadings:
    """Return how the causes move the sum of the cutting times: each line by its share of it.

    None where all lines have the one cause of the tables' cutting rate.
    """
    if not any(line.loadings for line in running):
        return ()
    minutes = math.fsum(line.minutes for line in running)
    return together(
        *(
            (line.minutes / minutes, line.loadings or ((line.cause, line.sigma_log),))
            for line in running
        )
    )


def _consumption(plan: Plan, times: Times, rates: RateTable) -> tuple[Used, ...]:
    running = times.running
    minutes = sum(line.minutes for line in running)
    # Passes of one cause add up with their deviations, so the mean weighted by time is exact.
    sigma = sum(line.minutes * line.sigma_log for line in running) / minutes if minutes else 0.0
    loadings = running_loadings(running)
    wire, machine, prices = plan.choice.wire, plan.requirement.machine, rates.consumption
    factor, wire_sigma = _wire_use(running)
    mass_kg = use.wire_kg(minutes, wire=wire) * factor
    running_wire = (
        f"{wire.diameter_mm:g} mm {wire.name}, {minutes:.1f} min at "
        f"{wire.run_speed_m_per_min:g} m/min; {use.spools(mass_kg, wire=wire):.2f} spools"
    )
    if factor != 1:
        running_wire += f"; {factor:.3g} times that, as measured"
    items = [
        ("wire", mass_kg, "kg", Decimal(repr(wire.price_per_kg)), running_wire),
        (
            "electricity",
            use.energy_kwh(minutes, power_kw=machine.power_kw),
            "kWh",
            prices.electricity_per_kwh,
            f"{machine.power_kw:g} kW while cutting",
        ),
        (
            "filters",
            use.filter_sets(minutes, life_h=prices.filter_life_h),
            "set",
            prices.filter_price,
            f"a set lasts {prices.filter_life_h:g} h of cutting",
        ),
        (
            "resin",
            use.resin_l(minutes, litres_per_h=prices.resin_l_per_h),
            "l",
            prices.resin_price_per_l,
            f"{prices.resin_l_per_h:g} l an hour of cutting",
        ),
    ]
    wire_too = (*loadings, (WIRE_USE, wire_sigma)) if wire_sigma else loadings
    causes = [wire_too, *(loadings,) * (len(items) - 1)]
    used = [
        used_up(item, sigma_log=sigma, cause=CUTTING, loadings=moved)
        for item, moved in zip(items, causes, strict=True)
    ]
    if times.tube_mm.likely:
        tube = (
            "drilling electrodes",
            times.tube_mm.likely / 1000,
            "m",
            prices.electrode_price_per_m,
            f"{times.tube_mm.likely:.0f} mm of tube worn away in start holes",
        )
        used.append(used_up(tube, sigma_log=times.tube_sigma_log, cause=TUBE_WEAR))
    return tuple(used)


def _wire_use(running: Sequence[TimedLine]) -> tuple[float, float]:
    """Return the factor on the wire used in a minute and its spread, as learned.

    Passes are weighted by their time; their factors are taken to move together.
    """
    known = [(line.minutes, line.learned) for line in running if line.learned]
    minutes = math.fsum(t for t, _ in known)
    if not minutes:
        return 1.0, 0.0
    factor = math.fsum(t * learned.wire_factor for t, learned in known) / minutes
    return factor, math.fsum(t * learned.wire_sigma_log for t, learned in known) / minutes


def used_up(
    item: tuple[str, float, str, Decimal, str],
    *,
    sigma_log: float,
    cause: str,
    loadings: Loadings = (),
) -> Used:
    """Return a consumable of one piece: name, likely amount, unit, its price and the basis."""
    name, amount, unit, unit_price, basis = item
    sigma_log = spread_of(loadings) if loadings else sigma_log
    return Used(
        line=Consumption(
            item=name,
            per_piece=True,
            amount=Range.lognormal(amount, sigma_log=sigma_log),
            unit=unit,
            unit_price=unit_price,
            basis=basis,
        ),
        sigma_log=sigma_log,
        cause=cause,
        loadings=loadings,
    )


def _hour_rate(kind: TimeKind, rates: RateTable) -> Decimal:
    return {
        TimeKind.PROGRAMMING: rates.hour.programming_per_h,
        TimeKind.MACHINE_ATTENDED: rates.hour.machine_attended_per_h,
        TimeKind.MACHINE_UNATTENDED: rates.hour.machine_unattended_per_h,
        TimeKind.BENCH: rates.hour.bench_per_h,
    }[kind]


def price_at(
    quantity: int,
    times: Sequence[TimedLine],
    used: Sequence[Used],
    rates: RateTable,
    *,
    pieces: int | None = None,
) -> Price:
    """Return the price at a quantity: its lines, range, hours and what makes the range.

    Parameters
    ----------
    quantity : int
        Cuts that are paid: pieces, or stacks of them.
    times : sequence of TimedLine
    used : sequence of Used
    rates : RateTable
    pieces : int, optional
        Pieces that come of them; without it, one a cut.
    """
    lines: list[PriceLine] = []
    amounts: list[Amount] = []
    for timed in times:
        count = quantity if timed.line.per_piece else 1
        rate = _hour_rate(timed.line.kind, rates)
        likely = Decimal(timed.minutes) * count / 60 * rate
        basis = (
            f"{timed.minutes * count:.1f} min of {timed.line.kind.value.replace('-', ' ')} time "
            f"at {rate:.2f} an hour; {timed.line.basis}"
        )
        spread = timed.amount(quantity=count)
        lines.append(_line(timed.line.operation, likely, spread.relative, basis))
        amounts.append(replace(spread, likely=float(lines[-1].likely)))
    for u in used:
        amount = u.line.amount.likely * quantity
        basis = f"{amount:.3g} {u.line.unit} at {u.line.unit_price:.2f}; {u.line.basis}"
        loadings = for_quantity(u.loadings, quantity)
        sigma = spread_of(loadings) if loadings else u.sigma_log
        relative = Range.lognormal(1.0, sigma_log=sigma)
        lines.append(_line(u.line.item, Decimal(amount) * u.line.unit_price, relative, basis))
        value = float(lines[-1].likely)
        amounts.append(Amount(likely=value, sigma_log=sigma, cause=u.cause, loadings=loadings))
    return _summed((quantity, pieces or quantity), times, lines, amounts, rates)


def _summed(
    counts: tuple[int, int],
    times: Sequence[TimedLine],
    lines: list[PriceLine],
    amounts: Sequence[Amount],
    rates: RateTable,
) -> Price:
    quantity, pieces = counts
    likely = sum((line.likely for line in lines), start=Decimal(0))
    least = rates.minimum_order
    if is_least := likely < least:
        lines.append(
            _line(
                MINIMUM,
                least - likely,
                Range.exact(1.0),
                "to the least we bill",
            )
        )
        likely = least.quantize(_CENT)
    # Rounded down, a minimum order would be billed below the least we bill.
    each = (likely / pieces).quantize(
        _CENT, rounding=ROUND_CEILING if is_least else ROUND_HALF_EVEN
    )
    if each * pieces != likely:
        basis = f"{counted(pieces, 'piece')} at {each} each"
        lines.append(_line(ROUNDING, each * pieces - likely, Range.exact(1.0), basis))
        likely = each * pieces
    spread = total(amounts)
    factor = (spread.low / spread.likely, spread.high / spread.likely) if spread.likely else (1, 1)
    summed = Decimal(spread.likely) if is_least else likely
    floor = likely if is_least else least
    low, high = (max(_cents(summed * Decimal(f)), floor) for f in factor)
    return Price(
        quantity=pieces,
        lines=tuple(lines),
        low=min(low, likely),
        likely=likely,
        high=max(high, likely),
        each=each,
        hours=_machine_hours(times, quantity),
        spread=_spread(amounts),
    )


def _line(item: str, likely: Decimal, spread: Range, basis: str) -> PriceLine:
    cents = _cents(likely)
    return PriceLine(
        item=item,
        low=_cents(cents * Decimal(spread.low)),
        likely=cents,
        high=_cents(cents * Decimal(spread.high)),
        basis=basis,
    )


def _cents(amount: Decimal) -> Decimal:
    return amount.quantize(_CENT, rounding=ROUND_HALF_EVEN)


def _machine_hours(times: Sequence[TimedLine], quantity: int) -> Range:
    kinds = (TimeKind.MACHINE_ATTENDED, TimeKind.MACHINE_UNATTENDED)
    return total(
        timed.amount(
            factor=(quantity if timed.line.per_piece else 1) / 60,
            quantity=quantity if timed.line.per_piece else 1,
        )
        for timed in times
        if timed.line.kind in kinds
    )


def _spread(amounts: Sequence[Amount]) -> tuple[Spread, ...]:
    """Say which cause makes how much of the price and of its range."""
    price = math.fsum(a.likely for a in amounts)
    variances = variance_by_cause(amounts)
    variance = math.fsum(variances.values())
    if not price or not variance:
        return ()
    shares: dict[str, list[float]] = {}
    for cause, of_variance in variances.items():
        shares.setdefault(kind_of(cause), [0.0, 0.0])[1] += of_variance / variance
    for kind, share in shares.items():
        moved = (
            a.likely
            for a in amounts
            if any(s and kind_of(c) == kind for c, s in a.by_cause.items())
        )
        share[0] = math.fsum(moved) / price
    ranked = sorted(shares.items(), key=lambda item: -item[1][1])
    return tuple(
        Spread(cause=cause, share_of_price=price_share, share_of_variance=variance_share)
        for cause, (price_share, variance_share) in ranked
    )


def kind_of(cause: str) -> str:
    """Return the kind of a cause: people have one for each operation, cuts one for each line."""
    kinds = (CUTTING, NOZZLES, DRILLING, JOB_TO_JOB, CUT_TO_CUT, WIRE_USE, TUBE_WEAR, BREAKS)
    return next((kind for kind in kinds if cause.startswith(kind)), PEOPLE)


def _reasons(plan: Plan, times: Times, used: Sequence[Used]) -> tuple[Reason, ...]:
    cutting = sum(line.minutes for line in times.running)
    wire = plan.choice.wire
    factor, _ = _wire_use(times.running)
    return (
        *_uncertainty(times),
        Reason(
            quantity="cutting_min",
            value=cutting,
            formula="sum over moves of length / feed",
            inputs=tuple((line.line.operation, line.minutes) for line in times.running),
            source=_COMPUTED,
            range=total(line.amount() for line in times.running) if times.running else None,
        ),
        Reason(
            quantity="wire_kg",
            value=used[0].line.amount.likely,
            formula="rho pi d^2/4 x speed x cutting time x factor learned",
            inputs=(
                ("rho_kg_per_m3", wire.density_kg_per_m3),
                ("d_mm", wire.diameter_mm),
                ("speed_m_per_min", wire.run_speed_m_per_min),
                ("cutting_min", cutting),
                ("factor", factor),
            ),
            source=wire.sources.get("run_speed_m_per_min", _COMPUTED),
            range=used[0].line.amount,
        ),
    )


def _uncertainty(times: Times) -> tuple[Reason, ...]:
    """Say who brings how much of the uncertainty of the cutting time, where it was learned."""
    known = [(line.minutes, line.learned) for line in times.running if line.learned]
    minutes = math.fsum(t for t, _ in known)
    if not minutes:
        return ()
    loadings = running_loadings(times.running)
    variance = math.fsum(sigma**2 for _, sigma in loadings)
    kinds: dict[str, float] = {}
    for cause, sigma in loadings:
        kinds[kind_of(cause)] = kinds.get(kind_of(cause), 0.0) + sigma**2 / variance
    # What the inputs bring to each pass, weighted by its time and scaled to what passes share.
    inputs: dict[str, float] = {}
    for t, learned in known:
        for who, share in learned.feed_shares:
            if who not in _NOT_SHARED:
                inputs[who] = inputs.get(who, 0.0) + share * t / minutes
    scale = kinds.get(CUTTING, 0.0) / math.fsum(inputs.values())
    return (
        Reason(
            quantity="cutting_sigma_log",
            value=math.sqrt(variance),
            formula="root of the sum over causes of (sum over passes of time share x spread)^2",
            inputs=(
                *((f"share of {who}", share * scale) for who, share in inputs.items()),
                *((f"share of {who}", kinds[who]) for who in (NOZZLES,) if who in kinds),
                (f"share of {JOB_TO_JOB}", kinds.get(JOB_TO_JOB, 0.0)),
                (f"share of {CUT_TO_CUT}", kinds.get(CUT_TO_CUT, 0.0)),
            ),
            source=Source(tag=SourceTag.SHOP, citation="measured cuts"),
        ),
    )


_NOT_SHARED: Final = ("job", "cut")
