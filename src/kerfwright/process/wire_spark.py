"""The spark of one pass as the wire sees it: energy, peak and length of one triangle of current."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

from kerfwright.foundation.sources import Reason, Source, SourceTag
from kerfwright.foundation.spread import Outcome
from kerfwright.process.crater import Pulse, pulse_of_energy
from kerfwright.process.spark_law import SparkLaw
from kerfwright.process.spark_ranges import length_of, peak_of, told_spread
from kerfwright.process.spark_surface import energy_of_ra_mj
from kerfwright.process.technology import Pass
from kerfwright.process.wire_scene import WireScene

_US_PER_MS: Final = 1000


@dataclass(frozen=True, slots=True, kw_only=True)
class WireSpark:
    """One spark of a pass.

    Attributes
    ----------
    pulse : Pulse
        A triangle of current at the voltage of the discharge.
    energy_share : float
        Its energy over that of the rough pass.
    peak, length : Outcome
        Peak, A, and length, µs, with their distributions.
    """

    pulse: Pulse
    energy_share: float
    peak: Outcome
    length: Outcome

    def frequency_khz(self, mean_a: float) -> float:
        """Return how many such sparks bring a mean current: ``f = I u / E``, kHz."""
        return mean_a * self.pulse.voltage_v / self.pulse.energy_mj


def spark_energy_mj(this: Pass, *, scene: WireScene, law: SparkLaw) -> float:
    """Return the energy per spark of a pass, mJ.

    As the pass has it: where the shop's cuts moved Ra, the energy stays that of the tables.
    """
    return next(
        (r.value for r in this.reasons if r.quantity == "spark_energy_mj"),
        energy_of_ra_mj(this.tables_ra_um, material=scene.material, law=law),
    )


def wire_spark(this: Pass, *, rough: Pass, scene: WireScene, law: SparkLaw) -> WireSpark:
    """Return the spark that heats the wire in a pass.

    ``I_p = I_p1 (E/E_1)^(1/2)`` and ``t = 2 E/(u I_p)``: peak and length fall together, the family
    of :func:`kerfwright.process.crater.pulse_of_energy`, from the rough spark of this wire down.
    Its peak ``I_p1`` goes with the diameter.

    Parameters
    ----------
    this, rough : Pass
    scene : WireScene
    law : SparkLaw

    Notes
    -----
    A wire thicker than that of the pass table keeps the energy of the table at the peak of its own
    diameter, so in a shorter pulse.  That is the hotter side: for the same charge the square of the
    current goes with the peak.
    """
    energy, first = (spark_energy_mj(p, scene=scene, law=law) for p in (this, rough))
    voltage = scene.physics.heat.spark_voltage_v
    of_rough = Pulse(
        peak_current_a=scene.peak_a,
        on_time_us=2 * first / (voltage * scene.peak_a) * _US_PER_MS,
        voltage_v=voltage,
    )
    pulse = pulse_of_energy(energy, through=of_rough)
    peak = peak_of(
        pulse.peak_current_a,
        energy=this.spark_loadings,
        rough=rough.spark_loadings,
        sigma_log=scene.physics.pulse.peak_sigma_log,
    )
    return WireSpark(
        pulse=pulse,
        energy_share=energy / first,
        peak=peak,
        length=length_of(pulse.on_time_us, energy=this.spark_loadings, peak=peak),
    )


def spark_reasons(
    spark: WireSpark, *, scene: WireScene, mean_a: float, per_spark: Outcome
) -> tuple[Reason, ...]:
    """Return where peak, length and number of the sparks of a pass come from.

    Parameters
    ----------
    spark : WireSpark
    scene : WireScene
    mean_a : float
        Mean current of the pass.
    per_spark : Outcome
        The same over the energy of a spark, in units of the likely one.
    """
    frequency_khz = spark.frequency_khz(mean_a)
    law, pulse = scene.physics.pulse, spark.pulse
    triangle = Source(tag=SourceTag.COMPUTED, citation="a triangle of current at one voltage")
    return (
        Reason(
            quantity="peak_current_a",
            value=pulse.peak_current_a,
            formula="I_p = I_ref (d/d_ref) (E/E_1)^(1/2), E_1 the rough spark of this wire; "
            "a wire thicker than the table's keeps its energy, in a higher and shorter pulse: the "
            "hotter side",
            inputs=(
                ("I_ref_a", law.peak_a),
                ("d_mm", scene.wire.diameter_mm),
                ("d_ref_mm", law.diameter_mm),
                ("E/E_1", spark.energy_share),
            ),
            source=law.sources["diameter_mm"],
            **told_spread(spark.peak),
        ),
        Reason(
            quantity="pulse_us",
            value=pulse.on_time_us,
            formula="t = 2 E / (u I_p)",
            inputs=(
                ("E_mj", pulse.energy_mj),
                ("u_v", pulse.voltage_v),
                ("I_p_a", pulse.peak_current_a),
            ),
            source=triangle,
            **told_spread(spark.length),
        ),
        Reason(
            quantity="sparks_khz",
            value=frequency_khz,
            formula="f = I u / E",
            inputs=(("I_a", mean_a), ("u_v", pulse.voltage_v), ("E_mj", pulse.energy_mj)),
            source=triangle,
            **told_spread(replace(per_spark, range=per_spark.range * (frequency_khz / mean_a))),
        ),
    )
