"""How sure gap, stock, roughness, recast and size of a pass are."""

from __future__ import annotations

import math
from typing import Final

from kerfwright.foundation.sources import Reason, Source, SourceTag
from kerfwright.foundation.spread import Outcome, Uncertain, normal, of_ratio, of_sum
from kerfwright.process.technology import Pass, PassSeed, Scaling
from kerfwright.trade.material import Material

_TABLED_FAMILY: Final = "steel"
"""The pass table is written for it; the spread of other materials' factors comes on top."""
MATERIAL_GAP: Final = "gap in this material"
MATERIAL_RECAST: Final = "material factor of the recast"
MATERIAL_RA: Final = "material factor of the roughness"
_SIGMAS_OF_A_TOLERANCE: Final = 2.0
"""A half zone is taken as two standard deviations of the size, as when learning from cuts."""


def _extra(material: Material, sigma_log: float) -> float:
    return 0.0 if material.family == _TABLED_FAMILY else sigma_log


def gap_of(seed: PassSeed, *, energy_scale: float, material: Material, scaling: Scaling) -> Outcome:
    """Return the gap of a pass before anybody measured it, µm.

    Parameters
    ----------
    seed : PassSeed
    energy_scale : float
        On the gap of the table, for the wire.
    material : Material
        The table is for steel; others have ``gap_material_sigma_log`` on top.
    scaling : Scaling
    """
    return of_ratio(
        lambda table, factor: table * factor * energy_scale,
        _gap_inputs(seed, material=material, scaling=scaling),
    )


def _gap_inputs(
    seed: PassSeed, *, material: Material, scaling: Scaling
) -> tuple[Uncertain, Uncertain]:
    sigma = _extra(material, scaling.gap_material_sigma_log)
    return (
        Uncertain(name=f"gap of pass {seed.number}", value=seed.gap_um, sigma=seed.gap_sigma_log),
        Uncertain(name=MATERIAL_GAP, value=1.0, sigma=sigma),
    )


def stock_of(
    seed: PassSeed,
    *,
    before: PassSeed | None,
    energy_scale: float,
    material: Material,
    scaling: Scaling,
) -> Outcome:
    """Return the stock that a skim really takes, µm: ``w = w_table - (g_before - g_this)``.

    The offsets are set, the gaps are not known: where the pass before sparked further than thought
    there is less left to take, where this one does it takes more.  The gaps stand for their
    deviations from the table; their spreads bring out the intervals that the trade gives for the
    stock without being told.

    Parameters
    ----------
    seed : PassSeed
    before : PassSeed or None
        None for the rough pass, which takes no stock.
    energy_scale : float
    material : Material
    scaling : Scaling
    """
    if before is None:
        return of_sum(lambda: 0.0, ())
    usual = before.gap_um - seed.gap_um
    first, factor = _gap_inputs(before, material=material, scaling=scaling)
    second, _ = _gap_inputs(seed, material=material, scaling=scaling)

    def taken(before_um: float, this_um: float, material_factor: float) -> float:
        return (seed.stock_um + usual - (before_um - this_um) * material_factor) * energy_scale

    return of_sum(taken, (first, second, factor))


def ra_of(seed: PassSeed, *, material: Material, scaling: Scaling) -> Outcome:
    """Return the roughness that a pass leaves, µm."""
    name = f"roughness of pass {seed.number}"
    return of_ratio(
        lambda table, factor: table * factor,
        (
            Uncertain(name=name, value=seed.ra_um, sigma=seed.ra_sigma_log),
            Uncertain(
                name=MATERIAL_RA, value=material.ra_factor, sigma=scaling.ra_factor_sigma_log
            ),
        ),
    )


def recast_of(seed: PassSeed, *, material: Material, scaling: Scaling) -> Outcome:
    """Return the recast layer that a pass leaves, µm."""
    name = f"recast of pass {seed.number}"
    sigma = _extra(material, scaling.recast_factor_sigma_log)
    return of_ratio(
        lambda table, factor: table * factor,
        (
            Uncertain(name=name, value=seed.recast_um, sigma=seed.recast_sigma_log),
            Uncertain(name=MATERIAL_RECAST, value=material.recast_factor, sigma=sigma),
        ),
    )


def common_part(one: Pass, quantity: str, cause: str) -> float:
    """Return the correlation of a figure of a pass with a cause that all passes share.

    The root of the share that the cause has in the figure's variance; 0 where the figure's
    reason does not name it.  Figures grow with their factors, so that the root is positive.

    Parameters
    ----------
    one : Pass
    quantity : str
        As in the reasons of the pass; the latest of them counts.
    cause : str
        ``MATERIAL_GAP``, ``MATERIAL_RA`` or ``MATERIAL_RECAST``.
    """
    shares = next((r.shares for r in reversed(one.reasons) if r.quantity == quantity), ())
    return math.sqrt(dict(shares).get(cause, 0.0))


def size_sigma_um(tolerance_um: float) -> float:
    """Return the standard deviation of the size that a half zone stands for, µm."""
    return tolerance_um / _SIGMAS_OF_A_TOLERANCE


def size_reason(*, bias_um: float, sigma_um: float, source: Source) -> Reason:
    """Return why a wall may lie off its nominal place.

    Parameters
    ----------
    bias_um, sigma_um : float
        Mean, positive for metal left, and standard deviation.
    source : Source
    """
    return Reason(
        quantity="size_error_um",
        value=bias_um,
        formula="normal: mean, and half of the tolerance held as standard deviation"
        if source.tag is not SourceTag.SHOP
        else "normal: mean and standard deviation of the measured sizes",
        inputs=(("mean_um", bias_um), ("standard_deviation_um", sigma_um)),
        source=source,
        range=normal(bias_um, sigma=sigma_um),
        shares=(("job and cut, the offset set after a first cut", 1.0),),
    )
