"""Wire breaks to be expected in a job, and what they cost in time."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final

from kerfwright.costing.rates import BreakRates, RateTable
from kerfwright.costing.records import TimeKind, TimeLine
from kerfwright.costing.times import TimedLine, Times
from kerfwright.costing.uncertainty import chance_of_any, count_range, whole_counts
from kerfwright.foundation.counts import counted
from kerfwright.foundation.ranges import Range
from kerfwright.foundation.sources import Reason, Source, SourceTag
from kerfwright.motion.moves import CutKind, WirePath
from kerfwright.motion.tally import Tally, tally
from kerfwright.planning.plan import Plan
from kerfwright.process.technology import Pass

BREAKS: Final = "wire breaks"
RETHREADING: Final = "re-threading after breaks"
HELP: Final = "help after breaks"
WIRE_BREAKS: Final = "wire_breaks"
"""Quantity of the reason for the count."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ExpectedBreaks:
    """Breaks of the wire to be expected in one piece.

    Attributes
    ----------
    hours : float
        Cutting time that they are expected in.
    likely : float
        With the rate at its middle.
    sigma_log : float
        Standard deviation of the logarithm of the rate.
    per_h : float
        Breaks an hour before the risks of this job, mean over its cutting time.
    by_risk : float
        Factor of the job's heat and dirt, mean over its cutting time.
    burst : float
        Variance of the count beyond Poisson and beyond that of the rate, over its mean.
    experience : str
        SHA-256 of what the shop's cuts taught of the rate; empty for the tables.
    is_counted : bool
        Whether counts at such feeds are in the factor too.
    """

    hours: float
    likely: float
    sigma_log: float
    per_h: float
    by_risk: float
    burst: float = 0.0
    experience: str = ""
    is_counted: bool = False

    @property
    def mean(self) -> float:
        """Mean count: above the likely one, for rates overrun further than they save."""
        return self.likely * math.exp(self.sigma_log**2 / 2)


def expected_breaks(
    plan: Plan, path: WirePath, *, rates: BreakRates, added: Tally | None = None
) -> ExpectedBreaks:
    """Return how many breaks to expect: ``N = sum of t r (b_heat b_dirt)^w`` over the cuts.

    ``r`` is the rate of common practice or, with experience, the learned one; ``b_heat`` and
    ``b_dirt`` are the relative rates of the plan.  What a shop has learned about a pass has the
    heat and the water of its cuts in it already, so these count the less the more is known:
    ``w`` is the share of the variance of the rate that is left.  Where cuts at such feeds were
    counted, ``b_heat`` is that of counts and model together and counts whole.

    Parameters
    ----------
    plan : Plan
        With the states of its wire.
    path : WirePath
    rates : BreakRates
    added : Tally, optional
        Of the cuts of the path, where it was worked out before.

    Notes
    -----
    No published counts over time were found: rate and factors are common practice, no source, and
    the count is an order of magnitude until the shop records its breaks.
    """
    passes = {p.number: p for p in plan.passes}
    heat = {s.pass_number: s.relative_breaks for s in plan.wire_states}
    wet = {c.target.id: c.flushing for c in plan.walls}
    hours = likely = plain = spread = bursts = 0.0
    if added is None:
        idle = plan.requirement.machine.idle_speed_mm_per_min
        added = tally(path.cuts, idle_mm_per_min=idle)
    cutting_h = added.wall_min / 60
    for cut, t in zip(path.cuts, cutting_h.tolist(), strict=True):
        one = passes[cut.pass_number]
        per_h, sigma, weight = _rate(one, rates)
        state = wet.get(cut.contour_id)
        by_heat, by_dirt = heat.get(cut.pass_number, 1.0), 1.0
        if cut.kind is not CutKind.SKIM and state is not None:
            by_heat, by_dirt = state.breaks_by_heat, state.breaks_by_dirt * state.breaks_by_taper
            if state.counted_sigma_log:
                sigma, weight = state.counted_sigma_log, 1.0
        count = t * per_h * (by_heat * by_dirt) ** weight
        hours, plain, likely = hours + t, plain + t * per_h, likely + count
        spread += count * sigma
        bursts += count * (rates.burst if one.learned is None else one.learned.breaks_burst)
    return ExpectedBreaks(
        hours=hours,
        likely=likely,
        # Rates of one job are taken to move together, which is on the safe side.
        sigma_log=spread / likely if likely else 0.0,
        per_h=plain / hours if hours else 0.0,
        by_risk=likely / plain if plain else 1.0,
        burst=bursts / likely if likely else 0.0,
        experience=next((p.learned.experience for p in plan.passes if p.learned is not None), ""),
        is_counted=any(state.counted_sigma_log > 0 for state in wet.values()),
    )


def _rate(one: Pass, rates: BreakRates) -> tuple[float, float, float]:
    """Return breaks an hour, their spread, and the weight of the model."""
    if one.learned is None:
        return rates.per_h, rates.sigma_log, 1.0
    learned = one.learned.breaks_per_h
    sigma = learned.sigma_log
    return learned.likely, sigma, min(1.0, (sigma / rates.sigma_log) ** 2)


def with_breaks(times: Times, plan: Plan, path: WirePath, *, rates: RateTable) -> Times:
    """Return the times with lines for the breaks to be expected.

    Plans without states of the wire, and tables without rates of breaks, are left as they are.

    Parameters
    ----------
    times : Times
    plan : Plan
    path : WirePath
    rates : RateTable
    """
    if rates.breaks is None or not plan.wire_states:
        return times
    expected = expected_breaks(plan, path, rates=rates.breaks, added=times.tally)
    if not expected.likely > 0:
        return times
    lines = _lines(expected, rates.breaks, threads_itself=plan.requirement.machine.threads_itself)
    return replace(
        times,
        lines=(*times.lines, *lines),
        reasons=(*times.reasons, _reason(expected, rates.breaks)),
    )


def _lines(
    expected: ExpectedBreaks, rates: BreakRates, *, threads_itself: bool
) -> tuple[TimedLine, ...]:
    said = f"{_in_words(expected)} in {expected.hours:.3g} h of cutting"
    if not threads_itself:
        each = rates.machine_min + rates.help_min
        basis = f"{said}, {each:g} min each by hand"
        return (_line(RETHREADING, TimeKind.MACHINE_ATTENDED, expected, 1.0, each, basis),)
    return (
        _line(
            RETHREADING,
            TimeKind.MACHINE_UNATTENDED,
            expected,
            1.0,
            rates.machine_min,
            f"{said}, {rates.machine_min:g} min each by itself",
        ),
        _line(
            HELP,
            TimeKind.MACHINE_ATTENDED,
            expected,
            rates.help_share,
            rates.help_min,
            f"{rates.help_share:.0%} of them want a hand for {rates.help_min:g} min",
        ),
    )


def _line(
    operation: str,
    kind: TimeKind,
    expected: ExpectedBreaks,
    share: float,
    each_min: float,
    basis: str,
) -> TimedLine:
    mean = expected.mean * share
    # Of a burst, too, only the share counts.
    burst = expected.burst * share
    counts = count_range(mean, sigma_log=expected.sigma_log, burst=burst)
    return TimedLine(
        line=TimeLine(
            operation=operation,
            kind=kind,
            per_piece=True,
            minutes=Range(
                low=counts.low * each_min,
                likely=counts.likely * each_min,
                high=counts.high * each_min,
            ),
            basis=basis,
        ),
        sigma_log=expected.sigma_log,
        cause=BREAKS,
        count=mean,
        burst=burst,
    )


def _counts(expected: ExpectedBreaks) -> Range:
    return whole_counts(expected.mean, sigma_log=expected.sigma_log, burst=expected.burst)


def _chance_of_one(expected: ExpectedBreaks) -> float:
    return chance_of_any(expected.mean, sigma_log=expected.sigma_log, burst=expected.burst)


def _chance(line: TimedLine) -> float:
    assert line.count is not None
    return chance_of_any(line.count, sigma_log=line.sigma_log, burst=line.burst)


def _in_words(expected: ExpectedBreaks) -> str:
    """Say how many breaks to expect, as in *up to 4 breaks, one or more in 49%*."""
    counts, chance = _counts(expected), _chance_of_one(expected)
    low, high = f"{counts.low:.0f}", f"{counts.high:.0f}"
    span = f"{low} to {high} breaks"
    if high == "0":
        span = "no break in 9 of 10 pieces"
    elif low == "0":
        span = f"up to {counted(round(counts.high), 'break')}"
    return f"{span}, one or more in {chance:.0%},"


def made_of(
    line: TimedLine, rates: BreakRates
) -> tuple[str, tuple[tuple[str, float | str], ...], Source]:
    """Return formula, inputs and source of the minutes of a line made here."""
    assert line.count is not None
    count = count_range(line.count, sigma_log=line.sigma_log, burst=line.burst).likely
    key = "help_min" if line.line.operation == HELP else "machine_min"
    return (
        "breaks likely x minutes each; a range that ends there has no break in 9 pieces of 10",
        (
            ("breaks", count),
            ("each_min", line.minutes / count),
            ("chance of one or more", _chance(line)),
        ),
        rates.sources[key],
    )


def _whose(expected: ExpectedBreaks) -> str:
    """Say whose the rate and the factor are."""
    rate = "r per hour, that of usual cuts as record shows it"
    rate += ", as the shop's cuts taught" if expected.experience else ""
    rate += "; this plan has r b per hour"
    if expected.is_counted:
        return f"{rate}; b_heat of rough cuts by the shop's counts and the model together, w = 1"
    return f"{rate}, b by the model, a rank"


def _source(expected: ExpectedBreaks, rates: BreakRates) -> Source:
    if not expected.experience:
        return rates.sources["per_h"]
    return Source(
        tag=SourceTag.SHOP, citation=f"measured cuts, experience {expected.experience[:12]}"
    )


def _reason(expected: ExpectedBreaks, rates: BreakRates) -> Reason:
    chance = (1 + expected.burst) / expected.mean
    rate = math.expm1(expected.sigma_log**2)
    counts = _counts(expected)
    is_sure = counts.low == counts.high
    return Reason(
        quantity=WIRE_BREAKS,
        value=counts.likely,
        formula="middle count of a piece by a mixed Poisson law about N = sum over cuts of "
        f"t r (b_heat b_dirt)^w, with bursts; {_whose(expected)}",
        inputs=(
            (
                "chance of one or more",
                _chance_of_one(expected),
            ),
            ("N with the rate at its middle", expected.likely),
            ("mean", expected.mean),
            ("t_h", expected.hours),
            ("r_per_h", expected.per_h),
            ("b", expected.by_risk),
            ("sigma_log", expected.sigma_log),
            ("burst", expected.burst),
        ),
        source=_source(expected, rates),
        range=counts,
        shares=()
        if is_sure
        else (("chance", chance / (chance + rate)), ("rate of breaks", rate / (chance + rate))),
    )
