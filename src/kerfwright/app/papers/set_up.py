"""The set-up sheet: all that an operator needs at the machine, or why there is nothing to cut."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from kerfwright.app.papers.common import Digests, Heading, heading_of, left_out_ids, refusals
from kerfwright.app.papers.elapsed import Stage, Step, stages_of, steps_of
from kerfwright.app.papers.lands import LandFacts, lands_of
from kerfwright.app.records import JobResult
from kerfwright.app.rough_feeds import RoughFeed, rough_feeds
from kerfwright.costing.rates import HumanMinutes
from kerfwright.costing.records import Consumption, TimeKind
from kerfwright.foundation.findings import Finding, Severity
from kerfwright.foundation.ranges import Range
from kerfwright.nc.reader import read_program
from kerfwright.planning.plan import ContourPlan, OperationKind, Plan, StartKind
from kerfwright.planning.stacking import HoldHole, hold_holes
from kerfwright.process.technology import Pass
from kerfwright.proof.records import Event, EventKind
from kerfwright.trade.machine import OffsetForm
from kerfwright.trade.part import Role

Box = tuple[float, float, float, float]
"""Least X, least Y, greatest X, greatest Y, mm."""
_MM3_PER_M3: Final = 1e9
_DIGIT_MM: Final = 1e-4
"""Offsets nearer than a tenth of a micrometre are one line of the offset table."""
_MACHINE_HOURS: Final = frozenset({TimeKind.MACHINE_ATTENDED, TimeKind.MACHINE_UNATTENDED})
_NOT_RUNNING: Final = frozenset({"set-up", "loading"})
"""Machine time before the program starts."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PassRow:
    """A line of the pass table.

    Attributes
    ----------
    contour_ids : tuple of str
        Contours it is for; empty for all.
    number : int
    is_rough : bool
    condition : str
        The word that calls it, as in the program.
    offset_number : int or None
        D number, where the control applies the offset.
    offset_mm, feed_mm_per_min, gap_um, stock_um, ra_um : float
    tension_n : float or None
        Where the plan says it.
    """

    contour_ids: tuple[str, ...]
    number: int
    is_rough: bool
    condition: str
    offset_number: int | None
    offset_mm: float
    feed_mm_per_min: float
    gap_um: float
    stock_um: float
    ra_um: float
    tension_n: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StartRow:
    """A line of the start-hole chart.

    Attributes
    ----------
    start_id, contour_id : str
    kind : StartKind
    x_mm, y_mm, diameter_mm : float
        Diameter 0 for a start at an edge.
    tab_mm, piece_kg : float or None
        None where the inside is cut away whole.  The mass is the proof's, from the program.
    is_part : bool
        Whether the piece that comes free is the product.
    rough_s : float or None
        When its rough pass begins.
    is_rough_attended : bool
    free_s : float or None
        When somebody must be there: the stop before the cut that frees the piece.
    frees_line : int or None
        Line of the program, as the proof saw it.
    by_hand : tuple of str
        What a person chose: start, lead-in, tab, tab width.
    """

    start_id: str
    contour_id: str
    kind: StartKind
    x_mm: float
    y_mm: float
    diameter_mm: float
    tab_mm: float | None
    piece_kg: float | None
    is_part: bool
    rough_s: float | None
    is_rough_attended: bool
    free_s: float | None
    frees_line: int | None
    by_hand: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """Where the work lies and what must stay clear.

    Attributes
    ----------
    part : Box
        Extent of what is cut.
    stock : Box or None
        Extent of the stock, if it is known.
    stock_kg : float or None
    keep_clear : Box
        No clamp inside: the wire's travel, half the nozzle and the clearance beside it.
    clearance_mm : float
        That clearance.
    grip_mm : float
        Stock that a clamp wants under it; 0 where nothing is said of it.
    clamps : tuple of Box
        Where the clamps stand that the program keeps off; empty where nobody said it.
    """

    part: Box
    stock: Box | None
    stock_kg: float | None
    keep_clear: Box
    clearance_mm: float
    grip_mm: float = 0.0
    clamps: tuple[Box, ...] = ()

    @property
    def clear_stock_mm(self) -> dict[str, float]:
        """How far the stock goes beyond the place of no clamp, by side; below 0: it ends in it."""
        if self.stock is None:
            return {}
        (x0, y0, x1, y1), (left, front, right, back) = self.stock, self.keep_clear
        return {"left": left - x0, "front": front - y0, "right": x1 - right, "back": y1 - back}


@dataclass(frozen=True, slots=True, kw_only=True)
class LeanFacts:
    """What the operator sets and checks where the wire leans.

    Attributes
    ----------
    planes_mm : (float, float)
        Heights above the underside in which X Y and U V hold.
    guides_mm : (float, float)
        From the underside down to the lower guide, from the top up to the upper one.
    max_angle_deg, max_u_mm, max_v_mm : float
    walls : tuple of (str, str)
        Contour, and how its wall leans.
    lands : tuple of LandFacts
        Openings with a straight land and relief, made in two cuts.
    """

    planes_mm: tuple[float, float]
    guides_mm: tuple[float, float]
    max_angle_deg: float
    max_u_mm: float
    max_v_mm: float
    walls: tuple[tuple[str, str], ...]
    lands: tuple[LandFacts, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SetUpSheet:
    """What the operator is given.

    Attributes
    ----------
    heading : Heading
    digests : Digests
    machine, wire : str
    wire_diameter_mm : float
    wire_tension_n : float or None
        Usual one, to start from.
    threads_itself : bool
    program : str
        Name of the file.
    dialect_unit : str
        Unit of the program.
    is_controller_offset : bool
    is_withheld : bool
        Then the sheet carries no passes, starts or steps: nothing may be cut.
    refusals, warnings : tuple of Finding
    left_out : tuple of str
        Contours of the drawing that are not in the program.
    room : Room or None
    passes : tuple of PassRow
    rough_feeds : tuple of RoughFeed
        Of contours whose rough pass runs at another feed than the table's.
    starts : tuple of StartRow
        In order of roughing.
    steps : tuple of Step
    stages : tuple of Stage
    flushing : tuple of (str, tuple of str)
        How to set the water, and the cuts it is for.
    running : Range or None
        Minutes of the machine for one piece, from the start of the program.
    wire_use : Consumption or None
    hold_holes : tuple of HoldHole
        For the screws of a stack.
    leaning : LeanFacts or None
        None where the wire stays upright.
    ahead_min : float
        Minutes of set-up and loading before the program starts, likely; steps do not count them.
    """

    heading: Heading
    digests: Digests
    machine: str
    wire: str
    wire_diameter_mm: float
    wire_tension_n: float | None
    threads_itself: bool
    program: str
    dialect_unit: str
    is_controller_offset: bool
    is_withheld: bool
    refusals: tuple[Finding, ...]
    warnings: tuple[Finding, ...]
    left_out: tuple[str, ...]
    room: Room | None
    passes: tuple[PassRow, ...]
    rough_feeds: tuple[RoughFeed, ...]
    starts: tuple[StartRow, ...]
    steps: tuple[Step, ...]
    stages: tuple[Stage, ...]
    flushing: tuple[tuple[str, tuple[str, ...]], ...]
    running: Range | None
    wire_use: Consumption | None
    hold_holes: tuple[HoldHole, ...] = ()
    leaning: LeanFacts | None = None
    ahead_min: float = 0.0


def set_up_of(
    result: JobResult,
    *,
    digests: Digests,
    minutes: HumanMinutes,
    program: str,
    clamp_clearance_mm: float,
    clamp_grip_mm: float = 0.0,
    wire_tension_n: float | None = None,
) -> SetUpSheet:
    """Return the set-up sheet of a job.

    Parameters
    ----------
    result : JobResult
    digests : Digests
    minutes : HumanMinutes
        How long threading and stops take.
    program : str
        Name of the program's file.
    clamp_clearance_mm : float
        How far clamps stay from the nozzle's way.
    clamp_grip_mm : float
        Stock that a clamp wants under it; 0 to say nothing of it.
    wire_tension_n : float, optional
        Tension of the wire to start from.
    """
    plan, wanted = result.plan, result.requirement
    is_withheld = result.program is None or result.path is None
    steps = (
        () if result.program is None or result.path is None
        else steps_of(plan, result.path, minutes=minutes)
    )  # fmt: skip
    warnings = tuple(
        {(f.code, f.message): f for f in result.findings if f.severity is Severity.WARNING}.values()
    )
    estimate = result.estimate
    wire_use = (
        next((c for c in estimate.consumption if c.item == "wire"), None) if estimate else None
    )
    return SetUpSheet(
        heading=heading_of(result),
        digests=digests,
        machine=wanted.machine.name,
        wire=plan.choice.wire.name,
        wire_diameter_mm=plan.choice.wire.diameter_mm,
        wire_tension_n=wire_tension_n,
        threads_itself=wanted.machine.threads_itself,
        program=program,
        dialect_unit=wanted.machine.dialect.unit.value,
        is_controller_offset=wanted.machine.dialect.offset_form is OffsetForm.CONTROLLER,
        is_withheld=is_withheld,
        refusals=refusals(result),
        warnings=warnings,
        left_out=left_out_ids(result),
        room=None if is_withheld else _room(result, clamp_clearance_mm, clamp_grip_mm),
        passes=() if is_withheld else _passes(result),
        rough_feeds=() if is_withheld else rough_feeds(plan),
        starts=() if is_withheld else _starts(result, steps),
        steps=steps,
        stages=stages_of(steps),
        flushing=_flushing(steps),
        running=None if is_withheld else _running(result),
        wire_use=None if is_withheld else wire_use,
        hold_holes=() if is_withheld else hold_holes(plan),
        leaning=None if is_withheld else _leaning(result),
        ahead_min=minutes.set_up + minutes.loading_per_piece,
    )


def _leaning(result: JobResult) -> LeanFacts | None:
    proof, tilt, lean = result.proof, result.requirement.machine.tilt, result.lean
    if proof is None or proof.leaning is None or tilt is None or lean is None:
        return None
    course = proof.leaning
    return LeanFacts(
        planes_mm=course.planes_mm,
        guides_mm=(tilt.lower_guide_mm, tilt.upper_guide_mm),
        max_angle_deg=course.max_angle_deg,
        max_u_mm=course.max_u_mm,
        max_v_mm=course.max_v_mm,
        walls=tuple(
            (name, f"{wall.reason}, wire up to {wall.lean_deg:.3f}°")
            for name, wall in lean.walls.items()
        ),
        lands=lands_of(result.plan),
    )


def _passes(result: JobResult) -> tuple[PassRow, ...]:
    machine = result.requirement.machine
    table: dict[int, float] = {}
    if result.program is not None and machine.dialect.offset_form is OffsetForm.CONTROLLER:
        table = dict(read_program(result.program, machine=machine).offsets_mm)
    return tuple(
        PassRow(
            contour_ids=ids,
            number=p.number,
            is_rough=p.is_rough,
            condition=machine.dialect.condition.format(number=p.number),
            offset_number=next(
                (d for d, value in table.items() if abs(value - p.offset_mm) <= _DIGIT_MM), None
            ),
            offset_mm=p.offset_mm,
            feed_mm_per_min=p.feed_mm_per_min,
            gap_um=p.gap_um,
            stock_um=p.stock_um,
            ra_um=p.ra_um,
        )
        for ids, passes in _own_passes(result.plan)
        for p in passes
    )


def _own_passes(plan: Plan) -> Iterator[tuple[tuple[str, ...], tuple[Pass, ...]]]:
    """Yield the passes of contours that have as many, since offsets follow from their number."""
    if not plan.has_own_passes:
        yield (), plan.passes
        return
    for _, ids in plan.contours_by_count():
        yield ids, next(c for c in plan.contours if c.target.id == ids[0]).passes


def _starts(result: JobResult, steps: tuple[Step, ...]) -> tuple[StartRow, ...]:
    moments = {(s.operation.contour_id, s.operation.kind): s for s in reversed(steps)}
    freed: dict[str | None, list[Event]] = {}
    for event in result.proof.events if result.proof else ():
        if event.kind is EventKind.PIECE_FREE:
            freed.setdefault(event.contour_id, []).append(event)
    return tuple(_start(c, moments, freed.get(c.target.id, [])) for c in result.plan.contours)


def _start(
    c: ContourPlan,
    moments: dict[tuple[str, OperationKind], Step],
    freed: list[Event],
) -> StartRow:
    rough = moments.get((c.target.id, OperationKind.ROUGH))
    free = moments.get((c.target.id, OperationKind.CUT_OFF))
    return StartRow(
        start_id=c.start.id,
        contour_id=c.target.id,
        kind=c.start.kind,
        x_mm=c.start.x_mm,
        y_mm=c.start.y_mm,
        diameter_mm=c.start.diameter_mm,
        tab_mm=c.tab.width_mm if c.tab else None,
        piece_kg=_piece_kg(c, freed),
        is_part=c.slug.is_part,
        rough_s=rough.begin_s if rough else None,
        is_rough_attended=rough is not None and rough.is_attended,
        free_s=free.begin_s if free else None,
        frees_line=freed[-1].line if freed else None,
        by_hand=c.placed,
    )


def _piece_kg(c: ContourPlan, freed: list[Event]) -> float | None:
    """Return the mass of a piece as the proof weighed it: the plan's is from before the path."""
    if c.tab is None:
        return None
    told = freed[0].mass_kg if len(freed) == 1 else None
    return c.slug.mass_kg if told is None else told


def _room(result: JobResult, clearance_mm: float, grip_mm: float) -> Room:
    plan = result.plan
    boxes = [c.target.contour.bounds_mm for c in plan.contours]
    part = _around(boxes)
    # The wire runs outside of outlines and inside of openings.
    travel = [
        _grown(c.target.contour.bounds_mm, plan.passes[0].offset_mm)
        if c.target.role is Role.OUTLINE
        else c.target.contour.bounds_mm
        for c in plan.contours
    ]
    travel += [(c.start.x_mm, c.start.y_mm, c.start.x_mm, c.start.y_mm) for c in plan.contours]
    reach_mm = plan.rules.nozzle_diameter_mm / 2 + clearance_mm
    stock_kg = None
    if plan.stock is not None:
        material = result.requirement.material
        volume_m3 = abs(plan.stock.area_mm2) * plan.height_mm / _MM3_PER_M3
        stock_kg = volume_m3 * material.density_kg_per_m3
    return Room(
        part=part,
        stock=plan.stock.bounds_mm if plan.stock else None,
        stock_kg=stock_kg,
        keep_clear=_grown(_around(travel), reach_mm),
        clearance_mm=clearance_mm,
        grip_mm=grip_mm,
        clamps=tuple(z.bounds_mm for z in plan.clamps.zones) if plan.clamps else (),
    )


def _around(boxes: list[Box]) -> Box:
    x0, y0, x1, y1 = zip(*boxes, strict=True)
    return min(x0), min(y0), max(x1), max(y1)


def _grown(box: Box, by_mm: float) -> Box:
    x0, y0, x1, y1 = box
    return x0 - by_mm, y0 - by_mm, x1 + by_mm, y1 + by_mm


def _flushing(steps: tuple[Step, ...]) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """Return each way of setting the water once, with the cuts it is for."""
    groups: dict[str, dict[str, None]] = {}
    for one in steps:
        op = one.operation
        if op.flushing:
            name = "skims" if op.kind is OperationKind.SKIM else op.contour_id
            groups.setdefault(op.flushing, {})[name] = None
    return tuple((advice, tuple(names)) for advice, names in groups.items())


def _running(result: JobResult) -> Range | None:
    if result.estimate is None:
        return None
    total = Range.exact(0.0)
    for line in result.estimate.times:
        if line.per_piece and line.kind in _MACHINE_HOURS and line.operation not in _NOT_RUNNING:
            total = total + line.minutes
    return total
