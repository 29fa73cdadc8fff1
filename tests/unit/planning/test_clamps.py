"""Clamps in a plan: what is refused and by how much, and which starts are chosen instead."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from tests.conftest import PartMaker, box
from tests.part_clamps import clamped

from kerfwright.adapters.tables import Tables
from kerfwright.foundation.errors import InputError
from kerfwright.foundation.findings import Finding, Severity
from kerfwright.geometry.contour import Contour
from kerfwright.planning.plan import Plan, StartKind
from kerfwright.trade.clamps import Clamps
from kerfwright.trade.placement import Placement
from kerfwright.trade.requirement import Requirement


def refusals(plan: Plan) -> list[Finding]:
    return [f for f in plan.findings if f.severity is Severity.REFUSAL]


def test_the_reach_is_half_a_nozzle_and_the_clearance_of_the_papers(tables: Tables) -> None:
    # planning.toml: nozzle 6 mm; papers.toml: 5 mm beside it.
    assert tables.rules.clamp_reach_mm == pytest.approx(3.0 + 5.0)


@pytest.mark.parametrize(("gap_mm", "is_cut"), [(7.9, False), (8.1, True)])
def test_a_wall_is_refused_where_its_rough_pass_brings_the_nozzle_too_near(
    gap_mm: float, is_cut: bool, make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    free = clamped(make_part, requirement, tables)
    offset = free.plan.passes[0].offset_mm
    beside = box(40 + offset + gap_mm, 15, 70, 35)
    # The second plate is far; its stock is another's.
    job = clamped(
        make_part, requirement, tables, beside, plates=[box(20, 15, 40, 35)],
        stock=box(0, 0, 120, 60),
    )  # fmt: skip
    assert ([c.target.id for c in job.plan.contours] == ["P1"]) is is_cut
    found = refusals(job.plan)
    if is_cut:
        assert found == []
        return
    (one,) = found
    assert one.code == "clamp-in-the-way"
    assert one.where.contour_id == "P1"
    assert one.where.x_mm == pytest.approx(40 + offset, abs=0.01)
    assert one.data["near_mm"] == pytest.approx(gap_mm, abs=2e-3)
    assert one.data["needed_mm"] == pytest.approx(8.0)
    # 0.1 mm is missing, in +X away from the plate; said to a tenth, rounded up.
    assert one.data["move_mm"] == pytest.approx(0.1, abs=0.11)
    assert "in +X" in (one.remedy or "")


def test_moving_the_clamp_as_the_refusal_says_makes_room(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    clamp = box(44, 20, 52, 55)
    job = clamped(make_part, requirement, tables, clamp)
    (one,) = refusals(job.plan)
    by = float(one.data["move_mm"])
    moved = box(44 + by, 20, 52 + by, 55)
    assert "in +X" in (one.remedy or "")
    again = clamped(make_part, requirement, tables, moved)
    assert "P1" in {c.target.id for c in again.plan.contours}
    less = clamped(make_part, requirement, tables, box(43.8 + by, 20, 51.8 + by, 55))
    assert "P1" not in {c.target.id for c in less.plan.contours}


def test_a_start_is_chosen_on_a_side_that_no_clamp_shuts(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    plates = [box(20, 20, 60, 40)]
    stock = box(0, 0, 80, 60)
    free = clamped(make_part, requirement, tables, plates=plates, stock=stock)
    start = free.plan.contours[0].start
    # Clamps stand right where the wall still clears them, along the side of the usual start.
    low = start.y_mm < 30
    clamp = box(20, 5, 60, 11.5) if low else box(20, 48.5, 60, 55)
    job = clamped(make_part, requirement, tables, clamp, plates=plates, stock=stock)
    (contour,) = job.plan.contours
    assert contour.start.kind is StartKind.DRILLED
    assert (contour.start.x_mm, contour.start.y_mm) != (start.x_mm, start.y_mm)
    zone = shapely.box(*clamp.bounds_mm)
    way = shapely.LineString([(contour.start.x_mm, contour.start.y_mm), _lead(job.plan)])
    assert way.distance(zone) >= 8.0


def _lead(plan: Plan) -> tuple[float, float]:
    c = plan.contours[0]
    x, y = c.target.contour.points_at(np.array([c.lead_station_mm]))[0]
    return float(x), float(y)


def test_an_entry_from_the_edge_keeps_off_a_clamp_beside_it(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    # No start hole fits in so thin a frame: the wire comes in from the edge.
    plates, stock = [box(1.2, 1.2, 61.2, 31.2)], box(0, 0, 62.4, 32.4)
    free = clamped(make_part, requirement, tables, plates=plates, stock=stock)
    assert free.plan.contours[0].start.kind is StartKind.EDGE
    x, y = free.plan.contours[0].start.x_mm, free.plan.contours[0].start.y_mm
    # A clamp off the sheet that the wall clears and that entry does not.
    reach = 8.3
    dx, dy = np.sign(x - 31.2) if x < 0 or x > 62.4 else 0, 0
    dy = np.sign(y - 16.2) if y < 0 or y > 32.4 else 0
    assert abs(dx) + abs(dy) == 1
    wall = (1.2 if dx < 0 else 61.2) if dx else (1.2 if dy < 0 else 31.2)
    near, far = wall + (dx + dy) * reach, wall + (dx + dy) * (reach + 10)
    low, high = sorted((near, far))
    clamp = box(low, -40, high, 80) if dx else box(-40, low, 110, high)
    job = clamped(make_part, requirement, tables, clamp, plates=plates, stock=stock)
    (contour,) = job.plan.contours
    assert (contour.start.x_mm, contour.start.y_mm) != (x, y)
    assert (
        shapely.Point(contour.start.x_mm, contour.start.y_mm).distance(
            shapely.box(*clamp.bounds_mm)
        )
        >= 8.0
    )


def test_where_clamps_shut_every_start_the_contour_is_refused_for_them(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    plates, stock = [box(20, 20, 60, 40)], box(0, 0, 80, 60)
    ring = [box(0, 0, 80, 11.5), box(0, 48.5, 80, 60), box(0, 0, 11.5, 60), box(68.5, 0, 80, 60)]
    job = clamped(make_part, requirement, tables, *ring, plates=plates, stock=stock)
    assert job.plan.contours == ()
    (one,) = refusals(job.plan)
    assert one.code == "clamp-in-the-way"
    assert "start hole" in one.message
    assert float(one.data["near_mm"]) < 8.0 + tables.rules.approach_radius_mm


def test_a_start_that_a_person_puts_beside_a_clamp_is_refused_with_what_is_missing(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    there = replace(requirement, placements={"P1": Placement(start_mm=(30.0, 8.0))})
    clamp = box(20, -10, 40, 3)
    job = clamped(make_part, there, tables, clamp)
    (one,) = refusals(job.plan)
    assert one.code == "place-refused"
    assert "wire to a clamp 5.000 mm, at least 8.000 mm" in one.message


def test_a_clamp_on_the_plate_itself_is_no_trouble(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    plates, stock = [box(20, 20, 80, 70)], box(0, 0, 100, 90)
    job = clamped(make_part, requirement, tables, box(45, 40, 55, 50), plates=plates, stock=stock)
    assert [c.target.id for c in job.plan.contours] == ["P1"]
    assert refusals(job.plan) == []


@pytest.mark.parametrize(
    "make",
    [
        lambda: Clamps(zones=(box(0, 0, 1, 1),), reach_mm=0.0),
        lambda: Clamps(zones=(Contour.from_rows([(0, 0), (1, 0)], is_closed=False),), reach_mm=8.0),
    ],
)
def test_a_clamp_has_an_area_and_the_nozzles_a_reach(make: object) -> None:
    with pytest.raises(InputError):
        make()  # type: ignore[operator]
