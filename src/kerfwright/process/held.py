"""What passes hold of a demand as surely as the shop wants it met."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from kerfwright.geometry.segments import Floats
from kerfwright.process.hurt_layer import ra_left_um, recast_left_um
from kerfwright.process.left_draws import ra_left_draws_um, recast_left_draws_um
from kerfwright.process.technology import BY_LIKELY_VALUE, Pass, Technology
from kerfwright.trade.requirement import Demand

_ROUNDING: Final = 1e-6
"""Part of the last digit by which a value lies above one by the rounding of a conversion."""


def ra_held_um(passes: Sequence[Pass], *, technology: Technology) -> float:
    """Return the finish that passes leave or better but for the allowed share, µm.

    The quantile of :func:`kerfwright.process.left_draws.ra_left_draws_um`, in which peaks that
    stand of older passes count; without any it is the median times ``exp(z sigma)``.

    Parameters
    ----------
    passes : sequence of Pass
        The last of them the one that finishes.
    technology : Technology

    References
    ----------
    The share: common practice, no source.
    """
    law = technology.spark.surface
    likely_um = ra_left_um(passes, law=law)
    return _held(likely_um, ra_left_draws_um(passes, law=law), technology)


def recast_held_um(passes: Sequence[Pass], *, technology: Technology) -> float:
    """Return the recast layer that passes leave or less but for the allowed share, µm.

    The quantile of :func:`kerfwright.process.left_draws.recast_left_draws_um`, in which old
    layers count with their spread.

    Parameters
    ----------
    passes : sequence of Pass
    technology : Technology

    References
    ----------
    The share: common practice, no source.
    """
    law = technology.spark.surface
    likely_um = recast_left_um(passes, law=law)
    return _held(likely_um, recast_left_draws_um(passes, law=law), technology)


def _held(likely_um: float, draws_um: Floats, technology: Technology) -> float:
    """Return the likely value, or the quantile of ascending draws where that is higher."""
    allowed = technology.limits.allowed_miss
    if allowed >= BY_LIKELY_VALUE:
        return likely_um
    # The first draw that no more than the allowed share exceeds.
    place = math.ceil((1 - allowed) * len(draws_um)) - 1
    return max(likely_um, float(draws_um[place]))


def held_by(passes: Sequence[Pass], *, technology: Technology) -> Demand:
    """Return what can be promised of the wall after these passes.

    A tolerance is held by two standard deviations as it stands in the table.

    Parameters
    ----------
    passes : sequence of Pass
    technology : Technology
    """
    return Demand(
        tolerance_um=passes[-1].tolerance_um,
        ra_um=ra_held_um(passes, technology=technology),
        max_recast_um=recast_held_um(passes, technology=technology),
    )


def two_digits_up_in(value_um: float, unit_um: float) -> float:
    """Round a limit up to two significant digits of the unit that it is read in, µm.

    >>> two_digits_up_in(8.2, 25_400.0), two_digits_up_in(8.2, 1.0)
    (8.382, 8.2)
    """
    return round(two_digits_up(value_um / unit_um) * unit_um, 9)


def two_digits_up(value_um: float) -> float:
    """Round up to two significant digits, as limits are promised: nobody orders a Ra of 0.618.

    >>> two_digits_up(0.618), two_digits_up(8.2)
    (0.62, 8.2)
    """
    decimals = 1 - math.floor(math.log10(value_um))
    steps = math.ceil(value_um * 10.0**decimals - _ROUNDING)
    return round(steps / 10.0**decimals, max(decimals, 0))
