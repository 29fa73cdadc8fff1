"""Indices of erodibility from handbook properties, beside the explicit rate factor."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from kerfwright.foundation.findings import Finding, Severity
from kerfwright.process.spark_law import ErodibilityLaw
from kerfwright.trade.material import Material

_ROOM_C: Final = 20.0
_J_PER_MM3: Final = 1e-9
REFERENCE_ID: Final = "tool-steel-d2"
"""Rate factors are relative to tool steel."""
RANK_CAUTION: Final = (
    "None of these indices ranks materials well: against the usual shop ratios of 24 materials "
    "the rank correlations are 0.53 (melting point), 0.37 (melt energy) and 0.36 (Palatnik)."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Erodibility:
    """What handbook properties alone would say of the rough rate.

    Attributes
    ----------
    melt_energy_j_per_mm3 : float
        To heat from 20 °C and melt.
    melt_energy_rate, palatnik_rate, kalpakjian_rate : float
        Rate relative to the reference by each index.
    quarter_palatnik_rate : float
        Fourth root of the Palatnik ratio, which exaggerates less.
    rate_factor : float
        The explicit factor, which is what counts.
    caution : str
    findings : tuple of Finding
        At most one: ``rate-factor-impossible``, ``rate-factor-unlike-its-indices`` or
        ``rate-factor-beyond-known``.
    """

    melt_energy_j_per_mm3: float
    melt_energy_rate: float
    palatnik_rate: float
    quarter_palatnik_rate: float
    kalpakjian_rate: float
    rate_factor: float
    caution: str
    findings: tuple[Finding, ...]


def erodibility(material: Material, *, reference: Material, law: ErodibilityLaw) -> Erodibility:
    """Compute the indices of a material relative to a reference and compare the rate factor.

    Melt energy ``e = rho (c (Tm - 20) + L)``, Palatnik ``P = k c rho Tm²`` and Kalpakjian
    ``Tm^-1.23``; the rate goes inversely with the first two.

    Parameters
    ----------
    material, reference : Material
        The reference is what the rate factors are relative to, tool steel as shipped.
    law : ErodibilityLaw

    Notes
    -----
    The indices are a flag for slips (a factor of 10, a density in the wrong unit), no model of
    the rate.  They know nothing of cobalt binders, of conduction between grains, nor of debris.
    A latent heat that is not known counts as 0.

    References
    ----------
    Palatnik (from memory); El-Hofy, Fundamentals of Machining Processes, after Kalpakjian 1997
    (read in part).
    """
    energy = _melt_energy(material)
    palatnik = _palatnik(reference) / _palatnik(material)
    rates = {
        "melt energy": _melt_energy(reference) / energy,
        "Palatnik": palatnik,
        "melting point": (material.melting_c / reference.melting_c) ** -law.kalpakjian_exponent,
    }
    return Erodibility(
        melt_energy_j_per_mm3=energy,
        melt_energy_rate=rates["melt energy"],
        palatnik_rate=palatnik,
        quarter_palatnik_rate=palatnik**0.25,
        kalpakjian_rate=rates["melting point"],
        rate_factor=material.rate_factor,
        caution=RANK_CAUTION,
        findings=_impossible(material, law)
        or _unlike(material, rates, reference=reference, law=law)
        or _unknown(material, law),
    )


def _limit_passed(factor: float, low: float, high: float) -> float | None:
    """Return the limit that a factor lies beyond; None where it lies within both."""
    if low <= factor <= high:
        return None
    return low if factor < low else high


def _impossible(material: Material, law: ErodibilityLaw) -> tuple[Finding, ...]:
    low, high = law.least_possible_rate_factor, law.most_possible_rate_factor
    factor = material.rate_factor
    limit = _limit_passed(factor, low, high)
    if limit is None:
        return ()
    return (
        Finding(
            code="rate-factor-impossible",
            severity=Severity.REFUSAL,
            message=(
                f"The rate factor {factor:.3g} of {material.name} is "
                f"{'below' if factor < low else 'above'} {limit:g}: by it the wire would take "
                f"metal {'slower' if factor < low else 'faster'} than EDM of any kind is known to."
            ),
            remedy=_SLIP,
            data={"rate_factor": factor, "limit": limit},
        ),
    )


def _unknown(material: Material, law: ErodibilityLaw) -> tuple[Finding, ...]:
    low = law.least_known_rate_factor / law.unknown_factor
    high = law.most_known_rate_factor * law.unknown_factor
    factor = material.rate_factor
    limit = _limit_passed(factor, low, high)
    if limit is None:
        return ()
    return (
        Finding(
            code="rate-factor-beyond-known",
            severity=Severity.WARNING,
            message=(
                f"The rate factor {factor:.3g} of {material.name} is "
                f"{'below' if factor < low else 'above'} {limit:.3g}, {law.unknown_factor:g} times "
                f"outside all shipped materials ({law.least_known_rate_factor:g} to "
                f"{law.most_known_rate_factor:g}). Time and price go by it."
            ),
            remedy=_SLIP,
            data={"rate_factor": factor, "limit": limit},
        ),
    )


_SLIP: Final = (
    "Look for a slipped point, or percent where a factor is meant: tool steel is 1, half the rate "
    "is 0.5. Then cut a sample and record it."
)


def _unlike(
    material: Material, rates: dict[str, float], *, reference: Material, law: ErodibilityLaw
) -> tuple[Finding, ...]:
    # Relative to tool steel, as it is meant, not to the reference's own: the slip may lie there.
    factor = material.rate_factor
    low, high = min(rates.values()), max(rates.values())
    if low / law.unlike_factor <= factor <= high * law.unlike_factor:
        return ()
    said = ", ".join(f"{name} {rate:.2f}" for name, rate in rates.items())
    return (
        Finding(
            code="rate-factor-unlike-its-indices",
            severity=Severity.WARNING,
            message=(
                f"The rate factor {factor:.3g} of {material.name} lies outside what its handbook "
                f"properties suggest ({said}, relative to {reference.name}). {RANK_CAUTION}"
            ),
            remedy=(
                "Look for a slip in the factor or in density, heat capacity, conductivity and "
                "melting point; then measure a cut, which counts more than any index."
            ),
            data={"rate_factor": factor, "lowest_index": low, "highest_index": high},
        ),
    )


def _melt_energy(material: Material) -> float:
    latent = (material.latent_heat_kj_per_kg or 0.0) * 1000
    heat = material.heat_capacity_j_per_kgk * (material.melting_c - _ROOM_C) + latent
    return material.density_kg_per_m3 * heat * _J_PER_MM3


def _palatnik(material: Material) -> float:
    return (
        material.conductivity_w_per_mk
        * material.heat_capacity_j_per_kgk
        * material.density_kg_per_m3
        * material.melting_c**2
    )
