"""Radii on the inspection sheet: one wall, from the drawn centre, and none of a short arc."""

from __future__ import annotations

from math import cos, radians, tan
from pathlib import Path

import ezdxf
import pytest

from kerfwright.adapters.fit_tables import load_fits
from kerfwright.adapters.papers.for_customer import inspection_shape
from kerfwright.adapters.papers.pictures import Picture
from kerfwright.adapters.papers.rules import load_paper_rules
from kerfwright.adapters.papers.words import Units
from kerfwright.app.papers.arcs import SHORTEST_TURN, arcs_of, radii_of
from kerfwright.app.papers.common import zones_off_the_line
from kerfwright.app.papers.inspection import Feature, FeatureKind, InspectionSheet, inspection_of
from kerfwright.app.papers.size_limits import limiter_of
from kerfwright.app.records import JobRequest
from kerfwright.geometry.contour import Contour
from kerfwright.trade.part import LengthUnit
from kerfwright.trade.statements import Asks
from kerfwright.wiring import drawing_says, plan_job
from kerfwright.wiring.drawings import drawing_as_read

QUARTER = tan(radians(90 / 4))


def rounded(radius_mm: float) -> Contour:
    """A punch of 60 by 40 mm with four rounded corners, of which one is 1 mm smaller."""
    r, q = radius_mm, radius_mm - 1
    rows = [
        (r, 0, 0), (60 - r, 0, QUARTER), (60, r, 0), (60, 40 - r, QUARTER),
        (60 - r, 40, 0), (q, 40, QUARTER), (0, 40 - q, 0), (0, r, QUARTER),
    ]  # fmt: skip
    return Contour.from_rows(rows)


def sheet(tmp_path: Path, contour: Contour, label: str = "", **asked: str) -> InspectionSheet:
    drawing = ezdxf.new("R2010", units=4)
    rows = [(float(v[0]), float(v[1]), float(v[2])) for v in contour.vertices]
    drawing.modelspace().add_lwpolyline(rows, format="xyb", close=True)
    if label:
        drawing.modelspace().add_radius_dim(
            center=(55, 5), radius=5.0, angle=-45, text=label
        ).render()
    drawing.saveas(tmp_path / "punch.dxf")
    request = JobRequest(
        drawing=tmp_path / "punch.dxf", material="D2", height="20 mm", contours={}, **asked
    )
    result = plan_job(request)
    says = drawing_says(result.part)
    zones = zones_off_the_line(result)
    return inspection_of(result, limiter=limiter_of(request, says, fits=load_fits(), zones=zones))


def radii(found: InspectionSheet) -> dict[float, Feature]:
    rows = [f for f in found.features if f.measured.kind is FeatureKind.RADIUS]
    return {round(f.measured.nominal_mm, 6): f for f in rows}


def shown(found: InspectionSheet) -> tuple[list[list[str]], list[str]]:
    shape = inspection_shape(
        found,
        units=Units(unit=LengthUnit.MILLIMETRE),
        rules=load_paper_rules(),
        picture=Picture(svg="<svg/>", width_mm=1.0, height_mm=1.0, scale="1:1", left_out=0),
    )
    return shape["features"], shape["notes"]


def test_each_radius_of_a_punch_has_a_row_with_the_tolerance_of_one_wall(tmp_path: Path) -> None:
    found = sheet(tmp_path, rounded(5.0), tolerance="±0.01 mm")
    rows = radii(found)
    assert {r: one.measured.places for r, one in rows.items()} == {5.0: 3, 4.0: 1}
    limits = rows[5.0].limits
    assert limits is not None
    # By hand: one wall within ±0.01 of its line, from the drawn centre.
    assert (limits.low_mm, limits.high_mm) == pytest.approx((4.99, 5.01), abs=1e-9)
    lines, notes = shown(found)
    assert [line[2] for line in lines if "R" in line[2]] == ["3× R", "R"]
    assert any("drawn centre" in one for one in notes)


def test_limits_written_at_a_radius_are_those_of_its_row(tmp_path: Path) -> None:
    found = radii(sheet(tmp_path, rounded(5.0), "R5 ±0.02", tolerance="±0.01 mm"))
    limits = found[5.0].limits
    assert limits is not None
    assert (limits.low_mm, limits.high_mm) == pytest.approx((4.98, 5.02), abs=1e-9)
    assert (limits.words, limits.wall_half_um) == ("drawing", 20.0)


@pytest.mark.parametrize("label", ["<> ±0.02", "5 ±0.02", "3X <> ±0.02", "R<> ±0.02"])
def test_a_dimension_of_a_radius_is_one_without_its_r(tmp_path: Path, label: str) -> None:
    found = radii(sheet(tmp_path, rounded(5.0), label, tolerance="±0.01 mm"))
    limits = found[5.0].limits
    assert limits is not None
    # By hand: one wall from the drawn centre, so the zone is its own and not half of it.
    assert (limits.low_mm, limits.high_mm) == pytest.approx((4.98, 5.02), abs=1e-9)
    part = drawing_as_read(tmp_path / "punch.dxf", layer_uses={})
    (said,) = drawing_says(part)
    assert said.statement.asks is Asks.RADIUS
    assert said.statement.readings[0].option == "--contour 'P1: tolerance=±0.02mm'"
    assert said.statement.text == said.written


def test_a_zone_off_the_line_moves_a_radius_by_one_wall(tmp_path: Path) -> None:
    found = radii(sheet(tmp_path, rounded(5.0), tolerance="+0.02/0 mm"))
    limits = found[5.0].limits
    assert limits is not None
    # A punch that is 0.02 larger all round: its corner too.
    assert (limits.low_mm, limits.high_mm) == pytest.approx((5.0, 5.02), abs=1e-9)


def test_arcs_that_turn_too_little_are_counted_and_said(tmp_path: Path) -> None:
    bow = tan(radians(40 / 4))
    contour = Contour.from_rows([(0, 0, bow), (60, 0, 0), (60, 40, 0), (0, 40, 0)])
    found = sheet(tmp_path, contour)
    assert radii(found) == {}
    assert found.short_arcs == {"P1": 1}
    assert any("Radii not measured: 1 arc of P1" in one for one in shown(found)[1])


def test_a_fitted_radius_of_an_arc_left_out_is_off_five_times_as_far() -> None:
    half = SHORTEST_TURN * 180
    assert 1 / (1 - cos(radians(half))) > 5


def test_a_fillet_drawn_in_two_arcs_is_one_and_a_bore_is_none() -> None:
    eighth = tan(radians(45 / 4))
    away = 5 * cos(radians(45))
    contour = Contour.from_rows(
        [(0, 0, 0), (55, 0, eighth), (55 + away, 5 - away, eighth), (60, 5, 0), (60, 40, 0),
         (0, 40, 0)]
    )  # fmt: skip
    ((arc, places),) = radii_of(arcs_of(contour)).distinct
    assert (arc.turns, places, arc.is_inside) == (pytest.approx(0.25), 1, True)
    assert radii_of(arcs_of(contour.reversed())).distinct[0][0].is_inside
    assert radii_of(arcs_of(Contour.circle((0, 0), radius_mm=5))).distinct == ()


@pytest.mark.parametrize(
    ("label", "low_mm", "high_mm"),
    # By hand: the wall ±0.005 leaves 4.995 to 5.005.
    [("R5 MAX", 4.995, 5.0), ("R5 MIN", 5.0, 5.005), ("<> MAX", 4.995, 5.0)],
)
def test_one_limit_of_a_radius_narrows_its_row(
    label: str, low_mm: float, high_mm: float, tmp_path: Path
) -> None:
    row = radii(sheet(tmp_path, rounded(5.0), label, tolerance="±0.005 mm"))[5.0].limits
    assert row is not None
    assert (row.low_mm, row.high_mm) == pytest.approx((low_mm, high_mm), abs=1e-9)
    # One wall has the whole of what is left: half of it to either side.
    assert row.wall_half_um == pytest.approx(2.5)
