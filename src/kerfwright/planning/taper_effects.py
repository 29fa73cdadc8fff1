"""What an angle does to rate, breaks and attainable tolerance.

Figures are those of ``planning.toml``, common practice; between two angles they are interpolated.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.foundation.zones import zone_asked, zone_held
from kerfwright.planning.plan import Plan
from kerfwright.planning.rules import PlanningRules
from kerfwright.process.technology import Curve

_UM = 1000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class TaperEffect:
    """What one angle does.

    Attributes
    ----------
    rate_factor : float
        On the feed of every pass: water leaves a leaning kerf at the side.
    breaks_factor : float
        On the breaks an hour.
    wall_um : float
        How far the wall may lie off at the far end of the work, from the angle alone.
    """

    rate_factor: float
    breaks_factor: float
    wall_um: float


def taper_effect(angle_deg: float, *, height_mm: float, rules: PlanningRules) -> TaperEffect:
    """Return what an angle does to a cut.

    The wall is off by ``H (tan(α + Δα) − tan α)`` at the far end, Δα being the angular error of a
    wire that is stiff against its guides.

    Parameters
    ----------
    angle_deg : float
    height_mm : float
    rules : PlanningRules
    """
    error = np.interp(angle_deg, *_columns(rules.taper_error_above_deg))
    off = math.tan(math.radians(angle_deg + float(error))) - math.tan(math.radians(angle_deg))
    return TaperEffect(
        rate_factor=float(np.interp(angle_deg, *_columns(rules.taper_rate_above_deg))),
        breaks_factor=float(np.interp(angle_deg, *_columns(rules.taper_breaks_above_deg))),
        wall_um=height_mm * off * _UM,
    )


def _columns(curve: Curve) -> tuple[list[float], list[float]]:
    return [x for x, _ in curve], [y for _, y in curve]


def taper_findings(
    contour_id: str, angle_deg: float, effect: TaperEffect, plan: Plan, *, rules: PlanningRules
) -> Iterator[Finding]:
    """Yield what the angle of a contour asks of wire and tolerance.

    Parameters
    ----------
    contour_id : str
    angle_deg : float
    effect : TaperEffect
    plan : Plan
    rules : PlanningRules
    """
    where = Place(contour_id=contour_id)
    if angle_deg > rules.taper_soft_wire_deg:
        yield Finding(
            code="soft-wire-advised",
            severity=Severity.WARNING,
            message=f"the wire leans by {angle_deg:.2f}° along contour {contour_id}; above "
            f"{rules.taper_soft_wire_deg:g}° a hard wire bends at the guides instead of following",
            where=where,
            remedy="take a soft wire and guides for wide angles",
            data={"lean_deg": angle_deg},
        )
    asked = plan.requirement.demand_on(contour_id).tolerance_um
    if asked is not None and effect.wall_um > asked:
        yield Finding(
            code="taper-angle-error",
            severity=Severity.WARNING,
            message=f"at {angle_deg:.2f}° the wire may lie so far off its angle that the wall of "
            f"contour {contour_id} is {zone_held(effect.wall_um)} off at the far end; "
            f"±{zone_asked(asked)} are asked",
            where=where,
            remedy="measure a trial cut and correct the angle, or allow more away from the "
            "reference height",
            data={"wall_um": effect.wall_um, "asked_um": asked},
        )
