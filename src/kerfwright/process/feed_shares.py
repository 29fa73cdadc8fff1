"""Which figure of the rate law brings how much of the spread of a feed."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from typing import Final

from kerfwright.foundation.sources import Shares, Source
from kerfwright.foundation.spread import Uncertain, of_ratio
from kerfwright.process.rough import rate_by_figures
from kerfwright.process.technology import FeedSpread, RoughLaw, SkimLaw, read_curve
from kerfwright.trade.material import Material, Wire

OUTSIDE: Final = "machine, job and cut, outside the law"
_MATERIAL: Final = "K_m, material factor"
_FINE: Final = "K_f, fine wire"
_CLOSE: Final = "K_flushing, how well closed nozzles close"
_SAID: Final = "shares by feed_spread of passes.toml, the range by feed_sigma_log"


def rough_feed_shares(
    *,
    material: Material,
    height_mm: float,
    wire: Wire,
    law: RoughLaw,
    spread: FeedSpread,
) -> Shares:
    """Return the share of the variance of a rough feed that each figure of its law brings.

    The slope of the logarithm along each figure, times that figure's own spread; what the squares
    leave of the whole spread, ``feed_sigma_log``, is outside the law.

    Parameters
    ----------
    material : Material
    height_mm : float
    wire : Wire
    law : RoughLaw
    spread : FeedSpread

    Notes
    -----
    Where the figures alone spread wider than the whole (very tall work), they are scaled to it:
    the range stays as shipped.
    """

    def rate(v0: float, a_inf: float, d_p: float, h_f: float, *factors: float) -> float:
        found = rate_by_figures(
            height_mm,
            v0,
            a_inf,
            d_p,
            h_f,
            diameter_mm=wire.diameter_mm,
            usual_mm=law.usual_diameter_mm,
        )
        return found * math.prod(factors)

    inputs = (
        _figure("v0, thin plate", law.thin_plate_feed_mm_per_min, spread.thin_plate_feed_log),
        _figure("A_inf, plateau", law.plateau_area_rate_mm2_per_min, spread.plateau_log),
        _figure("d_p, plateau over the wire", law.plateau_diameter_mm, spread.plateau_diameter_log),
        _figure("H_f, tall work", law.height_scale_mm, spread.height_scale_log),
        _figure("K_s, shop derate", law.shop_derate, spread.shop_derate_log),
        _figure(_MATERIAL, material.rate_factor, spread.material_log),
        _fine(wire, law, spread),
        _figure(_CLOSE, 1.0, spread.flushing_log),
    )
    return _shares(of_ratio(rate, inputs).loadings, law.feed_sigma_log)


def skim_feed_shares(
    *,
    height_mm: float,
    wire: Wire,
    rough: RoughLaw,
    law: SkimLaw,
    spread: FeedSpread,
) -> Shares:
    """Return the same for a skim: ``v = v_table (H_0/H)^m (K_m K_f)^q``.

    Parameters
    ----------
    height_mm : float
    wire : Wire
    rough : RoughLaw
        Has the factor of fine wires.
    law : SkimLaw
    spread : FeedSpread
    """
    tall = min(1.0, law.full_feed_height_mm / height_mm)
    q, m = law.rate_exponent, law.height_exponent
    # A power that is itself unsure: its chord over a deviation either way, as for every figure.
    of_height = m * math.sinh(spread.skim_height_log) * math.log(tall)
    loadings = (
        ("v_table, feed of the row", spread.skim_feed_log),
        ("m, power of the height", of_height),
        (_MATERIAL, q * spread.material_log),
        (_FINE, q * _fine(wire, rough, spread).sigma),
    )
    return _shares(loadings, law.feed_sigma_log)


def told(source: Source) -> Source:
    """Return a source that says whence the shares are, and whence the range."""
    return replace(source, citation="; ".join(filter(None, (source.citation, _SAID))))


def _fine(wire: Wire, law: RoughLaw, spread: FeedSpread) -> Uncertain:
    """Return the factor of fine wires: for usual ones it is 1 by definition."""
    fine = read_curve(law.fine_wire, wire.diameter_mm)
    return _figure(_FINE, fine, spread.fine_wire_log if fine < 1 else 0.0)


def _figure(name: str, value: float, sigma_log: float) -> Uncertain:
    return Uncertain(name=name, value=value, sigma=sigma_log)


def _shares(loadings: Shares, sigma_log: float) -> Shares:
    by_law: Mapping[str, float] = {name: slope**2 for name, slope in loadings if slope}
    of_law = math.fsum(by_law.values())
    whole = max(sigma_log**2, of_law)
    if not whole:
        return ((OUTSIDE, 1.0),)
    parts = [(name, square / whole) for name, square in by_law.items()]
    rest = 1 - of_law / whole
    if rest > _NEARLY_NONE:
        parts.append((OUTSIDE, rest))
    return tuple(sorted(parts, key=lambda part: -part[1]))


_NEARLY_NONE: Final = 1e-9
"""A rest of rounding is none."""
