"""What cannot be cut as drawn, where the wire starts, and which wire is taken."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import numpy as np
import pytest
from tests.conftest import PartMaker, box

from kerfwright.adapters.tables import Tables, load_tables
from kerfwright.foundation.findings import Finding, Severity
from kerfwright.geometry.contour import Contour
from kerfwright.planning.plan import OperationKind, Plan, StartKind
from kerfwright.planning.planner import make_plan
from kerfwright.trade.part import Part, Role
from kerfwright.trade.placement import Placement
from kerfwright.trade.requirement import Demand, Requirement

RULES = load_tables().rules


def rounded_box(x: float, y: float, radius: float) -> Contour:
    """Return a rectangle from the origin with rounded corners."""
    b = math.tan(math.pi / 8)
    r = radius
    return Contour.from_rows(
        [(r, 0), (x - r, 0, b), (x, r), (x, y - r, b), (x - r, y), (r, y, b), (0, y - r), (0, r, b)]
    )


def planned(part: Part, requirement: Requirement, tables: Tables) -> Plan:
    return make_plan(
        part,
        requirement,
        technology=tables.technology,
        catalogue=tables.catalogue,
        rules=tables.rules,
    )


def found(plan: Plan, code: str) -> list[Finding]:
    return [f for f in plan.findings if f.code == code]


def test_the_usual_wire_is_kept_where_the_drawing_asks_nothing_else(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    plan = planned(make_part([(Role.OPENING, box(0, 0, 20, 10), None)]), requirement, tables)
    assert plan.choice.wire.diameter_mm == 0.25
    assert plan.choice.wire.kind == "hard-brass"
    # Sharp inside corners ask for no thinner wire; they are said to come out round.
    (corner,) = found(plan, "inside-radius-too-small")
    assert corner.data["corners"] == 4
    assert corner.data["limit_mm"] == pytest.approx(plan.passes[-1].offset_mm)


@pytest.mark.parametrize(
    ("radius", "tolerance_um", "diameter"),
    [
        *((0.5, 5, 0.25), (0.12, 5, 0.20), (0.10, 5, 0.15)),
        # A right angle of R 0.1 keeps (0.108 - 0.1) x (sqrt 2 - 1) = 3.3 um of a path at 0.108 mm.
        *((0.10, 12, 0.20), (0.08, 5, 0.10), (0.08, 12, 0.15)),
    ],
)
def test_a_drawn_inside_radius_asks_for_the_thickest_wire_that_holds_it(
    make_part: PartMaker,
    requirement: Requirement,
    tables: Tables,
    radius: float,
    tolerance_um: float,
    diameter: float,
) -> None:
    part = make_part([(Role.OPENING, rounded_box(20, 10, radius), None)])
    plan = planned(part, replace(requirement, tolerance_um=tolerance_um), tables)
    assert plan.choice.wire.diameter_mm == diameter
    # What stays in the corner and what the pass holds.
    left_mm = (plan.passes[-1].offset_mm - radius) * (math.sqrt(2) - 1)
    assert max(left_mm, 0) + plan.passes[-1].tolerance_um / 1000 <= tolerance_um / 1000
    assert bool(found(plan, "thinner-wire-chosen")) == (diameter != 0.25)


def test_a_thinner_wire_is_laid_to_the_neck_or_to_the_radius_that_asks_for_it(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    neck = [(0, 0), (4, 0), (4, 1.81), (10, 1.81), (10, 0), (14, 0), (14, 4)]
    neck += [(10, 4), (10, 2.19), (4, 2.19), (4, 4), (0, 4)]
    wanted = replace(requirement, tolerance_um=5.0)

    def said(contour: Contour) -> str:
        plan = planned(make_part([(Role.OPENING, contour, None)]), wanted, tables)
        (note,) = found(plan, "thinner-wire-chosen")
        return note.message

    by_neck = said(Contour.from_rows(neck))
    assert "the neck of H1 is narrower than" in by_neck
    assert "inside radius" not in by_neck
    by_radius = said(rounded_box(20, 10, 0.12))
    assert "the smallest inside radius of H1 is 0.120 mm" in by_radius
    assert "neck" not in by_radius


def wire_taken(part: Part, requirement: Requirement, tables: Tables) -> float:
    return planned(part, requirement, tables).choice.wire.diameter_mm


def test_the_width_that_a_thinner_wire_is_laid_to_lets_the_thicker_one_in(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    # The window of which more is asked takes more passes, and a wider neck.
    wanted = replace(
        requirement, tolerance_um=25.0, ra_um=None, contours={"H2": Demand(tolerance_um=5.0)}
    )

    def windows(neck_mm: float) -> Part:
        low, high = 2 - neck_mm / 2, 2 + neck_mm / 2
        below = [(0, 0), (4, 0), (4, low), (10, low), (10, 0), (14, 0)]
        above = [(14, 4), (10, 4), (10, high), (4, high), (4, 4), (0, 4)]
        one = Contour.from_rows(below + above)
        return make_part([(Role.OPENING, c, None) for c in (one, one.moved((30.0, 0.0)))])

    plan = planned(windows(0.25), wanted, tables)
    (note,) = found(plan, "thinner-wire-chosen")
    (needed,) = re.findall(r"Necks of more than (\d\.\d+) mm would", note.remedy)
    assert wire_taken(windows(float(needed) + 0.002), wanted, tables) == note.data["usual_mm"]
    assert wire_taken(windows(float(needed) - 0.002), wanted, tables) < note.data["usual_mm"]


def test_the_radius_that_a_thinner_wire_is_laid_to_lets_the_thicker_one_in(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    wanted = replace(
        requirement, tolerance_um=25.0, ra_um=None, contours={"H2": Demand(tolerance_um=5.0)}
    )

    def windows(radius_mm: float) -> Part:
        apart = rounded_box(20, 10, radius_mm).moved((30.0, 0.0))
        return make_part([(Role.OPENING, c, None) for c in (rounded_box(20, 10, radius_mm), apart)])

    plan = planned(windows(0.1), wanted, tables)
    (note,) = found(plan, "thinner-wire-chosen")
    (needed,) = re.findall(r"nside radii of (\d\.\d+) mm or more", note.remedy)
    assert wire_taken(windows(float(needed) + 0.001), wanted, tables) == note.data["usual_mm"]
    assert wire_taken(windows(float(needed) - 0.004), wanted, tables) < note.data["usual_mm"]


def test_a_wire_that_the_person_names_is_not_changed(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    part = make_part([(Role.OPENING, rounded_box(20, 10, 0.1), None)])
    asked = replace(requirement, wire=tables.catalogue.wire("0.25 hard brass"))
    plan = planned(part, asked, tables)
    assert plan.choice.wire.diameter_mm == 0.25
    assert found(plan, "inside-radius-too-small")


def test_a_neck_that_only_thin_wire_passes_asks_for_it_though_another_passes_nothing(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    def dumbbell(x: float, neck: float) -> Contour:
        low, high = 3 - neck / 2, 3 + neck / 2
        rows = [(0, 0), (6, 0), (6, low), (10, low), (10, 0), (16, 0), (16, 6), (10, 6)]
        rows += [(10, high), (6, high), (6, 6), (0, 6)]
        return Contour.from_rows([(x + a, b) for a, b in rows])

    part = make_part(
        [(Role.OPENING, dumbbell(0, 0.39), None), (Role.OPENING, dumbbell(20, 0.05), None)]
    )
    plan = planned(part, requirement, tables)
    assert plan.choice.wire.diameter_mm == 0.20
    assert [c.target.id for c in plan.contours] == ["H1"]
    assert [f.where.contour_id for f in found(plan, "slot-below-kerf")] == ["H2"]


def test_a_slot_below_every_kerf_is_refused_with_its_width_and_the_other_contours_are_planned(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    dumbbell = Contour.from_rows(
        [
            (0, 0),
            (6, 0),
            (6, 2.95),
            (10, 2.95),
            (10, 0),
            (16, 0),
            (16, 6),
            (10, 6),
            (10, 3.05),
            (6, 3.05),
            (6, 6),
            (0, 6),
        ]
    )
    part = make_part([(Role.OPENING, dumbbell, None), (Role.OPENING, box(20, 0, 30, 10), None)])
    plan = planned(part, requirement, tables)
    (slot,) = found(plan, "slot-below-kerf")
    assert slot.severity is Severity.REFUSAL
    assert slot.where.contour_id == "H1"
    assert slot.data["pieces"] == 2
    assert [c.target.id for c in plan.contours] == ["H2"]


def test_a_slot_just_as_wide_as_the_kerf_is_not_said_to_be_narrower(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    usual = planned(make_part([(Role.OPENING, box(0, 0, 20, 10), None)]), requirement, tables)
    kerf = 2 * usual.passes[0].offset_mm
    wanted = replace(requirement, wire=usual.choice.wire)
    slot = make_part([(Role.OPENING, box(0, 0, 20, kerf), None)])
    (refusal,) = found(planned(slot, wanted, tables), "slot-below-kerf")
    assert f"H1 is nowhere wider than the {kerf:.3f} mm" in refusal.message
    assert "none fits now, so that a thinner wire does not help" in refusal.remedy
    # With a thinner wire it is the start hole that is refused, and no wire is named again.
    thin = replace(requirement, wire=tables.catalogue.wire("0.15"))
    (other,) = found(planned(slot, thin, tables), "start-hole-fits-nowhere")
    assert "thinner wire" not in other.remedy


def test_a_wire_named_as_the_remedy_of_a_narrow_slot_cuts_it(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    keyhole = Contour.from_rows(
        [
            *[(0, 0), (6, 0), (6, 2.85), (10, 2.85), (10, 0), (16, 0)],
            *[(16, 6), (10, 6), (10, 3.15), (6, 3.15), (6, 6), (0, 6)],
        ]
    )
    part = make_part([(Role.OPENING, keyhole, None)])
    usual = replace(requirement, wire=tables.catalogue.wire("0.25"))
    (refusal,) = found(planned(part, usual, tables), "slot-below-kerf")
    assert "a neck no wider than" in refusal.message
    named = refusal.remedy.split("ask for a wire of ")[1].split(" mm")[0]
    thinner = replace(requirement, wire=tables.catalogue.wire(named))
    assert [c.target.id for c in planned(part, thinner, tables).contours] == ["H1"]


def test_a_hole_too_small_for_any_start_is_refused_with_the_circle_it_needs(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    part = make_part([(Role.OPENING, Contour.circle((0, 0), radius_mm=0.5), None)])
    plan = planned(part, requirement, tables)
    (refusal,) = found(plan, "start-hole-fits-nowhere")
    assert refusal.severity is Severity.REFUSAL
    # By hand: hole + 2 * (overcut 0.05 + wander 0.001 * 20 + clearance 0.1).
    hole = refusal.data["smallest_hole_mm"]
    assert isinstance(hole, float)
    assert refusal.data["needed_mm"] == pytest.approx(
        hole + 2 * (0.05 + 20 * (0.002 - 0.001 * (hole - 0.3) / 0.7) + 0.1)
    )
    assert not plan.contours


def test_a_drilled_start_keeps_its_grown_edge_clear_of_every_wall(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    part = make_part(
        [(Role.OUTLINE, box(0, 0, 60, 40), None), (Role.OPENING, box(10, 10, 30, 30), "P1")]
    )
    plan = planned(part, requirement, tables)
    for c in plan.contours:
        assert c.start.kind is StartKind.DRILLED
        grown = c.start.diameter_mm / 2 + 0.05 + 0.001 * 20
        walls = [p.contour.segments for p in part.contours]
        at = np.array([[c.start.x_mm, c.start.y_mm]])
        nearest = min(
            float(s.distances(np.arange(len(s)), np.repeat(at, len(s), axis=0)).min())
            for s in walls
        )
        assert nearest >= grown + RULES.wall_clearance_mm - 1e-6


def test_a_start_hole_that_the_drawing_gives_is_used_where_it_is(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    part = make_part([(Role.OPENING, box(0, 0, 20, 10), None)], starts=[(12.0, 6.0, 2.0)])
    plan = planned(part, requirement, tables)
    (c,) = plan.contours
    assert (c.start.kind, c.start.x_mm, c.start.y_mm) == (StartKind.GIVEN, 12.0, 6.0)


def test_an_outline_in_a_frame_too_thin_for_a_hole_is_entered_from_the_edge(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    part = make_part([(Role.OUTLINE, box(0, 0, 30, 20), None)], stock=box(-1, -1, 31, 21))
    plan = planned(part, requirement, tables)
    (c,) = plan.contours
    assert c.start.kind is StartKind.EDGE
    assert not (-1 <= c.start.x_mm <= 31 and -1 <= c.start.y_mm <= 21)
    (said,) = found(plan, "start-from-edge")
    assert "no start hole fits" in said.message


@pytest.mark.parametrize(
    ("code", "change"),
    [
        ("height-beyond-machine", {"max_height_mm": 19.0}),
        ("travel-beyond-machine", {"travel_x_mm": 50.0}),
        ("weight-beyond-machine", {"max_weight_kg": 0.1}),
    ],
)
def test_work_beyond_the_machine_is_refused_with_value_and_limit(
    make_part: PartMaker,
    requirement: Requirement,
    tables: Tables,
    code: str,
    change: dict[str, float],
) -> None:
    part = make_part([(Role.OUTLINE, box(0, 0, 60, 40), None)])
    small = replace(requirement, machine=replace(requirement.machine, **change))
    (refusal, *_) = found(planned(part, small, tables), code)
    assert refusal.severity is Severity.REFUSAL
    assert next(iter(change.values())) in refusal.data.values()


def test_a_thin_wall_between_two_openings_is_measured(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    part = make_part(
        [
            (Role.OUTLINE, box(0, 0, 60, 40), None),
            (Role.OPENING, box(10, 10, 20, 20), "P1"),
            (Role.OPENING, box(20.3, 10, 30, 20), "P1"),
        ]
    )
    (web,) = found(planned(part, requirement, tables), "thin-web")
    assert web.data["width_mm"] == pytest.approx(0.3, abs=2e-3)


@pytest.mark.parametrize(("length", "is_thin"), [(6.0, True), (1.0, False)])
def test_a_thin_fin_is_pointed_out_where_it_is_long(
    make_part: PartMaker,
    requirement: Requirement,
    tables: Tables,
    length: float,
    is_thin: bool,
) -> None:
    fin = Contour.from_rows(
        [
            (0, 0),
            (20, 0),
            (20, 10),
            (10.3, 10),
            (10.3, 10 + length),
            (10, 10 + length),
            (10, 10),
            (0, 10),
        ]
    )
    webs = found(planned(make_part([(Role.OUTLINE, fin, None)]), requirement, tables), "thin-web")
    assert bool(webs) == is_thin
    if webs:
        assert webs[0].data["width_mm"] == pytest.approx(0.3, rel=0.1)
        assert webs[0].where.y_mm == pytest.approx(10 + length / 2, abs=0.3)


def test_a_thin_tongue_of_the_part_in_an_opening_is_pointed_out(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    tongue = Contour.from_rows(
        [(0, 0), (20, 0), (20, 10), (10.3, 10), (10.3, 4), (10, 4), (10, 10), (0, 10)]
    )
    webs = found(
        planned(make_part([(Role.OPENING, tongue, None)]), requirement, tables), "thin-web"
    )
    assert len(webs) == 1


def test_two_parts_side_by_side_have_no_thin_wall_between_them(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    part = make_part(
        [(Role.OUTLINE, box(0, 0, 20, 20), None), (Role.OUTLINE, box(20.4, 0, 40, 20), None)]
    )
    assert not found(planned(part, requirement, tables), "thin-web")


def test_the_mass_of_a_part_is_area_times_height_times_density(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    part = make_part([(Role.OUTLINE, box(0, 0, 100, 100), None)])
    (c,) = planned(part, requirement, tables).contours
    # D2: 7.7 g/cm³ (typical-value database, see data/materials.toml): 10 * 10 * 2 cm³ * 7.7 g.
    assert c.slug.mass_kg == pytest.approx(1.54)


def test_heavy_and_tiny_pieces_are_pointed_out(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    heavy = make_part([(Role.OPENING, box(0, 0, 200, 200), None)])
    assert found(planned(heavy, requirement, tables), "slug-too-heavy")
    tiny = make_part([(Role.OPENING, box(0, 0, 3, 3), None)])
    assert found(planned(tiny, requirement, tables), "slug-too-small-to-catch")
    brass = next(m for m in tables.catalogue.materials if m.family == "copper")
    (caught,) = found(
        planned(tiny, replace(requirement, material=brass), tables), "slug-too-small-to-catch"
    )
    assert caught.remedy.startswith("Hold it with a clamp, glue or a copper strap at the cut-off, ")
    assert caught.remedy.endswith(" No magnet holds it.")


def test_two_parts_so_close_that_their_kerfs_would_cut_into_each_other_are_refused(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    part = make_part(
        [(Role.OUTLINE, box(0, 0, 20, 20), None), (Role.OUTLINE, box(20.3, 0, 40, 20), None)]
    )
    close = found(planned(part, requirement, tables), "walls-closer-than-kerf")
    assert {f.severity for f in close} == {Severity.REFUSAL}
    # A kerf of 0.3 mm is one of a thinner wire; none is thinner than the thinnest wire.
    assert all("ask for a thinner wire" in f.remedy for f in close)
    part = make_part(
        [(Role.OUTLINE, box(0, 0, 20, 20), None), (Role.OUTLINE, box(20.018, 0, 40, 20), None)]
    )
    for finding in found(planned(part, requirement, tables), "walls-closer-than-kerf"):
        assert "no kerf fits between them" in finding.remedy
        assert "thinner" not in finding.remedy


def test_outlines_so_close_that_waste_between_them_falls_are_refused_one_by_one(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    # Three circles around a triangle of waste that no tab holds.
    centres = [(0.0, 0.0), (20.5, 0.0), (10.25, 20.5 * math.sqrt(3) / 2)]
    part = make_part([(Role.OUTLINE, Contour.circle(c, radius_mm=10), None) for c in centres])
    plan = planned(part, requirement, tables)
    (loose,) = found(plan, "loose-piece-between-contours")
    assert loose.severity is Severity.REFUSAL
    assert len(plan.contours) == 2
    assert isinstance(loose.data["area_mm2"], float)
    # The triangle of centres less three sixths of a disc grown by the far side of the kerf.
    rough = plan.passes[0]
    grown = 10 + rough.offset_mm + 0.125 + rough.gap_um / 1000
    between = 20.5**2 * math.sqrt(3) / 4 - math.pi * grown**2 / 2
    overlap = 2 * grown - 20.5
    assert loose.data["area_mm2"] == pytest.approx(between, abs=3 * overlap * 3)


def test_outlines_with_a_web_of_waste_between_them_are_all_cut(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    centres = [(0.0, 0.0), (22.0, 0.0), (11.0, 22.0 * math.sqrt(3) / 2)]
    part = make_part([(Role.OUTLINE, Contour.circle(c, radius_mm=10), None) for c in centres])
    plan = planned(part, requirement, tables)
    assert not found(plan, "loose-piece-between-contours")
    assert len(plan.contours) == 3


@pytest.mark.parametrize("margin", [-0.5, 0.0, 0.1, 0.4, 0.5])
def test_an_outline_whose_frame_the_kerf_would_eat_is_refused(
    make_part: PartMaker, requirement: Requirement, tables: Tables, margin: float
) -> None:
    stock = box(-margin, -margin, 30 + margin, 20 + margin)
    plan = planned(
        make_part([(Role.OUTLINE, box(0, 0, 30, 20), None)], stock=stock), requirement, tables
    )
    (thin,) = found(plan, "frame-too-thin")
    assert thin.severity is Severity.REFUSAL
    assert thin.data["room_mm"] == pytest.approx(margin, abs=1e-9)
    assert not plan.contours


def test_a_given_hole_that_cuts_a_wall_is_refused_and_one_that_is_not_used_is_said(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    part = make_part(
        [(Role.OPENING, box(0, 0, 20, 10), None)],
        starts=[(12.0, 6.0, 2.0), (4.0, 5.0, 1.0), (19.8, 5.0, 1.0)],
    )
    plan = planned(part, requirement, tables)
    (crossing,) = found(plan, "given-start-crosses-wall")
    assert crossing.severity is Severity.REFUSAL
    assert crossing.data["overlap_mm"] == pytest.approx(0.3)
    assert len(found(plan, "given-start-not-used")) == 1


@pytest.mark.parametrize(
    ("x_mm", "diameter_mm", "outside_mm"),
    [(-8.0, 2.0, 4.0), (-4.5, 2.0, 0.5), (-8.0, 0.0, 3.0)],
    ids=["in-the-air", "across-the-edge", "a-point-in-the-air"],
)
def test_a_given_hole_that_is_not_wholly_in_the_stock_is_refused(
    make_part: PartMaker,
    requirement: Requirement,
    tables: Tables,
    x_mm: float,
    diameter_mm: float,
    outside_mm: float,
) -> None:
    part = make_part(
        [(Role.OUTLINE, box(0, 0, 20, 20), None)],
        starts=[(x_mm, 10.0, diameter_mm)],
        stock=box(-5, -5, 30, 30),
    )
    plan = planned(part, requirement, tables)
    (refusal,) = found(plan, "given-start-outside-stock")
    assert refusal.severity is Severity.REFUSAL
    assert refusal.data["outside_mm"] == pytest.approx(outside_mm)
    assert refusal.where.x_mm == x_mm
    assert f"X{x_mm:.3f} Y10.000" in refusal.message
    assert "leave it out" in refusal.remedy
    assert all(c.start.x_mm != x_mm for c in plan.contours)


def test_a_given_hole_just_inside_the_stock_is_used(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    part = make_part(
        [(Role.OUTLINE, box(0, 0, 20, 20), None)],
        starts=[(-4.0, 10.0, 2.0)],
        stock=box(-5, -5, 30, 30),
    )
    plan = planned(part, requirement, tables)
    assert not found(plan, "given-start-outside-stock")
    assert [c.start.kind for c in plan.contours] == [StartKind.GIVEN]


def test_a_point_on_the_start_layer_gets_a_hole_drilled_there(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    part = make_part([(Role.OPENING, box(0, 0, 20, 10), None)], starts=[(12.0, 6.0, 0.0)])
    (c,) = planned(part, requirement, tables).contours
    assert (c.start.kind, c.start.x_mm, c.start.y_mm) == (StartKind.DRILLED, 12.0, 6.0)
    assert c.start.diameter_mm == 1.5


def test_someone_stands_by_while_a_tab_that_would_yield_is_all_that_holds(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    sheet = replace(requirement, height_mm=0.1)
    plan = planned(make_part([(Role.OUTLINE, box(0, 0, 60, 40), None)]), sheet, tables)
    (weak,) = found(plan, "tab-too-weak")
    assert isinstance(weak.data["safety"], float)
    assert weak.data["safety"] < 1
    rough = plan.operations[0]
    assert rough.attended
    assert "BETWEEN PLATES" in rough.instruction
    assert "between two plates" in weak.remedy
    assert "dearer" in weak.message


@pytest.mark.parametrize("height_mm", [0.05, 0.1, 0.2, 0.5, 1.0, 2.0])
def test_no_part_is_skimmed_alone_on_a_tab_that_yields(
    make_part: PartMaker, requirement: Requirement, tables: Tables, height_mm: float
) -> None:
    part = make_part(
        [(Role.OUTLINE, box(0, 0, 60, 40), None), (Role.OPENING, box(20, 10, 40, 30), "P1")]
    )
    plan = planned(part, replace(requirement, height_mm=height_mm), tables)
    assert any(o.kind is OperationKind.SKIM for o in plan.operations)
    for one in plan.contours:
        if one.tab.safety >= 1 or one.target.role is not Role.OUTLINE:
            continue
        until_free = [o for o in plan.operations if o.contour_id == one.target.id]
        assert all(o.attended for o in until_free)
    yields = any(c.tab.safety < 1 for c in plan.contours)
    assert yields == any("yields" in f.message for f in found(plan, "tab-too-weak"))


def test_a_part_weighs_what_its_openings_leave(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    part = make_part(
        [(Role.OUTLINE, box(0, 0, 100, 100), None), (Role.OPENING, box(20, 20, 80, 80), "P1")]
    )
    plan = planned(part, requirement, tables)
    frame = next(c for c in plan.contours if c.target.id == "P1")
    # (100 * 100 - 60 * 60) mm² * 20 mm * 7.7 g/cm³.
    assert frame.slug.mass_kg == pytest.approx(6400 * 20 * 7.7e-6)


def test_inside_corners_within_the_tolerance_are_not_spoken_of(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    # A kink of 2° in a chord of an opening keeps r (1 / cos 1° - 1) = 0.02 µm.
    rows = [(0, 0), (20, 0), (20, 10), (10, 10.175), (0, 10)]
    plan = planned(make_part([(Role.OPENING, Contour.from_rows(rows), None)]), requirement, tables)
    (corners,) = found(plan, "inside-radius-too-small")
    assert corners.data["corners"] == 4
    # A right angle keeps r (sqrt 2 - 1); the two beside the kink are a degree wider.
    radius = plan.passes[-1].offset_mm
    assert corners.data["left_mm"] == pytest.approx(radius * (math.sqrt(2) - 1), rel=1e-6)


def test_a_corner_has_what_the_tolerance_leaves_beside_what_the_last_pass_holds(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    part = make_part([(Role.OPENING, rounded_box(20, 10, 0.127), None)])
    wire = tables.catalogue.wire("0.25 hard brass")
    plan = planned(part, replace(requirement, wire=wire), tables)
    last = plan.passes[-1]
    left_um = 1000 * (last.offset_mm - 0.127) * (math.sqrt(2) - 1)
    # More than is left beside the pass, and less than the whole tolerance.
    assert requirement.tolerance_um is not None
    assert last.tolerance_um + left_um > requirement.tolerance_um > left_um
    (corner,) = found(plan, "inside-radius-too-small")
    assert corner.data["left_mm"] == pytest.approx(left_um / 1000, rel=0.02)
    assert "±5 µm (0.000196 in) is asked and the last pass holds ±" in corner.message
    roomy = planned(part, replace(requirement, wire=wire, tolerance_um=20.0, ra_um=1.1), tables)
    assert not found(roomy, "inside-radius-too-small")


def test_an_opening_that_no_start_hole_fits_does_not_choose_the_wire(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    part = make_part(
        [
            (Role.OUTLINE, box(0, 0, 60, 40), None),
            (Role.OPENING, Contour.circle((20, 20), radius_mm=0.2), "P1"),
        ]
    )
    plan = planned(part, requirement, tables)
    assert plan.choice.wire.diameter_mm == 0.25
    assert [c.target.id for c in plan.contours] == ["P1"]


def test_from_a_given_hole_the_wire_takes_the_short_square_way(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    part = make_part([(Role.OUTLINE, box(0, 0, 60, 40), None)], starts=[(3.0, -4.0, 2.0)])
    (c,) = planned(part, requirement, tables).contours
    point = c.target.contour.points_at(np.array([c.lead_station_mm]))[0]
    assert point == pytest.approx([3.0, 0.0], abs=1e-6)


def test_a_weak_tab_says_whether_its_width_was_asked(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    sheet = replace(requirement, height_mm=0.1)
    part = make_part([(Role.OUTLINE, box(0, 0, 60, 40), None)])
    (own,) = found(planned(part, sheet, tables), "tab-too-weak")
    assert "10 % of the perimeter" in own.message
    asked = replace(sheet, placements={"P1": Placement(tab_width_mm=0.5)})
    (chosen,) = found(planned(part, asked, tables), "tab-too-weak")
    assert "0.50 mm" in chosen.message
    assert "as wide as asked" in chosen.message
    assert "perimeter" not in chosen.message
    assert "wider tab" in chosen.remedy


def test_a_piece_beyond_what_anybody_lifts_asks_for_lifting_gear_before_the_cut_off(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    wanted = replace(requirement, height_mm=140.0)

    def said(side_mm: float) -> Finding:
        part = make_part([(Role.OPENING, box(0, 0, side_mm, side_mm), None)])
        (warning,) = found(planned(part, wanted, tables), "slug-too-heavy")
        return warning

    # 100 and 230 mm square, 140 mm high, 7.7 kg a cubic decimetre: some 11 and 57 kg.
    light, heavy = said(100.0), said(230.0)
    assert light.data["mass_kg"] < 25 < heavy.data["mass_kg"]
    assert "CAUTION" in heavy.message
    assert "its tab carries it" in heavy.message
    assert "lifting gear rated for it" in heavy.remedy
    assert "site rules" in heavy.remedy
    assert "magnet holds" not in heavy.remedy
    assert "lifting gear" not in light.remedy
