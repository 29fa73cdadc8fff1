"""Which figure of the rate law brings how much of the spread of a feed."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from typing import Final

from kerfwright.foundation.sources import Shares, Source
from kerfwright.process.feed_beyond import (
    feed_unsure,
    fine_wire_log,
    height_loadings,
    skim_height_loading,
    wire_gain_log,
)
from kerfwright.process.technology import Technology
from kerfwright.trade.material import Material, Wire

OUTSIDE: Final = "machine, job and cut, outside the law"
_MATERIAL: Final = "K_m, material factor"
_FINE: Final = "K_f, fine wire"
_WIRE: Final = "K_w, rate factor of the wire"
_SAID: Final = "range and shares by feed_sigma_log and feed_spread of passes.toml"


def rough_feed_shares(
    *, material: Material, height_mm: float, wire: Wire, technology: Technology
) -> Shares:
    """Return the share of the variance of a rough feed that each figure of its law brings.

    The slope of the logarithm along each figure, times that figure's own spread; what the squares
    leave of the whole spread is outside the law: as much in any work as in routine work, see
    :func:`kerfwright.process.feed_beyond.feed_unsure`.

    Parameters
    ----------
    material : Material
    height_mm : float
    wire : Wire
    technology : Technology

    Notes
    -----
    By figures kept from before there was a routine height the whole is ``feed_sigma_log``
    everywhere; where the figures alone spread wider, they are scaled to it.
    """
    law, spread = technology.rough, technology.feed_spread
    loadings = (
        *height_loadings(height_mm, diameter_mm=wire.diameter_mm, law=law, spread=spread),
        ("K_s, shop derate", spread.shop_derate_log),
        (_MATERIAL, spread.of_material(material)),
        (_FINE, fine_wire_log(wire, law=law, spread=spread)),
        (_WIRE, wire_gain_log(wire, material=material, spread=spread)),
        ("K_flushing, how well closed nozzles close", spread.flushing_log),
    )
    unsure = feed_unsure(
        is_rough=True, material=material, height_mm=height_mm, wire=wire, technology=technology
    )
    return _shares(loadings, unsure.sigma_log)


def skim_feed_shares(
    *, material: Material, height_mm: float, wire: Wire, technology: Technology
) -> Shares:
    """Return the same for a skim: ``v = v_table (H_0/H)^m (K_m K_f)^q``.

    Parameters
    ----------
    material : Material
    height_mm : float
    wire : Wire
    technology : Technology
    """
    law, spread = technology.skim, technology.feed_spread
    q = law.rate_exponent
    loadings = (
        ("v_table, feed of the row", spread.skim_feed_log),
        ("m, power of the height", skim_height_loading(height_mm, law=law, spread=spread)),
        (_MATERIAL, q * spread.of_material(material)),
        (_FINE, q * fine_wire_log(wire, law=technology.rough, spread=spread)),
    )
    unsure = feed_unsure(
        is_rough=False, material=material, height_mm=height_mm, wire=wire, technology=technology
    )
    return _shares(loadings, unsure.sigma_log)


def told(source: Source) -> Source:
    """Return a source that says whence range and shares are."""
    return replace(source, citation="; ".join(filter(None, (source.citation, _SAID))))


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
