"""What an alternative would ask, as lines that a person could have written."""

from __future__ import annotations

import math
from dataclasses import astuple, replace

from kerfwright.app.changes import Change
from kerfwright.app.enquiries import CONTOUR, PLACES, TAB_WIDTH
from kerfwright.foundation.directed import Use, shown
from kerfwright.foundation.units import MM_PER_INCH, UM_PER_MICROINCH, UM_PER_MM
from kerfwright.trade.requirement import Requirement

_DIGITS = 1000
"""Limits are written to a thousandth of a micrometre."""
_ROUNDING = 1e-9
"""Share of a last digit by which a limit may miss it and be it: conversion of inches."""

Asks = tuple[tuple[str, str], ...]
"""Names of lines with their texts."""


def asks_of(before: Requirement, change: Change, quantity: int) -> Asks:
    """Return the lines that would ask for a change; empty where no line can.

    Another drawing is no line.
    """
    if change.part is not None:
        return ()
    if change.is_lifting:
        return _lifting(before, change.requirement)
    stack = change.requirement.stack
    if stack is not None and (before.stack is None or change.demand == "height"):
        number = str(stack.pieces) if len(change.each_at) < 2 else "auto"
        if before.stack is not None:
            return (("stack", number), *_without_covers(number))
        # How it is held and covered is as without a word on it.
        return (("stack", number), ("holding", ""), ("covers", ""))
    if change.quantity != quantity:
        return (("quantity", str(change.quantity)), *_restacked(before, change.requirement))
    return asks_between(before, change.requirement)


def _lifting(before: Requirement, after: Requirement) -> Asks:
    """Return the lines of several demands at once: height, places, wire and limits."""
    lines: Asks = ()
    if after.stack is not None and before.stack is not None and after.stack != before.stack:
        number = str(after.stack.pieces)
        lines = (("stack", number), *_without_covers(number))
    elif after.height_mm != before.height_mm:
        lines = (("height", f"{after.height_mm:g} mm"),)
    left = [name for name in before.placements if name not in after.placements]
    lines += tuple(
        (f"{place}{name}", "")
        for name in left
        for place, given in zip(
            (*PLACES, TAB_WIDTH),
            astuple(before.placements[name]),
            strict=True,
        )
        if given is not None
    )
    as_high = replace(before, height_mm=after.height_mm, stack=after.stack)
    return (*lines, *asks_between(as_high, after))


def _restacked(before: Requirement, after: Requirement) -> Asks:
    """Return the lines by which an order of another quantity is stacked as it is priced."""
    was, now = before.stack, after.stack
    # A number that was left to the price is found for the other quantity by itself.
    if was is None or now is None or was.is_chosen or now.pieces == was.pieces:
        return ()
    number = str(now.pieces)
    return (("stack", number), *_without_covers(number))


def _without_covers(number: str) -> Asks:
    """Return the line that takes the covers off pieces that are cut one at a time."""
    return (("covers", ""),) if number == "1" else ()


def asks_between(before: Requirement, after: Requirement) -> Asks:
    """Return the lines of the job and of single contours in which two requirements differ."""
    return (*differing(before, after), *_own(before, after))


def _own(before: Requirement, after: Requirement) -> Asks:
    """Return the lines of the contours whose own demands differ, those alike in one."""
    groups: dict[str, list[str]] = {}
    for name, demand in after.contours.items():
        if before.contours.get(name) == demand:
            continue
        limits = (
            ("tolerance", "±{}", demand.tolerance_um),
            ("finish", "Ra {}", demand.ra_um),
            ("recast", "{}", demand.max_recast_um),
        )
        said = ", ".join(
            f"{what}={form.format(_written(what, value))}"
            for what, form, value in limits
            if value is not None
        )
        groups.setdefault(said, []).append(name)
    return tuple((CONTOUR + ",".join(names), said) for said, names in groups.items())


def differing(before: Requirement, after: Requirement) -> Asks:
    """Return the lines in which two requirements differ; empty for another height.

    Limits are rounded up to the last digit written: rounded down, they would ask for a pass more.
    """
    if before.height_mm != after.height_mm:
        return ()
    limits = (
        ("tolerance", "±{}", before.tolerance_um, after.tolerance_um),
        ("finish", "Ra {}", before.ra_um, after.ra_um),
        ("recast", "{}", before.max_recast_um, after.max_recast_um),
    )
    asks = [
        (name, form.format(_written(name, now)))
        for name, form, was, now in limits
        if now is not None and was != now
    ]
    if after.wire is not None and after.wire != before.wire:
        asks.append(("wire", f"{after.wire.diameter_mm:g} mm {after.wire.name}"))
    return tuple(asks)


def _written(what: str, value_um: float) -> str:
    """Return a limit in the unit in which it is round: that of the drawing it was offered for."""
    unit, unit_um = _IN_INCHES[what]
    inches = value_um / unit_um
    if _is_round(inches) and not _is_round(value_um):
        return f"{shown(inches, Use.HELD)} {unit}"
    return f"{_rounded_up(value_um)} µm"


_IN_INCHES = {
    "tolerance": ("in", UM_PER_MM * MM_PER_INCH),
    "recast": ("in", UM_PER_MM * MM_PER_INCH),
    "finish": ("µin", UM_PER_MICROINCH),
}


def _is_round(value: float) -> bool:
    """Return whether two digits write a value."""
    return math.isclose(value, float(f"{value:.2g}"), rel_tol=_ROUNDING)


def _rounded_up(value_um: float) -> str:
    return f"{math.ceil(value_um * _DIGITS - _ROUNDING) / _DIGITS:g}"
