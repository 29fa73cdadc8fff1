"""From a part and its requirement to a plan."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from kerfwright.foundation.findings import Finding, Severity
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.offset import OffsetLoop, offset_passes, unreachable
from kerfwright.geometry.regions import largest_inscribed_circle
from kerfwright.geometry.segments import Floats
from kerfwright.planning import feasibility
from kerfwright.planning.flushing import nozzle_findings, plan_flushing
from kerfwright.planning.holding import TabSize, size_tab
from kerfwright.planning.order import depths, order_operations, shortest_tour
from kerfwright.planning.plan import ContourPlan, Plan, Slug, Tab
from kerfwright.planning.rules import PlanningRules
from kerfwright.planning.start_findings import no_start_finding, site_findings
from kerfwright.planning.starts import Site, Walls, find_site, share_out_given
from kerfwright.planning.stations import settled
from kerfwright.process.choice import choose_passes
from kerfwright.process.flushing import skim_advice
from kerfwright.process.technology import PassChoice, Technology
from kerfwright.trade.catalogue import Catalogue
from kerfwright.trade.material import Wire
from kerfwright.trade.part import GivenStart, Part, PartContour, Role
from kerfwright.trade.requirement import Requirement

_MM3_PER_M3 = 1e9


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Paths:
    """The offset loops of one contour for every pass, or why there are none."""

    target: PartContour
    loops: tuple[OffsetLoop, ...]
    unreachable: tuple[Contour, ...]
    refusal: Finding | None


def make_plan(
    part: Part,
    requirement: Requirement,
    *,
    technology: Technology,
    catalogue: Catalogue,
    rules: PlanningRules,
    choice: PassChoice | None = None,
) -> Plan:
    """Decide everything between the drawing and the wire path.

    Parameters
    ----------
    part : Part
    requirement : Requirement
    technology : Technology
    catalogue : Catalogue
    rules : PlanningRules
    choice : PassChoice, optional
        Wire and passes decided already; otherwise they are chosen here.

    Returns
    -------
    Plan
        With a refusal among its findings where something cannot be cut as asked; contours that
        are refused are left out of ``plan.contours``.
    """
    if choice is None:
        choice, paths, wire_findings = _choose_wire(part, requirement, technology, catalogue, rules)
    else:
        paths, wire_findings = [_paths(c, choice) for c in part.contours], []
    between = feasibility.neighbour_findings(part.contours, choice=choice, rules=rules)
    too_close = {f.where.contour_id for f in between if f.code == feasibility.WALLS_TOO_CLOSE}
    cuttable = [p for p in paths if p.refusal is None and p.target.id not in too_close]
    findings = [*part.findings, *choice.findings, *wire_findings]
    findings += [p.refusal for p in paths if p.refusal is not None]
    findings += between
    stock = _stock(part, requirement)
    walls = Walls(part.contours, stock)
    given = share_out_given(part.contours, part.given_starts)
    planned: list[ContourPlan] = []
    for path in cuttable:
        findings += feasibility.corner_findings(
            path.target, unreachable=path.unreachable, choice=choice
        )
        one, said = _plan_contour(
            path,
            requirement,
            choice,
            walls=walls,
            given=given,
            technology=technology,
            rules=rules,
        )
        findings += said
        if one is not None:
            planned.append(one)
    findings += nozzle_findings(
        requirement=requirement, choice=choice, technology=technology, rules=rules
    )
    ordered = _in_order(planned)
    findings += feasibility.machine_findings(
        requirement,
        extent_mm=_extent(ordered, part),
        mass_kg=_mass_kg(stock, part, requirement),
    )
    return Plan(
        part=part,
        requirement=requirement,
        choice=choice,
        contours=ordered,
        operations=order_operations(
            ordered,
            passes=len(choice.passes),
            skim_flushing=skim_advice(law=technology.flushing),
        ),
        stock=stock,
        rules=rules,
        findings=tuple(findings),
    )


def _choose_wire(
    part: Part,
    requirement: Requirement,
    technology: Technology,
    catalogue: Catalogue,
    rules: PlanningRules,
) -> tuple[PassChoice, list[_Paths], list[Finding]]:
    """Return the wire that reaches what the drawing asks, the usual one unless it asks."""

    def with_wire(wire: Wire | None) -> tuple[PassChoice, list[_Paths]]:
        choice = choose_passes(
            replace(requirement, wire=wire), technology=technology, catalogue=catalogue
        )
        return choice, [_paths(c, choice) for c in part.contours]

    choice, paths = with_wire(requirement.wire)
    if requirement.wire is not None or _all_fit(paths, choice):
        return choice, paths, []
    thinner = [
        w
        for w in _of_kind(catalogue, choice.wire)
        if rules.thinnest_wire_mm <= w.diameter_mm < choice.wire.diameter_mm
        and w.diameter_mm in requirement.machine.wire_diameters_mm
    ]
    # Without a wire that gets everywhere, the thickest of those that get round most contours.
    best = choice, paths
    for wire in sorted(thinner, key=lambda w: -w.diameter_mm):
        other, other_paths = with_wire(wire)
        if _refusals(other_paths) < _refusals(best[1]):
            best = other, other_paths
        if _all_fit(other_paths, other):
            best = other, other_paths
            break
    if best[0] is choice:
        return choice, paths, []
    return best[0], best[1], [_thinner_wire(part, choice, best[0])]


def _refusals(paths: Sequence[_Paths]) -> int:
    return sum(p.refusal is not None for p in paths)


def _of_kind(catalogue: Catalogue, wire: Wire) -> tuple[Wire, ...]:
    return tuple(w for w in catalogue.wires if w.kind == wire.kind)


def _all_fit(paths: Sequence[_Paths], choice: PassChoice) -> bool:
    """Return whether the wire gets round every contour and into every drawn inside radius."""
    return all(p.refusal is None and _radii_fit(p, choice) for p in paths)


def _radii_fit(path: _Paths, choice: PassChoice) -> bool:
    """Return whether every drawn inside radius can be cut with these passes."""
    radii = feasibility.inside_radii(path.target.contour)
    return not len(radii) or float(radii.min()) >= choice.passes[-1].offset_mm


def _thinner_wire(part: Part, usual: PassChoice, chosen: PassChoice) -> Finding:
    smallest = min(
        (float(r.min()) for c in part.contours if len(r := feasibility.inside_radii(c.contour))),
        default=float("nan"),
    )
    said = f"inside radius {smallest:.3f} mm" if np.isfinite(smallest) else "slot"
    return Finding(
        code="thinner-wire-chosen",
        severity=Severity.NOTE,
        message=f"Wire {chosen.wire.diameter_mm:.2f} mm instead of "
        f"{usual.wire.diameter_mm:.2f} mm: the drawing's smallest {said} asks for it.",
        remedy=f"Inside radii of {usual.passes[-1].offset_mm:.3f} mm and slots of "
        f"{2 * usual.passes[0].offset_mm:.3f} mm or more would let the faster wire cut it.",
        data={"wire_mm": chosen.wire.diameter_mm, "usual_mm": usual.wire.diameter_mm},
    )


def _paths(target: PartContour, choice: PassChoice) -> _Paths:
    """Offset one contour for every pass; the wire runs in the waste, right of travel."""
    offsets = offset_passes(target.contour, distances_mm=[-p.offset_mm for p in choice.passes])
    for number, offset in enumerate(offsets, start=1):
        if len(offset.loops) != 1:
            refusal = feasibility.slot_finding(
                target,
                loops=len(offset.loops),
                missed=unreachable(target.contour, offset),
                choice=choice,
                pass_number=number,
            )
            return _Paths(target=target, loops=(), unreachable=(), refusal=refusal)
    return _Paths(
        target=target,
        loops=tuple(o.loops[0] for o in offsets),
        unreachable=unreachable(target.contour, offsets[-1]),
        refusal=None,
    )


def _plan_contour(
    path: _Paths,
    requirement: Requirement,
    choice: PassChoice,
    *,
    walls: Walls,
    given: dict[str, tuple[GivenStart, ...]],
    technology: Technology,
    rules: PlanningRules,
) -> tuple[ContourPlan | None, list[Finding]]:
    """Place the start, the lead-in and the tab of one contour."""
    target = path.target
    rough = choice.passes[0]
    piece = _piece(path, requirement, choice)
    kerf_radius = choice.wire.radius_mm + rough.gap_um / 1000
    # The arm is not known before the lead-in is: the tab is sized for the longest arm first.
    size = _size_tab(target.contour, piece, requirement, rules, at=None)
    site = find_site(
        target,
        walls=walls,
        given=given.get(target.id, ()),
        tab_span_mm=size.width_mm + 2 * kerf_radius,
        rough_offset_mm=rough.offset_mm,
        height_mm=requirement.height_mm,
        wire_diameter_mm=choice.wire.diameter_mm,
        smallest_hole_mm=requirement.machine.min_start_hole_mm,
        drilling=technology.small_hole,
        rules=rules,
    )
    if site is None:
        return None, [no_start_finding(target, choice, requirement, technology, rules)]
    lead = site.lead_station_mm
    size = _size_tab(target.contour, piece, requirement, rules, at=lead)
    findings = site_findings(site, size, rules)
    flushing, wet_findings = plan_flushing(
        path.loops[0].contour,
        site,
        requirement=requirement,
        choice=choice,
        walls=walls,
        technology=technology,
        rules=rules,
    )
    findings += wet_findings
    findings += feasibility.piece_findings(
        target, mass_kg=piece.mass_kg, smallest_width_mm=piece.smallest_width_mm, rules=rules
    )
    return (
        ContourPlan(
            target=target,
            start=site.start,
            lead_station_mm=lead,
            tab=_place_tab(path, size, choice, lead_station_mm=lead),
            slug=piece,
            skims_before_cut_off=target.role is Role.OUTLINE,
            rough_frees_pieces=_rough_frees_pieces(path, site, kerf_radius),
            loops=path.loops,
            unreachable=path.unreachable,
            flushing=flushing,
        ),
        findings,
    )


def _place_tab(path: _Paths, size: TabSize, choice: PassChoice, *, lead_station_mm: float) -> Tab:
    """Set the tab before the lead-in, where the rough path has a place square to the wall."""
    wall, rough = path.target.contour, choice.passes[0]
    both_ends = 2 * (choice.wire.radius_mm + rough.gap_um / 1000)
    start = settled(
        wall,
        path.loops[0].contour,
        station_mm=(lead_station_mm - size.width_mm - both_ends) % wall.length_mm,
        offset_mm=rough.offset_mm,
        sense=-1,
    )
    return Tab(
        start_station_mm=start,
        end_station_mm=lead_station_mm,
        width_mm=size.width_mm,
        weight_n=size.weight_n,
        flushing_n=size.flushing_n,
        safety=size.safety,
    )


def _piece(path: _Paths, requirement: Requirement, choice: PassChoice) -> Slug:
    """Return the piece that comes free: the part, or the slug inside the rough kerf."""
    is_part = path.target.role is Role.OUTLINE
    kerf = choice.wire.radius_mm + choice.passes[0].gap_um / 1000
    outline = path.target.contour if is_part else path.loops[0].contour
    area = abs(outline.area_mm2)
    if not is_part:
        # The slug lies inside the far side of the rough kerf.
        area = max(area - outline.length_mm * kerf, 0.0)
    # The width is told to a hundredth or so of the piece's size; nothing is cut by it.
    _, _, radius = largest_inscribed_circle(outline, within_mm=0.01 * abs(outline.area_mm2) ** 0.5)
    width = 2 * radius if is_part else max(2 * (radius - kerf), 0.0)
    density = requirement.material.density_kg_per_m3
    return Slug(
        is_part=is_part,
        area_mm2=area,
        mass_kg=area * requirement.height_mm / _MM3_PER_M3 * density,
        smallest_width_mm=width,
    )


_SMALLEST_PIECE_MM2 = 1e-3
"""Crumbs below this are debris, not pieces."""


def _rough_frees_pieces(path: _Paths, site: Site, kerf_radius_mm: float) -> bool:
    """Return whether start hole and rough kerf part the slug of an opening.

    The slug is what lies inside the rough kerf; the tab holds one piece of it.
    """
    if path.target.role is Role.OUTLINE:
        return False
    wall, loop = path.target.contour, path.loops[0].contour
    lead = wall.points_at(np.array([site.lead_station_mm]))[0]
    hole = shapely.Point(site.start.x_mm, site.start.y_mm)
    slug = shapely.Polygon(feasibility.chords(loop)).buffer(-kerf_radius_mm)
    slug = slug.difference(hole.buffer(site.start.diameter_mm / 2))
    slug = slug.difference(shapely.LineString([(hole.x, hole.y), lead]).buffer(kerf_radius_mm))
    pieces = [p for p in shapely.get_parts(slug) if p.area > _SMALLEST_PIECE_MM2]
    return len(pieces) > 1


def _size_tab(
    contour: Contour,
    piece: Slug,
    requirement: Requirement,
    rules: PlanningRules,
    *,
    at: float | None,
) -> TabSize:
    """Size the tab at a station of the contour, or for the longest arm anywhere on it."""
    centroid = _centroid(contour)
    if at is None:
        reach = contour.vertices[:, :2] - centroid
        arm = side = float(np.hypot(reach[:, 0], reach[:, 1]).max()) / np.sqrt(2)
    else:
        index, fraction = contour.locate(np.array([at]))
        tangent = contour.segments.tangents_at(index, fraction)[0]
        reach = contour.segments.points_at(index, fraction)[0] - centroid
        side = abs(float(reach @ tangent))
        arm = abs(float(reach[0] * tangent[1] - reach[1] * tangent[0]))
    return size_tab(
        height_mm=requirement.height_mm,
        mass_kg=piece.mass_kg,
        area_mm2=piece.area_mm2,
        perimeter_mm=contour.length_mm,
        arm_mm=arm,
        side_mm=side,
        yield_mpa=requirement.material.yield_mpa,
        rules=rules,
    )


def _centroid(contour: Contour) -> Floats:
    """Return the centroid of the polygon on the segments' midpoints and ends, mm.

    Arcs enter by their midpoint; a tab's arm needs no more than a percent.
    """
    s = contour.segments
    middle = s.points_at(np.arange(len(s)), np.full(len(s), 0.5))
    p = np.stack([s.start, middle], axis=1).reshape(-1, 2)
    origin = p[0].copy()
    p = p - origin
    q = np.roll(p, -1, axis=0)
    cross = p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]
    centroid: Floats = origin + ((p + q) * cross[:, None]).sum(axis=0) / (3 * cross.sum())
    return centroid


def _stock(part: Part, requirement: Requirement) -> Contour | None:
    """Return the given stock, or the outlines' box grown by the margin."""
    if part.stock is not None:
        return part.stock
    outer = [c for c in part.contours if c.role is Role.OUTLINE and c.parent_id is None]
    if not outer:
        return None
    boxes = np.array([c.contour.bounds_mm for c in outer])
    m = requirement.stock_margin_mm
    x0, y0 = boxes[:, 0].min() - m, boxes[:, 1].min() - m
    x1, y1 = boxes[:, 2].max() + m, boxes[:, 3].max() + m
    return Contour.from_rows([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])


def _in_order(planned: Sequence[ContourPlan]) -> tuple[ContourPlan, ...]:
    """Order from the inside outwards, each depth by the shortest way; number the starts.

    What lies inside is roughed while all that is around it is still whole.
    """
    depth = depths(planned)
    ordered: list[ContourPlan] = []
    for level in sorted(set(depth.values()), reverse=True):
        here = [c for c in planned if depth[c.target.id] == level]
        points = [(c.start.x_mm, c.start.y_mm) for c in here]
        if ordered:
            before = ordered[-1].start
            tour = shortest_tour([(before.x_mm, before.y_mm), *points])[1:]
            ordered += [here[k - 1] for k in tour]
        else:
            ordered += [here[k] for k in shortest_tour(points)]
    return tuple(
        replace(c, start=replace(c.start, id=f"S{n}")) for n, c in enumerate(ordered, start=1)
    )


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
