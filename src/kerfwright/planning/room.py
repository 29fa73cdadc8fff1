"""Room in a contour for a start hole and for other wires, and remedies that hold there."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

from kerfwright.foundation.findings import Finding
from kerfwright.foundation.sizes import both_sizes
from kerfwright.geometry.regions import largest_inscribed_circle
from kerfwright.planning.rules import PlanningRules
from kerfwright.planning.unroughed import SLOT_NOT_ROUGHED
from kerfwright.process.small_hole import reach_mm
from kerfwright.process.technology import PassChoice, Technology
from kerfwright.trade.material import Wire
from kerfwright.trade.part import PartContour, Role
from kerfwright.trade.requirement import Requirement

_SHOWN_PER_MM = 100
_ROUNDING = 1e-9
_ROUND = 1.2
"""Length over width up to which an opening may be a drilled hole."""


def smallest_start_mm(
    requirement: Requirement, *, rules: PlanningRules, wire_mm: float | None = None
) -> float:
    """Return the diameter of the smallest start hole for a wire, mm.

    Parameters
    ----------
    requirement : Requirement
    rules : PlanningRules
    wire_mm : float, optional
        Without it, the thinnest wire that the machine guides.
    """
    machine = requirement.machine
    thinnest = min(machine.wire_diameters_mm) if wire_mm is None else wire_mm
    return max(machine.min_start_hole_mm, thinnest + rules.threading_clearance_mm)


def start_room_mm(
    requirement: Requirement,
    *,
    technology: Technology,
    rules: PlanningRules,
    wire_mm: float | None = None,
) -> float:
    """Return the radius of the free circle that the smallest start hole needs, mm.

    With its wide mouth, its wander over the height, and clearance to the wall.

    Parameters
    ----------
    requirement : Requirement
    technology : Technology
    rules : PlanningRules
    wire_mm : float, optional
        See :func:`smallest_start_mm`.
    """
    smallest = smallest_start_mm(requirement, rules=rules, wire_mm=wire_mm)
    reach = reach_mm(requirement.height_mm, diameter_mm=smallest, law=technology.small_hole)
    return reach + rules.tight_wall_clearance_mm


def has_room(target: PartContour, needed_mm: float) -> bool:
    """Return whether a free circle of a radius, drilled true, fits inside an opening.

    Parameters
    ----------
    target : PartContour
        An outline has its room outside.
    needed_mm : float
    """
    if target.role is Role.OUTLINE:
        return True
    x0, y0, x1, y1 = target.contour.bounds_mm
    if min(x1 - x0, y1 - y0) < 2 * needed_mm:
        return False
    _, _, radius = largest_inscribed_circle(target.contour, within_mm=needed_mm / 10)
    return radius >= 0.9 * needed_mm


def _at_least(size_mm: float) -> str:
    """Return a size in both units, rounded up: less would not do."""
    return both_sizes(math.ceil(size_mm * _SHOWN_PER_MM - _ROUNDING) / _SHOWN_PER_MM)


def with_true_remedy(
    refusal: Finding,
    target: PartContour,
    choice: PassChoice,
    *,
    has_start: Callable[[Wire | None], bool],
    thinner: Sequence[Wire],
    kerf_mm: Callable[[Wire], float | None],
    fits_in_fewer: Callable[[float], bool],
) -> Finding:
    """Return the refusal of a contour too narrow for the wire, its remedy held against the job.

    A thinner wire is named only where it gets round and its start hole fits, fewer skims only
    where there are any and a start hole fits.

    Parameters
    ----------
    refusal : Finding
        Code ``slot-below-kerf`` or ``slot-not-roughed``.
    target : PartContour
    choice : PassChoice
    has_start : callable
        Whether a start hole for a wire is given or fits; for None, one for the thinnest wire of
        the machine.
    thinner : sequence of Wire
        That the machine guides, the thickest first.
    kerf_mm : callable
        Width that a wire needs for its rough pass; None where it does not get round the contour in
        every pass.
    fits_in_fewer : callable
        Whether fewer passes rough a dead end of a width in mm.
    """
    is_dead_end = refusal.code == SLOT_NOT_ROUGHED
    widen = f"Widen it to more than {_at_least(float(refusal.data['needed_mm']))}"
    widen += ", end it where it is narrower" if is_dead_end else ""
    x0, y0, x1, y1 = target.contour.bounds_mm
    width, length = sorted((x1 - x0, y1 - y0))
    drill = "; a round hole this small can be drilled with a tube electrode"
    drilled = drill if length <= _ROUND * width else ""
    if not has_start(None):
        return replace(
            refusal,
            remedy=f"{widen}, with room for a start hole: none fits now, so that a thinner wire "
            f"does not help{drilled}.",
        )
    others = []
    for wire in thinner:
        needs_mm = kerf_mm(wire) if has_start(wire) else None
        if needs_mm is not None:
            kerf = f", whose rough pass needs {_at_least(needs_mm)}" if is_dead_end else ""
            others.append(f"ask for a wire of {both_sizes(wire.diameter_mm)}{kerf}")
            break
    data = dict(refusal.data)
    is_fewer = len(choice.passes) > 1
    if is_dead_end:
        is_fewer = fits_in_fewer(float(refusal.data["width_mm"]))
        data["fewer_passes"] = float(is_fewer)
    if is_fewer:
        others.append("ask for fewer skim passes")
    remedy = f"{', or '.join([widen, *others])}{drilled}."
    return replace(refusal, remedy=remedy, data=data)
