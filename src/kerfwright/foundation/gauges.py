"""Diameters of American wire gauges."""

from __future__ import annotations

from typing import Final

from kerfwright.foundation.errors import InputError

_GAUGES: Final = range(57)


def awg_mm(gauge: float) -> float:
    """Return the diameter of an American wire gauge: ``0.127 mm * 92^((36 - n)/39)``.

    Parameters
    ----------
    gauge : float
        0 to 56.

    Raises
    ------
    InputError
        Code ``gauge-unknown`` if it is no whole gauge in that span.

    References
    ----------
    ASTM B258, formula as read on several pages.

    Examples
    --------
    >>> round(awg_mm(30), 4)
    0.2546
    """
    if gauge not in _GAUGES:
        raise InputError(f"{gauge:g} AWG is no gauge; they run from 0 to 56", code="gauge-unknown")
    return float(0.127 * 92 ** ((36 - gauge) / 39))
