"""From a plan of small holes to time, consumption and price."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import replace
from decimal import Decimal
from typing import Final

from kerfwright.costing.estimate import Used, price_at, used_up
from kerfwright.costing.hole_rates import HoleRates
from kerfwright.costing.rates import RateTable
from kerfwright.costing.records import Estimate, TimeKind, TimeLine
from kerfwright.costing.times import DRILLING, TimedLine, human_line, set_up_lines
from kerfwright.foundation.counts import counted
from kerfwright.foundation.ranges import Range
from kerfwright.foundation.sources import Reason, Source, SourceTag
from kerfwright.planning.hole_plan import ChangeKind, HolePlan
from kerfwright.process import consumption as use
from kerfwright.process.hole_depth import spread_together
from kerfwright.process.hole_misses import of_holes
from kerfwright.process.hole_ranges import TUBE_WEAR
from kerfwright.process.technology import SmallHoleLaw

_COMPUTED: Final = Source(tag=SourceTag.COMPUTED)
_L_PER_M3: Final = 1000.0
_MM_PER_M: Final = 1000.0


def estimate_holes(
    plan: HolePlan, *, rates: RateTable, hole_rates: HoleRates, law: SmallHoleLaw
) -> Estimate:
    """Estimate time, consumption and the price at each quantity asked.

    One factor for the drilling rate moves every hole, and one for the wear every tube; each human
    operation has its own.  Machine hours cost what the small-hole machine costs.

    Parameters
    ----------
    plan : HolePlan
    rates : RateTable
    hole_rates : HoleRates
    law : SmallHoleLaw
    """
    own = replace(
        rates,
        hour=replace(
            rates.hour,
            machine_unattended_per_h=hole_rates.machine_unattended_per_h,
            machine_attended_per_h=hole_rates.machine_attended_per_h,
        ),
    )
    times = [
        *_before(plan, own),
        *_drilling(plan, law),
        *_moving(plan, hole_rates, own),
        *_changing(plan, hole_rates, own),
        _inspection(plan, hole_rates, own),
    ]
    lines = [line for line in times if line.minutes > 0]
    used = _consumption(plan, own, hole_rates, law)
    return Estimate(
        currency=own.currency,
        times=tuple(line.line for line in lines),
        consumption=tuple(u.line for u in used),
        prices=tuple(price_at(q, lines, used, own) for q in plan.work.quantities),
        reasons=_reasons(plan, law),
    )


def drilling_min(plan: HolePlan) -> float:
    """Return the likely sparking time of a piece."""
    return math.fsum(p.stroke.minutes for p in plan.holes)


def _sigma(plan: HolePlan, law: SmallHoleLaw) -> float:
    parts = [(p.stroke.minutes, p.predicted.drilled.sigma_log) for p in plan.holes]
    return spread_together(parts) if parts else law.feed_sigma_log


def _before(plan: HolePlan, rates: RateTable) -> list[TimedLine]:
    people = rates.minutes
    kinds = len({p.electrode.condition for p in plan.holes})
    return [
        human_line(
            "programming",
            TimeKind.PROGRAMMING,
            people.programming_base + people.programming_per_contour * kinds,
            f"{people.programming_base:g} min and {people.programming_per_contour:g} min for each "
            f"of {counted(kinds, 'tube')}",
            sigma_log=people.human_sigma_log,
            once=True,
        ),
        *set_up_lines(people),
    ]


def _drilling(plan: HolePlan, law: SmallHoleLaw) -> list[TimedLine]:
    minutes = drilling_min(plan)
    depth = math.fsum(p.hole.depth_mm for p in plan.holes)
    count, sigma_log = len(plan.holes), _sigma(plan, law)
    return [
        TimedLine(
            line=TimeLine(
                operation="drilling",
                kind=TimeKind.MACHINE_UNATTENDED,
                per_piece=True,
                minutes=Range.lognormal(minutes, sigma_log=sigma_log),
                basis=f"{counted(count, 'hole')}, {depth:.0f} mm deep together" + _not_in_it(plan),
            ),
            sigma_log=sigma_log,
            cause=DRILLING,
        )
    ]


def _not_in_it(plan: HolePlan) -> str:
    worst = max((p.stroke.not_through_chance for p in plan.holes), default=0.0)
    if not worst:
        return ""
    return f"; without deepening what more wear leaves short, up to {of_holes(worst, one='case')}"


def _moving(plan: HolePlan, hole_rates: HoleRates, rates: RateTable) -> list[TimedLine]:
    count = len(plan.holes)
    each = hole_rates.touch_min + hole_rates.retract_min
    way = plan.order.travel_mm if plan.order else 0.0
    machine = plan.work.machine
    sigma = rates.minutes.human_sigma_log
    return [
        human_line(
            "touching and retracting", TimeKind.MACHINE_UNATTENDED, each * count,
            f"{each * 60:.1f} s for each of {count}", sigma_log=sigma, once=False,
        ),
        human_line(
            "positioning", TimeKind.MACHINE_UNATTENDED, way / machine.idle_speed_mm_per_min,
            f"{way:.0f} mm at {machine.idle_speed_mm_per_min:g} mm/min, turning as the way the "
            "table would go meanwhile", sigma_log=0.0, once=False,
        ),
    ]  # fmt: skip


def _changing(plan: HolePlan, hole_rates: HoleRates, rates: RateTable) -> list[TimedLine]:
    holder, sigma = plan.work.machine.tubes, rates.minutes.human_sigma_log
    kinds = Counter(change.kind for change in plan.changes)
    guides = kinds[ChangeKind.FIRST] + kinds[ChangeKind.GUIDE]
    tubes = kinds[ChangeKind.TUBE]
    dressed = sum(p.stroke.dressed_mm > 0 for p in plan.holes)
    alone = TimeKind.MACHINE_UNATTENDED
    attended = TimeKind.MACHINE_ATTENDED
    tube_min = hole_rates.tube_change_itself_min if holder.changes_itself else (
        hole_rates.tube_change_min
    )  # fmt: skip
    dress_min = hole_rates.dress_min if holder.dresses_itself else hole_rates.dress_by_hand_min
    return [
        human_line(
            "guide and tube", attended, hole_rates.guide_change_min * guides,
            f"{counted(guides, 'time')} {hole_rates.guide_change_min:g} min",
            sigma_log=sigma, once=False,
        ),
        human_line(
            "tube changes", alone if holder.changes_itself else attended, tube_min * tubes,
            f"{counted(tubes, 'time')} {tube_min:g} min "
            f"{'by itself' if holder.changes_itself else 'by hand'}",
            sigma_log=sigma, once=False,
        ),
        human_line(
            "dressing the tube", alone if holder.dresses_itself else attended,
            dress_min * dressed,
            f"{counted(dressed, 'time')} {dress_min:g} min, before blind holes",
            sigma_log=sigma, once=False,
        ),
    ]  # fmt: skip


def _inspection(plan: HolePlan, hole_rates: HoleRates, rates: RateTable) -> TimedLine:
    count = len(plan.holes)
    sizes = len({p.hole.diameter_mm for p in plan.holes})
    minutes = (
        rates.minutes.inspection_base
        + hole_rates.inspection_per_size_min * sizes
        + hole_rates.inspection_per_hole_min * count
    )
    return human_line(
        "inspection", TimeKind.BENCH, minutes,
        f"{rates.minutes.inspection_base:g} min, {hole_rates.inspection_per_size_min:g} for each "
        f"of {counted(sizes, 'size')}, "
        f"{hole_rates.inspection_per_hole_min:g} for each of {count}: a pin or a light through it",
        sigma_log=rates.minutes.human_sigma_log, once=False,
    )  # fmt: skip


def tube_m(plan: HolePlan) -> float:
    """Return the tube that a piece takes, with what is left of each tube when it is thrown away.

    A tube serves until it is too short: of its length, what collet and guide keep is lost too.
    """
    holder = plan.work.machine.tubes
    worn = math.fsum(p.stroke.used_mm + p.stroke.dressed_mm for p in plan.holes)
    kept = holder.held_mm + max((p.stroke.needs_mm for p in plan.holes), default=0.0)
    # A plan has no hole that leaves nothing usable of a new tube.
    return worn * holder.length_mm / (holder.length_mm - kept) / _MM_PER_M


def _consumption(
    plan: HolePlan, rates: RateTable, hole_rates: HoleRates, law: SmallHoleLaw
) -> tuple[Used, ...]:
    machine, prices, minutes = plan.work.machine, rates.consumption, drilling_min(plan)
    litres = machine.water_l_per_min * minutes
    guides = len(plan.holes) / hole_rates.guide_life_holes
    sparking = (
        (
            "electricity", use.energy_kwh(minutes, power_kw=machine.power_kw), "kWh",
            prices.electricity_per_kwh, f"{machine.power_kw:g} kW while drilling",
        ),
        (
            "water", litres, "l", hole_rates.water_price_per_m3 / Decimal(int(_L_PER_M3)),
            f"{machine.water_l_per_min:g} l/min through the tube while drilling",
        ),
        (
            "filters", use.filter_sets(minutes, life_h=prices.filter_life_h), "set",
            prices.filter_price, f"a set lasts {prices.filter_life_h:g} h",
        ),
    )  # fmt: skip
    tubes = (
        "tubes", tube_m(plan), "m", prices.electrode_price_per_m,
        f"{counted(len(plan.changes), 'tube')} taken up for a piece; worn, dressed, and the stubs",
    )  # fmt: skip
    worn = ("guides", guides, "guide", hole_rates.guide_price,
            f"one serves {counted(hole_rates.guide_life_holes, 'hole')}")  # fmt: skip
    return (
        used_up(tubes, sigma_log=law.wear_sigma_log, cause=TUBE_WEAR),
        used_up(worn, sigma_log=rates.minutes.human_sigma_log, cause="guides"),
        *(used_up(item, sigma_log=_sigma(plan, law), cause=DRILLING) for item in sparking),
    )


def _reasons(plan: HolePlan, law: SmallHoleLaw) -> tuple[Reason, ...]:
    holder = plan.work.machine.tubes
    return (
        Reason(
            quantity="drilling_min",
            value=drilling_min(plan),
            formula="sum over holes of (lip + L + run-on) / feed of the end of the tube",
            inputs=(
                ("holes", float(len(plan.holes))),
                ("rate_factor", plan.work.machine.rate_factor),
            ),
            source=law.sources["feed_mm_per_min"],
            range=Range.lognormal(drilling_min(plan), sigma_log=_sigma(plan, law)),
            shares=(("drilling feed", 1.0),),
        ),
        Reason(
            quantity="amount_m",
            value=tube_m(plan),
            formula="worn x length / (length - held - longest need)",
            inputs=(
                ("length_mm", holder.length_mm),
                ("held_mm", holder.held_mm),
                ("need_mm", max((p.stroke.needs_mm for p in plan.holes), default=0.0)),
            ),
            source=_COMPUTED,
        ),
    )
