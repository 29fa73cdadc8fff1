"""The state of the running wire in each pass: taut, hot, bowed, and how near to a break."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from kerfwright.foundation.errors import InputError
from kerfwright.foundation.ranges import Range
from kerfwright.foundation.sources import Reason, Shares, Source, SourceTag
from kerfwright.foundation.spread import Outcome
from kerfwright.process.break_spread import BreakSpread, break_spread
from kerfwright.process.flushing import BreakRisk
from kerfwright.process.hurt_layer import HurtLayer, hurt_layers
from kerfwright.process.spark_law import SparkLaw
from kerfwright.process.technology import Flushing, Pass
from kerfwright.process.wire import natural_frequency_hz
from kerfwright.process.wire_break import (
    PUBLISHED_FROM_MM,
    BreakState,
    break_rank,
    break_state_at,
    is_below_published,
    stress_n_per_mm2,
)
from kerfwright.process.wire_physics import HeatLaw, WirePhysics
from kerfwright.process.wire_ranges import PARTS, UseRanges, use_ranges
from kerfwright.process.wire_scene import WireScene
from kerfwright.process.wire_shape import PassShape, pass_shapes
from kerfwright.process.wire_spark import WireSpark, spark_reasons, wire_spark

_COMPUTED: Final = Source(tag=SourceTag.COMPUTED)
_ROUNDING: Final = 1 + 1e-9
"""A feed held to the share that is allowed must not count as above it."""


_LEAST_RANK: Final = 1e-4
"""A wire of which even the upper end lies below it is far from a break, and no range is told."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WireState:
    """The wire in one pass at the feed of the plan.

    Attributes
    ----------
    pass_number : int
    flushing : Flushing
        The state of the nozzles this is for: the worst that the pass meets.
    tension_n, stress_n_per_mm2 : float
    feed_mm_per_min : float
    mean_current_a, break_current_a : float
        What the removal takes, and at which the wire parts.
    utilisation : float
        The first over the second.
    rank : float
        That the wire parts at a current below this one, by the spread of the law: a rank to
        compare cuts by, no breaks per hour.
    risk : BreakRisk
    relative_breaks : float
        Breaks an hour relative to a usual rough pass, by heat alone.
    breaks_range : Range
        Of that, in a single cut; see :func:`kerfwright.process.break_spread.break_spread`.
    hottest_c, margin : float
        Hottest place of the wire, and strength over load at the weakest.
    natural_frequency_hz : float
    lag_um, barrel_um : float
        Bow of the wire at mid-height against the travel, and what it leaves on the wall.
    spark_energy_mj : float
    peak_current_a, pulse_us, sparks_khz : float
        Peak and length of the triangle of current of that energy, and how many of them are the
        mean current.
    layer : HurtLayer
    reasons : tuple of Reason
    is_counted : bool
        Whether the breaks are those of the shop's own counts and the model together.
    """

    pass_number: int
    flushing: Flushing
    tension_n: float
    stress_n_per_mm2: float
    feed_mm_per_min: float
    mean_current_a: float
    break_current_a: float
    utilisation: float
    rank: float
    risk: BreakRisk
    relative_breaks: float
    breaks_range: Range
    hottest_c: float
    margin: float
    natural_frequency_hz: float
    lag_um: float
    barrel_um: float
    spark_energy_mj: float
    peak_current_a: float
    pulse_us: float
    sparks_khz: float
    layer: HurtLayer
    reasons: tuple[Reason, ...]
    is_counted: bool = False


def heat_risk(utilisation: float, *, physics: WirePhysics) -> BreakRisk:
    """Return how likely a share of the break current breaks the wire."""
    law = physics.breaking
    if utilisation > law.most_share * _ROUNDING:
        return BreakRisk.HIGH
    return BreakRisk.RAISED if utilisation > law.raised_share else BreakRisk.USUAL


def wire_states(
    passes: Sequence[Pass],
    *,
    scene: WireScene,
    spark: SparkLaw,
    flushing: Flushing = Flushing.SEALED,
    rough_feed_mm_per_min: float | None = None,
    lean_factor: float = 1.0,
    thresholds_a: Mapping[Flushing, float] | None = None,
) -> tuple[WireState, ...]:
    """Return the state of the wire in each pass.

    Parameters
    ----------
    passes : sequence of Pass
        The rough pass first.
    scene : WireScene
    spark : SparkLaw
    flushing : Flushing
        Worst state of the nozzles that the rough pass meets; skims count as closed, for their
        water is no more than a rinse whatever the nozzles do.
    rough_feed_mm_per_min : float or None
        Feed of the rough pass there; None for its own.
    lean_factor : float
        On the feed of skims, where every wall leans.
    thresholds_a : mapping of Flushing to float, optional
        Break currents of the rough pass that are known already.  A skim has smaller sparks, with
        which a wire carries more: its own is found with its heat.

    Raises
    ------
    InputError
        If there is no pass.
    """
    if not passes:
        raise InputError("the state of a wire needs a pass", code="wire-state-empty")
    known = dict(thresholds_a or {})
    shapes = pass_shapes(passes, wire=scene.wire, height_mm=scene.height_mm, physics=scene.physics)
    layers = hurt_layers(passes, law=spark.surface)
    found = []
    for this, shape, layer in zip(passes, shapes, layers, strict=True):
        where = flushing if this.is_rough else Flushing.SEALED
        feed = this.feed_mm_per_min * lean_factor
        if this.is_rough and rough_feed_mm_per_min is not None:
            feed = rough_feed_mm_per_min
        most = scene.most_current_a(this, rough=passes[0])
        current = scene.mean_current_a(this, feed_mm_per_min=feed, most_a=most)
        one = wire_spark(this, rough=passes[0], scene=scene, law=spark)
        near = break_state_at(
            scene.wire,
            threshold_a=known.get(where) if this.is_rough else None,
            height_mm=scene.height_mm,
            mean_a=current,
            tension_n=scene.tension_n,
            peak_a=one.pulse.peak_current_a,
            physics=scene.physics,
            flushing=where,
        )
        sure = use_ranges(this, rough=passes[0], scene=scene, feed_mm_per_min=feed, near=near)
        found.append(
            _state(this, scene, one, where=where, feed=feed, most_a=most, near=near, sure=sure,
                   shape=shape, layer=layer)
        )  # fmt: skip
    return tuple(found)


def _state(
    this: Pass,
    scene: WireScene,
    spark: WireSpark,
    *,
    where: Flushing,
    feed: float,
    most_a: float,
    near: BreakState,
    sure: UseRanges,
    shape: PassShape,
    layer: HurtLayer,
) -> WireState:
    physics = scene.physics
    frequency = natural_frequency_hz(
        scene.wire,
        span_mm=physics.tension.span_mm(scene.height_mm),
        tension_n=scene.tension_n,
    )
    current = sure.current.value
    spread = break_spread(
        physics.breaking,
        near.utilisation,
        feed_sigma_log=this.feed_sigma_log,
        charge_more_log=scene.charge_more_log,
    )
    return WireState(
        pass_number=this.number,
        flushing=where,
        tension_n=scene.tension_n,
        stress_n_per_mm2=stress_n_per_mm2(scene.wire, tension_n=scene.tension_n),
        feed_mm_per_min=feed,
        mean_current_a=current,
        break_current_a=near.threshold_a,
        utilisation=near.utilisation,
        rank=near.probability,
        risk=heat_risk(near.utilisation, physics=physics),
        relative_breaks=spread.range.likely,
        breaks_range=spread.range,
        hottest_c=near.hottest_c,
        margin=near.margin,
        natural_frequency_hz=frequency,
        lag_um=shape.lag_um,
        barrel_um=shape.barrel_um,
        spark_energy_mj=spark.pulse.energy_mj,
        peak_current_a=spark.pulse.peak_current_a,
        pulse_us=spark.pulse.on_time_us,
        sparks_khz=spark.frequency_khz(current),
        layer=layer,
        reasons=(
            *_tension_reasons(scene, frequency),
            _current_reason(this, scene, feed=feed, most_a=most_a, current=sure.current),
            *spark_reasons(spark, scene=scene, mean_a=current, per_spark=sure.per_spark),
            *_heat_reasons(this, scene, spark, feed=feed, near=near, where=where),
            *_strength_reasons(scene, near=near, sure=sure, spread=spread),
            *_break_reasons(scene, near=near, sure=sure),
            *layer.reasons,
        ),
    )


def _tension_reasons(scene: WireScene, frequency_hz: float) -> tuple[Reason, ...]:
    wire, law = scene.wire, scene.physics.tension
    tension = scene.tension_n
    return (
        Reason(
            quantity="tension_n",
            value=tension,
            formula="T = s sigma pi d^2/4",
            inputs=(
                ("s", law.share),
                ("sigma_n_per_mm2", wire.tensile_n_per_mm2),
                ("d_mm", wire.diameter_mm),
            ),
            source=law.sources["share"],
        ),
        Reason(
            quantity="stress_n_per_mm2",
            value=stress_n_per_mm2(wire, tension_n=tension),
            formula="4 T / (pi d^2)",
            inputs=(("T_n", tension), ("d_mm", wire.diameter_mm)),
            source=_COMPUTED,
        ),
        Reason(
            quantity="natural_frequency_hz",
            value=frequency_hz,
            formula="sqrt(T/mu) / (2 L)",
            inputs=(
                ("T_n", tension),
                ("L_mm", law.span_mm(scene.height_mm)),
                ("rho_kg_per_m3", wire.density_kg_per_m3),
                ("d_mm", wire.diameter_mm),
            ),
            source=law.sources["guide_gap_mm"],
        ),
    )


_AS_STEEL: Final = (
    "the material is taken to draw and to break wire as steel does, all that its rate differs by "
    "being charge for a volume: fewer or unsteadier sparks are in the range, not in the value"
)


def _current_reason(
    this: Pass, scene: WireScene, *, feed: float, most_a: float, current: Outcome
) -> Reason:
    law = scene.physics.breaking
    formula = "I = psi v H w / K_m"
    inputs = [
        ("psi_c_per_mm3", law.charge_c_per_mm3),
        ("v_mm_per_min", feed),
        ("H_mm", scene.height_mm),
        ("w_mm", scene.width_mm(this)),
        ("K_m", scene.material.rate_factor),
    ]
    if not this.is_rough:
        formula = "min(psi v H w / K_m, most), w the stock; most = I_1 (E/E_1)^m, which has "
        formula += "psi and the rough feed in it as well"
        inputs.append(("most_a", most_a))
    if scene.charge_more_log:
        formula += f"; {_AS_STEEL}"
    return Reason(
        quantity="mean_current_a",
        value=current.value,
        formula=formula,
        inputs=tuple(inputs),
        source=law.sources[
            "charge_c_per_mm3" if current.value < most_a else "skim_current_exponent"
        ],
        range=current.range,
        shares=current.shares,
    )


def _heat_reasons(
    this: Pass,
    scene: WireScene,
    spark: WireSpark,
    *,
    feed: float,
    near: BreakState,
    where: Flushing,
) -> tuple[Reason, ...]:
    law, heat = scene.physics.breaking, scene.physics.heat
    return (
        Reason(
            quantity="break_current_a",
            value=near.threshold_a,
            formula="mean current at which strength over load is 1 at the weakest place; "
            "k A T'' - rho c A v T' - h pi d (T - T0) + q' + (2/3) I I_p m rho_el/A = 0, m the "
            "mean square of the share of a spark's current that flows there",
            inputs=(
                ("nozzles", where.value),
                ("h_w_per_m2k", heat.film_w_per_m2k),
                ("film_share", heat.film[where]),
                *_free_wire(heat),
                ("eta", heat.spark_share_to_wire),
                ("u_v", heat.spark_voltage_v),
                ("I_p_a", spark.pulse.peak_current_a),
                ("lead_mm", heat.lead_mm),
                ("T_n", scene.tension_n),
            ),
            source=heat.sources["film_w_per_m2k"],
            range=Range.lognormal(near.threshold_a, sigma_log=law.sigma_log),
            shares=_shares(near.threshold_a, PARTS),
        ),
        Reason(
            quantity="feed_mm_per_min",
            value=feed,
            formula="feed of the pass x factors of water, wire and lean at the worst place"
            if this.is_rough
            else "feed of the pass x factor of the lean",
            inputs=(
                ("pass_mm_per_min", this.feed_mm_per_min),
                ("rate_factor", feed / this.feed_mm_per_min),
            ),
            source=_COMPUTED,
            range=Range.lognormal(feed, sigma_log=this.feed_sigma_log),
            shares=_shares(this.feed_sigma_log, "feed"),
        ),
    )


def _free_wire(heat: HeatLaw) -> tuple[tuple[str, float], ...]:
    """Return what nozzles kept off the work add to the balance, where they are."""
    if not (heat.upper_off_mm or heat.lower_off_mm):
        return ()
    return (
        ("upper_off_mm", heat.upper_off_mm),
        ("lower_off_mm", heat.lower_off_mm),
        ("free_film_share", heat.free_film_share),
    )


def _worn(scene: WireScene, near: BreakState) -> tuple[str, tuple[tuple[str, float], ...]]:
    """Return how the section ``w`` that craters leave is told, and from what."""
    tension = scene.physics.tension
    if tension.kept_section_left is not None:
        return "", (("section_left", tension.kept_section_left),)
    return ", w from 1 down to 1 - k I / (A v) below", (
        ("k_mm3_per_c", tension.wear_mm3_per_c),
        ("I_a", near.warm.mean_a),
        ("v_m_per_min", scene.wire.run_speed_m_per_min),
    )


def _strength_reasons(
    scene: WireScene, *, near: BreakState, sure: UseRanges, spread: BreakSpread
) -> tuple[Reason, ...]:
    law, heat = scene.physics.breaking, scene.physics.heat
    worn_by, worn = _worn(scene, near)
    return (
        Reason(
            quantity="margin",
            value=near.margin,
            formula="min over the wire of w r(T) sigma / (4 T / (pi d^2))" + worn_by,
            inputs=(
                *worn,
                ("sigma_n_per_mm2", scene.wire.tensile_n_per_mm2),
                ("T_n", scene.tension_n),
            ),
            source=scene.physics.metal(scene.wire).sources["hot_strength"],
            range=sure.margin,
            shares=sure.shares,
        ),
        Reason(
            quantity="relative_breaks",
            value=spread.range.likely,
            formula="curve over the share of the break current; against a usual rough pass. Range: "
            "of a single cut over the mean of usual ones, whose charge is as far off"
            + (
                f"; a guess, for nothing is published on wire below {PUBLISHED_FROM_MM:g} mm"
                if is_below_published(scene.wire)
                else ""
            )
            + (f"; {_AS_STEEL}" if scene.charge_more_log else ""),
            inputs=(
                ("utilisation", near.utilisation),
                ("mean over single cuts", spread.mean),
                ("sigma_log", spread.sigma_log),
            ),
            source=law.sources["relative_rate"],
            range=spread.range,
            shares=spread.shares,
        ),
        Reason(
            quantity="hottest_c",
            value=near.hottest_c,
            formula="highest T of the same balance at the mean current",
            inputs=(("I_a", sure.current.value), ("T0_c", heat.water_c)),
            source=heat.sources["film_w_per_m2k"],
            range=sure.hottest_c,
            shares=sure.shares,
        ),
    )


def _shares(spread: float, name: str) -> Shares:
    """Return the one cause of a range, or none where there is no range."""
    return ((name, 1.0),) if spread else ()


def _break_reasons(scene: WireScene, *, near: BreakState, sure: UseRanges) -> tuple[Reason, ...]:
    if not near.threshold_a > 0:
        return ()
    law = scene.physics.breaking
    rank = Range(
        low=break_rank(sure.use.range.low, law=law),
        likely=near.probability,
        high=break_rank(sure.use.range.high, law=law),
    )
    return (
        Reason(
            quantity="utilisation",
            value=near.utilisation,
            formula="I / I_break",
            inputs=(("I_a", sure.current.value), ("I_break_a", near.threshold_a)),
            source=law.sources["sigma_log"],
            range=sure.use.range,
            shares=sure.shares,
        ),
        Reason(
            quantity="rank",
            value=near.probability,
            formula="Phi(ln(I / I_break) / sigma); a rank, no breaks per hour",
            inputs=(("sigma", law.sigma_log), ("utilisation", near.utilisation)),
            source=law.sources["sigma_log"],
            range=rank if rank.high > _LEAST_RANK else None,
            shares=sure.shares if rank.high > _LEAST_RANK else (),
        ),
    )
