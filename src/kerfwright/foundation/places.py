"""Places on a drawing as people write them: two coordinates, each with its unit and sign."""

from __future__ import annotations

import re
from typing import Final

from kerfwright.foundation.errors import InputError
from kerfwright.foundation.units import length_mm, tidy

PLACE_FORMS: Final = "12.5 mm, 3 mm or X0.5in Y-0.125in or -12,5 mm; 3 mm"

_VALUE: Final = r"[+-]?\s*(?:(?:\d+[ -])?\d+/\d+|\d+(?:[.,]\d+)?|[.,]\d+)\s*(?:[a-z]+|\"|'')?"
_PLACE: Final = re.compile(
    rf"\(?\s*(?:x\s*[:=]?\s*)?({_VALUE})(?:\s*[,;]\s*|\s+)(?:y\s*[:=]?\s*)?({_VALUE})\s*\)?"
)


def place_mm(text: str, *, what: str = "place") -> tuple[float, float]:
    """Read X and Y with their units, in mm.

    Parameters
    ----------
    text : str
        ``"12.5 mm, 3 mm"``, ``"0.5in -0.125in"``, ``"X12.5mm Y3mm"``, ``"12,5 mm; 3 mm"``.
    what : str
        Name of the place for the message.

    Raises
    ------
    InputError
        Code ``place-unreadable`` where these are not two coordinates; else as
        :func:`kerfwright.foundation.units.length_mm`: each coordinate has its unit.

    Examples
    --------
    >>> place_mm("0.5in, -0.125in")
    (12.7, -3.175)
    >>> place_mm("X-12,5 mm Y3 mm")
    (-12.5, 3.0)
    """
    match = _PLACE.fullmatch(tidy(text))
    if match is None:
        raise InputError(
            f"{what} {text!r} is not an X and a Y",
            code="place-unreadable",
            remedy=f"Write both with their units, as {PLACE_FORMS}.",
        )
    x, y = match.groups()
    try:
        return signed_mm(x, what=f"X of the {what}"), signed_mm(y, what=f"Y of the {what}")
    except InputError as fault:
        raise InputError(
            fault.message, code=fault.code, remedy=f"Write both with their units, as {PLACE_FORMS}."
        ) from None


def signed_mm(text: str, *, what: str) -> float:
    """Read a coordinate: a length that may be negative.

    >>> signed_mm("-0.5in", what="X")
    -12.7
    """
    bare = text.strip()
    sign = -1.0 if bare.startswith(("-", "\N{MINUS SIGN}")) else 1.0
    try:
        return sign * length_mm(bare.lstrip("-\N{MINUS SIGN}+ "), what=what)
    except InputError as fault:
        # The length was read without its sign; what was written had one.
        said = fault.message.replace(repr(bare.lstrip("-\N{MINUS SIGN}+ ")), repr(bare))
        raise InputError(said, code=fault.code, remedy=fault.remedy) from None


def place_text(x_mm: float, y_mm: float) -> str:
    """Write a place so that it is read again to a tenth of a micrometre.

    >>> place_text(12.5, -3.00004)
    '12.5 mm, -3 mm'
    """
    return f"{_tidied(x_mm)} mm, {_tidied(y_mm)} mm"


def place_words(x_mm: float, y_mm: float, *, decimals: int = 4) -> str:
    """Write a place in a message, with its unit, so that it can follow the unit that is shown.

    >>> place_words(203.0492, -93.72621)
    'X203.0492 Y-93.7262 mm'
    """
    # Adding 0 leaves no sign on a zero.
    x, y = (round(float(v), decimals) + 0.0 for v in (x_mm, y_mm))
    return f"X{x:.{decimals}f} Y{y:.{decimals}f} mm"


def _tidied(value_mm: float) -> str:
    text = f"{value_mm:.4f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text
