"""The stock of each skim by the layer that the passes before it hurt, as far as its energy goes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from kerfwright.foundation.ranges import Range
from kerfwright.foundation.sources import Reason, Source, SourceTag
from kerfwright.process.crater import PARABOLA_DEPTH_PER_RA
from kerfwright.process.hurt_layer import hurt_um
from kerfwright.process.spark_law import SurfaceLaw
from kerfwright.process.technology import Pass
from kerfwright.trade.material import Wire

_FIRST_SKIM = 2
"""Its number: it straightens the rough wall beside taking its hurt layer."""


def most_stock_um(one: Pass, *, law: SurfaceLaw) -> float:
    """Return the most that a skim takes and still runs steadily, µm: ``w = N D Ra``.

    N depths of its own craters, a crater of depth D Ra; the first skim takes the straightening of
    the rough wall beside.  It is the bound by which
    :func:`kerfwright.process.spark_surface.choose_energies` sets the step between energies.

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

    A skim takes at least what of ``h_k = recast + p Ra`` of the passes before it still stands,
    never less than the pass table gives and no more than :func:`most_stock_um` beyond that.  What
    it takes away in a minute is its power condition's, so the feed falls as the stock grows; the
    offsets of all passes before it grow by what it takes more.

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
    feed = one.feed_mm_per_min * slow
    new = replace(one, stock_um=stock_um, feed_mm_per_min=feed)
    stock = Reason(
        quantity="stock_um",
        value=stock_um,
        formula="max(stock of the table, min(layer that stands before it, N D Ra))",
        inputs=(
            ("stock_of_the_table_um", one.stock_um),
            ("layer_um", standing_um),
            ("N D Ra_um", most_um),
        ),
        source=law.sources["crater_layers_per_skim"],
        range=new.stock_range_um,
        shares=next((r.shares for r in one.reasons if r.quantity == "stock_um"), ()),
    )
    before = next((r for r in reversed(one.reasons) if "feed_mm_per_min" in r.quantity), None)
    rate = Reason(
        quantity="feed_mm_per_min",
        value=feed,
        formula="feed of the table x stock of the table / stock: the condition removes as much "
        "in a minute",
        inputs=(
            ("table_mm_per_min", one.feed_mm_per_min),
            ("stock_of_the_table_um", one.stock_um),
            ("stock_um", stock_um),
        ),
        source=Source(tag=SourceTag.COMPUTED),
        range=Range.lognormal(feed, sigma_log=one.feed_sigma_log),
        shares=before.shares if before else (),
    )
    return replace(new, reasons=(*one.reasons, stock, rate))


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
