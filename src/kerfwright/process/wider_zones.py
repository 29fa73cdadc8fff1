"""What guides far off the work take from the tolerance that passes hold."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from kerfwright.foundation.ranges import Range
from kerfwright.foundation.sources import Reason, Source, SourceTag
from kerfwright.process.guide_distance import GuidesOff, counted_factor
from kerfwright.process.pass_spread import size_reason, size_sigma_um
from kerfwright.process.technology import Pass

_STRING: Final = Source(
    tag=SourceTag.COMPUTED,
    citation="equilibrium of a string under an even push over the height (docs/process/wire.md)",
)


def with_guides_off(
    passes: tuple[Pass, ...], *, height_mm: float, guides: GuidesOff
) -> tuple[Pass, ...]:
    """Return passes with the tolerance that they hold between guides far off.

    The whole of it is multiplied, that part too which is the machine's: which part that is nobody
    told (safe side).  The mean wall stays where it is.

    Parameters
    ----------
    passes : tuple of Pass
        As with guides close to the work, moved by what the shop has measured.
    height_mm : float
        Of all work between the guides.
    guides : GuidesOff
    """
    factor = counted_factor(height_mm, guides=guides)
    if factor == 1:
        return passes
    return tuple(_widened(p, factor, height_mm, guides) for p in passes)


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
