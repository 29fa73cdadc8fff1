"""Words of drawings and what they ask: forms of the trade, both unit systems, both commas.

What is expected was written from what a drafter means by the words (common practice, no source;
``Ra`` grades from ISO 1302, fits from ISO 286), not from what came out.
"""

from __future__ import annotations

import re
import shlex
from contextlib import suppress

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.soak import tries

from kerfwright.adapters.fit_tables import load_fits
from kerfwright.adapters.tables import load_tables
from kerfwright.foundation.units import length_mm
from kerfwright.trade.callouts import LONGEST_TEXT, interpret
from kerfwright.trade.fits import tolerance_of_wall
from kerfwright.trade.part import LengthUnit
from kerfwright.trade.roughness import finish
from kerfwright.trade.statements import Asks, Statement, option

MM, IN = LengthUnit.MILLIMETRE, LengthUnit.INCH
CATALOGUE = load_tables().catalogue
FITS = load_fits()


def says(text: str, unit: LengthUnit = MM, *, label: str = "") -> tuple[Statement, ...]:
    return interpret(text, unit=unit, catalogue=CATALOGUE, fits=FITS, label=label)


def one(text: str, unit: LengthUnit = MM, *, label: str = "") -> Statement:
    (statement,) = says(text, unit, label=label)
    return statement


CLEAR = [
    # Tolerances of dimensions: each of the two walls of a size gets half.
    ("TOLERANCE: 0.01", MM, Asks.TOLERANCE, {"half_um": 10, "wall_half_um": 5}),
    ("ALL DIMENSIONS ±0.005 mm", MM, Asks.TOLERANCE, {"half_um": 5, "wall_half_um": 2.5}),
    ("WALLS ±0.005", MM, Asks.TOLERANCE, {"half_um": 5}),
    # Sizes with limits: each wall gets half.
    ("12.50 ±0.01", MM, Asks.TOLERANCE, {"nominal_mm": 12.5, "wall_half_um": 5}),
    ("12,5 +0,02/-0", MM, Asks.TOLERANCE, {"nominal_mm": 12.5, "size_shift_um": 10}),
    ("12.5 0/-0.02", MM, Asks.TOLERANCE, {"nominal_mm": 12.5, "size_shift_um": -10}),
    ("12.018/12.000", MM, Asks.TOLERANCE, {"nominal_mm": 12.009, "size_half_um": 9}),
    # Zeros at the end left away, as the usual style of a metric dimension does.
    ("10,015/10", MM, Asks.TOLERANCE, {"nominal_mm": 10.0075, "size_half_um": 7.5}),
    ("Ø20/19,985", MM, Asks.TOLERANCE, {"diameter_mm": 19.9925, "size_half_um": 7.5}),
    ("60.01/60", MM, Asks.TOLERANCE, {"nominal_mm": 60.005, "size_half_um": 5}),
    ("60.1/60.05", MM, Asks.TOLERANCE, {"nominal_mm": 60.075, "size_half_um": 25}),
    ("1.0004/1", IN, Asks.TOLERANCE, {"size_half_um": 5.08}),
    (".5003/.5000", IN, Asks.TOLERANCE, {"size_half_um": 3.81}),
    ("20 +0,01", MM, Asks.TOLERANCE, {"nominal_mm": 20, "size_half_um": 5, "size_shift_um": 5}),
    ("100 -0.05", MM, Asks.TOLERANCE, {"nominal_mm": 100, "size_half_um": 25,
                                       "size_shift_um": -25}),
    ("Ø20 +0,01", MM, Asks.TOLERANCE, {"diameter_mm": 20, "wall_half_um": 2.5}),
    ("12.5 ±10 µm", MM, Asks.TOLERANCE, {"nominal_mm": 12.5, "size_half_um": 10}),
    ("2X 8 +0.02/0", MM, Asks.TOLERANCE, {"nominal_mm": 8, "count": 2, "wall_half_um": 5}),
    # Limits of a size: of a diameter too, with any mark between.
    ("Ø20.000/20.013", MM, Asks.TOLERANCE, {"diameter_mm": 20.0065, "size_half_um": 6.5}),
    ("20.00-20.02", MM, Asks.TOLERANCE, {"nominal_mm": 20.01, "size_half_um": 10}),
    ("20.00 TO 20.02", MM, Asks.TOLERANCE, {"nominal_mm": 20.01, "size_half_um": 10}),
    # A fit with its limits behind it.
    ("20 H7 (+0.021/0)", MM, Asks.FIT, {"nominal_mm": 20, "size_half_um": 10.5}),
    ("Ø20 H7 (+0.021/0)", MM, Asks.FIT, {"nominal_mm": 20, "size_half_um": 10.5}),
    ("Ø12.00 ±0.01", MM, Asks.TOLERANCE, {"diameter_mm": 12, "wall_half_um": 5}),
    # General tolerances.
    ("X.XXX ±.005", IN, Asks.GENERAL_TOLERANCE, {"decimals": 3, "half_um": 127}),
    (".XX ± .01", IN, Asks.GENERAL_TOLERANCE, {"decimals": 2, "half_um": 254}),
    ("THREE PLACE DECIMAL ±.005", IN, Asks.GENERAL_TOLERANCE, {"decimals": 3}),
    ("FRACTIONAL ± 1/64", IN, Asks.GENERAL_TOLERANCE, {"half_um": 396.875}),
    ("ANGLES ±1°", IN, Asks.ANGLE_TOLERANCE, {"half_deg": 1}),
    ("ANGLES ±1/2°", IN, Asks.ANGLE_TOLERANCE, {"half_deg": 0.5}),
    ("ANGLES ±1/2", IN, Asks.ANGLE_TOLERANCE, {"half_deg": 0.5}),
    # Fits.
    ("12 H7", MM, Asks.FIT, {"smallest_mm": 12, "largest_mm": 12.018, "size_shift_um": 9}),
    ("Ø12 H7", MM, Asks.FIT, {"largest_mm": 12.018, "wall_half_um": 4.5}),
    ("25 g6", MM, Asks.FIT, {"smallest_mm": 24.98, "largest_mm": 24.993}),
    # Finishes.
    ("16 µin Ra", MM, Asks.FINISH, {"ra_um": 0.4064}),
    ("Ra 0,8 µm", MM, Asks.FINISH, {"ra_um": 0.8}),
    ("Ra 16", IN, Asks.FINISH, {"ra_um": 0.4064}),
    ("√16", IN, Asks.FINISH, {"ra_um": 0.4064}),
    ("0.8√", MM, Asks.FINISH, {"ra_um": 0.8}),
    ("N5", MM, Asks.FINISH, {"ra_um": 0.4}),
    ("RMS 16", IN, Asks.FINISH, {"ra_um": 0.4064 / 1.11}),
    ("32 RMS ALL OVER", IN, Asks.FINISH, {"ra_um": 0.8128 / 1.11}),
    ("SURFACE FINISH 32 MICROINCH OR BETTER", IN, Asks.FINISH, {"ra_um": 0.8128}),
    ("FINISH: 0.8", MM, Asks.FINISH, {"ra_um": 0.8}),
    # The rest.
    ("NO RECAST ABOVE 5 UM", IN, Asks.RECAST, {"recast_um": 5}),
    ("RECAST LAYER .0002 MAX", IN, Asks.RECAST, {"recast_um": 5.08}),
    ("WHITE LAYER NOT TO EXCEED 0,003", MM, Asks.RECAST, {"recast_um": 3}),
    ("58-60 HRC", MM, Asks.HARDNESS, {"low": 58, "high": 60, "scale": "HRC"}),
    ("HRC 60±2", MM, Asks.HARDNESS, {"low": 58, "high": 62}),
    ("ROCKWELL C 58-60", MM, Asks.HARDNESS, {"low": 58, "scale": "HRC"}),
    ("4 REQ'D", MM, Asks.QUANTITY, {"pieces": 4}),
    ("QTY: 3", MM, Asks.QUANTITY, {"pieces": 3}),
    ("12 OFF", MM, Asks.QUANTITY, {"pieces": 12}),
    ("MATERIAL: D2", MM, Asks.MATERIAL, {"material": "tool-steel-d2"}),
    ("1.00 THK", IN, Asks.HEIGHT, {"height_mm": 25.4}),
    ("T=25", MM, Asks.HEIGHT, {"height_mm": 25}),
    ("THICKNESS 1/2 IN", MM, Asks.HEIGHT, {"height_mm": 12.7}),
    ("R0.2 MAX", MM, Asks.RADIUS, {"radius_mm": 0.2, "limit": "max"}),
    ("R5 MINIMUM", MM, Asks.RADIUS, {"radius_mm": 5, "limit": "min"}),
    ("Ø6 MAX", MM, Asks.SIZE, {"diameter_mm": 6, "limit": "max"}),
    ("Ø6 MIN.", MM, Asks.SIZE, {"diameter_mm": 6, "limit": "min"}),
    ("MAX Ø6", MM, Asks.SIZE, {"diameter_mm": 6, "limit": "max"}),
    (".250 DIA MAX", IN, Asks.SIZE, {"diameter_mm": 6.35, "limit": "max"}),
    ("4X Ø6 MIN THRU", MM, Asks.HOLE, {"diameter_mm": 6, "limit": "min", "count": 4}),
    ("12.5 MAX", MM, Asks.SIZE, {"nominal_mm": 12.5, "limit": "max"}),
    ("MIN 12.5 mm", MM, Asks.SIZE, {"nominal_mm": 12.5, "limit": "min"}),
    ("ALL INSIDE CORNERS R.008 MAX", IN, Asks.RADIUS, {"radius_mm": 0.2032, "limit": "max"}),
    ("4X Ø6.0 THRU", MM, Asks.HOLE, {"diameter_mm": 6, "count": 4, "through": "yes"}),
    ("4X Ø.250 THRU", IN, Asks.HOLE, {"diameter_mm": 6.35, "count": 4}),
    ("2 HOLES Ø6 H7", MM, Asks.HOLE, {"diameter_mm": 6, "largest_mm": 6.012, "count": 2}),
    ("Ø5 X 10 DEEP", MM, Asks.HOLE, {"diameter_mm": 5, "through": "no"}),
    ("Ø6 THRU 4 PLACES", MM, Asks.HOLE, {"count": 4, "through": "yes"}),
    ("25.4", MM, Asks.SIZE, {"nominal_mm": 25.4}),
    ("1 1/2", IN, Asks.SIZE, {"nominal_mm": 38.1}),
    ("12.7 [.500]", MM, Asks.SIZE, {"nominal_mm": 12.7}),
    ("d1=33.2/2", MM, Asks.SIZE, {"nominal_mm": 16.6}),
    ("45°", MM, Asks.ANGLE, {"angle_deg": 45}),
    ("ALL DIMENSIONS IN MILLIMETERS", MM, Asks.UNIT, {"unit": "mm"}),
    ("SCALE 10:1", MM, Asks.SCALE, {"drawn": 10, "part": 1}),
    ("2024-03-12", MM, Asks.DATE, {"date": "2024-03-12"}),
    ("12 MAR 2024", MM, Asks.DATE, {"date": "2024-03-12"}),
    ("REV B", MM, Asks.REVISION, {"revision": "B"}),
    ("DWG NO. 4711-3", MM, Asks.PART_NUMBER, {"number": "4711-3"}),
    ("TITLE: COVER PLATE D2", MM, Asks.PART_NAME, {"name": "COVER PLATE D2"}),
]  # fmt: skip


@pytest.mark.parametrize(("text", "unit", "asks", "data"), CLEAR)
def test_words_with_one_meaning_give_it(text, unit, asks, data) -> None:
    statement = one(text, unit)
    assert statement.asks is asks
    (reading,) = statement.readings
    for name, value in data.items():
        assert reading.data[name] == (value if isinstance(value, str) else pytest.approx(value))
    assert reading.words


@pytest.mark.parametrize(("text", "unit", "asks", "data"), CLEAR)
def test_the_option_of_a_reading_is_one_that_the_plan_reads(text, unit, asks, data) -> None:
    for reading in one(text, unit).readings:
        if not reading.option:
            continue
        name, value = shlex.split(reading.option)
        match name:
            case "--tolerance":
                zone = tolerance_of_wall(value, table=FITS)
                half = reading.data.get("wall_half_um", reading.data.get("half_um"))
                assert zone.half_um == pytest.approx(half, rel=1e-3)
                # Of a size each of its two walls is shifted by half.
                per_wall = 2 if "wall_half_um" in reading.data else 1
                shift = (
                    reading.data.get("size_shift_um", reading.data.get("shift_um", 0)) / per_wall
                )
                assert zone.shift_um == pytest.approx(shift, rel=1e-3)
            case "--finish":
                assert finish(value).ra_um == pytest.approx(reading.data["ra_um"])
            case "--recast":
                assert length_mm(value) * 1000 == pytest.approx(reading.data["recast_um"])
            case "--height":
                assert length_mm(value) == pytest.approx(reading.data["height_mm"])
            case "--material":
                assert CATALOGUE.material(value).id == reading.data["material"]
            case "--revision":
                assert value == reading.data["revision"]
            case "--quantity":
                assert int(value) == reading.data["pieces"]
            case _:
                raise AssertionError(reading.option)


@pytest.mark.parametrize(
    ("text", "unit", "asks", "number"),
    [
        # 16 µm is no finish of a wire-cut wall, 16 µin on a metric drawing is a slip: both.
        ("Ra 16", MM, Asks.FINISH, 2),
        ("Ra 8", MM, Asks.FINISH, 2),
        ("√32", MM, Asks.FINISH, 2),
        ("03/04/2024", MM, Asks.DATE, 2),
        # The steels M2 and H13 look like a thread and a fit.
        ("M2", MM, Asks.THREAD, 2),
        ("1 H13", MM, Asks.FIT, 2),
        ("12 H7/g6", MM, Asks.FIT, 2),
        ("0.5 H7", IN, Asks.FIT, 2),
        ("MAT: A2 OR D2", MM, Asks.MATERIAL, 2),
        ("A2 OR D2", MM, Asks.MATERIAL, 2),
        ("QTY: 2 SETS OF 6", MM, Asks.QUANTITY, 2),
        ("MATERIAL: ALUMINUM", MM, Asks.MATERIAL, 2),
    ],
)
def test_words_with_two_meanings_name_both(text, unit, asks, number) -> None:
    statement = one(text, unit)
    assert statement.asks is asks
    assert statement.is_ambiguous
    assert len(statement.readings) == number
    assert len({r.words for r in statement.readings}) == number


@pytest.mark.parametrize(
    "size", ["Ø20", "Ø 20", "%%c20", "⌀20", "DIA 20", "DIA. 20", "DIA20", "20 DIA", "20"]
)
@pytest.mark.parametrize(
    "limits",
    ["+0.021/0", "(+0.021/0)", "[+0.021 / 0]", "{+0,021/-0}", "( +0.021/0)", "+0.021, 0",
     "+0.021", "(+0.021/0) mm", "(+21/0 µm)", "THRU (+0.021/0)", "+0.021/0 DIA"],
)  # fmt: skip
def test_limits_behind_a_size_are_the_zone_of_the_size(size: str, limits: str) -> None:
    if "THRU" in limits and not size.startswith(("Ø", "D", "%", "⌀")):
        pytest.skip("only a diameter goes through")
    (reading,) = one(f"{size} {limits}").readings
    nominal_mm = reading.data.get("diameter_mm", reading.data["nominal_mm"])
    assert nominal_mm == pytest.approx(20)
    assert reading.data["size_half_um"] == pytest.approx(10.5)
    assert reading.data["size_shift_um"] == pytest.approx(10.5)
    # Of each wall half, on whatever line it is asked.
    assert tolerance_of_wall(shlex.split(reading.option)[1], table=FITS).half_um == pytest.approx(
        5.25
    )


@pytest.mark.parametrize(
    ("text", "unit", "words"),
    [
        (
            "4X Ø.500 +.0005/-.0000",
            IN,
            (
                "4 × Ø0.5 in (12.7 mm) 0 to +0.0005 in (0 to +12.7 µm) of size, "
                "each wall half of it, 0 to +0.00025 in (0 to +6.35 µm)"
            ),
        ),
        (
            "Ø12 ±0.01",
            MM,
            (
                "Ø12 mm (0.472441 in) ±10 µm (0.000393 in) of size, "
                "each wall half of it, ±5 µm (0.000196 in)"
            ),
        ),
        (
            "20 -0.01/-0.03",
            MM,
            (
                "20 mm (0.787402 in) -30 to -10 µm (-0.00118 to -0.000394 in) of size, "
                "each wall half of it, -15 to -5 µm (-0.00059 to -0.000197 in)"
            ),
        ),
        (".5000 H7", IN, None),
    ],
)
def test_a_zone_is_said_of_the_size_as_drawn_and_then_of_each_wall(
    text: str, unit: LengthUnit, words: str | None
) -> None:
    said = one(text, unit).readings[0].words
    if words is None:
        # Limits of a fit in the unit of the drawing first.
        assert re.search(r": 0\.5 to 0\.500\d+ in \(12\.7 to 12\.7\d+ mm\)", said), said
    else:
        assert said == words


def test_limits_behind_a_fit_that_are_not_its_own_are_questioned() -> None:
    for text in ("Ø20 H7 (+0.03/0)", "20 H7 (+0.03/0)"):
        assert "not those of the table" in one(text).remark
        assert "not those of the table" not in one(text.replace("0.03", "0.021")).remark


def _written(value: float, decimals: int, comma: str, *, leading: bool) -> str:
    text = f"{value:.{decimals}f}".replace(".", comma)
    return text if leading or not text.startswith("0") or decimals == 0 else text[1:]


@settings(max_examples=tries(400), deadline=None)
@given(data=st.data(), unit=st.sampled_from([MM, IN]))
def test_no_size_loses_a_digit_to_its_tolerance(data: st.DataObject, unit: LengthUnit) -> None:
    places = data.draw(st.integers(0, 4))
    size = data.draw(st.integers(10**places, 400 * 10**places)) / 10**places
    zone_places = data.draw(st.integers(2, 5))
    upper, lower = (data.draw(st.integers(1, 50)) / 10**zone_places for _ in range(2))
    comma, leading = data.draw(st.sampled_from(".,")), data.draw(st.booleans())
    up, low = (_written(v, zone_places, comma, leading=leading) for v in (upper, lower))
    form = data.draw(
        st.sampled_from(
            ["±{u}", "+/-{u}", "+{u}/-{l}", "+{u} -{l}", "(+{u}/-{l})", "+{u}/0", "0/-{l}",
             "+{u}", "-{l}", "[+{u} / 0]", "+{u}/-0,0", "H7", "-{l}/-{u}"]
        )
    )  # fmt: skip
    zone = form.format(u=up, l=low)
    # "Ø1" with "0/-.01" right behind it is "Ø10/-.01", which nobody could read otherwise.
    blanks = [" ", "  "] if zone[0].isdigit() else ["", " ", "  "]
    blank = data.draw(st.sampled_from(blanks))
    head = data.draw(st.sampled_from(["", "Ø", "2X Ø", "DIA ", "2X ", "SLOT "]))
    text = f"{head}{_written(size, places, comma, leading=True)}{blank}{zone}"
    found = says(text, unit)
    scale = 25.4 if unit is IN else 1.0
    for statement in found:
        for reading in statement.readings:
            value = reading.data.get("diameter_mm", reading.data.get("nominal_mm"))
            if value is not None:
                assert value == pytest.approx(size * scale) or value == pytest.approx(size), text
            else:
                # What tolerance is offered without its size would be twice what the size allows.
                assert not reading.option, text


COMMON = """
AS IN TO NO BE OF OR AT ON BY IS IT AL CO EN AS-DRAWN DRAWN OFF HAND TOOL HARD HIGH SPEED GRADE
PURE METAL YELLOW CUBE EDM WIRE EXPANSION CONTROLLED BONDED ELECTRODE SIDE PART PLATE STOCK CUT
LONG ALLOY TI NI FE
"""


@pytest.mark.parametrize("word", COMMON.split())
@pytest.mark.parametrize("form", ["{}", "{} DRAWN", "1 OFF {} DRAWN, 1 OFF OPP HAND", "{} SHOWN"])
def test_words_of_any_drawing_name_no_material(word: str, form: str) -> None:
    found = says(form.format(word))
    assert [s.text for s in found if s.asks is Asks.MATERIAL] == []


def test_what_is_said_not_to_be_wanted_is_no_quantity() -> None:
    assert Asks.QUANTITY not in {s.asks for s in says("NOT 5 REQ'D: SEE ORDER")}
    (both,) = [s for s in says("QTY: 2 SETS OF 6") if s.asks is Asks.QUANTITY]
    assert [r.data["pieces"] for r in both.readings] == [12, 2]
    assert "ask" in both.remark
    assert one("3 SETS").readings == ()


@pytest.mark.parametrize("text", ["12 H7", "12.5 +0.02/0", "Ø12 H7", "Ø12 +0.02/0"])
def test_a_zone_whose_middle_is_off_the_drawn_size_says_so(text: str) -> None:
    assert "off the nominal size" in one(text).remark
    assert "off the nominal size" not in one("12.5 ±0.01").remark


def test_ra_16_on_a_metric_drawing_names_the_likelier_reading_first() -> None:
    statement = one("Ra 16")
    assert [r.data["ra_um"] for r in statement.readings] == [0.4064, 16]
    assert "ask" in statement.remark


@pytest.mark.parametrize(
    ("text", "asks"),
    [
        ("M6x1", Asks.THREAD),
        ("1/2-20", Asks.THREAD),
        ("1/2-20 UNF-2B", Asks.THREAD),
        ("#10-32 UNF", Asks.THREAD),
        ("M3", Asks.THREAD),
        ("NO RECAST ALLOWED", Asks.RECAST),
        ("ISO 2768-mK", Asks.GENERAL_TOLERANCE),
        ("UNLESS OTHERWISE SPECIFIED", Asks.DEFAULTS),
        ("DO NOT SCALE DRAWING", Asks.DEFAULTS),
        ("BREAK ALL SHARP EDGES", Asks.OTHER_WORK),
        ("FLATNESS 0.01", Asks.FRAME),
        ("SCALE: NTS", Asks.SCALE),
        ("MATERIAL: UNOBTAINIUM", Asks.MATERIAL),
        ("12 I7 BUSH", Asks.NOT_UNDERSTOOD),
        ("THE QUICK BROWN FOX", Asks.NOT_UNDERSTOOD),
    ],
)
def test_words_that_give_no_value_are_listed_and_not_applied(text, asks) -> None:
    statement = one(text)
    assert statement.asks is asks
    assert statement.readings == ()


def test_a_line_is_taken_apart_and_what_is_left_is_said() -> None:
    found = says("D2 58-60 HRC, QTY 4, Ra 0.8, PAINT IT WITH STRIPES")
    assert [s.asks for s in found] == [
        Asks.MATERIAL, Asks.HARDNESS, Asks.QUANTITY, Asks.FINISH, Asks.OTHER_WORK,
        Asks.NOT_UNDERSTOOD,
    ]  # fmt: skip
    assert found[0].text == "D2"
    assert "STRIPES" in found[-1].text


def test_a_page_of_notes_is_read_line_by_line() -> None:
    found = says(
        "NOTES: UNLESS OTHERWISE SPECIFIED\n1. MATERIAL: A2 TOOL STEEL, 1.00 THK\n"
        "2. X.XXX ±.005\n3. BREAK SHARP EDGES\n4. NO RECAST ABOVE .0002",
        IN,
    )
    assert [s.asks for s in found] == [
        Asks.DEFAULTS, Asks.MATERIAL, Asks.HEIGHT, Asks.GENERAL_TOLERANCE, Asks.OTHER_WORK,
        Asks.RECAST,
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("label", "text", "asks"),
    [
        ("MATERIAL", "D2", Asks.MATERIAL),
        ("QTY", "4", Asks.QUANTITY),
        ("REV", "B", Asks.REVISION),
        ("PART_NO", "4711-3", Asks.PART_NUMBER),
        ("TITLE", "COVER PLATE", Asks.PART_NAME),
        ("FINISH", "0.8", Asks.FINISH),
        ("THICKNESS", "25", Asks.HEIGHT),
        ("SCALE", "2:1", Asks.SCALE),
        ("DATE", "12.3.2024", Asks.DATE),
        ("TOLERANCE", "0.01", Asks.TOLERANCE),
    ],
)
def test_the_tag_of_a_field_says_what_its_text_is_for(label, text, asks) -> None:
    assert one(text, label=label).asks is asks


def test_a_label_and_its_value_on_the_next_line_are_one() -> None:
    statement = one("MATERIAL:\nD2")
    assert statement.asks is Asks.MATERIAL
    assert statement.readings[0].data["material"] == "tool-steel-d2"


def test_a_count_before_a_steel_is_no_part_of_its_name() -> None:
    for count in range(1, 100):
        found = [s for s in says(f"{count} D2") if s.asks is Asks.MATERIAL]
        assert [s.readings[0].data["material"] for s in found] == ["tool-steel-d2"], count


def test_a_bare_number_is_never_a_material() -> None:
    for text in ("304", "316", "4140", "17-4", "718"):
        assert all(s.asks is not Asks.MATERIAL for s in says(text))
    assert one("MATERIAL: 304").asks is Asks.MATERIAL


def test_a_unit_note_that_contradicts_the_reading_says_so_and_names_the_option() -> None:
    statement = one("ALL DIMENSIONS IN MILLIMETERS", IN)
    assert statement.readings[0].option == "--units mm"
    assert "read in inches" in statement.remark


def test_a_long_text_is_read_in_part_and_says_so() -> None:
    found = says("Ra 0.8\n" + "x" * LONGEST_TEXT)
    assert found[0].asks is Asks.FINISH
    assert found[-1].asks is Asks.NOT_UNDERSTOOD
    assert str(len("Ra 0.8\n" + "x" * LONGEST_TEXT)) in found[-1].remark


def test_an_option_never_carries_words_into_a_shell() -> None:
    assert option("material", "D2; rm -rf *") == "--material 'D2; rm -rf *'"
    assert shlex.split(option("material", "a'b $(c)")) == ["--material", "a'b $(c)"]


WORDS = st.sampled_from(
    ["±", "+", "-", "/", "Ø", "R", "Ra", "H7", "12", ".5", "1,5", "0", "THRU", "X", "4X", "MAX",
     "mm", "in", '"', "µin", "√", "N5", "VDI", "HRC", "D2", "QTY", "REV", "MATERIAL:", "\n", ":",
     "SCALE", "TOTAL", "RECAST", "(", ")", "[", "]", "M6", "1/0", "DATE", "99.99.9999", "°"]
)  # fmt: skip


@settings(max_examples=tries(300), deadline=None)
@given(
    st.one_of(st.text(max_size=200), st.lists(WORDS, max_size=20).map(" ".join)),
    st.sampled_from([MM, IN]),
    st.text(max_size=10),
)
def test_no_text_makes_the_reader_fall_over_and_no_word_is_dropped(text, unit, label) -> None:
    found = says(text, unit, label=label)
    for statement in found:
        for reading in statement.readings:
            with suppress(ValueError):
                assert len(shlex.split(reading.option)) in (0, 2)
    if any(c.isalpha() and ord(c) < 128 for word in text.split() for c in word if len(word) > 12):
        assert found


@pytest.mark.parametrize(
    ("text", "unit", "low_mm", "high_mm", "count"),
    [
        ("2X Ø.2500\n+.0005/-.0000", IN, 6.35, 6.3627, 2),
        ("2X\nØ.2500\n+.0005\n-.0000", IN, 6.35, 6.3627, 2),
        ("Ø.2500\nTHRU\n+.0005\n0", IN, 6.35, 6.3627, 1),
        ("Ø.2500 THRU\n±.0005", IN, 6.3373, 6.3627, 1),
        ("2.0000 \n+.0005\n-.0000", IN, 50.8, 50.8127, 1),
        ("12\n0\n-0,02", MM, 11.98, 12, 1),
        ("1.2005\n1.1995", IN, 30.4673, 30.4927, 1),
        ("2X\nØ.2500\nØ.2505", IN, 6.35, 6.3627, 2),
        ("12 H7\n(+0.018/0)", MM, 12, 12.018, 1),
        ("12 H7\n+0.018\n0", MM, 12, 12.018, 1),
        ("Ø12 H7 +0.018/0", MM, 12, 12.018, 1),
    ],
)
def test_limits_below_a_size_are_those_of_the_size(
    text: str, unit: LengthUnit, low_mm: float, high_mm: float, count: int
) -> None:
    (reading,) = one(text, unit).readings
    data = reading.data
    nominal_mm = float(data.get("nominal_mm", data.get("diameter_mm", 0)))
    middle_mm = nominal_mm + float(data["size_shift_um"]) / 1000
    half_mm = float(data["size_half_um"]) / 1000
    assert (middle_mm - half_mm, middle_mm + half_mm) == pytest.approx((low_mm, high_mm), abs=5e-6)
    assert data["wall_half_um"] == pytest.approx(float(data["size_half_um"]) / 2)
    assert data.get("count", 1) == count


@pytest.mark.parametrize(
    "text", ["NOTES:\n±.0005", "QTY 4\n±.0005", "MATL: D2\n±.0005", "12.50\n14.50\n±.0005 ALL OVER"]
)
def test_limits_below_what_is_no_size_stay_a_line_of_their_own(text: str) -> None:
    assert says(text, IN)[-1].text.startswith("±.0005")


def test_two_sizes_over_each_other_are_no_limits_where_they_are_far_apart() -> None:
    assert [s.asks for s in says("50.00\n25.00")] == [Asks.SIZE, Asks.SIZE]
    for text in ("10/10.5", "10.5/10", "3/4", "12.25/10"):
        assert Asks.TOLERANCE not in [s.asks for s in says(text)], text


@pytest.mark.parametrize(
    ("text", "unit", "asks", "data"),
    [
        ("QTY: (4) REQ'D", IN, Asks.QUANTITY, {"pieces": 4}),
        ("(2) REQD", IN, Asks.QUANTITY, {"pieces": 2}),
        ("ONE REQUIRED", IN, Asks.QUANTITY, {"pieces": 1}),
        ("TWO (2) REQ'D", IN, Asks.QUANTITY, {"pieces": 2}),
        ("QTY: 12 PCS", IN, Asks.QUANTITY, {"pieces": 12}),
        ("REQD: 2 LH + 2 RH", IN, Asks.QUANTITY, {"pieces": 4}),
        ("1 LH, 1 RH", IN, Asks.QUANTITY, {"pieces": 2}),
        ("2 EA LH & RH", IN, Asks.QUANTITY, {"pieces": 4}),
        ("2 REQ'D AS SHOWN, 2 REQ'D OPP HAND", IN, Asks.QUANTITY, {"pieces": 4}),
        ("63 FINISH", IN, Asks.FINISH, {"ra_um": 1.6}),
        ("THK .7500 +.0000/-.0005", IN, Asks.HEIGHT, {"height_mm": 19.05}),
        (".750 ±.002 THK", IN, Asks.HEIGHT, {"height_mm": 19.05}),
        ("DUE: 12/15/26", IN, Asks.DUE, {"date": "2026-12-15"}),
        ("Liefertermin 12.01.2027", MM, Asks.DUE, {"date": "2027-01-12"}),
        ("CUSTOMER: Ridge Observatory", MM, Asks.CUSTOMER, {"customer": "Ridge Observatory"}),
    ],
)
def test_notes_of_a_shop_give_their_value(text, unit, asks, data) -> None:
    said = one(text, unit)
    assert (said.asks, said.text) == (asks, text)
    (reading,) = said.readings
    for name, value in data.items():
        expected = value if isinstance(value, str) else pytest.approx(value, rel=1e-3)
        assert reading.data[name] == expected


def test_limits_of_the_thickness_are_none_of_a_wall() -> None:
    for text in ("THK .7500 +.0000/-.0005", ".750 THK ±.002", "T = .75 ±.01"):
        said = one(text, IN)
        assert said.readings[0].option.startswith("--height ")
        assert "they ask nothing of a wall" in said.remark


def test_an_alternative_material_is_named_and_not_offered() -> None:
    said = one("ALTERNATE MATERIAL: A2")
    assert [r.option for r in said.readings] == [""]
    assert "as an alternative" in said.readings[0].words


def test_both_hands_say_that_the_drawing_shows_one() -> None:
    assert "ask which the drawing shows" in one("REQD: 2 LH + 2 RH").remark


@pytest.mark.parametrize(
    ("text", "unit", "half_um", "shift_um"),
    [
        ("±0.0002", IN, 5.08, 0),
        ("±.0002", IN, 5.08, 0),
        ("+/-0,01 mm", IN, 10, 0),
        ("+.0002/-.0000", IN, 2.54, 2.54),
        ("+.0002 -.0000", IN, 2.54, 2.54),
        ("0.01 TOTAL", MM, 5, 0),
    ],
)
def test_a_zone_alone_is_of_sizes_or_of_walls_and_sizes_come_first(
    text, unit, half_um, shift_um
) -> None:
    statement = one(text, unit)
    assert statement.asks is Asks.TOLERANCE
    of_size, of_walls = statement.readings
    for reading, share in ((of_size, 2), (of_walls, 1)):
        assert reading.data["half_um"] == pytest.approx(half_um)
        zone = tolerance_of_wall(shlex.split(reading.option)[1], table=FITS)
        # Two walls of this zone, measured over, are off by as much as the text gives, or twice.
        assert share * zone.half_um == pytest.approx(half_um)
        assert share * zone.shift_um == pytest.approx(shift_um)
    assert of_size.data["wall_half_um"] == pytest.approx(half_um / 2)
    assert "ask" in statement.remark


def test_tolerances_by_decimals_need_no_sign_behind_their_word() -> None:
    three, four = says("TOL: 3 PL .005  4 PL .0005", IN)
    assert [s.readings[0].data["decimals"] for s in (three, four)] == [3, 4]
    assert four.readings[0].option == "--tolerance ±0.00025in"
    # Three places of something, perhaps.
    assert [s.asks for s in says("3 PL .250", IN)] == [Asks.NOT_UNDERSTOOD]


def test_a_finish_before_its_word_is_open_in_a_metric_drawing() -> None:
    assert [r.option for r in one("63 FINISH").readings] == ["--finish Ra63uin", "--finish Ra63um"]
    assert says("2 FINISH CUTS", IN)[0].asks is Asks.NOT_UNDERSTOOD


def test_a_customer_ends_where_the_next_field_begins() -> None:
    customer, day = says("CUSTOMER: Ridge, Inc. DATE: 2026-11-20")
    assert customer.readings[0].option == "--customer 'Ridge, Inc.'"
    assert day.asks is Asks.DATE


def test_fields_of_one_line_are_read_apart_also_where_labels_have_no_colon() -> None:
    fields = says("CUST: ACME DIE  DWG NO 4471-B REV C  DATE 3/14/26", IN)
    assert [(one.asks, one.readings[0].words) for one in fields] == [
        (Asks.CUSTOMER, "ACME DIE"),
        (Asks.PART_NUMBER, "4471-B"),
        (Asks.REVISION, "revision C"),
        (Asks.DATE, "2026-03-14"),
    ]
    assert fields[0].readings[0].option == "--customer 'ACME DIE'"
    title, number, by, scale = says("TITLE: DIE PLATE P/N 12-7 DRAWN BY: K.L. SCALE 2:1", IN)
    assert title.readings[0].words == "DIE PLATE"
    assert (number.asks, by.text, scale.asks) == (
        Asks.PART_NUMBER,
        "DRAWN BY: K.L.",
        Asks.SCALE,
    )
    # A word of a label alone is none: names have them too.
    for name in ("DRAWING PARTS INC", "ACME REVISION HOUSE", "PART WORKS", "SCALE MODELS"):
        assert one(f"CUST: {name}").readings[0].words == name


@pytest.mark.parametrize(
    ("label", "text", "option"),
    [
        ("CUST", "Ridge Observatory", "--customer 'Ridge Observatory'"),
        ("DUE", "12/15/26", "--due 2026-12-15"),
        ("DELIVERY_DATE", "2027-01-12", "--due 2027-01-12"),
    ],
)
def test_fields_of_the_order_are_offered_for_its_lines(label: str, text: str, option: str) -> None:
    assert one(text, label=label).readings[0].option == option


def test_a_name_of_a_standard_is_not_found_inside_a_word() -> None:
    said = one("Allgemeintoleranzen ISO 2768-fH")
    assert (said.asks, said.text) == (Asks.GENERAL_TOLERANCE, "Allgemeintoleranzen ISO 2768-fH")
    assert says("Toleranzen ISO 2768-fH")[-1].text == "ISO 2768-fH"


@pytest.mark.parametrize(
    ("text", "unit", "asks", "data"),
    [
        ("WST 1.2379", MM, Asks.MATERIAL, {"material": "tool-steel-d2"}),
        ("WST. 1.2379", MM, Asks.MATERIAL, {"material": "tool-steel-d2"}),
        ("4140 STL", IN, Asks.MATERIAL, {"material": "steel-4140"}),
        ("16 SQ", MM, Asks.SIZE, {"nominal_mm": 16}),
        ("SQ 16", MM, Asks.SIZE, {"nominal_mm": 16}),
        (".750 SQ", IN, Asks.SIZE, {"nominal_mm": 19.05}),
        (".750 SQ ±.002", IN, Asks.TOLERANCE, {"nominal_mm": 19.05, "size_half_um": 50.8}),
        # A limit, and no size.
        ("MAX R .005", IN, Asks.RADIUS, {"radius_mm": 0.127, "limit": "max"}),
        ("MIN. R 0.2", MM, Asks.RADIUS, {"radius_mm": 0.2, "limit": "min"}),
        ("RAD .06", IN, Asks.RADIUS, {"radius_mm": 1.524}),
    ],
)
def test_short_forms_of_the_trade_give_their_value(text, unit, asks, data) -> None:
    statement = one(text, unit)
    assert statement.asks is asks
    for name, value in data.items():
        found = statement.readings[0].data[name]
        assert found == (value if isinstance(value, str) else pytest.approx(value))


@pytest.mark.parametrize(
    ("text", "asks"),
    [
        ("2 HOLES", Asks.HOLE),
        ("4 PL", Asks.SIZE),
        ("(4 PLCS)", Asks.SIZE),
        ("4 PLACES", Asks.SIZE),
        ("4340 STL", Asks.MATERIAL),
    ],
)
def test_counts_and_steels_without_a_value_here_are_said_to_be_what_they_are(text, asks) -> None:
    statement = one(text, IN)
    assert statement.asks is asks
    assert not statement.readings
    assert statement.remark


def test_a_radius_says_at_how_many_places_it_is() -> None:
    assert one("R .01 4 PL", IN).readings[0].words.startswith("4 × R")
