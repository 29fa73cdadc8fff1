"""How sure gap, stock, roughness, recast and size of a pass are."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final, TypedDict

from kerfwright.foundation.ranges import Range
from kerfwright.foundation.sources import Reason, Shares, Source, SourceTag
from kerfwright.foundation.spread import Outcome, Uncertain, normal, of_product, of_sum
from kerfwright.process.fine_spark import WireSeed
from kerfwright.process.technology import Pass, Scaling
from kerfwright.trade.material import Material

_TABLED_FAMILY: Final = "steel"
"""The pass table is written for it; the spread of other materials' factors comes on top."""
MATERIAL_GAP: Final = "gap in this material"
MATERIAL_RECAST: Final = "material factor of the recast"
MATERIAL_RA: Final = "material factor of the roughness"
FINE_SPARK: Final = "sparks of a wire this thin"
"""One cause for gap, stock, roughness and recast of all passes of the wire."""
SCATTER: Final = "how far sizes scatter on this machine"
_SIGMAS_OF_A_TOLERANCE: Final = 2.0
"""A half zone is taken as two standard deviations of the size, as when learning from cuts."""


def _extra(material: Material, sigma_log: float) -> float:
    return 0.0 if material.family == _TABLED_FAMILY else sigma_log


def gap_of(one: WireSeed, *, material: Material, scaling: Scaling) -> Outcome:
    """Return the gap of a pass before anybody measured it, µm.

    Parameters
    ----------
    one : WireSeed
        Of the wire, whose sparks are the less sure the thinner it is.
    material : Material
        The table is for steel; others have ``gap_material_sigma_log`` on top.
    scaling : Scaling
    """
    return _product(_gap_inputs(one, material=material, scaling=scaling))


def _product(inputs: Sequence[Uncertain]) -> Outcome:
    return of_product(math.prod(one.value for one in inputs), [(one, 1.0) for one in inputs])


def _sparks(one: WireSeed) -> Uncertain:
    return Uncertain(name=FINE_SPARK, value=1.0, sigma=one.sigma_log)


def _gap_inputs(
    one: WireSeed, *, material: Material, scaling: Scaling
) -> tuple[Uncertain, Uncertain, Uncertain]:
    sigma, seed = _extra(material, scaling.gap_material_sigma_log), one.seed
    return (
        Uncertain(name=f"gap of pass {seed.number}", value=seed.gap_um, sigma=seed.gap_sigma_log),
        Uncertain(name=MATERIAL_GAP, value=1.0, sigma=sigma),
        _sparks(one),
    )


def stock_of(
    this: WireSeed,
    *,
    before: WireSeed | None,
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
    this : WireSeed
    before : WireSeed or None
        None for the rough pass, which takes no stock.
    material : Material
    scaling : Scaling
    """
    if before is None:
        return of_sum(lambda: 0.0, ())
    usual = before.seed.gap_um - this.seed.gap_um
    first, factor, sparks = _gap_inputs(before, material=material, scaling=scaling)
    second, *_ = _gap_inputs(this, material=material, scaling=scaling)

    def taken(before_um: float, this_um: float, of_material: float, of_wire: float) -> float:
        return this.seed.stock_um + usual - (before_um - this_um) * of_material * of_wire

    return of_sum(taken, (first, second, factor, sparks))


def ra_of(one: WireSeed, *, material: Material, scaling: Scaling) -> Outcome:
    """Return the roughness that a pass leaves, µm."""
    seed = one.seed
    name = f"roughness of pass {seed.number}"
    return _product(
        (
            Uncertain(name=name, value=seed.ra_um, sigma=seed.ra_sigma_log),
            Uncertain(
                name=MATERIAL_RA, value=material.ra_factor, sigma=scaling.ra_factor_sigma_log
            ),
            _sparks(one),
        ),
    )


def recast_of(one: WireSeed, *, material: Material, scaling: Scaling) -> Outcome:
    """Return the recast layer that a pass leaves, µm."""
    seed = one.seed
    name = f"recast of pass {seed.number}"
    sigma = _extra(material, scaling.recast_factor_sigma_log)
    return _product(
        (
            Uncertain(name=name, value=seed.recast_um, sigma=seed.recast_sigma_log),
            Uncertain(name=MATERIAL_RECAST, value=material.recast_factor, sigma=sigma),
            _sparks(one),
        ),
    )


def common_part(one: Pass, quantity: str, *causes: str) -> float:
    """Return the correlation of a figure of a pass with causes that all passes share.

    The root of the share that they have in the figure's variance; 0 where the figure's
    reason does not name them.  Figures grow with their factors, so that the root is positive.

    Parameters
    ----------
    one : Pass
    quantity : str
        As in the reasons of the pass; the latest of them counts.
    *causes : str
        ``MATERIAL_GAP``, ``MATERIAL_RA`` or ``MATERIAL_RECAST``, and ``FINE_SPARK``.
    """
    shares = next((r.shares for r in reversed(one.reasons) if r.quantity == quantity), ())
    return math.sqrt(sum(share for name, share in shares if name in causes))


def size_sigma_um(tolerance_um: float) -> float:
    """Return the standard deviation of the size that a half zone stands for, µm."""
    return tolerance_um / _SIGMAS_OF_A_TOLERANCE


class _Held(TypedDict, total=False):
    range: Range
    shares: Shares


def held_spread(promised_um: float, *, really_um: float, best_um: float, sigma_log: float) -> _Held:
    """Return how sure the half zone is that a pass holds, for its reason.

    The range is that of two standard deviations of the sizes as they really come, which no machine
    makes narrower than its best; the likely value is what is promised, which may be the more
    careful one.

    Parameters
    ----------
    promised_um : float
    really_um : float
        Two standard deviations by tables and measured sizes, before any floor.
    best_um : float
        What the machine can.
    sigma_log : float
        Of the logarithm of ``really_um``.
    """
    if not sigma_log:
        return {}
    span = Range.lognormal(really_um, sigma_log=sigma_log)
    low, high = min(max(span.low, best_um), promised_um), max(span.high, promised_um)
    if low == high:
        return {}
    return {
        "range": Range(low=low, likely=promised_um, high=high),
        "shares": ((SCATTER, 1.0),),
    }


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
