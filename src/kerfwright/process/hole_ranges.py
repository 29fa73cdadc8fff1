"""How sure the figures of a hole by tube electrode are, each with its formula."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Final

from kerfwright.foundation.ranges import Z_10_90, Range
from kerfwright.foundation.sources import Reason, Source
from kerfwright.foundation.spread import Law, Outcome, Uncertain, of_ratio, of_sum
from kerfwright.process.technology import SmallHoleLaw, read_curve
from kerfwright.trade.material import Material

DRILLING_FEED: Final = "drilling feed"
TUBE_WEAR: Final = "wear of the tube"
_SIZE: Final = "size of the hole"
_UM_PER_MM: Final = 1000.0
_SIGMAS_OF_A_TOLERANCE: Final = 2.0
"""Half zones are two standard deviations here as they are for walls."""

_Part = tuple[str, str, Outcome, tuple[tuple[str, float | str], ...], Source]


def size_sigma_mm(law: SmallHoleLaw) -> float:
    """Return the standard deviation of a hole's diameter."""
    return law.tolerance_um / _UM_PER_MM / _SIGMAS_OF_A_TOLERANCE


def hole_reasons(
    depth_mm: float,
    *,
    diameter_mm: float,
    tube_mm: float,
    material: Material,
    law: SmallHoleLaw,
    drilling: Reason,
) -> tuple[Reason, ...]:
    """Return formula, range and shares of every figure of one through hole.

    Parameters
    ----------
    depth_mm, diameter_mm : float
    tube_mm : float
        Diameter of the tube.
    material : Material
    law : SmallHoleLaw
    drilling : Reason
        Of the sparking time.

    Returns
    -------
    tuple of Reason
        ``drilling_min``, ``tube_used_mm``, ``overcut_mm``, ``diameter_mm``,
        ``entry_diameter_mm``, ``exit_diameter_mm``, ``wander_mm`` and ``recast_um``.
    """
    depth = Uncertain(name="depth", value=depth_mm)
    size = Uncertain(name=_SIZE, value=diameter_mm, sigma=size_sigma_mm(law), law=Law.NORMAL)
    parts: tuple[_Part, ...] = (
        _tube(depth, tube_mm=tube_mm, family=material.family, law=law),
        _one(
            "overcut_mm",
            "overcut on one side",
            Uncertain(name="overcut", value=law.overcut_mm, sigma=law.overcut_sigma_log),
            law.sources["overcut_mm"],
        ),
        (
            "diameter_mm",
            "as set up; half the tolerance is the standard deviation",
            of_sum(lambda d: d, (size,)),
            (("D_mm", diameter_mm), ("tolerance_um", law.tolerance_um)),
            law.sources["tolerance_um"],
        ),
        _mouth(size, law=law),
        _exit(size, depth, law=law),
        _wander(depth, diameter_mm=diameter_mm, law=law),
        _recast(material, law=law),
    )
    known = drilling_reason(drilling, law=law)
    return (known, *(_reason(*part) for part in parts))


def drilling_reason(drilling: Reason, *, law: SmallHoleLaw) -> Reason:
    """Return the reason of a drilling time with its range."""
    return replace(
        drilling,
        range=Range.lognormal(drilling.value, sigma_log=law.feed_sigma_log),
        shares=((DRILLING_FEED, 1.0),) if law.feed_sigma_log else (),
    )


def _tube(depth: Uncertain, *, tube_mm: float, family: str, law: SmallHoleLaw) -> _Part:
    # How far the tube goes through is set; only the wear has a spread.
    through = law.breakthrough_diameters * tube_mm
    wear = Uncertain(name=TUBE_WEAR, value=law.wear_ratio[family], sigma=law.wear_sigma_log)
    return (
        "tube_used_mm",
        "k L + b d",
        of_ratio(lambda k: k * depth.value + through, (wear,)),
        (
            ("k", law.wear_ratio[family]),
            ("L_mm", depth.value),
            ("b", law.breakthrough_diameters),
            ("d_mm", tube_mm),
        ),
        law.sources[f"wear_ratio.{family}"],
    )


def _mouth(size: Uncertain, *, law: SmallHoleLaw) -> _Part:
    growth = Uncertain(
        name="widening at the mouth", value=law.entry_growth_mm, sigma=law.entry_sigma_log
    )
    return (
        "entry_diameter_mm",
        "D + 2 e",
        of_sum(lambda d, e: d + 2 * e, (size, growth)),
        (("D_mm", size.value), ("e_mm", law.entry_growth_mm)),
        law.sources["entry_growth_mm"],
    )


def _exit(size: Uncertain, depth: Uncertain, *, law: SmallHoleLaw) -> _Part:
    taper = Uncertain(name="taper", value=law.taper_mm_per_mm, sigma=law.taper_sigma_log)
    return (
        "exit_diameter_mm",
        "D - c L",
        of_sum(lambda d, c, depth_mm: d - c * depth_mm, (size, taper, depth)),
        (("D_mm", size.value), ("c", law.taper_mm_per_mm), ("L_mm", depth.value)),
        law.sources["taper_mm_per_mm"],
    )


def _wander(depth: Uncertain, *, diameter_mm: float, law: SmallHoleLaw) -> _Part:
    drift = read_curve(law.wander_mm_per_mm, diameter_mm)
    return (
        "wander_mm",
        "w(D) L",
        of_ratio(
            lambda w, depth_mm: w * depth_mm,
            (Uncertain(name="drift", value=drift, sigma=law.wander_sigma_log), depth),
        ),
        (("w", drift), ("D_mm", diameter_mm), ("L_mm", depth.value)),
        law.sources["wander_mm_per_mm"],
    )


def _recast(material: Material, *, law: SmallHoleLaw) -> _Part:
    sigma = math.log(law.recast_high_um / law.recast_low_um) / 2 / Z_10_90
    return (
        "recast_um",
        "table value x material factor",
        of_ratio(
            lambda r, f: r * f,
            (
                Uncertain(name="recast of the table", value=law.recast_um, sigma=sigma),
                Uncertain(name="material factor", value=material.recast_factor),
            ),
        ),
        (("table_um", law.recast_um), ("material_factor", material.recast_factor)),
        law.sources["recast_um"],
    )


def _one(quantity: str, formula: str, value: Uncertain, source: Source) -> _Part:
    same: Callable[[float], float] = lambda x: x  # noqa: E731 the identity needs no name
    return quantity, formula, of_ratio(same, (value,)), (("table", value.value),), source


def _reason(
    quantity: str,
    formula: str,
    outcome: Outcome,
    inputs: tuple[tuple[str, float | str], ...],
    source: Source,
) -> Reason:
    return Reason(
        quantity=quantity,
        value=outcome.value,
        formula=formula,
        inputs=inputs,
        source=source,
        range=outcome.range,
        shares=outcome.shares,
    )
