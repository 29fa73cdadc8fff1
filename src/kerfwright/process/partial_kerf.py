"""How fast the wire may go where only a part of its kerf is metal."""

from __future__ import annotations

from kerfwright.foundation.errors import RangeError

_ROUNDING = 1 + 1e-9
"""A full kerf worked out in two ways."""


def partial_kerf_factor(engaged_mm: float, *, kerf_mm: float, most: float) -> float:
    """Return the factor on the rough feed where a part of the kerf's width is metal.

    ``min(most, B / b)``: at a constant rate of metal taken, feed x height x width is constant, so
    the feed grows as the width in metal falls.

    Parameters
    ----------
    engaged_mm : float
        Width ``b`` of the front that is in metal.
    kerf_mm : float
        Width ``B`` of the kerf.
    most : float
        Largest factor.  The open side of the front sparks nowhere: the gap that a control reads is
        a mean, and a wire fed by it runs into the metal and shorts.

    Returns
    -------
    float
        Between 1 and `most`.

    Raises
    ------
    RangeError
        Code ``engaged-width`` if the width is not above 0 and at most that of the kerf.

    Notes
    -----
    Validity: widths from four tenths of the kerf up, by the least that loops of a pitch take; below
    that `most` holds anyway.  Not known: what the water that escapes into the open side costs, and
    how the gap differs from that of a full kerf.  The loop along the wall therefore keeps the feed
    of the rough pass.

    References
    ----------
    Constant rate of metal taken: area rate of the rough pass, :mod:`kerfwright.process.rough`.
    The limit: common practice, no source.

    Examples
    --------
    >>> partial_kerf_factor(0.32, kerf_mm=0.32, most=1.2)
    1.0
    >>> round(partial_kerf_factor(0.288, kerf_mm=0.32, most=1.2), 4)
    1.1111
    >>> partial_kerf_factor(0.144, kerf_mm=0.32, most=1.2)
    1.2
    """
    if not 0 < engaged_mm <= kerf_mm * _ROUNDING:
        raise RangeError(
            f"a front of {engaged_mm:g} mm in metal does not fit a kerf of {kerf_mm:g} mm",
            code="engaged-width",
        )
    return max(1.0, min(most, kerf_mm / engaged_mm))
