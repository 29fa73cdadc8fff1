"""What is said of a plan of small holes as a whole: travel, and depths that hang on the wear."""

from __future__ import annotations

import math

import numpy as np

from kerfwright.foundation.findings import Finding, Severity
from kerfwright.foundation.ranges import Z_10_90
from kerfwright.foundation.sizes import both_lengths as _size
from kerfwright.geometry.segments import Floats
from kerfwright.planning.hole_plan import HolePlan, PlannedHole
from kerfwright.planning.hole_tubes import wear_range
from kerfwright.process.hole_misses import of_holes
from kerfwright.process.technology import SmallHoleLaw


def frame_findings(plan: HolePlan) -> list[Finding]:
    """Compare the extent of what is drilled with the travel and the height of the machine."""
    machine = plan.work.machine
    at = np.array([p.at_mm for p in plan.holes])
    lowest = min(p.at_mm[2] - p.stroke.feed_way_mm for p in plan.holes)
    highest = max(plan.turning_z_mm, *(p.clear_z_mm for p in plan.holes))
    needs = (
        ("X", float(np.ptp(at[:, 0])), machine.travel_x_mm, _between(plan, at[:, 0])),
        ("Y", float(np.ptp(at[:, 1])), machine.travel_y_mm, _between(plan, at[:, 1])),
        ("Z", highest - lowest, machine.travel_z_mm, ""),
    )
    drilled = [one.hole for one in plan.holes]
    ends = [h.mouth_mm[2] + k * h.into[2] * h.depth_mm for h in drilled for k in (0, 1)]
    tall = max(ends) - min(ends)
    found = []
    if tall > machine.max_height_mm:
        found.append(
            Finding(
                code="height-beyond-machine",
                severity=Severity.REFUSAL,
                message=f"The holes span {_size(tall)} of height; {machine.name} takes "
                f"{_size(machine.max_height_mm)}.",
                remedy="Lay the work another way, or take a larger machine.",
                data={"height_mm": tall, "limit_mm": machine.max_height_mm},
            )
        )
    return found + [
        Finding(
            code="travel-exceeded",
            severity=Severity.REFUSAL,
            message=f"The holes want {_size(need)} of {letter}{which}; {machine.name} has "
            f"{_size(has)}.",
            remedy="Look whether the places are meant; split the job into two settings, or take "
            "a larger machine.",
            data={"needs_mm": need, "limit_mm": has},
        )
        for letter, need, has, which in needs
        if need > has
    ]


def _between(plan: HolePlan, places_mm: Floats) -> str:
    """Say which holes lie farthest apart."""
    first, last = (plan.holes[int(k)].hole.id for k in (places_mm.argmin(), places_mm.argmax()))
    return f", from {first} to {last}"


def wear_notes(plan: HolePlan, law: SmallHoleLaw) -> list[Finding]:
    """Return what the wear of the tube does to the depths of through and of blind holes.

    Parameters
    ----------
    plan : HolePlan
    law : SmallHoleLaw
    """
    through = [p for p in plan.holes if p.hole.is_through]
    blind = [p for p in plan.holes if not p.hole.is_through]
    return [
        *([_through_note(through, plan)] if through else []),
        *([_blind_note(blind, plan, law)] if blind else []),
    ]


def deepening(*, finds_breakthrough: bool) -> str:
    """Return what who drills does where a through hole is not through."""
    stops = (
        "The machine stops by itself where it has broken through, but feeds no further than the "
        "program. "
        if finds_breakthrough
        else ""
    )
    return (
        f"{stops}See that water or light comes through each hole before the work is unclamped; "
        "where it does not, touch off again in the same place and feed by what is missing."
    )


def worst_through(plan: HolePlan) -> PlannedHole | None:
    """Return the through hole that most likely is not through; None without any."""
    through = (p for p in plan.holes if p.hole.is_through)
    return max(through, key=lambda p: p.stroke.not_through_chance, default=None)


def _through_note(through: list[PlannedHole], plan: HolePlan) -> Finding:
    worst = max(through, key=lambda p: p.stroke.not_through_chance)
    chance = worst.stroke.not_through_chance
    return Finding(
        code="through-depth-by-wear",
        severity=Severity.WARNING,
        message=f"{len(through)} through: each is fed for a wear of the tube that nine cases in "
        "ten stay below. In the tenth its whole section is not through, and in "
        f"{of_holes(chance, one='case')} the tube ends before it comes out of hole "
        f"{worst.hole.id}, {_size(worst.hole.depth_mm)} deep. Holes of one job wear alike.",
        remedy=deepening(finds_breakthrough=plan.work.machine.tubes.finds_breakthrough)
        + " Measure the wear and put it into passes.toml.",
        data={"chance": chance, "holes": len(through)},
    )


def _blind_note(blind: list[PlannedHole], plan: HolePlan, law: SmallHoleLaw) -> Finding:
    """Warn of the depth of blind holes, by wear and touch, which do not know each other."""
    wear = wear_range(plan.work.material, law)
    deepest = max(blind, key=lambda p: p.hole.depth_mm)
    depth_mm = deepest.hole.depth_mm
    way = depth_mm * (1 + wear.likely)
    # A half zone is two standard deviations.
    touch = plan.rules.touch_off_mm / 2 * Z_10_90
    low = depth_mm - math.hypot(depth_mm - way / (1 + wear.high), touch)
    high = depth_mm + math.hypot(way / (1 + wear.low) - depth_mm, touch)
    return Finding(
        code="blind-depth-by-wear",
        severity=Severity.WARNING,
        message=f"{len(blind)} blind: the depth hangs on the wear of the tube and on the touch. "
        f"Hole {deepest.hole.id}, {_size(depth_mm)} deep, comes out between "
        f"{_size(low)} and {_size(high)} in eight cases of ten.",
        remedy="Drill one, measure its depth, and put the wear into passes.toml; or touch off "
        "again and deepen.",
        data={"low_mm": low, "high_mm": high},
    )
