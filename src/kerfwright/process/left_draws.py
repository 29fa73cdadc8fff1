"""Recast and roughness of the finished wall, drawn: old layers that stand in a part of the pieces.

The same draws for the same passes; range and shares of the causes come from them.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
from scipy.special import ndtri

from kerfwright.foundation.ranges import Range
from kerfwright.foundation.sources import Shares
from kerfwright.foundation.units import (
    FEW_DIGITS_IN,
    MM_PER_INCH,
    UM_PER_MICROINCH,
    UM_PER_MM,
    both,
)
from kerfwright.geometry.segments import Floats
from kerfwright.process.hurt_layer import ra_left_um, recast_left_um
from kerfwright.process.pass_spread import (
    FINE_SPARK,
    MATERIAL_GAP,
    MATERIAL_RA,
    MATERIAL_RECAST,
    common_part,
)
from kerfwright.process.spark_law import SurfaceLaw
from kerfwright.process.technology import Pass


def recast_left_draws_um(passes: Sequence[Pass], *, law: SurfaceLaw) -> Floats:
    """Return draws of the recast on the finished wall, µm, ascending; the same for the same passes.

    The largest of differences bends too much for a first order: an old layer that is gone by the
    likely values stands in a good part of the pieces.  Recast, finish and gap of a pass are
    lognormal; the factors of the material, and what is not known of a thin wire's sparks, are drawn
    once for all passes, but for each of the three figures by itself.  The stock follows from
    the gaps: what passes j to n take after pass k is what their gaps are wider than thought less
    what that of pass k is, the gaps between cancel.

    Parameters
    ----------
    passes : sequence of Pass
    law : SurfaceLaw

    Returns
    -------
    (n,) float
    """
    return _draws(_figures(passes), law.peak_per_ra)[0]


def recast_left_range_um(passes: Sequence[Pass], *, law: SurfaceLaw) -> Range:
    """Return the recast on the finished wall with its 10–90 % range, old layers counted in, µm.

    Of a pass alone see ``Pass.recast_range_um``: what a skim leaves standing of the layers before
    it is not in that.

    Parameters
    ----------
    passes : sequence of Pass
    law : SurfaceLaw
    """
    return _span(recast_left_draws_um(passes, law=law), recast_left_um(passes, law=law))


def ra_left_range_um(passes: Sequence[Pass], *, law: SurfaceLaw) -> Range:
    """Return the roughness of the finished wall with its 10–90 % range, old peaks counted in, µm.

    Parameters
    ----------
    passes : sequence of Pass
    law : SurfaceLaw
    """
    return _span(ra_left_draws_um(passes, law=law), ra_left_um(passes, law=law))


def _span(draws: Floats, likely: float) -> Range:
    low, high = (float(draws[round(share * (len(draws) - 1))]) for share in (0.1, 0.9))
    return Range(low=min(low, likely), likely=likely, high=max(high, likely))


def left_shares(passes: Sequence[Pass], *, law: SurfaceLaw) -> tuple[Shares, Shares]:
    """Return who brings the uncertainty of recast and roughness of the finished wall.

    The squares of how far the logarithm moves with each cause in the draws, adding up to 1: what
    causes do only together has no part.

    Parameters
    ----------
    passes : sequence of Pass
    law : SurfaceLaw

    Returns
    -------
    (Shares, Shares)
        Of the recast layer and of the roughness.
    """
    figures = _figures(passes)
    causes = tuple(_causes(passes, figures))
    layer, finish = (_shares(np.log(of), causes) for of in _walls(figures, law.peak_per_ra))
    return layer, finish


def _shares(values: Floats, causes: Sequence[tuple[str, Floats]]) -> Shares:
    off = values - values.mean()
    parts = [(name, float(off @ deviate / len(off)) ** 2) for name, deviate in causes]
    whole = math.fsum(part for _, part in parts)
    # Below that it is no more than the chance of the draws.
    parts = [(name, part) for name, part in parts if part > _CHANCE * whole]
    whole = math.fsum(part for _, part in parts)
    return tuple((name, part / whole) for name, part in sorted(parts, key=lambda one: -one[1]))


def _causes(passes: Sequence[Pass], figures: Sequence[_Drawn]) -> Iterator[tuple[str, Floats]]:
    """Yield each cause of the draws with its standard normal deviates, none hanging on another."""
    for row, (name, word, factor) in enumerate(_ROWS):
        deviates = _deviates(len(figures))[row]
        of_last: _Figure = getattr(figures[-1], name)
        part = of_last.common
        common = _mixed(part, deviates[-2], deviates[-1])
        if part > 0:
            told = next(
                r.shares for r in reversed(passes[-1].reasons) if r.quantity == f"{name}_um"
            )
            named = [who for who, _ in told if who in {factor, FINE_SPARK}]
            yield " and ".join(named), common
        if part < 1:
            own: Floats = (deviates[-2] - part * common) / math.sqrt(1 - part**2)
            yield f"{word} of pass {passes[-1].number}", own
        for k, one in enumerate(passes[:-1]):
            yield f"{word} of pass {one.number}", deviates[k]


_ROWS: Final = (
    ("recast", "recast", MATERIAL_RECAST),
    ("ra", "roughness", MATERIAL_RA),
    ("gap", "gap", MATERIAL_GAP),
)
"""The figures that are drawn, in the rows of the deviates, and the factor that passes share."""
_CHANCE: Final = 0.002


def span_words(span_um: Range) -> str:
    """Write the ends of a layer's range to two digits, in both unit systems, each in one unit.

    >>> span_words(Range(low=1.0, likely=2.0, high=3.4))
    '1 µm (39 µin) to 3.4 µm (130 µin)'
    >>> span_words(Range(low=2.6, likely=5.0, high=9.1))
    '2.6 µm (0.0001 in) to 9.1 µm (0.00036 in)'
    """
    low, high = (float(f"{end:.2g}") for end in (span_um.low, span_um.high))
    if not 0 < low < FEW_DIGITS_IN * MM_PER_INCH * UM_PER_MM:
        return f"{both(low)} to {both(high)}"
    ends = (f"{um:g} µm ({float(f'{um / UM_PER_MICROINCH:.2g}'):,.0f} µin)" for um in (low, high))
    return " to ".join(ends)


def ra_left_draws_um(passes: Sequence[Pass], *, law: SurfaceLaw) -> Floats:
    """Return draws of the roughness of the finished wall, µm, ascending, as of the recast.

    Where a skim may take less than the peaks before it, part of them stands in some pieces:
    see :func:`ra_left_um` and :func:`recast_left_draws_um`.

    Parameters
    ----------
    passes : sequence of Pass
    law : SurfaceLaw

    Returns
    -------
    (n,) float
    """
    return _draws(_figures(passes), law.peak_per_ra)[1]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Figure:
    """A lognormal figure of a pass and the part of its deviate that all passes have in common."""

    value_um: float
    sigma_log: float
    common: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _Drawn:
    """What is drawn of a pass; its stock moves with its gap and that of the pass before."""

    recast: _Figure
    ra: _Figure
    gap: _Figure
    stock_um: float


def _figures(passes: Sequence[Pass]) -> tuple[_Drawn, ...]:
    return tuple(
        _Drawn(
            recast=_Figure(
                value_um=p.recast_um,
                sigma_log=p.recast_sigma_log,
                common=common_part(p, "recast_um", MATERIAL_RECAST, FINE_SPARK),
            ),
            ra=_Figure(
                value_um=p.ra_um,
                sigma_log=p.ra_sigma_log,
                common=common_part(p, "ra_um", MATERIAL_RA, FINE_SPARK),
            ),
            gap=_Figure(
                value_um=p.gap_um,
                sigma_log=p.gap_sigma_log,
                common=common_part(p, "gap_um", MATERIAL_GAP, FINE_SPARK),
            ),
            stock_um=p.stock_um,
        )
        for p in passes
    )


@lru_cache(maxsize=64)
def _draws(figures: tuple[_Drawn, ...], peak_per_ra: float) -> tuple[Floats, Floats]:
    """Return draws of recast and roughness of the finished wall, ascending."""
    layer, finish = (np.sort(values) for values in _walls(figures, peak_per_ra))
    for values in (layer, finish):
        values.setflags(write=False)
    return layer, finish


def _walls(figures: tuple[_Drawn, ...], peak_per_ra: float) -> tuple[Floats, Floats]:
    """Return draws of recast and roughness of the finished wall, in the order of the deviates."""
    recasts, finishes, gaps = (
        _together(row, [getattr(one, name) for one in figures])
        for row, name in enumerate(("recast", "ra", "gap"))
    )
    layer, finish = recasts[-1], finishes[-1]
    # How deep a pass goes, from where the last one is meant to end; a wall is where the deepest
    # of the passes went, so that a skim which meets no metal takes none.
    deepest, left_um = gaps[-1] - figures[-1].gap.value_um, 0.0
    for k in range(len(figures) - 2, -1, -1):
        left_um += figures[k + 1].stock_um
        depth = gaps[k] - figures[k].gap.value_um - left_um
        taken = np.maximum(deepest - depth, 0.0)
        deepest = np.maximum(deepest, depth)
        layer = np.maximum(
            layer, np.minimum(recasts[k], recasts[k] + peak_per_ra * finishes[k] - taken)
        )
        finish = np.maximum(finish, finishes[k] - taken / peak_per_ra)
    return layer, finish


def _together(row: int, figures: Sequence[_Figure]) -> list[Floats]:
    """Return draws of one figure of all passes, their common cause drawn once.

    The common cause is drawn by what the last pass says of it, so that what the last pass alone
    decides has its chance exactly.
    """
    deviates, last = _deviates(len(figures))[row], figures[-1]
    common = _mixed(last.common, deviates[-2], deviates[-1])
    own = [_mixed(one.common, common, deviates[k]) for k, one in enumerate(figures[:-1])]
    return [
        one.value_um * np.exp(one.sigma_log * deviate)
        for one, deviate in zip(figures, (*own, deviates[-2]), strict=True)
    ]


def _mixed(part: float, common: Floats, own: Floats) -> Floats:
    """Return standard normal deviates that have ``part`` of the common one in them."""
    mixed: Floats = part * common + math.sqrt(max(1 - part**2, 0.0)) * own
    return mixed


@lru_cache(maxsize=16)
def _deviates(count: int) -> Floats:
    """Return standard normal deviates (3, count + 1, n), each row quantiles in an order of its own.

    So what one figure alone decides has its chance exactly.
    """
    random = np.random.default_rng(_SEED)
    row = ndtri((np.arange(_DRAWS) + 0.5) / _DRAWS)
    made: Floats = random.permuted(np.broadcast_to(row, (3, count + 1, _DRAWS)), axis=2)
    return made


def prepare_draws(most_passes: int) -> None:
    """Draw what finishes and layers are held against, before anybody waits for it.

    Parameters
    ----------
    most_passes : int
        Of the table.
    """
    for count in range(1, most_passes + 1):
        _deviates(count)


_DRAWS: Final = 20_000
"""A chance of one in ten is then known to within 0.2 %, in some milliseconds."""
_SEED: Final = 20_260
"""Any number: one plan must not say two things."""
