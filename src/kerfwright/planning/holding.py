"""Tabs: how wide a bridge must be to hold a piece against its weight and the flushing."""

from __future__ import annotations

import math
from dataclasses import dataclass

from kerfwright.foundation.tolerances import TINY
from kerfwright.planning.rules import PlanningRules

GRAVITY_M_PER_S2 = 9.80665
"""Standard gravity (3rd CGPM, 1901)."""
_SHEAR_OF_YIELD = 1 / math.sqrt(3)
"""Shear yield over tensile yield after von Mises."""
_PARABOLIC_SHEAR = 1.5
"""Largest over mean shear stress in a rectangular section."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TabSize:
    """A tab's width and what it was sized for.

    Attributes
    ----------
    width_mm : float
    weight_n, flushing_n : float
    safety : float
        Factor on yield kept in the worst of bending, shear and torsion.
    is_limited : bool
        Whether the width was cut down to the largest share of the perimeter, so that the
        safety falls short of the rule.
    """

    width_mm: float
    weight_n: float
    flushing_n: float
    safety: float
    is_limited: bool


def flushing_force_n(area_mm2: float, *, rules: PlanningRules) -> float:
    """Return the push of the flushing on a free piece, N: pressure on the nozzle's face."""
    face = min(area_mm2, math.pi / 4 * rules.nozzle_diameter_mm**2)
    return rules.flushing_pressure_mpa * face


def torsion_factor(long_over_short: float) -> float:
    """Return k of tau = T / (k long short²) for a rectangular bar in torsion.

    Parameters
    ----------
    long_over_short : float
        Ratio of the sides, at least 1.

    References
    ----------
    Roark's Formulas for Stress and Strain, solid rectangular section (from memory):
    tau = 3 T / (8 a b²) [1 + 0.6095 r + 0.8865 r² − 1.8023 r³ + 0.9100 r⁴] with half sides
    a ≥ b and r = b / a.

    Examples
    --------
    >>> round(torsion_factor(1.0), 3)
    0.208
    >>> round(torsion_factor(10.0), 3)
    0.313
    """
    r = 1.0 / long_over_short
    series = 1 + 0.6095 * r + 0.8865 * r**2 - 1.8023 * r**3 + 0.9100 * r**4
    return 1.0 / (3.0 * series)


def tab_safety(
    width_mm: float,
    *,
    height_mm: float,
    load_n: float,
    arm_mm: float,
    side_mm: float,
    yield_mpa: float,
) -> float:
    """Return the least safety on yield of a tab in bending, shear and torsion.

    The tab is a rectangle `width_mm` × `height_mm` at the wall.  The load acts along the wire
    at the piece's centroid, `arm_mm` away square to the wall (bending, section modulus
    w h² / 6) and `side_mm` along it (torsion, :func:`torsion_factor`).

    References
    ----------
    Elementary beam theory.
    """
    bending = load_n * arm_mm / (width_mm * height_mm**2 / 6)
    short, long = sorted((width_mm, height_mm))
    shear = _PARABOLIC_SHEAR * load_n / (width_mm * height_mm)
    shear += load_n * side_mm / (torsion_factor(long / short) * long * short**2)
    return min(yield_mpa / max(bending, TINY), yield_mpa * _SHEAR_OF_YIELD / max(shear, TINY))


def size_tab(
    *,
    height_mm: float,
    mass_kg: float,
    area_mm2: float,
    perimeter_mm: float,
    arm_mm: float,
    side_mm: float,
    yield_mpa: float,
    rules: PlanningRules,
    asked_mm: float | None = None,
) -> TabSize:
    """Return the narrowest tab that keeps the rule's safety, or one as wide as asked.

    Weight and flushing are added, the worst case of a downward jet.  The width is never below
    the trade's smallest (or a tenth of the perimeter of a small opening) and never above the
    largest share of the perimeter.

    Parameters
    ----------
    height_mm, perimeter_mm : float
    mass_kg, area_mm2 : float
        Of the piece that is held.
    arm_mm, side_mm : float
        From the tab to the piece's centroid, square to the wall and along it.
    yield_mpa : float
        Yield strength; for brittle materials the bending strength.
    rules : PlanningRules
    asked_mm : float or None
        Width that a person chose.
    """
    weight = mass_kg * GRAVITY_M_PER_S2
    flushing = flushing_force_n(area_mm2, rules=rules)
    largest = rules.tab_max_share * perimeter_mm
    smallest = min(rules.tab_min_mm, largest)

    def safety(width_mm: float) -> float:
        return tab_safety(
            width_mm,
            height_mm=height_mm,
            load_n=weight + flushing,
            arm_mm=arm_mm,
            side_mm=side_mm,
            yield_mpa=yield_mpa,
        )

    width = smallest if asked_mm is None else asked_mm
    if asked_mm is None and safety(width) < rules.tab_safety:
        low, high = smallest, largest
        # Safety grows with width; twenty halvings of a tenth of a perimeter are below 1 µm.
        for _ in range(20):
            middle = (low + high) / 2
            low, high = (low, middle) if safety(middle) >= rules.tab_safety else (middle, high)
        width = high
    reached = safety(width)
    return TabSize(
        width_mm=width,
        weight_n=weight,
        flushing_n=flushing,
        safety=reached,
        is_limited=reached < rules.tab_safety,
    )
