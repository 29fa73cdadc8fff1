"""Why figures of a hole beside time and size have their values: stroke, place, chance of a miss."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from typing import Final

from kerfwright.foundation.sources import Reason, Source, SourceTag
from kerfwright.foundation.spread import Outcome, Uncertain, of_ratio, of_sum
from kerfwright.planning.hole_findings import least_blind_mm
from kerfwright.planning.hole_plan import HolePlan, PlannedHole
from kerfwright.planning.hole_rules import HoleRules
from kerfwright.planning.hole_tubes import wear_range
from kerfwright.process.hole_depth import deepest_mm
from kerfwright.process.small_hole import Judged
from kerfwright.process.technology import SmallHoleLaw

IN_PLAN: Final = frozenset(
    {
        "lip_mm", "run_on_mm", "beyond_mm", "used_most_mm", "not_through_chance", "needs_mm",
        "feed_mm_per_min", "dressed_mm", "slope_deg", "rise_k", "clear_z_mm",
    }
)  # fmt: skip
"""Figures that stand in ``plan.json`` under their own name."""

Named = tuple[str, str, Reason]
"""Name, other words for it, and the reason."""
_Inputs = tuple[tuple[str, float | str], ...]
_COMPUTED: Final = Source(tag=SourceTag.COMPUTED)
_CHANCES: Final = "chances of a miss missed"
_MISSES: Final = {
    "tolerance": ("chance to miss the diameter", "2 (1 - Phi(t / s)); half the usual zone is s"),
    "position": (
        "chance to miss the place of the exit",
        "Rice's distribution of the setting, averaged over the wander",
    ),
    "recast": ("chance to miss the recast layer", "Phi(ln(likely / asked) / s)"),
}


def hole_figures(
    group: Sequence[PlannedHole], plan: HolePlan, law: SmallHoleLaw
) -> Iterator[Named]:
    """Return name, other words and reason of each figure of holes that are alike.

    Parameters
    ----------
    group : sequence of PlannedHole
    plan : HolePlan
    law : SmallHoleLaw
        That it was computed with.
    """
    one = min(group, key=lambda p: p.number)
    yield from _depths(one, plan, law)
    yield from _tube(one, plan, law)
    yield from _places(one, law)
    for judged in one.predicted.judged:
        yield _miss(judged, law)
    yield from _each(group, plan)


def _of(
    quantity: str,
    value: float,
    formula: str,
    inputs: _Inputs,
    source: Source = _COMPUTED,
    sure: Outcome | None = None,
) -> Reason:
    told = sure is not None and sure.sigma > 0
    return Reason(
        quantity=quantity,
        value=value,
        formula=formula,
        inputs=inputs,
        source=source,
        range=sure.range if sure is not None and told else None,
        shares=sure.shares if sure is not None and told else (),
    )


def _depths(one: PlannedHole, plan: HolePlan, law: SmallHoleLaw) -> Iterator[Named]:
    hole, stroke, tube_mm = one.hole, one.stroke, one.electrode.diameter_mm
    makes_mm = one.electrode.makes_mm
    limit = deepest_mm(makes_mm, law=law)
    yield "depth limit", "deepest routine", _of(
        "depth_limit_mm", limit, "limit of depth over diameter, by diameter, x D",
        (("ratio", limit / makes_mm), ("D_mm", makes_mm), ("L_mm", hole.depth_mm)),
        law.sources["depth_to_diameter"],
    )  # fmt: skip
    yield "slope", "face lean", _of(
        "slope_deg", hole.slope_deg, "angle from the normal of the face to the axis, as drawn", ()
    )  # fmt: skip
    yield "lip", "", _of(
        "lip_mm", stroke.lip_mm, "d/2 tan(slope)",
        (("d_mm", tube_mm), ("slope_deg", hole.slope_deg)),
    )  # fmt: skip
    if not hole.is_through:
        rules = plan.rules
        yield "least depth", "blind shallow", _of(
            "least_depth_mm", least_blind_mm(tube_mm, lip_mm=stroke.lip_mm, rules=rules),
            "u + r d + lip",
            (("u_mm", rules.touch_off_mm), ("r", rules.tip_diameters), ("d_mm", tube_mm),
             ("lip_mm", stroke.lip_mm)),
            rules.sources.get("touch_off_mm", _COMPUTED),
        )  # fmt: skip
        for name, quantity in (
            ("run-on", "run_on_mm"),
            ("out beyond the exit", "beyond_mm"),
            ("chance of not coming through", "not_through_chance"),
        ):
            yield name, "breakthrough", _of(quantity, 0.0, "a blind hole has no exit", ())
        return
    wear = wear_range(plan.work.material, law)
    through = law.breakthrough_diameters * tube_mm
    way = (("b", law.breakthrough_diameters), ("d_mm", tube_mm))
    by = law.sources["breakthrough_diameters"]
    yield "breakthrough", "through", _of("breakthrough_mm", through, "b d", way, by)
    yield (
        "run-on",
        "runon",
        _of("run_on_mm", stroke.run_on_mm, "b d + lip", (*way, ("lip_mm", stroke.lip_mm)), by),
    )
    finds = plan.work.machine.tubes.finds_breakthrough
    yield "out beyond the exit", "stands room", _of(
        "beyond_mm", stroke.beyond_mm,
        "run-on; the machine finds the breakthrough" if finds else "run-on + L (k_90 - k_10)",
        (("run-on_mm", stroke.run_on_mm), ("L_mm", hole.depth_mm), ("k_10", wear.low),
         ("k_90", wear.high)),
    )  # fmt: skip
    yield "chance of not coming through", f"breakthrough {_CHANCES}", _of(
        "not_through_chance", stroke.not_through_chance,
        "1 - Phi(ln(k_max / k) / s), k_max = (W - lip) / L - 1",
        (("W_mm", stroke.feed_way_mm), ("lip_mm", stroke.lip_mm), ("L_mm", hole.depth_mm),
         ("k", wear.likely), ("s", law.wear_sigma_log)),
        law.sources["wear_sigma_log"],
    )  # fmt: skip


def _tube(one: PlannedHole, plan: HolePlan, law: SmallHoleLaw) -> Iterator[Named]:
    hole, stroke, holder = one.hole, one.stroke, plan.work.machine.tubes
    wear = wear_range(plan.work.material, law)
    fixed_mm = stroke.lip_mm + hole.depth_mm + stroke.run_on_mm
    likely_mm = fixed_mm + hole.depth_mm * wear.likely
    feed = of_ratio(
        lambda k, rate: stroke.feed_mm_per_min * rate * (fixed_mm + hole.depth_mm * k) / likely_mm,
        (
            Uncertain(name="wear of the tube", value=wear.likely, sigma=law.wear_sigma_log),
            Uncertain(name="drilling feed", value=1.0, sigma=law.feed_sigma_log),
        ),
    )
    yield "feed", "speed", _of(
        "feed_mm_per_min", stroke.feed_mm_per_min, "(lip + L (1 + k) + run-on) / time",
        (("lip_mm", stroke.lip_mm), ("L_mm", hole.depth_mm), ("k", wear.likely),
         ("run-on_mm", stroke.run_on_mm), ("time_min", stroke.minutes)),
        law.sources["feed_mm_per_min"], feed,
    )  # fmt: skip
    yield "most tube used", "worn wear", _of(
        "used_most_mm", stroke.used_most_mm, "k_90 L + run-on, in nine cases of ten or less",
        (("k_90", wear.high), ("L_mm", hole.depth_mm), ("run-on_mm", stroke.run_on_mm)),
        law.sources["wear_sigma_log"],
    )  # fmt: skip
    yield "tube left needed", "needs free length", _of(
        "needs_mm", stroke.needs_mm, "guide + gap + lip + L + run-on",
        (("guide_mm", holder.guide_length_mm), ("gap_mm", one.guide_gap_mm),
         ("lip_mm", stroke.lip_mm), ("L_mm", hole.depth_mm), ("run-on_mm", stroke.run_on_mm)),
    )  # fmt: skip
    ratio = plan.rules.dress_diameters if stroke.dressed_mm else 0.0
    yield "dressed", "dress cut off", _of(
        "dressed_mm", stroke.dressed_mm, "c d before a blind hole, nothing before a through one",
        (("c", ratio), ("d_mm", one.electrode.diameter_mm)), plan.rules.sources["dress_diameters"],
    )  # fmt: skip


def _places(one: PlannedHole, law: SmallHoleLaw) -> Iterator[Named]:
    """Return what size and place hold, asked or not."""
    hole, found = one.hole, one.predicted
    yield "tolerance", "zone", _of(
        "tolerance_um", found.tolerance_um, "half zone of the diameter that is usual",
        (("with care_um", law.best_tolerance_um), ("asked_um", _asked(hole.tolerance_um))),
        law.sources["tolerance_um"], _zone(found.tolerance_um, "how far diameters scatter", law),
    )  # fmt: skip
    is_care = found.position_um < law.position_um
    setting = Uncertain(
        name="setting", value=found.position_um, sigma=0.0 if is_care else law.half_zone_sigma_log
    )
    yield "position of the mouth", "place setting", _of(
        "position_um", found.position_um,
        "best of the machine, as less than usual is asked" if is_care else "usual half zone",
        (("usual_um", law.position_um), ("asked_um", _asked(hole.position_um))),
        _COMPUTED if is_care else law.sources["position_um"],
        of_ratio(lambda set_um: set_um, (setting,)),
    )  # fmt: skip
    if hole.is_through:
        wander_um = found.wander_range_mm.likely * 1000
        yield "position of the exit", "place", _of(
            "exit_position_um", math.hypot(found.position_um, wander_um),
            "sqrt(setting^2 + wander^2)",
            (("setting_um", found.position_um), ("wander_um", wander_um),
             ("asked_um", _asked(hole.position_um))),
            sure=of_ratio(
                math.hypot,
                (setting, Uncertain(name="drift", value=wander_um, sigma=law.wander_sigma_log)),
            ),
        )  # fmt: skip


def _zone(half_um: float, cause: str, law: SmallHoleLaw) -> Outcome:
    """Return a half zone with its distribution."""
    one = Uncertain(name=cause, value=half_um, sigma=law.half_zone_sigma_log)
    return of_ratio(lambda zone_um: zone_um, (one,))


def heat_spread(rise_k: float, rules: HoleRules) -> Outcome:
    """Return how sure a rise of temperature is: it goes with the heat that stays in the work, K.

    Parameters
    ----------
    rise_k : float
    rules : HoleRules
    """
    heat = Uncertain(
        name="heat that stays in the work",
        value=rules.heat_into_work_w,
        sigma=rules.into_work_sigma_log if rise_k > 0 else 0.0,
    )
    return of_sum(lambda heat_w: rise_k * heat_w / rules.heat_into_work_w, (heat,))


def _asked(value: float | None) -> float | str:
    return "nothing" if value is None else value


def _miss(one: Judged, law: SmallHoleLaw) -> Named:
    name, formula = _MISSES[one.name]
    inputs: _Inputs = (
        ("asked_um", one.asked_um), ("usual_um", one.usual_um), ("best_um", one.best_um),
        ("held_um", one.held_um), ("allowed", law.allowed_miss),
    )  # fmt: skip
    return name, f"{_CHANCES} {one.name}", _of("chance_of_a_miss", one.chance, formula, inputs)


def _each(group: Sequence[PlannedHole], plan: HolePlan) -> Iterator[Named]:
    """Return what each hole has of its own, under the first with those of the others."""
    ordered = sorted(group, key=lambda p: p.number)
    warmest = max(ordered, key=lambda p: p.rise_k)
    rules = plan.rules
    yield "heat", "warm warmest rise temperature", _of(
        "rise_k", warmest.rise_k,
        "sum over holes before of q/(4 pi k t) exp(-s^2/(4 a t)); the warmest of holes alike",
        (("limit_k", rules.rise_limit_k), *((p.hole.id, p.rise_k) for p in ordered)),
        rules.sources["heat_into_work_w"], heat_spread(warmest.rise_k, rules),
    )  # fmt: skip

    def own(name: str, quantity: str, formula: str, get: Callable[[PlannedHole], float]) -> Named:
        values: _Inputs = tuple((p.hole.id, get(p)) for p in ordered)
        return name, "place program", _of(quantity, get(ordered[0]), formula, values)

    for row, letter in enumerate("XYZ"):
        yield own(
            f"program {letter}", f"at_{letter.lower()}_mm",
            "mouth of the drawing less the centre of turning, turned with the work",
            lambda p, row=row: p.at_mm[row],  # type: ignore[misc]
        )  # fmt: skip
    for row, axis in enumerate(plan.work.machine.axes):
        yield own(
            f"angle {axis.letter}", f"angle_{axis.letter.lower()}_deg",
            "turns the entry vector straight down, with the least turning from hole to hole",
            lambda p, row=row: p.angles_deg[row],  # type: ignore[misc]
        )  # fmt: skip
    yield own(
        "clear height",
        "clear_z_mm",
        "top of the box around the work as it stands + clearance",
        lambda p: p.clear_z_mm,
    )
