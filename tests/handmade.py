"""Plans put together by hand, for tests of what comes after planning.

Nothing here is evidence of a right plan: offsets come from shapely (an independent library, arcs
as chords) and the numbers of passes are plain round figures.
"""

from __future__ import annotations

import math
from dataclasses import replace
from decimal import Decimal

import numpy as np
import shapely
from tests.unit.process.samples import DIALECT, machine

from kerfwright.adapters.tables import load_tables
from kerfwright.costing.records import (
    Consumption,
    Estimate,
    Price,
    PriceLine,
    TimeKind,
    TimeLine,
)
from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.foundation.ranges import Range
from kerfwright.foundation.sources import COMMON_PRACTICE
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.offset import OffsetLoop
from kerfwright.motion.moves import Cut, CutKind, Moves, Purpose, Turn, WirePath
from kerfwright.planning.plan import (
    ContourPlan,
    Operation,
    OperationKind,
    Plan,
    RoughAttendance,
    Slug,
    Span,
    Start,
    StartKind,
    Tab,
)
from kerfwright.process.technology import Pass, PassChoice
from kerfwright.proof.records import Claim, Deviation, Event, EventKind, Proof, StartPlace
from kerfwright.proof.slack import proof_tolerance_um
from kerfwright.trade.material import Material, Wire
from kerfwright.trade.part import LengthUnit, Part, PartContour, Role
from kerfwright.trade.requirement import Requirement

RULES = load_tables().rules

MATERIAL = Material(
    id="tool-steel-d2",
    name="AISI D2 tool steel",
    family="steel",
    aliases=("d2", "1.2379"),
    density_kg_per_m3=7700.0,
    melting_c=1420.0,
    conductivity_w_per_mk=20.0,
    heat_capacity_j_per_kgk=460.0,
    latent_heat_kj_per_kg=250.0,
    resistivity_uohm_cm=65.0,
    yield_mpa=450.0,
    rate_factor=1.0,
    ra_factor=1.0,
    sources={"density_kg_per_m3": COMMON_PRACTICE},
)
WIRE = Wire(
    kind="hard-brass",
    name="hard brass",
    diameter_mm=0.25,
    density_kg_per_m3=8500.0,
    tensile_n_per_mm2=950.0,
    rate_factor=1.0,
    run_speed_m_per_min=8.0,
    spool_kg=8.0,
    price_per_kg=12.0,
    sources={"density_kg_per_m3": COMMON_PRACTICE},
)
MACHINE = machine(
    id="generic-mm",
    name="generic wire machine, mm",
    wire_diameters_mm=(0.1, 0.15, 0.2, 0.25, 0.3),
    best_tolerance_um=2.5,
    idle_speed_mm_per_min=600.0,
    dialect=replace(
        DIALECT,
        block_numbers=True,
        offset_table="G10 L1 P{number} R{value}",
        max_line_length=80,
    ),
)


def passes(count: int = 4) -> tuple[Pass, ...]:
    """Return a rough pass and skims whose offsets obey d/2 + gap + later stock."""
    gaps_um = (35.0, 20.0, 12.0, 8.0, 6.0)[:count]
    stocks_um = (0.0, 45.0, 12.0, 5.0, 3.0)[:count]
    return tuple(
        Pass(
            number=i + 1,
            is_rough=i == 0,
            offset_mm=WIRE.radius_mm + (gaps_um[i] + sum(stocks_um[i + 1 :])) / 1000,
            gap_um=gaps_um[i],
            stock_um=stocks_um[i],
            feed_mm_per_min=(2.5, 5.0, 6.0, 7.0, 7.5)[i],
            feed_sigma_log=0.3,
            ra_um=(3.0, 1.6, 0.8, 0.5, 0.3)[i],
            recast_um=(15.0, 8.0, 4.0, 2.0, 1.0)[i],
            tolerance_um=(25.0, 10.0, 5.0, 3.0, 2.5)[i],
        )
        for i in range(count)
    )


def polygon(contour: Contour) -> shapely.Polygon:
    """Return a shapely polygon with arcs as 5-degree chords."""
    rows: list[tuple[float, float]] = []
    segments = contour.segments
    for i in range(len(segments)):
        steps = 1 + int(abs(segments.sweep[i]) // math.radians(5.0))
        fraction = np.arange(steps) / steps
        rows += [tuple(p) for p in segments.points_at(np.full(steps, i), fraction).tolist()]
    return shapely.Polygon(rows)


def loop(target: PartContour, offset_mm: float) -> tuple[Contour, ...]:
    """Return the loops of a wire at an offset into the waste."""
    sign = 1 if target.role is Role.OUTLINE else -1
    if len(target.contour.vertices) == 2 and np.abs(target.contour.vertices[:, 2]).min() == 1.0:
        v = target.contour.vertices
        centre = tuple(((v[0, :2] + v[1, :2]) / 2).tolist())
        radius = float(np.hypot(*(v[0, :2] - v[1, :2]))) / 2 + sign * offset_mm
        if radius <= 0:
            return ()
        circle = Contour.circle(centre, radius_mm=radius)
        return (circle if sign > 0 else circle.reversed(),)
    grown = polygon(target.contour).buffer(sign * offset_mm, quad_segs=16)
    parts = getattr(grown, "geoms", [grown])
    rings = [Contour.from_rows(list(p.exterior.coords)[:-1]) for p in parts if not p.is_empty]
    rings = [r if r.area_mm2 > 0 else r.reversed() for r in rings]
    return tuple(r if sign > 0 else r.reversed() for r in rings)


def opening(name: str, contour: Contour, parent: str | None = None) -> PartContour:
    """Return an opening, clockwise."""
    return _target(
        name, Role.OPENING, contour if contour.area_mm2 < 0 else contour.reversed(), parent
    )


def outline(name: str, contour: Contour) -> PartContour:
    """Return an outline, counter-clockwise."""
    return _target(
        name, Role.OUTLINE, contour if contour.area_mm2 > 0 else contour.reversed(), None
    )


def _target(name: str, role: Role, contour: Contour, parent: str | None) -> PartContour:
    return PartContour(
        id=name,
        role=role,
        contour=contour,
        layer="CUT",
        entities=("LWPOLYLINE 2A",),
        parent_id=parent,
    )


def part(
    *targets: PartContour, name: str = "wheel.dxf", unit: LengthUnit = LengthUnit.MILLIMETRE
) -> Part:
    """Return a part of the contours."""
    return Part(
        name=name,
        sha256="ab" * 32,
        drawing_unit=unit,
        contours=targets,
        given_starts=(),
        stock=None,
        construction=(),
        left_out={"DIMENSION": 3},
        findings=(
            Finding(
                code="entities-left-out",
                severity=Severity.NOTE,
                message="3 DIMENSION entities are not cut.",
                data={"count": 3},
            ),
        ),
    )


def _contour_plan(target: PartContour, number: int, chosen: tuple[Pass, ...]) -> ContourPlan:
    wall = target.contour
    is_part = target.role is Role.OUTLINE
    lead = float(wall.stations_mm[len(wall) // 3]) + 0.4 * float(
        wall.segments.length[len(wall) // 3]
    )
    width = min(3.0, wall.length_mm / 12)
    at, towards = wall.points_at(np.array([lead, lead + 0.001 * wall.length_mm]))
    along = (towards - at) / max(float(np.hypot(*(towards - at))), 1e-9)
    right = np.array([along[1], -along[0]])
    shape = polygon(wall)
    if is_part:
        spot = at + right * 4.0
    else:
        inside = shapely.maximum_inscribed_circle(shape, tolerance=0.01)
        spot = np.array(inside.coords[0])
    mass = abs(wall.area_mm2) * 25.0 * MATERIAL.density_kg_per_m3 * 1e-9
    loops = [loop(target, p.offset_mm) for p in chosen]
    reached = shapely.union_all([polygon(w) for w in loops[-1]]) if loops[-1] else shapely.Polygon()
    reach = chosen[-1].offset_mm
    left = (
        shape.difference(reached.buffer(reach, quad_segs=32)) if not is_part else shapely.Polygon()
    )
    corners = [
        Contour.from_rows(list(g.exterior.coords)[:-1])
        for g in getattr(left, "geoms", [left])
        if not g.is_empty and g.area > 1e-4
    ]
    return ContourPlan(
        target=target,
        start=Start(
            id=f"S{number}",
            contour_id=target.id,
            kind=StartKind.DRILLED,
            x_mm=float(spot[0]),
            y_mm=float(spot[1]),
            diameter_mm=min(2.0, abs(wall.area_mm2) ** 0.5 / 3),
            clearance_mm=0.3,
        ),
        lead_station_mm=lead,
        tab=Tab(
            start_station_mm=(lead - width) % wall.length_mm,
            end_station_mm=lead,
            width_mm=width,
            weight_n=mass * 9.81,
            flushing_n=1.0,
            safety=3.0,
        ),
        slug=Slug(
            is_part=is_part, area_mm2=abs(wall.area_mm2), mass_kg=mass, smallest_width_mm=1.0
        ),
        skims_before_cut_off=is_part,
        rough_attendance=RoughAttendance.NONE,
        loops=tuple(
            OffsetLoop(contour=w[0], source=np.zeros(len(w[0]), dtype=np.intp)) for w in loops if w
        ),
        unreachable=tuple(corners),
        choice=PassChoice(wire=WIRE, passes=chosen, limiting="finish", further=(), findings=()),
    )


def plan(wanted: Part, *, pass_count: int = 4, findings: tuple[Finding, ...] = ()) -> Plan:
    """Return a plan that cuts every contour of the part, openings first."""
    chosen = passes(pass_count)
    targets = sorted(wanted.contours, key=lambda c: c.role is Role.OUTLINE)
    contours = tuple(_contour_plan(t, i, chosen) for i, t in enumerate(targets, start=1))
    steps = [(OperationKind.ROUGH, c, 1, Span.BODY, False) for c in contours]
    steps += [(OperationKind.CUT_OFF, c, 1, Span.TAB, True) for c in contours]
    steps += [
        (OperationKind.SKIM, c, p.number, Span.WHOLE, False) for c in contours for p in chosen[1:]
    ]
    return Plan(
        part=wanted,
        requirement=Requirement(
            material=MATERIAL,
            height_mm=25.0,
            machine=MACHINE,
            tolerance_um=5.0,
            ra_um=0.6,
            quantities=(1, 10),
        ),
        choice=PassChoice(wire=WIRE, passes=chosen, limiting="finish", further=(), findings=()),
        contours=contours,
        operations=tuple(
            Operation(
                number=i,
                kind=kind,
                contour_id=c.target.id,
                pass_number=p,
                span=span,
                attended=attended,
                instruction="hold the piece" if attended else "",
            )
            for i, (kind, c, p, span, attended) in enumerate(steps, start=1)
        ),
        stock=_stock(wanted),
        rules=RULES,
        findings=wanted.findings + findings,
    )


def _stock(wanted: Part) -> Contour | None:
    outlines = [c for c in wanted.contours if c.role is Role.OUTLINE]
    if not outlines:
        return None
    boxes = np.array([c.contour.bounds_mm for c in outlines])
    (x0, y0), (x1, y1) = boxes[:, :2].min(axis=0) - 8.0, boxes[:, 2:].max(axis=0) + 8.0
    return Contour.from_rows([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])


def wire_path(of: Plan) -> WirePath:
    """Return moves along the wire's loops with a straight lead from the start."""
    cuts = []
    for contour in of.contours:
        start = np.array([contour.start.x_mm, contour.start.y_mm])
        for one, ring in zip(of.passes, contour.loops, strict=False):
            s = ring.contour.segments
            # Begin each loop at the vertex nearest the lead.
            lead = contour.target.contour.points_at(np.array([contour.lead_station_mm]))[0]
            order = np.roll(np.arange(len(s)), -int(np.argmin(np.hypot(*(s.start - lead).T))))
            turn = np.where(s.is_arc, np.sign(s.bulge), 0).astype(np.int8)[order]
            n = len(s)
            cuts.append(
                Cut(
                    contour_id=contour.target.id,
                    pass_number=one.number,
                    kind=CutKind.ROUGH if one.is_rough else CutKind.SKIM,
                    offset_mm=one.offset_mm,
                    condition=one.number,
                    threads=True,
                    cuts_wire=True,
                    stop_before=None,
                    stop_after=None,
                    moves=Moves(
                        start_mm=start,
                        end_mm=np.vstack([s.start[order[:1]], s.end[order]]),
                        centre_mm=np.vstack([[[0.0, 0.0]], s.centre[order]]),
                        turn=np.concatenate([[np.int8(Turn.LINE)], turn]).astype(np.int8),
                        purpose=np.array([Purpose.LEAD_IN] + [Purpose.WALL] * n, dtype=np.int8),
                        feed_mm_per_min=np.full(n + 1, one.feed_mm_per_min),
                    ),
                    nominal=None,
                    offset_on_left=False,
                )
            )
    return WirePath(cuts=tuple(cuts))


def claim(of: Plan) -> Claim:
    """Return the claim of a plan, put together by hand."""
    return Claim(
        contours=of.part.contours,
        cut_ids=frozenset(c.target.id for c in of.contours),
        kerf_radius_mm={p.number: WIRE.radius_mm + p.gap_um / 1000 for p in of.passes},
        height_mm=of.height_mm,
        density_kg_per_m3=MATERIAL.density_kg_per_m3,
        starts=tuple(
            StartPlace(x_mm=c.start.x_mm, y_mm=c.start.y_mm, diameter_mm=c.start.diameter_mm)
            for c in of.contours
        ),
        stock=of.stock,
        machine=MACHINE,
        wire_diameter_mm=WIRE.diameter_mm,
        tolerance_um=proof_tolerance_um(MACHINE),
        pass_numbers={c.target.id: tuple(p.number for p in c.passes) for c in of.contours},
        offset_mm={(c.target.id, p.number): p.offset_mm for c in of.contours for p in c.passes},
        feed_mm_per_min={
            (c.target.id, p.number): p.feed_mm_per_min for c in of.contours for p in c.passes
        },
        condition={(c.target.id, p.number): p.number for c in of.contours for p in c.passes},
    )


def proof(of: Plan, *, passed: bool = True) -> Proof:
    """Return a verdict with one deviation a contour."""
    refusal = Finding(
        code="gouge",
        severity=Severity.REFUSAL,
        message="The wall of H1 is cut 12.0 µm too deep, limit 5.0 µm.",
        where=Place(contour_id="H1", x_mm=1.0, y_mm=2.0, line=12),
        remedy="Check the offset of pass 4.",
        data={"gouge_um": 12.0},
    )
    return Proof(
        passed=passed,
        max_gouge_um=0.1 if passed else 12.0,
        max_leftover_um=0.2,
        deviations=tuple(
            Deviation(
                contour_id=c.target.id,
                max_gouge_um=0.1,
                max_leftover_um=0.2,
                gouge_at_mm=(1.0, 2.0),
                leftover_at_mm=None,
                mean_um=0.01,
            )
            for c in of.contours
        ),
        unreachable=(),
        events=(
            Event(
                kind=EventKind.THREAD,
                line=5,
                time_s=0.0,
                x_mm=0.0,
                y_mm=0.0,
                contour_id=of.contours[0].target.id if of.contours else None,
                mass_kg=None,
                is_attended=True,
                message="wire threaded",
            ),
        ),
        findings=() if passed else (refusal,),
        cutting_time_s=3600.0,
        path_length_mm=500.0,
        samples=20000,
        program_sha256="cd" * 32,
    )


def estimate() -> Estimate:
    """Return an estimate at two quantities."""
    line = PriceLine(
        item="machine",
        low=Decimal("90.00"),
        likely=Decimal("120.00"),
        high=Decimal("160.00"),
        basis="2 h at 60",
    )
    return Estimate(
        currency="USD",
        times=(
            TimeLine(
                operation="rough pass",
                kind=TimeKind.MACHINE_UNATTENDED,
                per_piece=True,
                minutes=Range(low=60, likely=80, high=110),
                basis="200.0 mm at 2.50 mm/min",
            ),
        ),
        consumption=(
            Consumption(
                item="wire", per_piece=True, amount=Range(low=0.3, likely=0.4, high=0.5), unit="kg",
                unit_price=Decimal("12.00"), basis="8 m/min",
            ),
        ),
        prices=tuple(
            Price(
                quantity=q, lines=(line,), low=Decimal("90.00"), likely=Decimal("120.00"),
                high=Decimal("160.00"), each=Decimal("120.00") / q,
                hours=Range(low=1, likely=2, high=3),
            )
            for q in (1, 10)
        ),
    )  # fmt: skip


def wheel() -> Part:
    """Return a toothed wheel with a bore, a keyed slot and four crossings."""
    teeth = 30
    rows = []
    for i in range(teeth):
        a = 2 * math.pi * i / teeth
        rows.append((40 * math.cos(a), 40 * math.sin(a)))
        rows.append((40 * math.cos(a + 0.03), 40 * math.sin(a + 0.03)))
        rows.append((34 * math.cos(a + 0.1), 34 * math.sin(a + 0.1)))
        rows.append((34 * math.cos(a + 0.19), 34 * math.sin(a + 0.19)))
    targets = [
        outline("P1", Contour.from_rows(rows)),
        opening("H1", Contour.circle((0, 0), radius_mm=5), "P1"),
    ]
    for i in range(4):
        ring = []
        for radius, sense in ((28.0, 1), (12.0, -1)):
            ends = (0.25, math.pi / 2 - 0.25)[::sense]
            bulge = sense * math.tan((math.pi / 2 - 0.5) / 4)
            ring += [
                (
                    radius * math.cos(ends[0] + i * math.pi / 2),
                    radius * math.sin(ends[0] + i * math.pi / 2),
                    bulge,
                )
            ]
            ring += [
                (
                    radius * math.cos(ends[1] + i * math.pi / 2),
                    radius * math.sin(ends[1] + i * math.pi / 2),
                    0.0,
                )
            ]
        targets.append(opening(f"H{i + 2}", Contour.from_rows(ring), "P1"))
    return part(*targets)


def die_plate(columns: int = 10, rows: int = 10, *, pitch_mm: float = 25.0) -> Part:
    """Return a grid of rounded and square openings in a plate of unknown size, in inches."""
    targets = []
    for j in range(rows):
        for i in range(columns):
            x, y = i * pitch_mm, j * pitch_mm
            name = f"H{j * columns + i + 1}"
            if (i + j) % 2:
                shape = Contour.circle((x, y), radius_mm=6.0)
            else:
                shape = Contour.from_rows(
                    [(x - 6, y - 4), (x + 6, y - 4), (x + 6, y + 4), (x - 6, y + 4)]
                )
            targets.append(opening(name, shape))
    return part(*targets, name="die_plate.dxf", unit=LengthUnit.INCH)


def tiny_in_large() -> Part:
    """Return a 300 mm plate with a hole of 1 mm."""
    plate = Contour.from_rows([(0, 0), (300, 0), (300, 200), (0, 200)])
    return part(
        outline("P1", plate),
        opening("H1", Contour.circle((20, 30), radius_mm=0.5), "P1"),
        name="plate.dxf",
    )
