"""The kinds of demand on a wall: what passes hold of each, and how each is said."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from kerfwright.foundation.units import (
    MM_PER_INCH,
    UM_PER_MICROINCH,
    UM_PER_MM,
    both_roughness,
)
from kerfwright.foundation.zones import roughness_held, zone_asked, zone_held
from kerfwright.process.held import ra_held_um, recast_held_um, two_digits_up_in
from kerfwright.process.technology import Pass, Technology
from kerfwright.trade.material import Wire
from kerfwright.trade.part import LengthUnit

ROUNDING = 1e-9
"""Share by which a limit and what is reached may differ and be the same: conversion of inches."""
_MOST_NAMES = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """One kind of demand: its name, its field and what a pass reaches of it."""

    name: str
    field: str
    reached: Callable[[Sequence[Pass], Technology], float]
    """What can be promised after these passes, the last of them."""
    said: Callable[[float], str]
    """How what is asked reads."""
    offered: Callable[[float], str]
    """How what could be asked instead reads, which is held."""
    inch_unit_um: float
    """The unit that an inch shop writes it in."""
    wording: str
    named: str = ""
    """What goes before a value that stands among values of other kinds."""
    by_stock: bool = False
    """Whether such a demand may raise the stock of the skims."""
    is_measured: bool = False
    """Whether measuring it takes the longer the tighter it is, with the same passes."""
    least_step: float = 1.0
    """By how much a looser value differs at least: less reads the same in microinches."""

    def listed(self, value: float) -> str:
        """Return what is asked as it stands in a list with others."""
        return self.named + self.said(value)

    def listed_offer(self, value: float) -> str:
        """Return what could be asked instead as it stands in a list with others."""
        return self.named + self.offered(value)

    def rounded(self, value: float, unit: LengthUnit) -> float:
        """Return a limit that is held, to two digits in the unit of the drawing."""
        return two_digits_up_in(value, self.inch_unit_um if unit is LengthUnit.INCH else 1.0)


KINDS = (
    Kind(
        name="tolerance",
        field="tolerance_um",
        reached=lambda passes, _: passes[-1].tolerance_um,
        said=lambda v: "±" + zone_asked(v),
        offered=lambda v: "±" + zone_held(v),
        inch_unit_um=UM_PER_MM * MM_PER_INCH,
        wording="A tolerance of {instead} instead of {asked}",
        is_measured=True,
    ),
    Kind(
        name="finish",
        field="ra_um",
        reached=lambda passes, technology: ra_held_um(passes, technology=technology),
        said=both_roughness,
        offered=roughness_held,
        inch_unit_um=UM_PER_MICROINCH,
        wording="A finish of {instead} instead of {asked}",
        least_step=1.05,
    ),
    Kind(
        name="recast",
        field="max_recast_um",
        reached=lambda passes, technology: recast_held_um(passes, technology=technology),
        said=zone_asked,
        offered=zone_held,
        inch_unit_um=UM_PER_MM * MM_PER_INCH,
        wording="A recast layer up to {instead} instead of {asked}",
        named="recast ",
        by_stock=True,
    ),
)


def next_step(reached: Sequence[float], asked: float, step: int) -> float | None:
    """Return the limit of the next looser (−1) or tighter (+1) class of passes.

    Parameters
    ----------
    reached : sequence of float
        What can be promised of each pass, the rough pass first.
    asked : float
    step : int

    Examples
    --------
    >>> next_step([25.0, 10.0, 5.0, 3.0], 6.0, -1), next_step([25.0, 10.0, 5.0, 3.0], 6.0, 1)
    (10.0, 3.0)
    """
    meets = [v for v in reached if v <= asked * (1 + ROUNDING)]
    if step < 0:
        # Where none holds it surely, the surest passes are what is planned: looser is beyond them.
        looser = [v for v in reached if v > max(asked, min(reached)) * (1 + ROUNDING)]
        return min(looser) if looser else None
    if not meets:
        return None
    now = meets[0]
    tighter = [v for v in reached if v < now * (1 - ROUNDING)]
    return max(tighter) if tighter else None


def names(contour_ids: Sequence[str], *, of: str = "contours") -> str:
    """Return ids as a list in words, a long one shortened.

    >>> names(["H1"]), names(["H1", "H2", "H7"])
    ('H1', 'H1, H2 and H7')
    """
    if len(contour_ids) > _MOST_NAMES:
        return f"{len(contour_ids)} {of} ({', '.join(contour_ids[:_MOST_NAMES])}, …)"
    *most, last = contour_ids
    return f"{', '.join(most)} and {last}" if most else last


def and_text(words: Iterable[str]) -> str:
    """Return parts of one demand or sentence, joined."""
    return " and ".join(words)


def size_text(value_mm: float) -> str:
    """Return a size in both unit systems."""
    return f"{value_mm:g} mm ({value_mm / MM_PER_INCH:.4f} in)"


def wire_text(wire: Wire) -> str:
    """Return diameter and kind of a wire: ``"0.25 mm (0.0098 in) hard brass"``."""
    return f"{size_text(wire.diameter_mm)} {wire.name}"
