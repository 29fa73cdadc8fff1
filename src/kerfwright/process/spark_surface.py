"""From the energy of a spark to gap, roughness and recast, and the energy of each pass."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from kerfwright.foundation.errors import RangeError
from kerfwright.foundation.findings import Finding, Severity
from kerfwright.foundation.ranges import Range
from kerfwright.foundation.sources import Reason
from kerfwright.foundation.units import both, both_roughness
from kerfwright.process.crater import PARABOLA_DEPTH_PER_RA, full_pulse
from kerfwright.process.spark_law import RoughnessFit, SparkLaw
from kerfwright.trade.material import Material

_MOST_PASSES: Final = 12
"""A chain longer than this would only mean that the step between passes is nearly none."""
_ENOUGH: Final = 1 - 1e-9
"""A step that just suffices must not fail on the rounding of its own computation."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SparkSurface:
    """The wall that sparks of one energy leave.

    Attributes
    ----------
    energy_mj : float
    gap_um : float
        On one side.
    ra_um : Range
        Bracketed by the published exponents.
    recast_um : Range
    peak_um : float
        Highest peaks above the mean line.
    hurt_um : float
        Recast and peaks together: what the next pass has to take.
    crater_depth_um : float
        Depth of a row of parabolic craters of that Ra.
    reasons : tuple of Reason
    """

    energy_mj: float
    gap_um: float
    ra_um: Range
    recast_um: Range
    peak_um: float
    hurt_um: float
    crater_depth_um: float
    reasons: tuple[Reason, ...]


def surface_of(energy_mj: float, *, material: Material, law: SparkLaw) -> SparkSurface:
    """Compute gap, roughness and recast of an energy per spark.

    ``Ra = f K E^(1/3)``, ``gap = G E^(1/3)``, ``recast = f_r r K E^(1/3)``: craters of one shape.
    The range of Ra runs between the exponents 1/3 and 0.28 through the full pulse.

    Parameters
    ----------
    energy_mj : float
        mJ.
    material : Material
        Its ``ra_factor`` and ``recast_factor`` relative to steel are used.
    law : SparkLaw

    Raises
    ------
    RangeError
        If the energy is not above 0 or above the full pulse.

    Notes
    -----
    Validity: wire sparks in water from the smallest steady energy to the full pulse; gaps of
    wires thinner than 0.25 mm are smaller.

    References
    ----------
    Scale of Ra: common practice, no source; exponents: similarity, and a fit on a published
    table (see ``spark.toml``).
    """
    surface = law.surface
    full = full_pulse(law.pulse).energy_mj
    if not 0 < energy_mj <= full / _ENOUGH:
        raise RangeError(
            f"an energy of {energy_mj:g} mJ; it must be above 0 and at most that of the full "
            f"pulse, {full:g} mJ",
            code="energy-out-of-range",
        )
    steel_ra = surface.ra_scale_um * energy_mj**surface.ra_exponent
    flatter = (
        surface.ra_scale_um
        * full**surface.ra_exponent
        * (energy_mj / full) ** surface.ra_exponent_low
    )
    ra = _ordered(steel_ra, steel_ra, flatter) * material.ra_factor
    recast = _ordered(
        surface.recast_per_ra_low * steel_ra,
        surface.recast_per_ra * steel_ra,
        surface.recast_per_ra_high * steel_ra,
    )
    recast = recast * material.recast_factor
    gap = surface.gap_scale_um * energy_mj**surface.ra_exponent
    peak = surface.peak_per_ra * ra.likely
    return SparkSurface(
        energy_mj=energy_mj,
        gap_um=gap,
        ra_um=ra,
        recast_um=recast,
        peak_um=peak,
        hurt_um=recast.likely + peak,
        crater_depth_um=PARABOLA_DEPTH_PER_RA * ra.likely,
        reasons=_reasons(energy_mj, gap, ra.likely, recast.likely, material=material, law=law),
    )


def energy_of_ra_mj(ra_um: float, *, material: Material, law: SparkLaw) -> float:
    """Return the energy per spark that leaves a roughness: ``E = (Ra / (f K))^3``, mJ.

    Raises
    ------
    RangeError
        If the roughness is not above 0.
    """
    if not ra_um > 0:
        raise RangeError(f"Ra {ra_um:g} µm must be above 0", code="energy-out-of-range")
    scale = law.surface.ra_scale_um * material.ra_factor
    return float((ra_um / scale) ** (1 / law.surface.ra_exponent))


def fitted_ra_um(
    *, on_time_us: float, off_time_us: float, current_a: float, fit: RoughnessFit
) -> float:
    """Return Ra by the fit on a published table for Inconel 825.

    ``Ra = 0.784 Ton^0.453 Toff^-0.130 I^0.150``, of use for its exponents only.

    Notes
    -----
    Validity: 20 to 80 µs on, 5 to 15 µs off, 1 to 5 A; units are presumed, machine and height
    are unknown.  These are pulses of reciprocating wire, far longer than those of brass wire.
    Kept for a published check: its exponents bracket those of :func:`surface_of`; no plan calls it.
    """
    return float(
        fit.ra_scale
        * on_time_us**fit.ra_on_exponent
        * off_time_us**-fit.ra_off_exponent
        * current_a**fit.ra_current_exponent
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class SparkPass:
    """One pass by its energy.

    Attributes
    ----------
    number : int
        1 for the rough pass.
    stock_um : float
        What it takes from one side: the layer that the pass before hurt, and in the first skim
        the straightening of the rough wall; 0 for the rough pass.
    surface : SparkSurface
    """

    number: int
    stock_um: float
    surface: SparkSurface


@dataclass(frozen=True, slots=True, kw_only=True)
class EnergyChoice:
    """Energies of the fewest passes that reach a surface.

    Attributes
    ----------
    passes : tuple of SparkPass
    step : float
        Ratio of the energy of each pass to that of the pass before.
    steepest_step : float
        The smallest ratio at which a skim still takes what the pass before hurt.
    findings : tuple of Finding
        ``energy-below-smallest-spark`` where the surface asks for less than a generator can
        spark steadily.
    """

    passes: tuple[SparkPass, ...]
    step: float
    steepest_step: float
    findings: tuple[Finding, ...]


def choose_energies(
    *,
    material: Material,
    law: SparkLaw,
    ra_um: float | None = None,
    max_recast_um: float | None = None,
) -> EnergyChoice:
    """Choose the energy of each pass so that every skim removes what the last one hurt.

    A skim takes at most N depths of its own craters.  With the hurt layer of the pass before,
    ``h = recast + peaks``, its Ra may fall to ``h / (N D)`` with the depth over Ra, D, of a
    parabolic crater.  The last energy is the one that the demands ask for; the passes between
    the rough one and it go down in equal ratios, as few as that bound allows.

    Parameters
    ----------
    material : Material
    law : SparkLaw
    ra_um, max_recast_um : float or None
        Demands on the last pass; without any there is the rough pass alone.

    Raises
    ------
    RangeError
        If a demand is not above 0, or the law lets energies fall by next to nothing.

    References
    ----------
    Each pass at about an eighth of the energy halves Ra: computed from the cube root.  The
    depth that a skim takes in craters: common practice, no source.
    """
    surface = law.surface
    full = full_pulse(law.pulse).energy_mj
    rough = surface_of(full, material=material, law=law)
    wanted = full
    if ra_um is not None:
        wanted = min(wanted, energy_of_ra_mj(ra_um, material=material, law=law))
    if max_recast_um is not None:
        as_ra = max_recast_um / surface.recast_per_ra / material.recast_factor * material.ra_factor
        wanted = min(wanted, energy_of_ra_mj(as_ra, material=material, law=law))
    findings: tuple[Finding, ...] = ()
    if wanted < law.pulse.smallest_energy_mj:
        wanted = law.pulse.smallest_energy_mj
        findings = (_too_fine(wanted, material=material, law=law),)
    shrink = rough.hurt_um / (surface.crater_layers_per_skim * rough.crater_depth_um)
    steepest = shrink ** (1 / surface.ra_exponent)
    fall = math.log(wanted / full)
    skims = 0 if fall == 0 else math.ceil(fall / math.log(steepest) * _ENOUGH) if shrink < 1 else -1
    if not 0 <= skims < _MOST_PASSES:
        raise RangeError(
            f"a skim of {surface.crater_layers_per_skim:g} crater depths does not get below the "
            f"{both(rough.hurt_um)} that the pass before hurt",
            code="energy-out-of-range",
            remedy="Raise crater_layers_per_skim in spark.toml.",
        )
    step = math.exp(fall / skims) if skims else 1.0
    surfaces = [surface_of(full * step**k, material=material, law=law) for k in range(skims + 1)]
    stocks = [0.0, *(s.hurt_um for s in surfaces[:-1])]
    if skims:
        stocks[1] += surface.straightening_um
    return EnergyChoice(
        passes=tuple(
            SparkPass(number=n, stock_um=stock, surface=one)
            for n, (stock, one) in enumerate(zip(stocks, surfaces, strict=True), start=1)
        ),
        step=step,
        steepest_step=steepest,
        findings=findings,
    )


def _too_fine(least_mj: float, *, material: Material, law: SparkLaw) -> Finding:
    best = surface_of(least_mj, material=material, law=law)
    return Finding(
        code="energy-below-smallest-spark",
        severity=Severity.WARNING,
        message=(
            f"The surface asked needs sparks below {least_mj * 1000:g} µJ, which a generator does "
            f"not keep up steadily; that leaves {both_roughness(best.ra_um.likely)} and "
            f"{both(best.recast_um.likely)} of recast in {material.name}."
        ),
        remedy="Accept that, or finish by another process.",
        data={"energy_mj": least_mj, "ra_um": best.ra_um.likely},
    )


def _ordered(low: float, likely: float, high: float) -> Range:
    return Range(low=min(low, likely), likely=likely, high=max(high, likely))


def _reasons(
    energy_mj: float,
    gap_um: float,
    ra_um: float,
    recast_um: float,
    *,
    material: Material,
    law: SparkLaw,
) -> tuple[Reason, ...]:
    surface = law.surface
    common = (("E_mj", energy_mj), ("p", surface.ra_exponent))
    return (
        Reason(
            quantity="ra_um",
            value=ra_um,
            formula="Ra = f K E^p",
            inputs=(*common, ("K", surface.ra_scale_um), ("f", material.ra_factor)),
            source=surface.sources["ra_scale_um"],
        ),
        Reason(
            quantity="gap_um",
            value=gap_um,
            formula="g = G E^p",
            inputs=(*common, ("G", surface.gap_scale_um)),
            source=surface.sources["gap_scale_um"],
        ),
        Reason(
            quantity="recast_um",
            value=recast_um,
            formula="f_r r K E^p",
            inputs=(
                *common,
                ("K", surface.ra_scale_um),
                ("r", surface.recast_per_ra),
                ("f_r", material.recast_factor),
            ),
            source=surface.sources["recast_per_ra"],
        ),
    )
