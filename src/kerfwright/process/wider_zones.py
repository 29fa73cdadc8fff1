"""What guides far off the work take from the tolerance that passes hold."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from kerfwright.foundation.ranges import Range
from kerfwright.foundation.sources import Reason, Source, SourceTag
from kerfwright.process.guide_distance import GuidesOff, counted_factor
from kerfwright.process.pass_spread import SCATTER, size_reason, size_sigma_um
from kerfwright.process.technology import Pass
from kerfwright.process.undercut import (
    PassWall,
    pass_walls,
    really_held_um,
    wall_range_um,
    walls_left_um,
)

_STRING: Final = Source(
    tag=SourceTag.COMPUTED,
    citation="equilibrium of a string under an even push over the height (docs/process/wire.md)",
)
_DEEPEST: Final = Source(
    tag=SourceTag.COMPUTED,
    citation="least of normal values: no pass puts metal back (docs/process/wire.md)",
)
_SEEN: Final = 1.001
"""Less than a thousandth more than a pass holds by itself is no undercut: draws tell no less."""


def with_guides_off(
    passes: tuple[Pass, ...], *, height_mm: float, guides: GuidesOff
) -> tuple[Pass, ...]:
    """Return passes with the tolerance that they hold between guides far off.

    The whole of it is multiplied, that part too which is the machine's: which part that is nobody
    told (safe side).  The mean wall stays where it is.  Where an earlier pass then scatters beyond
    the stock left for the later ones, no pass puts metal back: what is held is that of all but the
    allowed share of the walls so left.  This part of it comes in from a factor of 1 to
    ``counts_from``, so that nothing steps: with guides close the tables' figures stand as they are.

    Parameters
    ----------
    passes : tuple of Pass
        As with guides close to the work, moved by what the shop has measured, with the stock that
        will be cut.  Each is taken as the last one, those before it cut for it.
    height_mm : float
        Of all work between the guides.
    guides : GuidesOff
    """
    factor = counted_factor(height_mm, guides=guides)
    if factor == 1:
        return passes
    own = tuple(_widened(p, factor, height_mm, guides) for p in passes)
    counts = min(1.0, (factor - 1) / (guides.counts_from - 1)) if guides.counts_from > 1 else 1.0
    return tuple(_undercut(own[: n + 1], counts) for n in range(len(own)))


def held_close_um(one: Pass) -> float:
    """Return the half zone that a pass holds with guides close to the work, µm."""
    return one.tolerance_um / one.undercut_factor / one.guides_factor


def chance_undercut(passes: Sequence[Pass]) -> float:
    """Return the chance that the finished wall lies below what the last pass holds by itself.

    Parameters
    ----------
    passes : sequence of Pass
        Those that are cut, as :func:`with_guides_off` returns them.
    """
    last = passes[-1]
    left_um = walls_left_um(pass_walls([_alone(p) for p in passes]))
    return float((left_um < -last.tolerance_um / last.undercut_factor).mean())


def _alone(one: Pass) -> Pass:
    """Return a pass with the scatter of its own, no undercut in it."""
    if one.undercut_factor == 1:
        return one
    own = [r for r in one.reasons if r.quantity == "size_error_um"][-2]
    return replace(one, size_sigma_um=float(dict(own.inputs)["standard_deviation_um"]))


def _undercut(passes: Sequence[Pass], counts: float) -> Pass:
    """Return the last of passes with what all of them together hold."""
    last, walls = passes[-1], pass_walls(passes)
    own_um, left_um = last.tolerance_um, walls_left_um(walls)
    value = own_um + counts * max(0.0, really_held_um(left_um) - own_um)
    if value <= own_um * _SEEN:
        return last
    inputs = (("by_itself_um", own_um), *_wall_inputs(walls))
    close = next(r for r in reversed(last.reasons) if r.quantity == "tolerance_um")
    held = Reason(
        quantity="tolerance_um",
        value=value,
        formula="half zone that all but 4.6 % of walls keep (two standard deviations): the wall is "
        "the deepest that any pass cut, and a pass that scatters beyond the stock left for "
        "the later ones leaves it undercut",
        inputs=inputs,
        source=_DEEPEST,
        range=_held_range(passes, value, counts),
        shares=close.shares or ((SCATTER, 1.0),),
    )
    wall_um = wall_range_um(left_um)
    wall = Reason(
        quantity="size_error_um",
        value=wall_um.likely,
        formula="deepest wall of all passes, drawn: median, 10 and 90 %",
        inputs=_wall_inputs(walls),
        source=_DEEPEST,
        range=wall_um,
        shares=(("job and cut, the offset set after a first cut", 1.0),),
    )
    return replace(
        last,
        tolerance_um=value,
        size_sigma_um=max(last.size_sigma_um, size_sigma_um(value - abs(last.size_bias_um))),
        undercut_factor=value / own_um,
        reasons=(*last.reasons, held, wall),
    )


def _held_range(passes: Sequence[Pass], value: float, counts: float) -> Range:
    """Return how sure the zone is, by how sure the scatter of the rough pass is."""
    own_um, rough = passes[-1].tolerance_range_um, passes[0]
    ends = []
    for um, of_rough in (
        (own_um.low, rough.tolerance_range_um.low),
        (own_um.high, rough.tolerance_range_um.high),
    ):
        walls = pass_walls(
            passes, spread=of_rough / rough.tolerance_um, of_last=um / passes[-1].tolerance_um
        )
        ends.append(um + counts * max(0.0, really_held_um(walls_left_um(walls)) - um))
    return Range(low=min(ends[0], value), likely=value, high=max(ends[1], value))


def _wall_inputs(walls: Sequence[PassWall]) -> tuple[tuple[str, float], ...]:
    return tuple(
        pair
        for wall in walls
        for pair in (
            (f"mean_of_pass_{wall.number}_um", wall.mean_um),
            (f"standard_deviation_of_pass_{wall.number}_um", wall.sigma_um),
        )
    )


def _widened(one: Pass, factor: float, height_mm: float, guides: GuidesOff) -> Pass:
    held_um, bias_um = factor * one.tolerance_um, one.size_bias_um
    sigma_um = max(factor * one.size_sigma_um, size_sigma_um(held_um - abs(bias_um)))
    close = next(r for r in reversed(one.reasons) if r.quantity == "tolerance_um")
    span = close.range
    held = Reason(
        quantity="tolerance_um",
        value=held_um,
        formula="t = t_close (2 L - H)/(2 L_0 - H): the wire gives way that many times as far "
        "between guides far off; a little further than usual counts in part, so that nothing steps",
        inputs=(
            ("t_close_um", one.tolerance_um),
            ("factor", factor),
            ("L_mm", guides.span_mm(height_mm)),
            ("L_0_mm", guides.usual_span_mm(height_mm)),
            ("H_mm", height_mm),
        ),
        source=_STRING,
        range=None
        if span is None
        else Range(low=factor * span.low, likely=held_um, high=factor * span.high),
        shares=close.shares,
    )
    wall = replace(
        size_reason(bias_um=bias_um, sigma_um=sigma_um, source=_STRING),
        formula="normal: the mean wall as with guides close to the work, the deviation as many "
        "times theirs as the wire gives way",
    )
    return replace(
        one,
        tolerance_um=held_um,
        size_sigma_um=sigma_um,
        guides_factor=factor,
        reasons=(*one.reasons, held, wall),
    )
