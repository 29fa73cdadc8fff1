"""A DXF dimension: what it measures, what it writes, and the limits that its style adds."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

from kerfwright.adapters.dxf.annotation_text import FAULTS, paragraph_text
from kerfwright.trade.annotation import Measures

_MEASURES: Final = {
    0: Measures.LENGTH, 1: Measures.LENGTH, 2: Measures.ANGLE, 3: Measures.DIAMETER,
    4: Measures.RADIUS, 5: Measures.ANGLE, 6: Measures.ORDINATE,
}  # fmt: skip
"""DXF reference, DIMENSION group code 70, low bits."""
_POINTS: Final = {
    Measures.LENGTH: ("defpoint2", "defpoint3"),
    Measures.DIAMETER: ("defpoint", "defpoint4"),
    Measures.RADIUS: ("defpoint4",),
    Measures.ANGLE: ("defpoint2", "defpoint3"),
    Measures.ORDINATE: ("defpoint2",),
}
_NO_LEADING_ZERO: Final = 4
_NO_TRAILING_ZEROS: Final = 8
_USUAL_DECIMALS: Final = 4
_MOST_DECIMALS: Final = 8
_COMMA: Final = 44
_ITSELF: Final = "<>"
_SIGN: Final = {Measures.DIAMETER: "Ø", Measures.RADIUS: "R"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Dimension:
    """A dimension in drawing units.

    Attributes
    ----------
    measures : Measures
    text : str
        What it says, with limits.
    drawn : float or None
        Length between its points, or angle in degrees; None where it cannot be taken.
    factor : float
        What it multiplies lengths by before it writes them.
    upper, lower : float or None
        Deviations as written, with their sign.
    override, picture : str
        Words in place of the value, and the words of its picture block.
    points : tuple of points
        What it measures between.
    """

    measures: Measures
    text: str
    drawn: float | None
    factor: float
    upper: float | None
    lower: float | None
    override: str
    picture: str
    points: tuple[Any, ...]


def read_dimension(entity: Any, *, picture: str) -> Dimension:
    """Read a DIMENSION.

    Parameters
    ----------
    entity : ezdxf entity
    picture : str
        Words of its picture block, empty if it has none.

    Raises
    ------
    DXFError, ValueError, LookupError, ArithmeticError, TypeError, AttributeError
        If its data make no dimension.
    """
    measures = _MEASURES[entity.dimtype]
    drawn = _measured(entity, measures)
    style = _Style(entity)
    factor = 1.0 if measures is Measures.ANGLE else abs(style.number("dimlfac", 1.0)) or 1.0
    upper = lower = None
    if style.number("dimtol", 0.0) or style.number("dimlim", 0.0):
        upper, lower = style.number("dimtp", 0.0), -style.number("dimtm", 0.0)
    override = paragraph_text(str(entity.dxf.get("text", "")))
    return Dimension(
        measures=measures,
        text=_said(measures, drawn, factor, (upper, lower), override, picture, style),
        drawn=drawn,
        factor=factor,
        upper=upper,
        lower=lower,
        override=override,
        picture=picture,
        points=tuple(entity.dxf.get(n) for n in _POINTS[measures] if entity.dxf.hasattr(n)),
    )


def _measured(entity: Any, measures: Measures) -> float | None:
    if measures is Measures.ORDINATE:
        # Which axis counts and from where is a matter of flags that programs set differently.
        return None
    try:
        value = float(entity.get_measurement())
    except FAULTS:
        return None
    return value if math.isfinite(value) else None


class _Style:
    """Values of a dimension's style, with what the dimension itself overrides."""

    def __init__(self, entity: Any) -> None:
        try:
            self._given = entity.override()
        except FAULTS:
            # A style that the table does not hold.
            self._given = None

    def number(self, name: str, default: float) -> float:
        """Return a number, the default where none is given or it is not finite."""
        try:
            value = float(self._given.get(name, default)) if self._given is not None else default
        except FAULTS:
            return default
        return value if math.isfinite(value) else default

    def text(self, name: str) -> str:
        """Return words, empty where none are given."""
        try:
            value = self._given.get(name, "") if self._given is not None else ""
        except FAULTS:
            return ""
        return str(value or "")


def _said(
    measures: Measures,
    drawn: float | None,
    factor: float,
    deviations: tuple[float | None, float | None],
    override: str,
    picture: str,
    style: _Style,
) -> str:
    """Return what a dimension says: its own words, with the value where they ask for it."""
    if override == _ITSELF:
        override = ""
    if override and _ITSELF not in override:
        return override
    if drawn is None or measures is Measures.ANGLE:
        # Which of four angles is meant only its picture says.
        return picture or override.replace(_ITSELF, "").strip()
    value = _written(drawn * factor, style)
    upper, lower = deviations
    if upper is not None and lower is not None and (upper or lower):
        if style.number("dimlim", 0.0):
            least = max(_places(upper, style), _places(lower, style))
            value = (
                f"{_written(drawn * factor + upper, style, least=least)}/"
                f"{_written(drawn * factor + lower, style, least=least)}"
            )
        elif math.isclose(upper, -lower):
            value += f" ±{_deviation(upper, style)}"
        else:
            value += f" {_signed(upper, style)}/{_signed(lower, style)}"
    post = style.text("dimpost")
    if post and post != _ITSELF:
        value = post.replace(_ITSELF, value) if _ITSELF in post else value + post
    if override:
        return override.replace(_ITSELF, value)
    sign = _SIGN.get(measures, "")
    return value if value.upper().startswith(sign) else sign + value


def _written(value: float, style: _Style, *, least: int = 0) -> str:
    """Return a size with the decimals of its style, and at least so many."""
    decimals = min(max(int(style.number("dimdec", _USUAL_DECIMALS)), 0), _MOST_DECIMALS)
    decimals = max(decimals, least)
    zeros = int(style.number("dimzin", 0))
    text = f"{value:.{decimals}f}"
    if zeros & _NO_TRAILING_ZEROS and "." in text:
        text = text.rstrip("0").rstrip(".")
    if zeros & _NO_LEADING_ZERO and text.startswith("0."):
        text = text[1:]
    return text.replace(".", ",") if style.number("dimdsep", 0) == _COMMA else text


def _plain(value: float) -> str:
    return f"{value:.{_MOST_DECIMALS}f}".rstrip("0").rstrip(".")


def _places(value: float, style: _Style) -> int:
    """Return how many decimals a deviation needs: a limit with fewer would be another one."""
    return len(_deviation(abs(value), style).partition(".")[2])


def _deviation(value: float, style: _Style) -> str:
    """Return a deviation with the decimals of its style, or as many as it has if it has more."""
    plain = _plain(value)
    decimals = min(max(int(style.number("dimtdec", 0)), 0), _MOST_DECIMALS)
    if int(style.number("dimtzin", 0)) & _NO_TRAILING_ZEROS:
        return plain
    return plain if len(plain.partition(".")[2]) > decimals else f"{value:.{decimals}f}"


def _signed(value: float, style: _Style) -> str:
    return f"{'-' if value < 0 else '+'}{_deviation(abs(value), style)}" if value else "0"
