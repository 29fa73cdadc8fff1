"""How far a good program may stray from the wall because its numbers have so many digits."""

from __future__ import annotations

import math

from kerfwright.trade.machine import Machine, OffsetForm
from kerfwright.trade.part import LengthUnit

_UM = 1000.0
_MM_PER_INCH = 25.4
_DOUBLES_UM = 0.1
"""For everything but digits: the wall is compared to 0.1 µm (DESIGN section 8)."""
_POINT_DIGITS = math.sqrt(0.5)
"""Half a digit in each axis, along the diagonal."""
_ARC_DIGITS = 1.0
"""An arc through rounded ends, its centre and radius of whole digits too, leaves the true one by
up to a digit more: its two radii may then differ by 1.5.  The worst of point and arc together
was 1.3 digits in two hundred programs."""
_TABLE_DIGITS = 0.5
"""The offset in the D table is rounded too."""


def last_digit_mm(machine: Machine) -> float:
    """Return the last digit of a coordinate in mm."""
    digit = 10.0**-machine.dialect.decimals
    return digit * (_MM_PER_INCH if machine.dialect.unit is LengthUnit.INCH else 1.0)


def proof_tolerance_um(machine: Machine) -> float:
    """Return the largest deviation that passes, in micrometres.

    ``0.1 µm + (√½ + 1) digits`` where the program holds the path of the wire centre: the corner
    of a digit's square for a point, a digit for an arc.  Half a digit more where the control
    applies an offset from its table.

    Parameters
    ----------
    machine : Machine
    """
    digits = _POINT_DIGITS + _ARC_DIGITS
    if machine.dialect.offset_form is OffsetForm.CONTROLLER:
        digits += _TABLE_DIGITS
    return _DOUBLES_UM + digits * last_digit_mm(machine) * _UM
