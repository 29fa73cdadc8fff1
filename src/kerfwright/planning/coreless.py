"""Whether the inside of an opening is cut away whole, loop by loop, so that no slug is left."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

import numpy as np

from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.foundation.sizes import both_sizes
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.nested_loops import NestedLoop, Pitch, nested_loops
from kerfwright.geometry.regions import contains_points
from kerfwright.planning.coreless_loops import Coreless, CorelessWhy
from kerfwright.planning.flushing_state import FlushingState
from kerfwright.planning.memory import Memory
from kerfwright.planning.plan import RoughAttendance, Slug, Start, StartKind
from kerfwright.planning.rules import PlanningRules
from kerfwright.planning.wires import Paths
from kerfwright.process.small_hole import wander_mm
from kerfwright.process.technology import PassChoice, SmallHoleLaw
from kerfwright.trade.coreless import CorelessWish
from kerfwright.trade.machine import OffsetForm
from kerfwright.trade.part import PartContour, Role
from kerfwright.trade.placement import Placement
from kerfwright.trade.requirement import Requirement


def decide_coreless(
    path: Paths,
    choice: PassChoice,
    piece: Slug,
    *,
    start: Start,
    attendance: RoughAttendance,
    flushing: FlushingState,
    contours: Sequence[PartContour],
    requirement: Requirement,
    drilling: SmallHoleLaw,
    rules: PlanningRules,
    memory: Memory,
    alike: tuple[Contour, tuple[float, float]] | None = None,
) -> tuple[Coreless | None, list[Finding]]:
    """Return how the inside of an opening is cut away, or None for a slug, and what to say.

    Parameters
    ----------
    path : Paths
    choice : PassChoice
        Of the contour.
    piece : Slug
        What would come free.
    start : Start
    attendance : RoughAttendance
        Why someone would have to be there while a slug is roughed.
    flushing : FlushingState
        Of the rough cut.
    contours : sequence of PartContour
        All of the drawing.
    requirement : Requirement
    drilling : SmallHoleLaw
    rules : PlanningRules
    memory : Memory
        Where loops of openings that are alike are kept.
    alike : (Contour, (float, float)) or None
        Path of the rough pass in the first of the openings that are alike, and how far this one
        is from there.
    """
    target = path.target
    if target.role is not Role.OPENING:
        return None, []
    wish = requirement.coreless_on(target.id)
    wish = _with_tab(wish, requirement.placement_of(target.id))
    limit = rules.coreless_width_mm(requirement.height_mm, wire_mm=choice.wire.diameter_mm)
    why = _why(wish, piece, attendance, limit_mm=limit, rules=rules)
    if why is None:
        return None, _too_large(target, wish, piece, rules)
    hindrance = _hindrance(path.loops[0].contour, target, start, flushing, contours, requirement)
    if hindrance:
        return None, [_not_possible(target, hindrance)] if why is CorelessWhy.ASKED else []
    loop, by_mm = (path.loops[0].contour, (0.0, 0.0)) if alike is None else alike
    kerf_radius = choice.wire.radius_mm + choice.passes[0].gap_um / 1000
    pitch = Pitch.of_kerf(
        kerf_radius,
        overlap_share=rules.coreless_overlap_share,
        least_share=rules.coreless_least_overlap_share,
    )
    return (
        Coreless(
            why=why,
            slug_width_mm=piece.smallest_width_mm,
            limit_mm=_limit_of(why, limit, rules),
            loops=loops_of(loop, pitch, memory, by_mm=by_mm),
            kerf_mm=2 * kerf_radius,
            pitch_mm=pitch.wide_mm,
            most_feed_factor=rules.coreless_feed_most,
            sure_hole_mm=_sure_hole_mm(start, requirement, drilling),
        ),
        [],
    )


def goes_if_parted(
    target: PartContour,
    piece: Slug,
    placement: Placement,
    *,
    choice: PassChoice,
    requirement: Requirement,
    rules: PlanningRules,
) -> bool:
    """Return whether a slug that the start would part is cut away whole instead.

    Parameters
    ----------
    target : PartContour
    piece : Slug
    placement : Placement
        What a person placed.
    choice : PassChoice
    requirement : Requirement
    rules : PlanningRules
    """
    wish = requirement.coreless_on(target.id)
    wish = _with_tab(wish, placement)
    limit = rules.coreless_width_mm(requirement.height_mm, wire_mm=choice.wire.diameter_mm)
    parted = RoughAttendance.PIECES_COME_FREE
    return _why(wish, piece, parted, limit_mm=limit, rules=rules) is not None


def _with_tab(wish: CorelessWish, placement: Placement) -> CorelessWish:
    """Return what is wished where a person placed a tab, or none."""
    if placement.tab_mm is None and placement.tab_width_mm is None:
        return wish
    # Who places a tab wants a slug, unless the loops are asked for as well.
    return wish if wish is CorelessWish.ALWAYS else CorelessWish.NEVER


def _limit_of(why: CorelessWhy, for_height_mm: float, rules: PlanningRules) -> float:
    """Return the width of slug that was compared with."""
    if why is CorelessWhy.UNATTENDED:
        return rules.coreless_unattended_mm
    return rules.small_slug_mm if why is CorelessWhy.PARTED else for_height_mm


def _sure_hole_mm(start: Start, requirement: Requirement, drilling: SmallHoleLaw) -> float:
    """Return the radius about a start within which there is a hole at every height."""
    wander = wander_mm(requirement.height_mm, diameter_mm=start.diameter_mm, law=drilling)
    return max(start.diameter_mm / 2 - wander, 0.0)


def _why(
    wish: CorelessWish,
    piece: Slug,
    attendance: RoughAttendance,
    *,
    limit_mm: float,
    rules: PlanningRules,
) -> CorelessWhy | None:
    width = piece.smallest_width_mm
    if wish is CorelessWish.NEVER:
        return None
    if wish is CorelessWish.ALWAYS:
        return CorelessWhy.ASKED
    if width < limit_mm:
        return CorelessWhy.TOO_SMALL
    if attendance is RoughAttendance.PIECES_COME_FREE and width < rules.small_slug_mm:
        return CorelessWhy.PARTED
    if wish is CorelessWish.UNATTENDED and width < rules.coreless_unattended_mm:
        return CorelessWhy.UNATTENDED
    return None


def _hindrance(
    loop: Contour,
    target: PartContour,
    start: Start,
    flushing: FlushingState,
    contours: Sequence[PartContour],
    requirement: Requirement,
) -> str:
    """Return what stands against cutting the inside away, in words; empty if nothing does."""
    inside = [c.id for c in contours if c.parent_id == target.id]
    if inside:
        return f"{', '.join(inside)} lies inside it"
    if target.id in requirement.walls:
        return "its wall leans; the loops are worked out for an upright wire only"
    if requirement.machine.dialect.offset_form is OffsetForm.CONTROLLER:
        return (
            "the control applies the offset, and loops away from the wall need the path of the "
            "wire centre"
        )
    if start.kind is StartKind.EDGE:
        return "the wire comes in from the edge of the stock"
    if flushing.beside:
        return "the edge of the stock is beside it"
    if not contains_points(loop, np.array([[start.x_mm, start.y_mm]]))[0]:
        return "its start hole lies nearer to the wall than the path of the wire"
    return ""


def loops_of(
    outermost: Contour, pitch: Pitch, memory: Memory, *, by_mm: tuple[float, float] = (0.0, 0.0)
) -> NestedLoop:
    """Return the loops of an opening; of openings that are alike they are worked out once.

    Parameters
    ----------
    outermost : Contour
        Path of the rough pass in the first of the openings that are alike.
    pitch : Pitch
    memory : Memory
    by_mm : (float, float)
        From there to the opening.
    """
    make = partial(nested_loops, outermost, pitch=pitch)
    kept = memory.shapes.once(make, "loops", pitch, outermost)
    return kept if by_mm == (0.0, 0.0) else kept.moved(by_mm)


def _not_possible(target: PartContour, hindrance: str) -> Finding:
    return Finding(
        code="coreless-not-possible",
        severity=Severity.WARNING,
        message=f"The inside of {target.id} cannot be cut away whole: {hindrance}. It keeps its "
        "slug.",
        where=Place(contour_id=target.id),
        remedy="Plan for somebody to take the slug out, or remove what stands against it.",
    )


def _too_large(
    target: PartContour, wish: CorelessWish, piece: Slug, rules: PlanningRules
) -> list[Finding]:
    if wish is not CorelessWish.UNATTENDED:
        return []
    width, most = piece.smallest_width_mm, rules.coreless_unattended_mm
    return [
        Finding(
            code="coreless-too-large",
            severity=Severity.NOTE,
            message=f"{target.id} keeps its slug and somebody is there for it: the slug is "
            f"{both_sizes(width)} wide; up to {both_sizes(most)} the inside is cut away "
            "unattended.",
            where=Place(contour_id=target.id),
            remedy=f'Ask for it by name, --coreless "{target.id}: always", and look at the time.',
            data={"slug_width_mm": width, "limit_mm": most},
        )
    ]
