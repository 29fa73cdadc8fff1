"""From a part and its requirement to a plan."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import partial

import numpy as np

from kerfwright.foundation.findings import Finding
from kerfwright.geometry.contour import Contour
from kerfwright.planning import feasibility, frame
from kerfwright.planning.alike import alike_of
from kerfwright.planning.clamps import clamps_of, clear_of_clamps
from kerfwright.planning.each_contour import ContourPlanner
from kerfwright.planning.far_from_routine import routine_findings
from kerfwright.planning.flushing_findings import water_findings
from kerfwright.planning.guides_off import at_set_up
from kerfwright.planning.memory import Memory
from kerfwright.planning.order import depths, order_operations, shortest_tour
from kerfwright.planning.plan import ContourPlan, Plan, StartKind
from kerfwright.planning.rules import PlanningRules
from kerfwright.planning.sheets import held_in_sheets, requirement_for_sheets
from kerfwright.planning.starts import Walls
from kerfwright.planning.tab_water import with_tab_pressures
from kerfwright.planning.wire_states import Running, with_running_wire
from kerfwright.planning.wires import Paths, choose_wire, paths_of, thinnest_alone
from kerfwright.planning.work_findings import Size, work_findings
from kerfwright.process.choice import JobPasses
from kerfwright.process.flushing import skim_advice
from kerfwright.process.technology import PassChoice, Technology
from kerfwright.process.wire_physics import WirePhysics
from kerfwright.trade.catalogue import Catalogue
from kerfwright.trade.part import Part, Role
from kerfwright.trade.requirement import Requirement

_MM3_PER_M3 = 1e9


def make_plan(
    part: Part,
    requirement: Requirement,
    *,
    technology: Technology,
    catalogue: Catalogue,
    rules: PlanningRules,
    choice: JobPasses | None = None,
    physics: WirePhysics | None = None,
    memory: Memory | None = None,
) -> Plan:
    """Decide everything between the drawing and the wire path.

    Parameters
    ----------
    part : Part
    requirement : Requirement
    technology : Technology
    catalogue : Catalogue
    rules : PlanningRules
    choice : JobPasses, optional
        Wire and passes decided already; otherwise they are chosen here.
    physics : WirePhysics, optional
        Constants of the running wire, by which the rough feed keeps the wire from breaking; None
        for a plan without states of the wire.
    memory : Memory, optional
        Where to keep, and find, what other plans of the same part need too.

    Raises
    ------
    InputError
        ``contour-unknown`` if something is asked of a contour that the drawing does not have.

    Returns
    -------
    Plan
        With a refusal among its findings where something cannot be cut as asked; contours that
        are refused are left out of ``plan.contours``.
    """
    requirement.require_known(part.ids)
    memory = Memory() if memory is None else memory
    technology = at_set_up(technology, rules=rules, physics=physics)
    passes, paths, wire_findings = _paths(
        part, requirement, technology, catalogue, rules, choice, memory, physics
    )
    walls = Walls(part.contours, stock_of(part, requirement), clamps_of(part, requirement, rules))
    stock, paths = walls.stock, clear_of_clamps(paths, walls.clamps)
    thinnest = thinnest_alone(requirement, catalogue, technology)
    between = _between(part, passes, stock, rules, memory, thinnest=thinnest)
    refused = {f.where.contour_id for f in between if f.code in _NO_ROOM} | passes.beyond
    cuttable = [p for p in paths if p.refusal is None and p.target.id not in refused]
    there = physics and physics.with_nozzles_off(rules.nozzles_off_mm)
    of_passes = held_in_sheets(passes, requirement, technology=technology, physics=there)
    findings = [*part.findings, *of_passes, *wire_findings]
    findings += [p.refusal for p in paths if p.refusal is not None]
    findings += between
    planned, said = ContourPlanner(
        part=part,
        requirement=requirement,
        passes=passes,
        walls=walls,
        technology=technology,
        rules=rules,
        memory=memory,
    ).every(cuttable)
    findings += said
    running = with_running_wire(
        planned,
        requirement=requirement,
        choice=passes.most_of([c.target.id for c in planned]),
        technology=technology,
        rules=rules,
        catalogue=catalogue,
        physics=physics,
    )
    planned = with_tab_pressures(
        running.contours, requirement.height_mm, rules=rules, law=technology.flushing
    )
    findings += _of_wire_and_water(
        planned, running, requirement, passes, technology=technology, rules=rules, physics=physics
    )
    findings += frame.given_start_findings(part, planned, walls)
    ordered, loose = _held(_in_order(planned, memory), stock, passes, memory)
    findings += loose
    findings += _job_findings(
        ordered, part, requirement, stock, passes, technology=technology, rules=rules
    )
    return Plan(
        part=part,
        requirement=requirement,
        choice=passes.most_of([c.target.id for c in ordered]),
        contours=ordered,
        operations=order_operations(ordered, skim_flushing=skim_advice(law=technology.flushing)),
        stock=stock,
        clamps=walls.clamps,
        rules=rules,
        findings=tuple(findings),
        wire_states=running.states,
    )


def _of_wire_and_water(
    planned: Sequence[ContourPlan],
    running: Running,
    requirement: Requirement,
    passes: JobPasses,
    *,
    technology: Technology,
    rules: PlanningRules,
    physics: WirePhysics | None,
) -> list[Finding]:
    """Return what is said of the running wire, of work beyond routine, and of the water."""
    routine = routine_findings(
        planned,
        running.states,
        requirement=requirement,
        rules=rules,
        technology=technology,
        physics=physics,
    )
    water = water_findings(planned, requirement, passes.most, technology, rules)
    return [*running.findings, *routine, *water]


def _held(
    ordered: tuple[ContourPlan, ...], stock: Contour | None, passes: JobPasses, memory: Memory
) -> tuple[tuple[ContourPlan, ...], list[Finding]]:
    """Return the contours without those that free a piece that nothing holds, and why."""
    loose = frame.loose_piece_refusals(ordered, stock, choice=passes)
    if not loose:
        return ordered, []
    dropped = {f.where.contour_id for f in loose}
    left = [c for c in ordered if c.target.id not in dropped]
    return _in_order(left, memory), list(loose)


_NO_ROOM = frozenset({feasibility.WALLS_TOO_CLOSE, "frame-too-thin"})
"""Findings on room that leave a contour out."""


def _between(
    part: Part,
    passes: JobPasses,
    stock: Contour | None,
    rules: PlanningRules,
    memory: Memory,
    *,
    thinnest: PassChoice,
) -> list[Finding]:
    """Return what is wrong with the room between walls, and between outlines and stock."""
    return [
        *feasibility.neighbour_findings(
            part.contours, choice=passes, thinnest=thinnest, rules=rules, memory=memory
        ),
        *frame.stock_refusals(part, stock, choice=passes, rules=rules),
    ]


def _job_findings(
    ordered: Sequence[ContourPlan],
    part: Part,
    requirement: Requirement,
    stock: Contour | None,
    passes: JobPasses,
    *,
    technology: Technology,
    rules: PlanningRules,
) -> list[Finding]:
    """Return what concerns machine and work as a whole."""
    extent = _extent(ordered, part)
    found = feasibility.machine_findings(
        requirement, extent_mm=extent, mass_kg=_mass_kg(stock, part, requirement)
    )
    return found + work_findings(
        requirement,
        choice=passes.most,
        sizes=_sizes(ordered, requirement, extent),
        drilled_mm=[c.start.diameter_mm for c in ordered if c.start.kind is StartKind.DRILLED],
        drilling=technology.small_hole,
        rules=rules,
    )


def _paths(
    part: Part,
    requirement: Requirement,
    technology: Technology,
    catalogue: Catalogue,
    rules: PlanningRules,
    choice: JobPasses | None,
    memory: Memory,
    physics: WirePhysics | None,
) -> tuple[JobPasses, list[Paths], list[Finding]]:
    """Return wire and passes, decided already or chosen here, and the path of each contour."""
    if choice is None:
        found = choose_wire(part, requirement, technology, catalogue, rules, memory)
        surer = physics and requirement_for_sheets(
            found[0],
            requirement,
            technology=technology,
            physics=physics.with_nozzles_off(rules.nozzles_off_mm),
        )
        if not surer:
            return found
        tighter = replace(surer[0], wire=found[0].wire)
        passes, paths, _ = choose_wire(part, tighter, technology, catalogue, rules, memory)
        return passes, paths, [*found[2], *surer[1]]
    alike = alike_of(part.contours, memory)
    paths = [paths_of(c, choice.of(c.id), memory, alike.get(c.id)) for c in part.to_cut]
    return choice, paths, []


def stock_of(part: Part, requirement: Requirement) -> Contour | None:
    """Return the given stock, or the outlines' box grown by the margin.

    An outermost outline that is not cut, alone, is the edge of the stock as it lies there.
    """
    if part.stock is not None:
        return part.stock
    outer = [c for c in part.contours if c.role is Role.OUTLINE and c.parent_id is None]
    if not any(c.is_cut for c in outer):
        return outer[0].contour if len(outer) == 1 else None
    boxes = np.array([c.contour.bounds_mm for c in outer])
    m = requirement.stock_margin_mm
    x0, y0 = boxes[:, 0].min() - m, boxes[:, 1].min() - m
    x1, y1 = boxes[:, 2].max() + m, boxes[:, 3].max() + m
    return Contour.from_rows([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])


def _in_order(planned: Sequence[ContourPlan], memory: Memory) -> tuple[ContourPlan, ...]:
    """Order from the inside outwards, each depth by the shortest way; number the starts.

    What lies inside is roughed while all that is around it is still whole.
    """
    depth = depths(planned)
    ordered: list[ContourPlan] = []
    for level in sorted(set(depth.values()), reverse=True):
        here = [c for c in planned if depth[c.target.id] == level]
        points = [(c.start.x_mm, c.start.y_mm) for c in here]
        first = [(c.start.x_mm, c.start.y_mm) for c in ordered[-1:]]
        every = (*first, *points)
        tour = memory.shapes.once(partial(shortest_tour, every), "tour", every)
        ordered += [here[k - len(first)] for k in tour[len(first) :]]
    return tuple(
        replace(c, start=replace(c.start, id=f"S{n}")) for n, c in enumerate(ordered, start=1)
    )


def _sizes(
    planned: Sequence[ContourPlan], requirement: Requirement, extent_mm: tuple[float, float]
) -> list[Size]:
    """Return the lengths over which tolerances are to be held: the job's, and single contours'."""
    sizes = []
    if requirement.tolerance_um is not None:
        sizes.append(Size(length_mm=max(extent_mm), half_zone_um=requirement.tolerance_um))
    for c in planned:
        own = requirement.contours.get(c.target.id)
        if own is None or own.tolerance_um is None:
            continue
        x0, y0, x1, y1 = c.target.contour.bounds_mm
        sizes.append(
            Size(
                length_mm=max(x1 - x0, y1 - y0),
                half_zone_um=own.tolerance_um,
                contour_id=c.target.id,
            )
        )
    return sizes


def _extent(planned: Sequence[ContourPlan], part: Part) -> tuple[float, float]:
    """Return the extent of the wire's travel in X and Y, mm."""
    boxes = [c.loops[0].contour.bounds_mm for c in planned] or [
        c.contour.bounds_mm for c in part.contours
    ]
    points = [(c.start.x_mm, c.start.y_mm) for c in planned]
    xs = [b[0] for b in boxes] + [b[2] for b in boxes] + [p[0] for p in points]
    ys = [b[1] for b in boxes] + [b[3] for b in boxes] + [p[1] for p in points]
    return max(xs) - min(xs), max(ys) - min(ys)


def _mass_kg(stock: Contour | None, part: Part, requirement: Requirement) -> float:
    """Return the mass of the stock, or of the box around the contours where it is unknown."""
    if stock is not None:
        area = abs(stock.area_mm2)
    else:
        boxes = np.array([c.contour.bounds_mm for c in part.contours]).reshape(-1, 4)
        area = float(
            (boxes[:, 2].max() - boxes[:, 0].min()) * (boxes[:, 3].max() - boxes[:, 1].min())
        )
    density = requirement.material.density_kg_per_m3
    return area * requirement.height_mm / _MM3_PER_M3 * density
