"""Why times, amounts and prices are what they are; built when asked."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Final, TypedDict

from kerfwright.costing.breaks import WIRE_BREAKS, made_of, with_breaks
from kerfwright.costing.cut_spread import CUTTING
from kerfwright.costing.estimate import ROUNDING, WIRE_USE, kind_of, running_loadings
from kerfwright.costing.measuring import measuring_factors
from kerfwright.costing.rates import RateTable
from kerfwright.costing.records import Consumption, Estimate, Price, PriceLine, TimeKind
from kerfwright.costing.shares import RATE_OF_TABLES, line_shares, split_shares
from kerfwright.costing.stacked import full_load, loads_of, measured_each
from kerfwright.costing.times import (
    TimedLine,
    Times,
    job_times,
)
from kerfwright.costing.uncertainty import total, variance_by_cause
from kerfwright.foundation.answers import Answer
from kerfwright.foundation.ranges import Z_10_90, Range
from kerfwright.foundation.sources import Reason, Shares, Source, SourceTag
from kerfwright.motion.moves import WirePath
from kerfwright.planning.plan import Plan, StartKind
from kerfwright.process.experience import Learned
from kerfwright.process.hole_ranges import TUBE_WEAR

_COMPUTED: Final = Source(tag=SourceTag.COMPUTED)
_Inputs = tuple[tuple[str, float | str], ...]
_NO_INPUTS: Final[_Inputs] = ()
_NOTHING: Final[Shares] = ()


def estimate_answers(
    estimate: Estimate, plan: Plan, path: WirePath, *, rates: RateTable
) -> tuple[Answer, ...]:
    """Return why every number of an estimate has its value.

    Parameters
    ----------
    estimate : Estimate
    plan : Plan
    path : WirePath
    rates : RateTable
        Plan, path and rates that the estimate was made with.
    """
    full = full_load(plan)

    @cache
    def of_load(per_load: float, measured: float) -> Times:
        bare = job_times(plan, path, rates=rates, per_load=per_load, measured=measured)
        return with_breaks(bare, plan, path, rates=rates)

    def timed(quantity: int) -> Times:
        # Quantities whose loads are alike, as all without a stack, take the same times.
        return of_load(quantity / loads_of(plan, quantity), measured_each(plan, quantity))

    times = timed(full)
    scene = _Scene(
        estimate=estimate,
        plan=plan,
        path=path,
        rates=rates,
        times=times,
        measured=measured_each(plan, full),
    )
    return (
        *(scene.time(line) for line in times.lines),
        *(a for line in times.running for a in _wall_answers(line)),
        *scene.cutting(),
        *(
            Answer(about="time", name="number of wire breaks", path="", reason=r)
            for r in times.reasons
            if r.quantity == WIRE_BREAKS
        ),
        *(scene.consumption(one) for one in estimate.consumption),
        *(
            answer
            for price in estimate.prices
            # A quantity in stacks of another number has a plan, and answers, of its own.
            if price.at_once == estimate.pieces_each
            for answer in _price_answers(
                price,
                {line.line.operation: line for line in timed(price.quantity).lines},
                scene,
            )
        ),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Scene:
    """What the lines of one estimate were made of."""

    estimate: Estimate
    plan: Plan
    path: WirePath
    rates: RateTable
    times: Times
    measured: float

    def loads(self, price: Price) -> int:
        """Return how many times what is paid for each load is paid."""
        return loads_of(self.plan, price.quantity)

    @property
    def unit(self) -> str:
        """What a load is called."""
        return "pieces" if self.plan.requirement.stack is None else "stacks"

    def time(self, line: TimedLine) -> Answer:
        formula, inputs, source = self._made_of(line)
        operation = line.line.operation
        return Answer(
            about="time",
            name=operation,
            path=f"estimate/times/{operation}/minutes",
            also="cutting minutes" if line.cause == CUTTING else "minutes",
            reason=Reason(
                quantity="minutes",
                value=line.minutes,
                formula=formula,
                inputs=inputs,
                source=source,
                range=line.line.minutes,
                shares=line_shares(line),
            ),
        )

    def _made_of(self, line: TimedLine) -> tuple[str, _Inputs, Source]:
        """Return formula, inputs and source of a line's minutes."""
        if line.cause == CUTTING:
            return self._cutting(line)
        operation, people = line.line.operation, self.rates.minutes
        contours = float(len(self.plan.contours))
        drilled = [c.start for c in self.plan.contours if c.start.kind is StartKind.DRILLED]
        itself = self.plan.requirement.machine.threads_itself
        thread = "threading_automatic" if itself else "threading_by_hand"
        stops = sum(len(c.stops) for c in self.path.cuts)
        freed = sum(c.coreless is None for c in self.plan.contours)
        made: Mapping[str, tuple[str, str, float]] = {
            "programming": ("programming_base", "programming_per_contour", contours),
            "set-up": ("", "set_up", 1.0),
            "loading": ("", "loading_per_piece", 1.0),
            "start-hole handling": ("", "start_hole_handling", float(len(drilled))),
            "threading": ("", thread, float(sum(c.threads for c in self.path.cuts))),
            "attended stops": ("", "attended_stop", float(stops)),
            "removal": ("", "removal_per_piece_freed", float(freed)),
            "inspection": ("inspection_base", "inspection_per_contour", self._measured()),
        }
        if operation in made:
            base, each, count = made[operation]
            inputs: _Inputs = ((f"{each}_min", getattr(people, each)), ("count", count))
            if base:
                inputs = ((f"{base}_min", getattr(people, base)), *inputs)
            source = people.sources.get(each, _COMPUTED)
            if operation == "inspection" and self.measured != 1:
                inputs = (*inputs, ("measured", self.measured))
                return "(base + each x count) x pieces measured", inputs, source
            return ("base + each x count" if base else "each x count"), inputs, source
        if operation == "start-hole drilling":
            law = self.rates.drilling
            return (
                "sum over the holes of (L + b d) (1 + (L/D)/s) / (v K)",
                (("holes", float(len(drilled))), ("L_mm", self.plan.height_mm)),
                law.sources["feed_mm_per_min"],
            )
        if line.count is not None and self.rates.breaks is not None:
            return made_of(line, self.rates.breaks)
        return line.line.basis, (), _COMPUTED

    def _measured(self) -> float:
        """Return how many usual contours the measuring of these is worth."""
        return math.fsum(measuring_factors(self.plan, self.rates.minutes))

    def _cutting(self, line: TimedLine) -> tuple[str, _Inputs, Source]:
        known = line.learned
        source = _COMPUTED
        if known is not None:
            source = Source(tag=SourceTag.SHOP, citation=_records(known))
        return "sum over moves of length / feed", (("moves", line.line.basis),), source

    def cutting(self) -> Iterator[Answer]:
        """Return the answer on all cutting of one piece together."""
        running = self.times.running
        if not running:
            return
        span = total(line.amount() for line in running)
        yield Answer(
            about="time",
            name="cutting in all",
            path="",
            also="minutes",
            reason=Reason(
                quantity="minutes",
                value=span.likely,
                formula="sum over passes; their ranges with what they share (Fenton 1960)",
                inputs=tuple((line.line.operation, line.minutes) for line in running),
                source=_COMPUTED,
                range=span,
                shares=self.cutting_shares(),
            ),
        )

    def consumption(self, one: Consumption) -> Answer:
        running = self.times.running
        minutes = math.fsum(line.minutes for line in running)
        prices, wire = self.rates.consumption, self.plan.choice.wire
        time: _Inputs = (("cutting_min", minutes),)
        made: dict[str, tuple[str, _Inputs, Source | None]] = {
            "wire": (
                "rho pi d^2/4 x speed x cutting time x factor learned",
                (
                    ("rho_kg_per_m3", wire.density_kg_per_m3),
                    ("d_mm", wire.diameter_mm),
                    ("speed_m_per_min", wire.run_speed_m_per_min),
                    *time,
                ),
                wire.sources.get("run_speed_m_per_min"),
            ),
            "electricity": (
                "mean power x cutting time",
                (("power_kw", self.plan.requirement.machine.power_kw), *time),
                None,
            ),
            "filters": (
                "cutting time / life",
                (("life_h", prices.filter_life_h), *time),
                prices.sources.get("filter_life_h"),
            ),
            "resin": (
                "litres an hour x cutting time",
                (("resin_l_per_h", prices.resin_l_per_h), *time),
                prices.sources.get("resin_l_per_h"),
            ),
            "drilling electrodes": (
                "sum over the holes of k L + b d",
                (("L_mm", self.plan.height_mm),),
                self.rates.drilling.sources[f"wear_ratio.{self.plan.requirement.material.family}"],
            ),
        }
        formula, inputs, source = made.get(one.item, (one.basis, (), None))
        return Answer(
            about="consumption",
            name=one.item,
            path=f"estimate/consumption/{one.item}/amount",
            reason=Reason(
                quantity=f"amount_{one.unit}",
                value=one.amount.likely,
                formula=formula,
                inputs=inputs,
                source=source or _COMPUTED,
                range=one.amount,
                shares=self.amount_shares(one),
            ),
        )

    def amount_shares(self, one: Consumption) -> Shares:
        """Return who brings how much: the cutting time, the wire's use, the tube's wear."""
        if one.item == "drilling electrodes":
            return ((TUBE_WEAR, 1.0),)
        sigma = math.log(one.amount.high / one.amount.likely) / Z_10_90
        if sigma == 0:
            return ()
        known = [(line.minutes, line.learned) for line in self.times.running if line.learned]
        if one.item != "wire" or not known:
            return self.cutting_shares()
        minutes = math.fsum(t for t, _ in known)
        own = math.fsum(t * learned.wire_sigma_log for t, learned in known) / minutes
        share = (own / sigma) ** 2
        return ((WIRE_USE, share), *((n, s * (1 - share)) for n, s in self.cutting_shares()))

    def cutting_shares(self) -> Shares:
        """Return who brings how much of the spread of the whole cutting time of one piece."""
        running = self.times.running
        loadings = running_loadings(running)
        if not loadings:
            return ((RATE_OF_TABLES, 1.0),)
        inputs: dict[str, float] = {}
        for line in running:
            for who, share in line.learned.feed_shares if line.learned else ():
                inputs[who] = inputs.get(who, 0.0) + share * line.minutes
        return split_shares(loadings, tuple(inputs.items()))


def _wall_answers(line: TimedLine) -> Iterator[Answer]:
    """Return the answers on what a cutting line runs along walls."""
    one = line.line
    figures = (
        ("wall_mm", "length along walls", "sum of the moves along walls and leads", one.wall_mm),
        ("wall_min", "time along walls", "sum over those moves of length / feed", one.wall_min),
    )
    for field, name, formula, value in figures:
        yield Answer(
            about="time",
            name=f"{one.operation} {name}",
            path=f"estimate/times/{one.operation}/{field}",
            reason=Reason(
                quantity=field,
                value=value,
                formula=formula,
                inputs=(("moves", one.basis),),
                source=_COMPUTED,
                **(_as_sure_as(line, value) if field == "wall_min" else {}),
            ),
        )


class _Sure(TypedDict, total=False):
    range: Range
    shares: Shares


def _as_sure_as(line: TimedLine, minutes: float) -> _Sure:
    """Return range and shares of a part of a line's time: the same feeds make both."""
    whole = line.line.minutes
    if not whole.likely:
        return {}
    low, high = (minutes * end / whole.likely for end in (whole.low, whole.high))
    return {"range": Range(low=low, likely=minutes, high=high), "shares": line_shares(line)}


def _records(known: Learned) -> str:
    return f"{known.records} measured cuts of this combination, experience {known.experience[:12]}"


def _price_answers(
    price: Price, by_operation: Mapping[str, TimedLine], scene: _Scene
) -> Iterator[Answer]:
    about, place = f"price for {price.quantity}", f"estimate/prices/{price.quantity}"
    shares = tuple((one.cause, one.share_of_variance) for one in price.spread)
    span = Range(low=float(price.low), likely=float(price.likely), high=float(price.high))
    yield _price_answer(
        about,
        "in all",
        f"{place}/likely",
        span,
        "sum of the lines; the range of the sum with what they share (Fenton 1960)",
        tuple((line.item, float(line.likely)) for line in price.lines),
        shares,
        currency=scene.estimate.currency,
    )
    yield _price_answer(
        about,
        "each",
        f"{place}/each",
        span * (1 / price.quantity),
        "sum of the lines but for rounding / quantity, to the cent",
        (
            ("sum", float(sum(i.likely for i in price.lines if i.item != ROUNDING))),
            ("quantity", float(price.quantity)),
        ),
        shares,
        value=float(price.each),
        currency=scene.estimate.currency,
    )
    machine = [
        line
        for line in by_operation.values()
        if line.line.kind in (TimeKind.MACHINE_ATTENDED, TimeKind.MACHINE_UNATTENDED)
    ]
    yield Answer(
        about=about,
        name="machine hours",
        path=f"{place}/hours",
        reason=Reason(
            quantity="hours",
            value=price.hours.likely,
            formula="sum of the machine's lines / 60, those of each piece times the quantity",
            inputs=tuple((line.line.operation, line.minutes) for line in machine),
            source=_COMPUTED,
            range=price.hours,
            shares=_by_kind(machine, quantity=scene.loads(price)),
        ),
    )
    for line in price.lines:
        yield _line_answer(price, line, by_operation, scene)


def _by_kind(lines: Iterable[TimedLine], *, quantity: int) -> Shares:
    amounts = [
        line.amount(
            factor=quantity if line.line.per_piece else 1,
            quantity=quantity if line.line.per_piece else 1,
        )
        for line in lines
    ]
    kinds: dict[str, float] = {}
    for cause, variance in variance_by_cause(amounts).items():
        kinds[kind_of(cause)] = kinds.get(kind_of(cause), 0.0) + variance
    whole = math.fsum(kinds.values())
    if not whole:
        return ()
    return tuple(sorted(((k, v / whole) for k, v in kinds.items() if v), key=lambda p: -p[1]))


def _line_answer(
    price: Price, line: PriceLine, by_operation: Mapping[str, TimedLine], scene: _Scene
) -> Answer:
    used = {one.item: one for one in scene.estimate.consumption}
    rates, timed = scene.rates, by_operation.get(line.item)
    formula, inputs, source, shares = line.basis, _NO_INPUTS, _COMPUTED, _NOTHING
    if timed is not None:
        count = scene.loads(price) if timed.line.per_piece else 1
        hour = timed.line.kind.value.replace("-", "_") + "_per_h"
        formula = f"minutes x {scene.unit} / 60 x rate of the hour"
        inputs = (
            ("minutes", timed.minutes),
            (scene.unit, float(count)),
            (hour, float(getattr(rates.hour, hour))),
        )
        source = rates.hour.sources.get(hour, _COMPUTED)
        shares = line_shares(timed, quantity=count)
    elif line.item in used:
        one = used[line.item]
        formula = f"amount x {scene.unit} x unit price"
        inputs = (
            (f"amount_{one.unit}", one.amount.likely),
            (scene.unit, float(scene.loads(price))),
            ("unit_price", float(one.unit_price)),
        )
        shares = scene.amount_shares(one)
    span = Range(low=float(line.low), likely=float(line.likely), high=float(line.high))
    return _price_answer(
        f"price for {price.quantity}",
        line.item,
        f"estimate/prices/{price.quantity}/lines/{line.item}",
        span,
        formula,
        inputs,
        shares if line.low < line.high else _NOTHING,
        source=source,
        currency=scene.estimate.currency,
    )


def _price_answer(
    about: str,
    name: str,
    path: str,
    span: Range,
    formula: str,
    inputs: _Inputs,
    shares: Shares,
    *,
    value: float | None = None,
    source: Source = _COMPUTED,
    currency: str,
) -> Answer:
    return Answer(
        about=about,
        name=name,
        path=path,
        reason=Reason(
            quantity=f"amount_{currency}",
            value=span.likely if value is None else value,
            formula=formula,
            inputs=inputs,
            source=source,
            range=span,
            shares=shares,
        ),
    )
