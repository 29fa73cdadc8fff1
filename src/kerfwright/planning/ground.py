"""What decides whether a start, a lead-in or a tab may stand at a place of one contour."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

from kerfwright.geometry.contour import Contour
from kerfwright.planning.alike import alike_of
from kerfwright.planning.clamps import clamps_of
from kerfwright.planning.coreless import goes_if_parted
from kerfwright.planning.holding import TabSize
from kerfwright.planning.limits import Ground
from kerfwright.planning.memory import Memory
from kerfwright.planning.pieces import piece_of
from kerfwright.planning.plan import Plan, Slug
from kerfwright.planning.rules import PlanningRules
from kerfwright.planning.starts import Walls, share_out_given
from kerfwright.planning.tabs import size_tab_at
from kerfwright.planning.wires import Paths, paths_of
from kerfwright.process.choice import JobPasses
from kerfwright.process.technology import PassChoice, Technology
from kerfwright.trade.machine import OffsetForm
from kerfwright.trade.part import GivenStart, Part
from kerfwright.trade.requirement import Requirement


def ground_of(
    path: Paths,
    choice: PassChoice,
    piece: Slug,
    *,
    walls: Walls,
    given: Sequence[GivenStart],
    requirement: Requirement,
    technology: Technology,
    rules: PlanningRules,
) -> Ground:
    """Return the ground of one contour, its passes chosen."""
    wall, rough = path.target.contour, choice.passes[0]
    kerf_radius = choice.wire.radius_mm + rough.gap_um / 1000
    # The arm is not known before the lead-in is: the tab is sized for the longest arm first.
    widest = size_tab_at(wall, piece, requirement, rules, at=None)

    def tab_at(station_mm: float, asked_mm: float | None) -> TabSize:
        return size_tab_at(wall, piece, requirement, rules, at=station_mm, asked_mm=asked_mm)

    goes_parted = partial(
        goes_if_parted, path.target, piece, choice=choice, requirement=requirement, rules=rules
    )
    return Ground(
        target=path.target,
        walls=walls,
        given=given,
        rough_loop=path.loops[0].contour,
        rough_offset_mm=rough.offset_mm,
        kerf_radius_mm=kerf_radius,
        tab_span_mm=widest.width_mm + 2 * kerf_radius,
        tab_at=tab_at,
        height_mm=requirement.height_mm,
        wire_diameter_mm=choice.wire.diameter_mm,
        smallest_hole_mm=requirement.machine.min_start_hole_mm,
        drilling=technology.small_hole,
        rules=rules,
        goes_if_parted=goes_parted,
        leans=path.target.id in requirement.walls,
        has_wall_form=requirement.machine.dialect.offset_form is OffsetForm.CONTROLLER,
    )


def ground_in(plan: Plan, contour_id: str, *, technology: Technology) -> Ground | None:
    """Return the ground of a contour of a plan; None where the wire cannot get round it.

    A contour that the plan leaves out because of where somebody put its start has one all the
    same, so that it can be moved.

    Parameters
    ----------
    plan : Plan
    contour_id : str
    technology : Technology
    """
    passes = JobPasses(most=plan.choice, by_contour={c.target.id: c.choice for c in plan.contours})
    return ground_among(
        plan.part,
        passes,
        contour_id,
        requirement=plan.requirement,
        stock=plan.stock,
        technology=technology,
        rules=plan.rules,
    )


def ground_among(
    part: Part,
    passes: JobPasses,
    contour_id: str,
    *,
    requirement: Requirement,
    stock: Contour | None,
    technology: Technology,
    rules: PlanningRules,
) -> Ground | None:
    """Return the ground of a contour of which only the passes are chosen; None as above.

    Parameters
    ----------
    part : Part
    passes : JobPasses
        Of its contours.
    contour_id : str
    requirement : Requirement
    stock : Contour or None
        Edge of the stock.
    technology : Technology
    rules : PlanningRules
    """
    target = next((c for c in part.to_cut if c.id == contour_id), None)
    if target is None:
        return None
    memory = Memory()
    like = alike_of(part.contours, memory).get(contour_id)
    path = paths_of(target, passes.of(contour_id), memory, like)
    if path.refusal is not None:
        return None
    return ground_of(
        path,
        passes.of(contour_id),
        piece_of(path, contours=part.contours, requirement=requirement, choice=passes),
        walls=Walls(part.contours, stock, clamps_of(part, requirement, rules)),
        given=share_out_given(part.contours, part.given_starts).get(contour_id, ()),
        requirement=requirement,
        technology=technology,
        rules=rules,
    )
