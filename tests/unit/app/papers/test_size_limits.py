"""Sizes and walls: a size lies between two walls, and a factor of two is a scrapped die."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import ezdxf
import pytest

from kerfwright.adapters.fit_tables import load_fits
from kerfwright.adapters.papers.for_customer import inspection_shape, quote_shape
from kerfwright.adapters.papers.pictures import Picture
from kerfwright.adapters.papers.rules import load_paper_rules
from kerfwright.adapters.papers.words import Units
from kerfwright.adapters.tables import load_tables
from kerfwright.app.ledger import ledger_of
from kerfwright.app.papers.common import Digests, zones_off_the_line
from kerfwright.app.papers.inspection import InspectionSheet, Limits, inspection_of
from kerfwright.app.papers.quote import quote_of
from kerfwright.app.papers.set_up import set_up_of
from kerfwright.app.papers.size_limits import limiter_of
from kerfwright.app.records import JobRequest, JobResult
from kerfwright.foundation.errors import InputError
from kerfwright.foundation.findings import Severity
from kerfwright.trade.part import LengthUnit
from kerfwright.wiring import drawing_says, plan_job


def planned(tmp_path: Path, *, dimension: str = "", **asked: object) -> JobResult:
    """A plate with bores of 12 and 20 mm; the second may have a dimension with limits."""
    drawing = ezdxf.new("R2010", units=4)
    space = drawing.modelspace()
    space.add_circle((0, 0), 6.0)
    space.add_circle((40, 0), 10.0)
    space.add_lwpolyline([(-20, -20), (60, -20), (60, 20), (-20, 20)], close=True)
    if dimension:
        space.add_diameter_dim(center=(40, 0), radius=10.0, angle=45, text=dimension).render()
    drawing.saveas(tmp_path / "plate.dxf")
    return plan_job(
        JobRequest(drawing=tmp_path / "plate.dxf", material="D2", height="20 mm", **asked)  # type: ignore[arg-type]
    )


def sheet(result: JobResult) -> InspectionSheet:
    limiter = limiter_of(
        result.request,
        drawing_says(result.part),
        fits=load_fits(),
        zones=zones_off_the_line(result),
    )
    return inspection_of(result, limiter=limiter)


def limits(found: InspectionSheet, diameter_mm: float) -> Limits:
    (one,) = [f for f in found.features if abs(f.measured.nominal_mm - diameter_mm) < 1e-6]
    assert one.limits is not None
    return one.limits


@pytest.mark.parametrize(
    ("words", "low_mm", "high_mm"),
    # By hand: the walls ±0.005 leave 19.990 to 20.010; one limit takes what lies beyond it.
    [
        ("%%c20 MAX", 19.990, 20.0),
        ("%%c20 MIN", 20.0, 20.010),
        ("%%c20.004 MAX", 19.990, 20.004),
        ("%%c19.5 MIN", 19.990, 20.010),
        # The drawn line does not keep it: what the walls leave lies beyond.
        ("%%c19.5 MAX", None, 19.5),
        ("%%c20.5 MIN", 20.5, None),
    ],
)
def test_one_limit_of_the_drawing_narrows_the_row_of_its_size(
    words: str, low_mm: float | None, high_mm: float | None, tmp_path: Path
) -> None:
    found = sheet(planned(tmp_path, tolerance="±0.005 mm", dimension=words))
    row = limits(found, 20.0)
    assert (row.low_mm, row.high_mm) == pytest.approx((low_mm, high_mm), abs=1e-9)
    assert row.words == f"{words.split()[1].lower()} (drawing)"
    assert limits(found, 12.0).words == ""
    shape = inspection_shape(found, units=UNITS, rules=load_paper_rules(), picture=PICTURE)
    (printed,) = [r for r in shape["features"] if r[4].startswith("20")]
    assert ("" in printed[5:7]) is (None in (low_mm, high_mm))


def test_a_limit_that_the_drawn_size_keeps_is_no_contradiction(tmp_path: Path) -> None:
    kept = planned(tmp_path, tolerance="±0.005 mm", dimension="%%c20.5 MAX")
    broken = planned(tmp_path, tolerance="±0.005 mm", dimension="%%c19.5 MAX")
    said = [f for f in broken.findings if f.code == "dimension-contradicts-line"]
    assert [f.data for f in kept.findings if f.code == "dimension-contradicts-line"] == []
    assert len(said) == 1


@pytest.mark.parametrize("said", ["R5 MAX", "12 min", "Ø12 maximum"])
def test_one_limit_is_refused_where_a_zone_is_asked(said: str, tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"at most|at least") as caught:
        planned(tmp_path, tolerance="±0.02 mm", contours={"H1": f"tolerance={said}"})
    assert caught.value.code == "one-limit-of-a-size"


def test_a_size_between_two_walls_has_twice_their_tolerance(tmp_path: Path) -> None:
    found = limits(sheet(planned(tmp_path, tolerance="±0.005 mm")), 20.0)
    # By hand: the radius 10 ± 0.005 makes diameters 2 × 9.995 to 2 × 10.005.
    assert (found.low_mm, found.high_mm) == pytest.approx((19.990, 20.010), abs=1e-9)
    assert (found.words, found.wall_half_um) == ("", 5.0)


@pytest.mark.parametrize(
    ("symbol", "lower_um", "upper_um"),
    # ISO 286-2, over 10 to 18 mm (from memory; the same rows stand in the tables that
    # tests/cross/test_fits_against_other_tables.py compares with).
    [("H7", 0, 18), ("H6", 0, 11), ("JS7", -9, 9), ("G7", 6, 24), ("P7", -29, -11)],
)
def test_a_fit_is_checked_by_its_own_limits_and_leaves_each_wall_half(
    tmp_path: Path, symbol: str, lower_um: float, upper_um: float
) -> None:
    result = planned(tmp_path, tolerance="±0.02 mm", contours={"H1": f"tolerance=12 {symbol}"})
    found = sheet(result)
    bore = limits(found, 12.0)
    assert (bore.low_mm, bore.high_mm) == pytest.approx(
        (12 + lower_um / 1000, 12 + upper_um / 1000), abs=1e-9
    )
    assert bore.words == symbol
    # What the plan asked of that wall is the share of the fit, no more and no less.
    share_um = (upper_um - lower_um) / 4
    assert bore.wall_half_um == pytest.approx(share_um)
    assert result.requirement.demand_on("H1").tolerance_um == pytest.approx(share_um)
    assert found.wider_than_asked_ids == ()
    # The other bore has what the walls leave it.
    assert limits(found, 20.0).high_mm == pytest.approx(20.04)


def test_a_fit_gives_no_limits_to_a_size_that_it_does_not_name(tmp_path: Path) -> None:
    result = planned(tmp_path, tolerance="±0.02 mm", contours={"H2": "tolerance=12 H7"})
    # The job's ±20 µm of each wall, not the ±4.5 µm of another size's fit.
    assert limits(sheet(result), 20.0).high_mm == pytest.approx(20.04)
    warned = [f for f in result.findings if f.code == "fit-of-another-size"]
    assert [f.where.contour_id for f in warned] == ["H2"]
    of_job = sheet(replace(result, request=replace(result.request, tolerance="12 H7")))
    assert {f.measured.nominal_mm: f.limits is None for f in of_job.features}[20.0]


def test_limits_that_the_drawing_writes_are_those_of_the_size(tmp_path: Path) -> None:
    result = planned(tmp_path, tolerance="±0.005 mm", dimension="%%c20 +0.02/-0")
    found = sheet(result)
    bore = limits(found, 20.0)
    assert (bore.low_mm, bore.high_mm) == pytest.approx((20.0, 20.02), abs=1e-9)
    assert bore.words == "drawing"
    # Zone 20 µm of the size: ±10 µm of it, ±5 µm of each wall, which is what was asked.
    assert bore.wall_half_um == pytest.approx(5.0)
    assert found.wider_than_asked_ids == ()


def test_walls_that_are_asked_for_less_than_the_drawing_needs_are_named(tmp_path: Path) -> None:
    found = sheet(planned(tmp_path, tolerance="±0.01 mm", dimension="%%c20 %%p0.01"))
    assert limits(found, 20.0).words == "drawing"
    assert found.wider_than_asked_ids == ("H2",)


def test_a_zone_beside_the_drawn_line_is_judged_by_its_own_limits_and_not_promised(
    tmp_path: Path,
) -> None:
    # By hand: each wall may leave metal off by 0 to 0.01 mm, so 20 mm comes out 20.00 to 20.02.
    result = planned(tmp_path, tolerance="+0.01/-0.00 mm", contours={"H1": "tolerance=0/-0.02 mm"})
    found = sheet(result)
    bore, own = limits(found, 20.0), limits(found, 12.0)
    assert (bore.low_mm, bore.high_mm) == pytest.approx((20.0, 20.02), abs=1e-9)
    assert (own.low_mm, own.high_mm) == pytest.approx((11.96, 12.0), abs=1e-9)
    assert (found.tolerance_said, found.own[0].tolerance_said) == ("+0.01/-0.00 mm", "0/-0.02 mm")
    said = {f.where.contour_id: f for f in result.findings if f.code == "zone-off-the-line"}
    assert set(said) == {None, "H1"}
    assert "one in two or more would miss it" in said[None].message
    asked = quote_of(result, number="Q-1", made_on=date(2026, 1, 2), valid_days=30).asked
    assert asked.tolerance_said == "+0.01/-0.00 mm"
    assert "tolerance" in asked.not_promised


def test_limits_about_another_middle_than_the_line_are_a_warning_on_quote_and_set_up_sheet(
    tmp_path: Path,
) -> None:
    result = planned(tmp_path, tolerance="±0.004 mm", dimension="%%c20.00 +0.02/0")
    (off,) = [f for f in result.findings if f.code == "drawing-asks-off-the-line"]
    assert "at H2. The middle of these limits is 10 µm (0.00039 in) above what is" in off.message
    lines = {x.name: x for x in ledger_of({"tolerance": "±0.004 mm"}, result.part, result)}
    assert lines["tolerance"].severity is Severity.WARNING
    quote = quote_of(result, number="Q-1", made_on=date(2026, 1, 2), valid_days=30)
    units, rules = Units(unit=LengthUnit.MILLIMETRE), load_paper_rules(None)
    picture = Picture(svg="", width_mm=1, height_mm=1, scale="", left_out=0)
    shape = quote_shape(quote, units=units, rules=rules, picture=picture)
    (remark,) = [r for r in shape["remarks"] if "“Ø20.00 +0.02/0” at H2" in r["problem"]]
    assert "one in two or more would miss them" in remark["problem"]
    assert "Draw the walls at the middle of the limits" in remark["remedy"]
    sheet = set_up_of(
        result,
        digests=Digests(drawing="", job="", plan="", program="", proof=""),
        minutes=load_tables(None).rates.minutes,
        program="program.nc",
        clamp_clearance_mm=5.0,
    )
    assert off in sheet.warnings


def test_a_zone_about_the_drawn_line_is_promised_and_moves_nothing(tmp_path: Path) -> None:
    result = planned(tmp_path, tolerance="+0.01/-0.01 mm")
    assert not [f for f in result.findings if f.code == "zone-off-the-line"]
    bore = limits(sheet(result), 20.0)
    assert (bore.low_mm, bore.high_mm) == pytest.approx((19.98, 20.02), abs=1e-9)
    assert (
        quote_of(result, number="Q-1", made_on=date(2026, 1, 2), valid_days=30).asked.not_promised
        == frozenset()
    )


UNITS = Units(unit=LengthUnit.MILLIMETRE)
PICTURE = Picture(svg="<svg/>", width_mm=1.0, height_mm=1.0, scale="1:1", left_out=0)


def _quoted(result: JobResult) -> Mapping[str, Any]:
    quote = quote_of(result, number="Q-1", made_on=date(2026, 1, 2), valid_days=30)
    return quote_shape(quote, units=UNITS, rules=load_paper_rules(), picture=PICTURE)


def test_a_dimension_that_contradicts_its_line_reaches_every_paper(tmp_path: Path) -> None:
    result = planned(tmp_path, tolerance="±0.01 mm", dimension="%%c20.25 %%p0.02")
    (warned,) = [f for f in result.findings if f.code == "dimension-contradicts-line"]
    assert warned.where.contour_id == "H2"
    assert warned in result.part.findings
    (assumed,) = [line for line in _quoted(result)["assumed"] if "20.25" in line]
    assert "“Ø20.25 ±0.02” at H2 where 20 mm is drawn" in assumed
    shape = inspection_shape(sheet(result), units=UNITS, rules=load_paper_rules(), picture=PICTURE)
    notes = shape["notes"]
    assert [note for note in notes if "20.25" in note and "the wire follows the line" in note]
    # Its limits are those of no drawn size.
    assert limits(sheet(result), 20.0).words == ""


def test_a_quote_says_where_the_drawing_asks_closer_than_is_quoted(tmp_path: Path) -> None:
    result = planned(tmp_path, tolerance="±0.02 mm", dimension="%%c20 %%p0.01")
    (line,) = [line for line in _quoted(result)["assumed"] if "asks" in line]
    assert "“Ø20 ±0.01” at H2, ±5 µm of each wall" in line
    assert "±20 µm is what is planned and quoted" in line
    taken = planned(
        tmp_path,
        tolerance="±0.02 mm",
        dimension="%%c20 %%p0.01",
        contours={"H2": "tolerance=±0.005mm"},
    )
    assert not [line for line in _quoted(taken)["assumed"] if "asks" in line]


@pytest.mark.parametrize("said", ["20.000/20.020 mm", "20 +0.02/0", "20 +20/0 µm"])
def test_limits_asked_of_a_contour_are_those_of_its_size(tmp_path: Path, said: str) -> None:
    result = planned(tmp_path, tolerance="±0.02 mm", contours={"H2": f"tolerance={said}"})
    bore = limits(sheet(result), 20.0)
    assert (bore.low_mm, bore.high_mm) == pytest.approx((20.0, 20.02), abs=1e-9)
    assert (bore.words, bore.wall_half_um) == ("asked", 5.0)
    assert result.requirement.demand_on("H2").tolerance_um == pytest.approx(5.0)
    assert [f.where.contour_id for f in result.findings if f.code == "zone-off-the-line"] == ["H2"]
