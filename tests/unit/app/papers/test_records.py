"""What the papers say, before anything is set."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal
from importlib.resources import files
from itertools import pairwise
from pathlib import Path

import ezdxf
import pytest

from kerfwright.adapters.papers.customer_words import said
from kerfwright.adapters.papers.for_customer import asked_rows
from kerfwright.adapters.papers.for_shop import set_up_shape
from kerfwright.adapters.papers.words import Units
from kerfwright.adapters.tables import load_tables
from kerfwright.app.papers import quote
from kerfwright.app.papers.common import Digests
from kerfwright.app.papers.elapsed import stages_of, steps_of
from kerfwright.app.papers.holes import holes_of
from kerfwright.app.papers.inspection import (
    FeatureKind,
    Limits,
    Measured,
    circle_of,
    inspection_of,
)
from kerfwright.app.papers.set_up import set_up_of
from kerfwright.app.records import JobRequest, JobResult
from kerfwright.app.strip import strip_of
from kerfwright.cli.demo import SAMPLE, WANTED
from kerfwright.cli.job import request_from
from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.geometry.contour import Contour
from kerfwright.planning.plan import OperationKind
from kerfwright.process.technology import Flushing
from kerfwright.trade.annotation import Annotation, AnnotationKind
from kerfwright.trade.machine import OffsetForm
from kerfwright.trade.part import LengthUnit
from kerfwright.trade.requirement import Requirement
from kerfwright.wiring import plan_job

TABLES = load_tables()
MINUTES = TABLES.rates.minutes
DAY = date(2026, 3, 2)
NO_DIGESTS = Digests(drawing="", job="", plan="", program="", proof="")


@pytest.fixture(scope="module")
def wheel() -> JobResult:
    drawing = files("kerfwright") / "data" / "samples" / SAMPLE
    return plan_job(request_from(WANTED | {"drawing": drawing}))


def quoted(result: JobResult) -> quote.Quote:
    return quote.quote_of(result, number="Q-1", made_on=DAY, valid_days=30)


def sheet_of(result: JobResult):
    return set_up_of(
        result, digests=NO_DIGESTS, minutes=MINUTES, program="program.nc", clamp_clearance_mm=5.0
    )


def refused_with(result: JobResult, *findings: Finding) -> JobResult:
    return replace(result, program=None, findings=(*result.findings, *findings))


def test_moments_add_up_to_the_times_of_the_estimate(wheel: JobResult) -> None:
    assert wheel.path is not None
    assert wheel.estimate is not None
    steps = steps_of(wheel.plan, wheel.path, minutes=MINUTES)
    assert all(a.end_s == b.begin_s for a, b in pairwise(steps))
    # The estimate sums the same moves by pass, on other ways.
    running = {"threading", "positioning", "rough pass", "cut-off", "attended stops"}
    total = sum(
        t.minutes.likely
        for t in wheel.estimate.times
        if t.operation in running or t.operation.startswith("skim")
    )
    assert steps[-1].end_s / 60 == pytest.approx(total, rel=1e-9)
    # What breaks of the wire may cost is in the hours told, not in the moments.
    breaks = sum(
        t.minutes.likely for t in wheel.estimate.times if t.operation.endswith("after breaks")
    )
    assert sheet_of(wheel).running.likely == pytest.approx(total + breaks, rel=1e-9)
    # The strip of the page counts what comes before the program too, the sheet says how long it is.
    strip = strip_of(wheel.plan, wheel.path, minutes=MINUTES)
    assert strip.total_min - sheet_of(wheel).ahead_min == pytest.approx(steps[-1].end_s / 60)


def test_stages_part_where_somebody_must_come_or_may_go(wheel: JobResult) -> None:
    assert wheel.path is not None
    steps = steps_of(wheel.plan, wheel.path, minutes=MINUTES)
    stages = stages_of(steps)
    assert [s.is_attended for s in stages] == [False, True, False, True]
    assert [s.kinds for s in stages] == [
        (OperationKind.ROUGH,), (OperationKind.CUT_OFF,), (OperationKind.SKIM,),
        (OperationKind.CUT_OFF,),
    ]  # fmt: skip
    assert (stages[0].first, stages[-1].last) == (1, len(steps))
    for stage in stages:
        inside = steps[stage.first - 1 : stage.last]
        assert all(s.is_attended == stage.is_attended for s in inside)
        assert (stage.begin_s, stage.end_s) == (inside[0].begin_s, inside[-1].end_s)


def test_a_quote_prices_piece_by_piece_and_covers_what_is_cut(wheel: JobResult) -> None:
    made = quoted(wheel)
    assert made.is_offered
    assert all(x.total == x.each * x.quantity for x in made.lines)
    assert [x.quantity for x in made.lines] == [1, 5, 25]
    assert (made.openings, made.outlines, made.not_included) == (7, 1, ())
    assert (made.valid_until - made.made_on).days == 30


def test_without_a_proved_program_there_is_no_price_and_nothing_to_cut_by(
    wheel: JobResult,
) -> None:
    result = refused_with(wheel)
    assert not quoted(result).is_offered
    sheet = sheet_of(result)
    assert sheet.is_withheld
    assert not any((sheet.starts, sheet.passes, sheet.steps, sheet.stages, sheet.room))
    assert holes_of(result, law=TABLES.rates.drilling).rows == ()
    assert inspection_of(result).features == ()


def test_no_message_of_planning_reaches_the_customer(wheel: JobResult) -> None:
    secret = Finding(
        code="height-beyond-machine",
        severity=Severity.REFUSAL,
        message="Machine Nine takes 250 mm at 33.77 an hour",
        where=Place(contour_id="H3"),
        remedy="use Machine Ten",
        data={"value_mm": 300.0, "limit_mm": 250.0, "rate": 33.77},
    )
    unknown = replace(secret, code="something-new", message="the wire of Machine Nine")
    made = quoted(refused_with(wheel, secret, unknown))
    codes = [r.code for r in made.remarks if r.is_refusal]
    assert codes == ["height-beyond-machine", quote.OTHER_REFUSAL]
    assert "Nine" not in repr(made)
    assert "Ten" not in repr(made)
    assert "33.77" not in repr(made)
    words = [said(r, Units(unit=LengthUnit.MILLIMETRE)) for r in made.remarks]
    assert words[0].problem == "The work is too high for us: 300 mm."
    assert words[0].remedy == "Up to 250 mm we can take it."


def test_every_finding_that_customers_see_has_words_for_them() -> None:
    for unit in LengthUnit:
        for code, names in quote._SHOWN.items():
            remark = quote.CustomerRemark(
                code=code,
                is_refusal=True,
                contour_ids=("H1", "H2", "H3"),
                data=dict.fromkeys(names, 1.27),
            )
            words = said(remark, Units(unit=unit))
            assert words.problem.endswith(".")
            assert words.remedy.endswith(".")
            assert ("mm" in words.problem) <= (unit is LengthUnit.MILLIMETRE)


def test_a_limit_that_may_well_be_missed_is_not_promised_on_the_quote() -> None:
    # The sixth pass leaves Ra 0.15 µm by its likely value, spread by a fifth: nine in ten below
    # 0.15 exp(1.2816 x 0.2) = 0.194, and above 0.17 in the share beyond ln(0.17/0.15)/0.2 = 0.63
    # deviations, 27 %.
    drawing = files("kerfwright") / "data" / "samples" / SAMPLE
    wanted = {**WANTED, "material": "D2", "finish": "Ra0.17um", "drawing": drawing}
    result = plan_job(request_from(wanted))
    offered = quoted(result)
    assert offered.asked.not_promised == {"finish"}
    (remark,) = [r for r in offered.remarks if r.code == "finish-may-be-missed"]
    words = said(remark, Units(unit=LengthUnit.MILLIMETRE))
    assert words.problem == (
        "A finish of Ra 0.17 µm is at the edge of what we hold; we do not promise it."
    )
    assert words.remedy == "A first piece, measured and agreed, decides; Ra 0.2 µm we promise."
    rows = dict(asked_rows(offered.asked, Units(unit=LengthUnit.MILLIMETRE)))
    assert rows["Finish"] == "Ra 0.17 µm; not promised, see the remarks"
    # The operator reads the same, with the chance and what to do.
    assert any("would miss" in w.message for w in sheet_of(result).warnings)


def test_a_tolerance_of_each_wall_is_said_of_the_size_between_two_as_well(
    wheel: JobResult,
) -> None:
    inches = Units(unit=LengthUnit.INCH)
    asked = replace(quoted(wheel).asked, tolerance_um=3.175, tolerance_said="+0.00025/+0 in")
    # The drawing says Ø .500 +.0005/-0.
    assert dict(asked_rows(asked, inches))["Tolerance"] == (
        "+0.00025/\u20600\xa0in of each wall, +0.00050/\u20600\xa0in on a size between two"
    )
    plain = replace(asked, tolerance_um=5.0, tolerance_said="")
    shown = dict(asked_rows(plain, Units(unit=LengthUnit.MILLIMETRE)))["Tolerance"]
    assert shown == "±0.005 mm of each wall, ±0.01 mm on a size between two"


def test_a_set_up_sheet_in_inches_gives_what_the_control_shows_in_its_unit(
    wheel: JobResult,
) -> None:
    sheet = sheet_of(wheel)
    assert sheet.dialect_unit == "mm"
    shown = set_up_shape(sheet, units=Units(unit=LengthUnit.INCH), picture=None)
    one, row = sheet.starts[0], shown["starts"][0]
    assert (row["x"], row["beside"][0]) == (f"{one.x_mm:.3f}", f"{one.x_mm / 25.4:.4f} in")
    assert shown["passes"][0]["offset"] == f"{sheet.passes[0].offset_mm:.4f}"
    assert shown["passes"][0]["feed"] == f"{sheet.passes[0].feed_mm_per_min:.2f}"
    alike = set_up_shape(sheet, units=Units(unit=LengthUnit.MILLIMETRE), picture=None)
    assert alike["starts"][0]["beside"] == []


def test_the_set_up_sheet_says_where_a_clamp_has_room_or_what_helps(wheel: JobResult) -> None:
    sheet = sheet_of(wheel)
    assert sheet.room is not None
    assert sheet.room.stock is not None
    metric = Units(unit=LengthUnit.MILLIMETRE)

    def clamp_on(**changes: object) -> str | None:
        shown = set_up_shape(
            replace(sheet, room=replace(sheet.room, **changes)), units=metric, picture=None
        )
        return dict(shown["facts"]).get("Clamp on")

    # Nothing is said by figures kept before there was such a rule, nor of a plate of unknown size.
    assert clamp_on() is None
    assert clamp_on(grip_mm=10.0, stock=None) is None
    x0, y0, x1, y1 = sheet.room.keep_clear
    wide = clamp_on(grip_mm=10.0, stock=(x0 - 12.0, y0, x1 + 9.9, y1 + 30.0))
    assert wide is not None
    assert "left: 12.0" in wide
    assert "back: 30.0" in wide
    assert "right" not in wide
    narrow = clamp_on(grip_mm=10.0, stock=(x0 - 3.0, y0, x1 - 2.0, y1))
    assert narrow is not None
    assert "no side" in narrow
    assert "7.0" in narrow


def test_how_the_file_was_read_is_not_told_to_the_customer(wheel: JobResult) -> None:
    # The wheel has texts and dimensions, which a note of the drawing lists by kind of entity.
    assert "annotation-left-out" in {f.code for f in wheel.part.findings}
    for remark in quoted(wheel).remarks:
        assert "check lists" not in remark.message
        words = said(remark, Units(unit=LengthUnit.INCH))
        assert not {"DIMENSION", "CIRCLE", "LINE"} & set(words.problem.replace(",", "").split())


def test_remarks_of_one_kind_are_one_with_all_their_contours(wheel: JobResult) -> None:
    corner = Finding(
        code="inside-radius-too-small",
        severity=Severity.WARNING,
        message="4 inside corners of H1 come out with R 0.134 mm",
        where=Place(contour_id="H1"),
        data={"corners": 4, "limit_mm": 0.134, "left_mm": 0.05},
    )
    other = replace(
        corner, where=Place(contour_id="H2"), data={**corner.data, "corners": 2, "left_mm": 0.07}
    )
    made = quoted(replace(wheel, findings=(*wheel.findings, corner, other)))
    (remark,) = [r for r in made.remarks if r.code == corner.code]
    assert remark.contour_ids == ("H1", "H2")
    assert dict(remark.data) == {"corners": 6, "limit_mm": 0.134, "left_mm": 0.07}
    words = said(remark, Units(unit=LengthUnit.MILLIMETRE))
    assert "6 inside corners come out with a radius of 0.134 mm" in words.problem


def test_the_same_remark_on_several_contours_is_said_once_with_their_list(
    wheel: JobResult,
) -> None:
    read = [
        Finding(
            code="tolerance-read",
            severity=Severity.NOTE,
            message="“12 H7” is 12.0000 to 12.0180 mm: ±9 µm of size, so ±4.5 µm of each wall.",
            where=Place(contour_id=f"H{n}"),
        )
        for n in (1, 2, 3)
    ]
    asked = [
        Finding(
            code="drawing-asks-closer",
            severity=Severity.WARNING,
            message=f"The drawing asks “Ø6 ±0.01” at {at}, and nothing of the kind is asked.",
            remedy=f"Take it over into the line of {at}.",
            where=Place(x_mm=1.0, y_mm=float(k)),
            data={"contours": at.replace(" ", "")},
        )
        for k, at in enumerate(("H1, H2", "H4"))
    ]
    other = replace(read[0], message="“10 H7” is 10.0000 to 10.0150 mm.")
    job = replace(wheel, findings=(*read, other, *asked))
    texts = [said(remark, Units(unit=LengthUnit.MILLIMETRE)) for remark in quoted(job).remarks]
    problems = [one.problem for one in texts]
    assert problems == [
        "H1–H3: “12 H7” is 12.0000 to 12.0180 mm: ±9 µm of size, so ±4.5 µm of each wall.",
        "H1: “10 H7” is 10.0000 to 10.0150 mm.",
        "The drawing asks “Ø6 ±0.01” at H1, H2, H4, and nothing of the kind is asked.",
    ]
    assert texts[-1].remedy == "Take it over into the line of H1, H2, H4."


def test_a_drawing_that_allows_no_recast_stands_on_every_paper(wheel: JobResult) -> None:
    note = Annotation(
        kind=AnnotationKind.TEXT,
        text="NO RECAST LAYER PERMITTED",
        where=Place(x_mm=0.0, y_mm=0.0),
        points_mm=(),
    )
    part = replace(wheel.part, annotations=(*wheel.part.annotations, note))
    job = plan_job(wheel.request, part=part)
    assert (
        "NO RECAST"
        in said(
            next(r for r in quoted(job).remarks if r.code == "drawing-allows-no-recast"),
            Units(unit=LengthUnit.MILLIMETRE),
        ).problem
    )
    assert any("NO RECAST" in f.message for f in sheet_of(job).warnings)
    assert any("NO RECAST" in f.message for f in inspection_of(job).contradictions)


def test_a_bore_is_measured_by_its_diameter_and_a_slot_by_its_ends() -> None:
    assert circle_of(Contour.circle((1.0, 2.0), radius_mm=4.0)) == ((1.0, 2.0), 8.0)
    slot = Contour.from_rows([(-10, -5, 0), (10, -5, 1), (10, 5, 0), (-10, 5, 1)])
    assert circle_of(slot) is None
    assert circle_of(Contour.from_rows([(0, 0), (1, 0), (1, 1)])) is None


def test_the_keyed_bore_of_the_wheel_has_its_diameter_on_the_sheet(wheel: JobResult) -> None:
    sheet = inspection_of(wheel)
    sizes = {
        (f.measured.contour.id, f.measured.kind): f.measured.nominal_mm for f in sheet.features
    }
    # From the drawing of the sample: a bore of 8 mm with a key.
    assert sizes["H7", FeatureKind.DIAMETER] == pytest.approx(8.0, abs=1e-9)
    assert ("H1", FeatureKind.DIAMETER) not in sizes
    for one in sheet.features:
        assert one.limits is not None
        # Each of two walls within ±5 µm: the size within ±10 µm, and a radius within ±5 µm.
        zone_mm = 0.010 if one.measured.kind is FeatureKind.RADIUS else 0.020
        assert one.limits.high_mm - one.limits.low_mm == pytest.approx(zone_mm, abs=1e-12)


def test_a_contour_with_demands_of_its_own_has_its_own_limits_passes_and_line(
    tmp_path: Path,
) -> None:
    drawing = ezdxf.new("R2010", units=4)
    for x in (0.0, 40.0):
        drawing.modelspace().add_circle((x, 0), 10.0)
    drawing.modelspace().add_lwpolyline([(-20, -20), (60, -20), (60, 20), (-20, 20)], close=True)
    drawing.saveas(tmp_path / "two.dxf")
    result = plan_job(
        JobRequest(
            drawing=tmp_path / "two.dxf",
            material="D2",
            height="20 mm",
            tolerance="±0.05 mm",
            contours={"H2": "tolerance=±0.005 mm"},
        )
    )
    zones = {
        f.measured.contour.id: f.limits.high_mm - f.limits.low_mm
        for f in inspection_of(result).features
        if f.limits is not None
    }
    assert zones == pytest.approx({"P1": 0.2, "H1": 0.2, "H2": 0.02})
    rows = sheet_of(result).passes
    planned = {c.target.id: c for c in result.plan.contours}
    for row in rows:
        for name in row.contour_ids:
            assert row.offset_mm == planned[name].passes[row.number - 1].offset_mm
    assert {name for row in rows for name in row.contour_ids} == set(planned)
    (own,) = quoted(result).asked.own
    assert (own.contour_ids, own.demand.tolerance_um) == (("H2",), 5.0)
    # What is usual is said of the contours that ask nothing themselves: one rough pass.
    assert quoted(result).asked.usual_ra_um == planned["H1"].passes[-1].ra_um


def test_fits_come_in_where_limits_are_asked_for(wheel: JobResult) -> None:
    def h7(measured: Measured, _requirement: Requirement) -> Limits | None:
        if measured.kind is not FeatureKind.DIAMETER:
            return None
        nominal_mm = measured.nominal_mm
        # ISO 286-1: IT7 above 6 up to 10 mm is 15 µm (from memory).
        return Limits(low_mm=nominal_mm, high_mm=nominal_mm + 0.015, words="H7", wall_half_um=3.75)

    sheet = inspection_of(wheel, limiter=h7)
    (bore,) = [f for f in sheet.features if f.limits is not None]
    assert bore.limits is not None
    assert bore.limits.words == "H7"
    # The walls were asked for ±5 µm, the zone of the size leaves them ±3.75 µm.
    assert sheet.wider_than_asked_ids == ("H7",)


def test_clamps_stay_clear_of_the_nozzles_all_around(wheel: JobResult) -> None:
    room = sheet_of(wheel).room
    assert room is not None
    rough_mm = wheel.plan.passes[0].offset_mm
    reach_mm = wheel.plan.rules.nozzle_diameter_mm / 2 + 5.0
    x0, _, x1, _ = room.keep_clear
    assert (x0, x1) == pytest.approx(
        (-32 - rough_mm - reach_mm, 32 + rough_mm + reach_mm), abs=0.01
    )


def test_d_numbers_are_those_of_the_program(tmp_path: Path) -> None:
    drawing = ezdxf.new("R2010", units=4)
    drawing.modelspace().add_circle((0, 0), 10.0)
    drawing.saveas(tmp_path / "disc.dxf")
    request = JobRequest(
        drawing=tmp_path / "disc.dxf",
        material="D2",
        height="20 mm",
        tolerance="±0.005 mm",
        offset_form=OffsetForm.CONTROLLER,
    )
    result = plan_job(request)
    assert result.program is not None
    sheet = sheet_of(result)
    assert sheet.is_controller_offset
    for one in sheet.passes:
        assert f"G10 L1 P{one.offset_number} R{one.offset_mm:.4f}" in result.program


def test_holes_are_drilled_in_order_with_a_tube_below_their_size(wheel: JobResult) -> None:
    sheet = holes_of(wheel, law=TABLES.rates.drilling)
    assert [r.number for r in sheet.rows] == list(range(1, 9))
    assert [r.start_id for r in sheet.rows] == [c.start.id for c in wheel.plan.contours]
    assert all(r.hole.drilled.tube_diameter_mm < r.diameter_mm for r in sheet.rows)
    assert sheet.minutes is not None
    assert wheel.estimate is not None
    (drilling,) = [t for t in wheel.estimate.times if t.operation == "start-hole drilling"]
    assert sheet.minutes.likely == pytest.approx(drilling.minutes.likely)


def test_a_price_on_paper_is_a_sum_in_cents(wheel: JobResult) -> None:
    for line in quoted(wheel).lines:
        assert line.each == line.each.quantize(Decimal("0.01"))


def test_the_sheet_says_the_rough_feed_of_the_program_where_nozzles_are_open(
    wheel: JobResult,
) -> None:
    assert sheet_of(wheel).rough_feeds == ()
    drawing = files("kerfwright") / "data" / "samples" / SAMPLE
    opened = plan_job(request_from(WANTED | {"drawing": drawing, "nozzles": Flushing.BOTH_OPEN}))
    sheet = sheet_of(opened)
    assert {n for one in sheet.rough_feeds for n in one.contour_ids} == {
        s.contour_id for s in sheet.starts
    }
    nominal = sheet.passes[0].feed_mm_per_min
    for one in sheet.rough_feeds:
        assert one.feed_mm_per_min == pytest.approx(0.4 * nominal, abs=1e-3)
        assert one.why.startswith("both nozzles open")
