"""Why the numbers of a plan are what they are; built when asked, so that planning stays quick."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Final

from kerfwright.foundation.answers import Answer
from kerfwright.foundation.sources import Reason, Source, SourceTag
from kerfwright.planning.coreless_answers import coreless_answers
from kerfwright.planning.feeds_of_program import of_the_table, program_feed_answers
from kerfwright.planning.piece_answers import piece_answers
from kerfwright.planning.plan import ContourPlan, Plan, StartKind
from kerfwright.planning.split_answers import split_answers
from kerfwright.planning.wire_answers import (
    flushing_answers,
    lean_answers,
    wire_answers,
)
from kerfwright.process.hole_taper import closing_finding
from kerfwright.process.shape_ranges import shape_ranges
from kerfwright.process.small_hole import predict_hole, wander_mm
from kerfwright.process.technology import Pass, Technology
from kerfwright.process.wire_physics import WirePhysics

_DRAWING: Final = Source(tag=SourceTag.READ, citation="the drawing")
_COMPUTED: Final = Source(tag=SourceTag.COMPUTED)

_PASS_NAMES: Final = {
    "rough_feed_mm_per_min": "feed",
    "skim_feed_mm_per_min": "feed",
    "feed_mm_per_min": "feed",
    "offset_mm": "offset",
    "gap_um": "gap",
    "stock_um": "stock",
    "ra_um": "roughness Ra",
    "recast_um": "recast",
    "tolerance_um": "tolerance held",
    "size_error_um": "size error",
    "spark_energy_mj": "spark energy",
    "push_n_per_m": "push on the wire",
    "lag_um": "wire lag",
    "barrel_um": "barrel",
}
"""Plain words for the quantities of a pass."""
_ALSO: Final = {
    "ra_um": "finish",
    "lag_um": "bow",
    "recast_um": "layer",
    "feed_mm_per_min": "rate",
    "tolerance_um": "holds",
    "size_error_um": "wall off by",
}
"""Other words that people use for them."""
_PLACES: Final = dict.fromkeys(("spark_energy_mj", "lag_um", "barrel_um"), "plan/wire_states")
"""Rows that hold a figure of a pass, where it does not stand in the passes."""
_OF_CONTOUR: Final = {
    "offset_mm": "offsets_mm",
    "feed_mm_per_min": "feeds_mm_per_min",
    "stock_um": "stock_um",
}
"""Figures of a pass that contours may have of their own, and their lists in the plan."""
_FEEDS: Final = ("rough_feed_mm_per_min", "skim_feed_mm_per_min")
_HOLE_NAMES: Final = {
    "drilling_min": "start hole drilling time",
    "tube_used_mm": "start hole tube used",
    "overcut_mm": "start hole overcut",
    "diameter_mm": "start hole size drilled",
    "entry_diameter_mm": "start hole mouth",
    "exit_diameter_mm": "start hole exit",
    "wander_mm": "start hole wander",
    "recast_um": "start hole recast",
}


def plan_answers(
    plan: Plan, *, technology: Technology, physics: WirePhysics | None = None
) -> tuple[Answer, ...]:
    """Return why every number of a plan has its value.

    Parameters
    ----------
    plan : Plan
    technology : Technology
        The tables that the plan was made with.
    physics : WirePhysics, optional
        For push, lag and barrel; without it they are left out.
    """
    return (
        *(
            replace(a, reason=of_the_table(plan, a.reason, pass_number=p.number))
            if a.path and a.reason.quantity in _FEEDS
            else a
            for p in plan.passes
            for a in pass_answers(p)
        ),
        *_shape_answers(plan, physics),
        *wire_answers(plan),
        *_every_contour(plan, technology, physics),
        *split_answers(plan),
    )


def pass_answers(one: Pass) -> Iterator[Answer]:
    """Return the answers on a pass; where cuts or the set-up moved a figure, that comes last.

    Parameters
    ----------
    one : Pass
    """
    last = {_field(r): r for r in one.reasons}
    for reason in one.reasons:
        field = _field(reason)
        is_last = last[field] is reason
        name = _PASS_NAMES.get(reason.quantity, reason.quantity)
        moved = "by the shop's cuts" if reason.source.tag is SourceTag.SHOP else "of the tables"
        yield Answer(
            about=f"pass {one.number}",
            name=name if is_last else f"{name} {moved}",
            path=f"{_PLACES.get(field, 'plan/passes')}/{one.number}/{field}" if is_last else "",
            reason=reason,
            also=f"{_ALSO.get(field, '')} {'rough' if one.is_rough else 'skim'}",
        )


def _field(reason: Reason) -> str:
    return "feed_mm_per_min" if reason.quantity in _FEEDS else reason.quantity


def _shape_answers(plan: Plan, physics: WirePhysics | None) -> Iterator[Answer]:
    if physics is None:
        return
    found = shape_ranges(
        plan.passes,
        wire=plan.choice.wire,
        height_mm=plan.height_mm,
        physics=physics.with_nozzles_off(plan.rules.nozzles_off_mm),
    )
    for one in found:
        for reason in one.reasons:
            yield Answer(
                about=f"pass {one.shape.pass_number}",
                name=_PASS_NAMES[reason.quantity],
                path=f"{_PLACES[reason.quantity]}/{one.shape.pass_number}/{reason.quantity}"
                if reason.quantity in _PLACES
                else "",
                reason=reason,
                also=_ALSO.get(reason.quantity, ""),
            )


def _every_contour(
    plan: Plan, technology: Technology, physics: WirePhysics | None
) -> Iterator[Answer]:
    """Return the answers on each contour; what is the same for many is worked out once."""
    have_own = plan.has_own_passes
    drilled = {c.start.diameter_mm for c in plan.contours if c.start.kind is StartKind.DRILLED}
    holes = {
        diameter_mm: predict_hole(
            plan.height_mm,
            diameter_mm=diameter_mm,
            material=plan.requirement.material,
            law=technology.small_hole,
        ).reasons
        for diameter_mm in drilled
        # Of one that closes before the far side nothing can be told.
        if closing_finding(
            plan.height_mm,
            diameter_mm=diameter_mm,
            taper_mm_per_mm=technology.small_hole.taper_mm_per_mm,
        )
        is None
    }
    for contour in plan.contours:
        if have_own:
            yield from _own_offsets(contour)
        yield from _contour_answers(plan, contour, technology, holes)
        exponent = technology.flushing.debris.rate_exponent
        material = plan.requirement.material
        yield from flushing_answers(
            contour, material=material, physics=physics, rate_exponent=exponent
        )
    for contour in plan.walls:
        yield from lean_answers(contour)
        yield from program_feed_answers(contour)


def _contour_answers(
    plan: Plan,
    contour: ContourPlan,
    technology: Technology,
    holes: Mapping[float, tuple[Reason, ...]],
) -> Iterator[Answer]:
    yield from _start(plan, contour, technology)
    if contour.start.kind is StartKind.DRILLED:
        for reason in holes.get(contour.start.diameter_mm, ()):
            name = _HOLE_NAMES[reason.quantity]
            yield Answer(about=contour.target.id, name=name, path="", reason=reason)
    yield from piece_answers(plan, contour)
    yield from coreless_answers(plan, contour)
    yield from _flushing(plan, contour, technology)


def _own_offsets(contour: ContourPlan) -> Iterator[Answer]:
    """Return offsets, feeds and stock of a contour, where contours differ in them."""
    place = f"plan/contour_passes/{contour.target.id}"
    for index, one in enumerate(contour.passes):
        last = {_field(r): r for r in one.reasons}
        for field, values in _OF_CONTOUR.items():
            yield Answer(
                about=contour.target.id,
                name=f"pass {one.number} {_PASS_NAMES[field]}",
                path=f"{place}/{values}/{index}",
                reason=last[field],
            )


def _start(plan: Plan, contour: ContourPlan, technology: Technology) -> Iterator[Answer]:
    start = contour.start
    place = f"plan/start_holes/{contour.target.id}"
    position = _position(plan, contour, technology)
    for axis, value in (("x", start.x_mm), ("y", start.y_mm)):
        yield Answer(
            about=contour.target.id,
            name=f"start position {axis}",
            path=f"{place}/{axis}_mm",
            reason=_with(position, quantity=f"{axis}_mm", value=value),
        )
    yield Answer(
        about=contour.target.id,
        name="start hole diameter",
        path=f"{place}/diameter_mm",
        reason=_diameter(plan, contour),
    )
    yield Answer(
        about=contour.target.id,
        name="start clearance",
        path=f"{place}/clearance_mm",
        reason=_clearance(plan, contour),
    )


def _with(reason: Reason, *, quantity: str, value: float) -> Reason:
    return Reason(
        quantity=quantity,
        value=value,
        formula=reason.formula,
        inputs=reason.inputs,
        source=reason.source,
    )


_NO_HOLE = {
    StartKind.EDGE: "no hole: the wire comes in from the edge",
    StartKind.CHANNEL: "no hole: the wire comes from the part before",
}


def _position(plan: Plan, contour: ContourPlan, technology: Technology) -> Reason:
    start, law = contour.start, technology.small_hole
    lead = ("lead_station_mm", contour.lead_station_mm)
    if start.kind is StartKind.GIVEN:
        return Reason(quantity="", value=0.0, formula="as drawn", inputs=(lead,), source=_DRAWING)
    if start.kind is StartKind.EDGE:
        return Reason(
            quantity="",
            value=0.0,
            formula="square off the wall at the lead-in, to beyond the edge of the stock",
            inputs=(lead, ("beyond_edge_mm", plan.rules.stock_edge_clearance_mm)),
            source=plan.rules.sources["stock_edge_clearance_mm"],
        )
    if start.kind is StartKind.CHANNEL:
        return Reason(
            quantity="",
            value=0.0,
            formula="square off the wall at the lead-in by three rough offsets, or two for want of "
            "room: a channel from the part before ends there",
            inputs=(lead, ("rough_offset_mm", contour.passes[0].offset_mm)),
            source=_COMPUTED,
        )
    drift = wander_mm(plan.height_mm, diameter_mm=start.diameter_mm, law=law)
    return Reason(
        quantity="",
        value=0.0,
        formula="from the wall at the lead-in square into the waste by D/2 + e + w(D) H + c, on "
        "the longest straight span that is clear; or where the drawing asks for a hole",
        inputs=(
            lead,
            ("D_mm", start.diameter_mm),
            ("mouth e_mm", law.entry_growth_mm),
            ("drift w(D) H_mm", drift),
            ("clearance c_mm", start.clearance_mm),
        ),
        source=plan.rules.sources["wall_clearance_mm"],
    )


def _diameter(plan: Plan, contour: ContourPlan) -> Reason:
    start, rules, machine = contour.start, plan.rules, plan.requirement.machine
    if start.kind is not StartKind.DRILLED:
        given = start.kind is StartKind.GIVEN
        return Reason(
            quantity="diameter_mm",
            value=start.diameter_mm,
            formula="as drawn" if given else _NO_HOLE[start.kind],
            inputs=(),
            source=_DRAWING if given else _COMPUTED,
        )
    return Reason(
        quantity="diameter_mm",
        value=start.diameter_mm,
        formula="the largest tube in stock that is not above the usual hole for the height and "
        "fits; at least wire + threading clearance and the machine's least",
        inputs=(
            ("usual_mm", rules.preferred_hole_mm(plan.height_mm)),
            ("wire_mm", plan.choice.wire.diameter_mm),
            ("threading_clearance_mm", rules.threading_clearance_mm),
            ("machine_least_mm", machine.min_start_hole_mm),
        ),
        source=rules.sources["preferred_hole_above_mm"],
    )


def _clearance(plan: Plan, contour: ContourPlan) -> Reason:
    start, rules = contour.start, plan.rules
    drilled = start.kind is StartKind.DRILLED
    return Reason(
        quantity="clearance_mm",
        value=start.clearance_mm,
        formula="the usual clearance beyond mouth and drift, or the tight one for want of room"
        if drilled
        else "from the edge of the hole, or the start at the edge, to the nearest finished wall",
        inputs=(
            ("usual_mm", rules.wall_clearance_mm),
            ("tight_mm", rules.tight_wall_clearance_mm),
        )
        if drilled
        else (),
        source=rules.sources["wall_clearance_mm"] if drilled else _COMPUTED,
    )


def _flushing(plan: Plan, contour: ContourPlan, technology: Technology) -> Iterator[Answer]:
    state = contour.flushing
    place = f"plan/flushing/{contour.target.id}"
    yield Answer(
        about=contour.target.id,
        name="flushing edge share",
        path=f"{place}/edge_share",
        reason=Reason(
            quantity="edge_share",
            value=state.edge_share,
            formula="share of the rough path in stretches nearer to the edge of the stock than a "
            "nozzle's mouth, none shorter than the least",
            inputs=(
                ("mouth_radius_mm", technology.flushing.nozzle.mouth_radius_mm),
                ("stretches", len(state.beside)),
                ("least_mm", plan.rules.shortest_feed_stretch_mm),
            ),
            source=_COMPUTED,
        ),
    )
