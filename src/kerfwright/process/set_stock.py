"""The stock of each skim by the layer that the passes before it hurt, as far as its energy goes."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from kerfwright.foundation.sources import Reason
from kerfwright.process.crater import PARABOLA_DEPTH_PER_RA
from kerfwright.process.hurt_layer import hurt_um
from kerfwright.process.spark_law import SurfaceLaw
from kerfwright.process.technology import Pass
from kerfwright.trade.material import Wire

_FIRST_SKIM = 2
"""Its number: it straightens the rough wall beside taking its hurt layer."""


def most_stock_um(one: Pass, *, law: SurfaceLaw) -> float:
    """Return up to where the stock of a skim is raised, µm: ``w = N D Ra``.

    N depths of its own craters, a crater of depth D Ra; the first skim takes the straightening of
    the rough wall beside.  What the pass table gives may be more and stays.  It is the bound by
    which :func:`kerfwright.process.spark_surface.choose_energies` steps from energy to energy.

    Parameters
    ----------
    one : Pass
    law : SurfaceLaw

    References
    ----------
    N: common practice, no source; D: exact for a row of parabolic craters.
    """
    craters = law.crater_layers_per_skim * PARABOLA_DEPTH_PER_RA * one.ra_um
    return craters + (law.straightening_um if one.number == _FIRST_SKIM else 0.0)


def with_set_stock(passes: Sequence[Pass], *, wire: Wire, law: SurfaceLaw) -> tuple[Pass, ...]:
    """Return the passes with the stock of each skim raised to what the earlier ones hurt.

    A skim takes what of ``h_k = recast + p Ra`` of the passes before it still stands, as far as
    :func:`most_stock_um`, and never less than the pass table gives.  That its condition takes away
    as much in a minute whatever the stock, so that the feed falls as the stock grows, is assumed:
    the feed is the less sure the further it is taken.  The offsets of all passes before it grow by
    what it takes more.

    Parameters
    ----------
    passes : sequence of Pass
        Those that will be cut, in order, as the pass table has them.
    wire : Wire
    law : SurfaceLaw
    """
    made: list[Pass] = []
    standing_um = 0.0
    for one in passes:
        if not one.is_rough:
            one = _raised(one, standing_um, law)  # noqa: PLW2901
        standing_um = max(standing_um - one.stock_um, hurt_um(one, law=law))
        made.append(one)
    if all(new is old for new, old in zip(made, passes, strict=True)):
        return tuple(passes)
    return tuple(
        _placed(one, sum(p.stock_um for p in made[k + 1 :]), wire) for k, one in enumerate(made)
    )


def _raised(one: Pass, standing_um: float, law: SurfaceLaw) -> Pass:
    """Return a skim that takes what stands, as far as its energy goes."""
    most_um = most_stock_um(one, law=law)
    stock_um = max(one.stock_um, min(standing_um, most_um))
    if stock_um <= one.stock_um:
        return one
    slow = one.stock_um / stock_um
    new = _slowed(replace(one, stock_um=stock_um), slow, law)
    # The condition of the skim decides only where it stops short of the layer.
    decides = "peak_per_ra" if standing_um <= most_um else "crater_layers_per_skim"
    stock = Reason(
        quantity="stock_um",
        value=stock_um,
        formula="max(stock of the table, min(layer that stands before it, N D Ra))",
        inputs=(
            ("stock_of_the_table_um", one.stock_um),
            ("layer_um", standing_um),
            ("N D Ra_um", most_um),
        ),
        source=law.sources[decides],
        range=new.stock_range_um,
        shares=next((r.shares for r in one.reasons if r.quantity == "stock_um"), ()),
    )
    return replace(new, reasons=(*one.reasons, stock, _feed_reason(one, new, law)))


def _slowed(one: Pass, slow: float, law: SurfaceLaw) -> Pass:
    """Return a pass whose feed is taken to another stock, less sure by how far that is."""
    more = law.feed_over_stock_sigma * abs(math.log(slow))
    known = one.learned
    if known is not None:
        known = replace(known, feed_loadings=(*known.feed_loadings, (_OVER_STOCK, more)))
    return replace(
        one,
        feed_mm_per_min=one.feed_mm_per_min * slow,
        feed_sigma_log=math.hypot(one.feed_sigma_log, more),
        stock_feed_factor=slow,
        learned=known,
    )


def _feed_reason(old: Pass, new: Pass, law: SurfaceLaw) -> Reason:
    before = next((r for r in reversed(old.reasons) if "feed_mm_per_min" in r.quantity), None)
    left = (old.feed_sigma_log / new.feed_sigma_log) ** 2
    shares = tuple((who, share * left) for who, share in before.shares) if before else ()
    return Reason(
        quantity="feed_mm_per_min",
        value=new.feed_mm_per_min,
        formula="feed of the table x stock of the table / stock: the condition is taken to remove "
        "as much in a minute",
        inputs=(
            ("table_mm_per_min", old.feed_mm_per_min),
            ("stock_of_the_table_um", old.stock_um),
            ("stock_um", new.stock_um),
        ),
        source=law.sources["feed_over_stock_sigma"],
        range=new.feed_range_mm_per_min,
        shares=(*shares, (_OVER_STOCK, 1 - left)) if shares else (),
    )


_OVER_STOCK: Final = "feed over stock, assumed"


def _placed(one: Pass, left_um: float, wire: Wire) -> Pass:
    """Return a pass with the offset that leaves the stock of the later ones."""
    offset_mm = wire.radius_mm + (one.gap_um + left_um) / 1000
    reasons = tuple(
        replace(
            r,
            value=offset_mm,
            inputs=tuple(
                (name, left_um if name == "stock_of_later_passes_um" else value)
                for name, value in r.inputs
            ),
        )
        if r.quantity == "offset_mm"
        else r
        for r in one.reasons
    )
    return replace(one, offset_mm=offset_mm, reasons=reasons)
