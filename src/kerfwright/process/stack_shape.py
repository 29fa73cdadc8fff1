"""How the sheets of a stack differ: barrel and lag of the wire by height."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from kerfwright.foundation.ranges import Range
from kerfwright.process.technology import Pass
from kerfwright.process.wire_physics import WirePhysics
from kerfwright.process.wire_shape import pass_shapes
from kerfwright.trade.material import Wire
from kerfwright.trade.stack import Stack


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetShape:
    """One sheet of a stack after the last pass.

    Attributes
    ----------
    piece : int
        From 1 on top.
    middle_mm : float
        Its middle above the underside of the stack.
    wall_um : float
        How much fuller its wall is than the mean of the stack's pieces, on one side.
    lag_um : float
        By which the wire trails there: what corners lose.
    holds_um : float
        Half the tolerance zone to expect: that of a single sheet and the wall's distance from
        the mean.
    range_um : Range
        Of ``holds_um``, as sure as that zone; how far the wall lies off is taken as likely.
    """

    piece: int
    middle_mm: float
    wall_um: float
    lag_um: float
    holds_um: float
    range_um: Range


def bow_share(middle_mm: float, *, height_mm: float) -> float:
    """Return the bow of a string at a height over that in its middle: ``4 z/H (1 - z/H)``.

    Under an even load ``q`` the bow beyond the faces is ``q z (H - z) / 2T``, in the middle
    ``q H^2 / 8T``.

    Parameters
    ----------
    middle_mm : float
        Height ``z`` above the underside.
    height_mm : float
        Of the work, ``H``.

    References
    ----------
    Equilibrium of a string (computed).

    Examples
    --------
    >>> bow_share(5.0, height_mm=20.0), bow_share(10.0, height_mm=20.0)
    (0.75, 1.0)
    """
    share = middle_mm / height_mm
    return 4 * share * (1 - share)


def sheet_shapes(
    stack: Stack,
    passes: Sequence[Pass],
    *,
    single: Pass,
    wire: Wire,
    physics: WirePhysics,
) -> tuple[SheetShape, ...]:
    """Return how each piece of a stack comes out, from the top.

    Parameters
    ----------
    stack : Stack
    passes : sequence of Pass
        For the height of the stack, the rough pass first.
    single : Pass
        The last pass in a single sheet.
    wire : Wire
    physics : WirePhysics

    Notes
    -----
    Lag and barrel are those of a string under the push of the last pass; the constants of the push
    are common practice, no source (``docs/process/wire.md``).
    """
    last = pass_shapes(passes, wire=wire, height_mm=stack.height_mm, physics=physics)[-1]
    places = [stack.middle_mm(k) for k in range(1, stack.pieces + 1)]
    shares = [bow_share(z, height_mm=stack.height_mm) for z in places]
    mean = sum(shares) / len(shares)
    off_um = [abs(last.barrel_um * (share - mean)) for share in shares]
    return tuple(
        SheetShape(
            piece=k,
            middle_mm=z,
            wall_um=last.barrel_um * (share - mean),
            lag_um=last.face_lag_um + (last.lag_um - last.face_lag_um) * share,
            holds_um=single.tolerance_um + off,
            range_um=_moved(single.tolerance_range_um, off),
        )
        for k, (z, share, off) in enumerate(zip(places, shares, off_um, strict=True), start=1)
    )


def _moved(span: Range, by: float) -> Range:
    return Range(low=span.low + by, likely=span.likely + by, high=span.high + by)
