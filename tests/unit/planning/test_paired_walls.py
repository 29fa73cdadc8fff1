"""Two contours joined: what is chosen, why, and where rulings cross or fan."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tests.conftest import PartMaker
from tests.leaning_jobs import leaning_job, square

from kerfwright.adapters.machines import load_machine
from kerfwright.adapters.tables import Tables
from kerfwright.foundation.errors import InputError
from kerfwright.foundation.findings import Finding, Severity
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.matching import Matching, match_contours
from kerfwright.geometry.ruled import crossing
from kerfwright.planning.paired_walls import joined
from kerfwright.trade.part import Part, Role
from kerfwright.trade.requirement import Requirement
from kerfwright.trade.walls import Pairing

BELOW = Contour.from_rows([(5.4, 18.7), (2.5, 9.6), (8.3, 3.8), (13.9, 8.5), (18.2, 8.4)])
ABOVE = Contour.from_rows([(16.1, 10.5), (9.3, 17.3), (5.6, 4.1), (7.8, 5.6), (18.4, 9.6)])


@pytest.fixture
def crossed(make_part: PartMaker) -> tuple[Part, Part]:
    """Two contours of five corners whose rulings cross from corner to corner."""
    return tuple(make_part([(Role.OUTLINE, c, None)]) for c in (BELOW, ABOVE))  # type: ignore[return-value]


def test_where_rulings_cross_the_other_way_is_taken_and_the_place_named(crossed):
    below, above = crossed
    corners = match_contours(BELOW, ABOVE, lower_mm=0.0, upper_mm=40.0, how=Matching.CORNERS)
    place = crossing(corners.wall)
    assert place is not None
    done = joined(below.contours[0], Pairing(top_id="P1"), height_mm=40.0, top=above)
    assert crossing(done.shape.ruled) is None
    assert "matched by length: by corners its rulings would cross at " in done.reason
    assert f"X{place.x_mm:.4f} Y{place.y_mm:.4f} mm, {place.height_mm:.4g} mm up" in done.reason


def test_what_a_person_asks_is_not_changed_but_refused_with_the_place(crossed):
    below, above = crossed
    asked = Pairing(top_id="P1", how="corners")
    with pytest.raises(InputError, match="rulings cross") as caught:
        joined(below.contours[0], asked, height_mm=40.0, top=above)
    assert caught.value.code == "rulings-cross"
    assert caught.value.where.startswith("X")


def test_faces_drawn_at_another_distance_than_the_height_are_refused(crossed):
    below, above = crossed
    note = Finding(
        code="read-at-elevation", severity=Severity.NOTE, message="", data={"apart_mm": 25.4}
    )
    above = replace(above, findings=(note,))
    with pytest.raises(InputError, match=r"25\.4 mm") as caught:
        joined(below.contours[0], Pairing(top_id="P1"), height_mm=40.0, top=above)
    assert caught.value.code == "elevations-not-height"
    joined(below.contours[0], Pairing(top_id="P1"), height_mm=25.4, top=above)


@pytest.fixture
def wanted(tables: Tables) -> Requirement:
    return Requirement(
        material=tables.catalogue.material("D2"),
        height_mm=20.0,
        machine=load_machine(),
        tolerance_um=10.0,
    )


def test_fans_are_told_with_the_worst_place(
    make_part: PartMaker, wanted: Requirement, tables: Tables
):
    part = make_part([(Role.OUTLINE, square(16), None)])
    result = leaning_job(part, wanted, tables, {"P1": "taper=15° out from bottom"})
    (fan,) = [f for f in result.findings if f.code == "wall-fans"]
    # By hand: between two planes 15 degrees off upright a quarter turn apart.
    assert fan.data["swing_deg"] == pytest.approx(21.09, abs=0.01)
    assert fan.data["places"] == 4
    assert abs(fan.where.x_mm) == abs(fan.where.y_mm) == pytest.approx(8.0)
    small = leaning_job(part, wanted, tables, {"P1": "taper=3° out from bottom"})
    assert "wall-fans" not in {f.code for f in small.findings}


def test_a_wall_too_warped_for_its_tolerance_is_not_cut(
    make_part: PartMaker, wanted: Requirement, tables: Tables
):
    part = make_part([(Role.OUTLINE, square(20), None)])
    top = make_part([(Role.OUTLINE, Contour.circle((0, 0), radius_mm=9.0), None)])
    strict = replace(wanted, tolerance_um=5.0)
    result = leaning_job(part, strict, tables, {"P1": "top=P1"}, top=top)
    assert "wall-too-warped" in {f.code for f in result.findings}
    assert result.program is None
    assert not result.plan.contours
    loose = leaning_job(part, replace(wanted, tolerance_um=25.0), tables, {"P1": "top=P1"}, top=top)
    assert loose.program is not None
