"""A figure as data: panels, axes and series, before anything is drawn."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any, Final

_DIGITS: Final = 4
"""Digits of a number as kept beside the picture: finer than any line is drawn."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Axis:
    """What an axis shows; `low` and `high` where the data do not decide."""

    label: str
    is_log: bool = False
    low: float | None = None
    high: float | None = None
    names: tuple[str, ...] = ()
    """Instead of numbers, at 1, 2, 3 …"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Series:
    """One line, or points where `is_points`; `low` and `high` make a band about it."""

    label: str
    x: tuple[float, ...]
    y: tuple[float, ...]
    low: tuple[float, ...] = ()
    high: tuple[float, ...] = ()
    is_points: bool = False
    is_reference: bool = False
    """A bound or a thing compared with, drawn thin."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """One pair of axes."""

    title: str
    x: Axis
    y: Axis
    series: tuple[Series, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """One picture of a page."""

    name: str
    title: str
    panels: tuple[Panel, ...]


def line(label: str, x: Sequence[float], y: Sequence[float], **more: Any) -> Series:
    """Return a series from any sequences of numbers."""
    bands = {key: _floats(more.pop(key)) for key in ("low", "high") if key in more}
    return Series(label=label, x=_floats(x), y=_floats(y), **bands, **more)


def _floats(values: Sequence[float]) -> tuple[float, ...]:
    return tuple(float(v) for v in values)


def _rounded(value: object) -> object:
    match value:
        case float():
            return float(f"{value:.{_DIGITS}g}")
        case dict():
            return {k: _rounded(v) for k, v in value.items() if v not in (None, (), False)}
        case list() | tuple():
            return [_rounded(v) for v in value]
    return value


def text_of(figure: Figure) -> str:
    """Return what a figure shows as one line of JSON, to be kept within the picture."""
    return json.dumps(_rounded(asdict(figure)), ensure_ascii=False, separators=(",", ":"))


def differences(one: object, other: object, *, where: str = "") -> list[str]:
    """Return where two figures differ by more than the rounding of their last digit."""
    match one, other:
        case dict(), dict():
            keys = sorted({*one, *other})
            return [
                found
                for k in keys
                for found in differences(one.get(k), other.get(k), where=f"{where}.{k}")
            ]
        case list(), list() if len(one) == len(other):
            return [
                found
                for n, (a, b) in enumerate(zip(one, other, strict=True))
                for found in differences(a, b, where=f"{where}[{n}]")
            ]
        case (int() | float(), int() | float()):
            same = math.isclose(one, other, rel_tol=2 * 10.0 ** (1 - _DIGITS), abs_tol=1e-9)
            return [] if same else [f"{where}: {one} is not {other}"]
    return [] if one == other else [f"{where}: {one!r:.60} is not {other!r:.60}"]
