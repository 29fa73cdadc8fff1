"""Why every number of a job of small holes has its value; built when somebody asks."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Final

from kerfwright.app.hole_figures import IN_PLAN, heat_spread, hole_figures
from kerfwright.app.hole_records import HoleResult
from kerfwright.costing.records import Estimate
from kerfwright.foundation.answers import Answer, words_of
from kerfwright.foundation.findings import Finding
from kerfwright.foundation.ranges import Range
from kerfwright.foundation.sources import Reason, Source, SourceTag
from kerfwright.planning.hole_findings import hole_name
from kerfwright.planning.hole_plan import HolePlan, PlannedHole
from kerfwright.planning.hole_tubes import wear_range
from kerfwright.process.technology import SmallHoleLaw

_COMPUTED: Final = Source(tag=SourceTag.COMPUTED)
_NAMES: Final = {
    "drilling_min": "drilling time square through",
    "tube_used_mm": "tube used square through",
    "overcut_mm": "overcut",
    "diameter_mm": "diameter",
    "entry_diameter_mm": "mouth",
    "exit_diameter_mm": "exit",
    "wander_mm": "wander",
    "recast_um": "recast layer",
}


def hole_answers(result: HoleResult, *, law: SmallHoleLaw) -> tuple[Answer, ...]:
    """Return every number of a job with formula, inputs, source, range and shares.

    Holes that are alike (size, depth, slope, kind, demands) are answered once, under the name of
    the first and found by the names of all.

    Parameters
    ----------
    result : HoleResult
    law : SmallHoleLaw
        That it was computed with.
    """
    plan = result.plan
    found = [a for group in _alike(plan) for a in _hole_answers(group, plan, law)]
    found += _order_answers(plan)
    if result.estimate is not None:
        found += _estimate_answers(result.estimate)
    return tuple(found)


_REFUSED: Final = frozenset({"hole", "holes", "refused", "refusal", "refusals"})
"""Words that ask for all refused holes."""


def refusals_asked(plan: HolePlan, asked: str) -> tuple[Finding, ...]:
    """Return why the refused holes that a person asks for are refused, each with its numbers.

    Parameters
    ----------
    plan : HolePlan
    asked : str
        ``"hole B"``, ``"B"``, ``"hole B feed"``, or ``"refused"`` for all of them.
    """
    words = words_of(asked)
    if not words:
        return ()
    if set(words) <= _REFUSED and set(words) != {"hole"}:
        return plan.refusals
    named = {
        hole_name(hole.id)
        for hole in plan.left_out
        if words == words_of(hole.id)
        or (words[0] == "hole" and words[1:][: len(words_of(hole.id))] == words_of(hole.id))
    }
    return tuple(one for one in plan.refusals if one.where.entity in named)


def _alike(plan: HolePlan) -> list[list[PlannedHole]]:
    groups: dict[tuple[object, ...], list[PlannedHole]] = {}
    for one in plan.holes:
        hole = one.hole
        asked = (hole.tolerance_um, hole.position_um, hole.max_recast_um)
        key = (one.stroke, one.electrode, one.guide_gap_mm, hole.slope_deg, *asked)
        groups.setdefault(key, []).append(one)
    return list(groups.values())


def _hole_answers(group: list[PlannedHole], plan: HolePlan, law: SmallHoleLaw) -> Iterator[Answer]:
    one = min(group, key=lambda p: p.number)
    also = " ".join(p.hole.id for p in group)
    about = f"hole {one.hole.id}"
    where = f"plan/holes/{one.hole.id}"
    for told, more, figure in hole_figures(group, plan, law):
        path = f"{where}/{figure.quantity}" if figure.quantity in IN_PLAN else ""
        yield Answer(about=about, name=told, path=path, reason=figure, also=f"{also} {more}")
    for reason in one.predicted.reasons:
        name = _NAMES.get(reason.quantity)
        if name is not None:
            yield Answer(about=about, name=name, path="", reason=reason, also=also)
    for name, reason in _stroke_reasons(one, plan, law):
        yield Answer(
            about=about, name=name, path=f"{where}/{reason.quantity}", reason=reason, also=also
        )


def _stroke_reasons(
    one: PlannedHole, plan: HolePlan, law: SmallHoleLaw
) -> Iterator[tuple[str, Reason]]:
    yield "feed way", _feed_way(one, plan, law)
    yield "time", _time(one, plan, law)
    yield "tube used", _tube_used(one, plan, law)
    hole, electrode = one.hole, one.electrode
    yield (
        "tube",
        Reason(
            quantity="tube_mm",
            value=electrode.diameter_mm,
            formula="hole - 2 overcut; the tube at hand with the least error",
            inputs=(("hole_mm", hole.diameter_mm), ("overcut_mm", electrode.overcut_mm)),
            source=plan.rules.sources["overcut_low_mm"],
        ),
    )
    yield (
        "guide gap",
        Reason(
            quantity="guide_gap_mm",
            value=one.guide_gap_mm,
            formula="the larger of the usual gap and D/2 tan(slope) + spare",
            inputs=(
                ("D_mm", plan.work.machine.tubes.guide_diameter_mm),
                ("slope_deg", hole.slope_deg),
                ("spare_mm", plan.rules.guide_spare_mm),
            ),
            source=plan.rules.sources["guide_gap_mm"],
        ),
    )


def _feed_way(one: PlannedHole, plan: HolePlan, law: SmallHoleLaw) -> Reason:
    wear = wear_range(plan.work.material, law)
    is_through = one.hole.is_through
    return Reason(
        quantity="feed_way_mm",
        value=one.stroke.feed_way_mm,
        formula="lip + L (1 + k) + run-on",
        inputs=(
            ("lip_mm", one.stroke.lip_mm),
            ("L_mm", one.hole.depth_mm),
            ("k", wear.high if is_through else wear.likely),
            ("of k", "90th percentile" if is_through else "likely"),
            ("run-on_mm", one.stroke.run_on_mm),
        ),
        source=law.sources[f"wear_ratio.{plan.work.material.family}"],
    )


def _time(one: PlannedHole, plan: HolePlan, law: SmallHoleLaw) -> Reason:
    return Reason(
        quantity="minutes",
        value=one.stroke.minutes,
        formula="t (lip + L + run-on) / (L + b d) / machine factor",
        inputs=(
            ("t_min", one.predicted.drilled.minutes.likely),
            ("lip_mm", one.stroke.lip_mm),
            ("L_mm", one.hole.depth_mm),
            ("run-on_mm", one.stroke.run_on_mm),
            ("b", law.breakthrough_diameters),
            ("d_mm", one.electrode.diameter_mm),
            ("machine_factor", plan.work.machine.rate_factor),
        ),
        source=law.sources["feed_mm_per_min"],
        range=Range.lognormal(one.stroke.minutes, sigma_log=one.predicted.drilled.sigma_log),
        shares=(("drilling feed", 1.0),),
    )


def _tube_used(one: PlannedHole, plan: HolePlan, law: SmallHoleLaw) -> Reason:
    wear = wear_range(plan.work.material, law)
    stroke, depth_mm = one.stroke, one.hole.depth_mm
    return Reason(
        quantity="used_mm",
        value=stroke.used_mm,
        formula="k L + run-on",
        inputs=(("k", wear.likely), ("L_mm", depth_mm), ("run-on_mm", stroke.run_on_mm)),
        source=law.sources[f"wear_ratio.{plan.work.material.family}"],
        range=Range(
            low=wear.low * depth_mm + stroke.run_on_mm,
            likely=stroke.used_mm,
            high=stroke.used_most_mm,
        ),
        shares=(("wear of the tube", 1.0),),
    )


def _order_answers(plan: HolePlan) -> Iterator[Answer]:
    order = plan.order
    if order is None:
        return
    heat = heat_spread(order.rise_k, plan.rules)
    yield Answer(
        about="order",
        name="travel",
        path="plan/order/travel_mm",
        reason=Reason(
            quantity="travel_mm",
            value=order.travel_mm,
            formula="sum of the ways between holes, tube by tube; nearest neighbour or rows, then "
            "2-opt and Or-opt",
            inputs=(
                ("as_listed_mm", order.as_listed_mm),
                ("shortest_mm", order.shortest_mm),
                ("rounds", float(order.rounds)),
            ),
            source=_COMPUTED,
        ),
    )
    yield Answer(
        about="order",
        name="warmest place",
        path="plan/order/rise_k",
        reason=Reason(
            quantity="rise_k",
            value=order.rise_k,
            formula="sum over holes before of q/(4 pi k t) exp(-s^2/(4 a t))",
            inputs=(
                ("heat_into_work_w", plan.rules.heat_into_work_w),
                ("limit_k", plan.rules.rise_limit_k),
                ("on_the_shortest_way_k", order.rise_shortest_k),
            ),
            source=plan.rules.sources["heat_into_work_w"],
            range=heat.range if heat.shares else None,
            shares=heat.shares,
        ),
    )


def _estimate_answers(estimate: Estimate) -> Iterator[Answer]:
    by_quantity = {r.quantity: r for r in estimate.reasons}
    for line in estimate.times:
        told = by_quantity.get("drilling_min") if line.operation == "drilling" else None
        reason = Reason(
            quantity="minutes",
            value=line.minutes.likely,
            formula=line.basis,
            inputs=(),
            source=Source(tag=SourceTag.COMMON_PRACTICE),
            range=line.minutes,
            shares=((line.operation, 1.0),) if line.minutes.low < line.minutes.high else (),
        )
        yield Answer(
            about="time",
            name=line.operation,
            path=f"estimate/times/{line.operation}/minutes",
            reason=reason if told is None else replace(told, quantity="minutes"),
        )
    for one in estimate.consumption:
        yield Answer(
            about="consumption",
            name=one.item,
            path=f"estimate/consumption/{one.item}/amount",
            reason=Reason(
                quantity=f"amount_{one.unit}",
                value=one.amount.likely,
                formula=one.basis,
                inputs=(("unit_price", float(one.unit_price)),),
                source=_COMPUTED,
                range=one.amount,
                shares=((one.item, 1.0),) if one.amount.low < one.amount.high else (),
            ),
        )
    for price in estimate.prices:
        yield Answer(
            about=f"price for {price.quantity}",
            name="together",
            path=f"estimate/prices/{price.quantity}/likely",
            reason=Reason(
                quantity=f"amount_{estimate.currency}",
                value=float(price.likely),
                formula="sum of its lines",
                inputs=tuple((line.item, float(line.likely)) for line in price.lines),
                source=_COMPUTED,
                range=Range(
                    low=float(price.low), likely=float(price.likely), high=float(price.high)
                ),
                shares=tuple((s.cause, s.share_of_variance) for s in price.spread),
            ),
        )
