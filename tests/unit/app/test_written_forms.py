"""The trade's ways of writing a value, line by line: what is read, and what is refused and why.

The forms are common practice, no source; the values follow from the definitions of the units
(1 in = 25.4 mm exactly), from ISO 286 (12 H7 = +18/0 µm, from memory), and from ISO 1302
(N6 = Ra 0.8 µm).
"""

from __future__ import annotations

import pytest

from kerfwright.adapters.fit_tables import load_fits
from kerfwright.app.enquiry_lines import read_quantities
from kerfwright.app.requirements import RECAST_FORMS, read_contour_demands, read_recast_um
from kerfwright.foundation.errors import InputError, KerfwrightError
from kerfwright.foundation.places import place_mm
from kerfwright.foundation.units import length_mm, most_mm
from kerfwright.trade import roughness
from kerfwright.trade.fits import tolerance_of_wall
from kerfwright.workbench.asked import check_asked

FITS = load_fits()


@pytest.mark.parametrize(
    ("text", "half_um"),
    [
        ("0.0002 in", 5.08),
        ('.0002"', 5.08),
        (".0002 in.", 5.08),
        ("0.0002″", 5.08),
        ("+/-.0002 inch", 5.08),
        ("±5 µm", 5.0),
        ("±5μm", 5.0),
        ("± 5 microns", 5.0),
        ("±0,005 mm", 5.0),
        ("0.2 thou", 5.08),
        ("1/2 thou", 12.7),
        ("5 tenths", 12.7),
        ("±2 tenths", 5.08),
        ("two tenths", 5.08),
        ('±50 u"', 1.27),
        ("±50 µin", 1.27),
        ('+.0002/-.0000"', 2.54),
        ("+.0002 in. / -.0000 in.", 2.54),
        ("0/-0.01 mm", 5.0),
        ("0.0004 in total", 5.08),
        # A hole's limits are shared by its two walls: 18 µm of size are ±4.5 µm each.
        ("12 H7", 4.5),
        ("Ø12 H7", 4.5),
        ("12 h6", 2.75),
        ('1/2" H7', 4.5),
    ],
)
def test_tolerances_that_are_read(text: str, half_um: float) -> None:
    check_asked("tolerance", text)
    assert tolerance_of_wall(text, table=FITS).half_um == pytest.approx(half_um)
    demands, _ = read_contour_demands({"H1": f"tolerance={text}"}, fits=FITS)
    assert demands["H1"].tolerance_um == pytest.approx(half_um)


def test_a_tenth_is_read_with_a_note_as_a_tolerance_only() -> None:
    said = tolerance_of_wall("5 tenths", table=FITS)
    assert "12.7 µm (0.0005 in)" in said.note
    with pytest.raises(KerfwrightError, match=r"0\.0001 in or 0\.1 mm"):
        check_asked("height", "5 tenths")


@pytest.mark.parametrize(
    ("text", "ra_um"),
    [
        ("16 µin Ra", 0.4064),
        ("16 uin", 0.4064),
        ('32u"', 0.8128),
        ("16 micro-inch Ra", 0.4064),
        ("Ra 0.4", 0.4),
        ("Ra0,4 µm", 0.4),
        ("max Ra 0.8 µm", 0.8),
        ("Ra ≤ 0.8", 0.8),
        ("0.8 µm", 0.8),
        ("√0.8", 0.8),
        ("N6", 0.8),
        ("VDI 20", 1.0),
    ],
)
def test_finishes_that_are_read(text: str, ra_um: float) -> None:
    check_asked("finish", text)
    assert roughness.finish(text).ra_um == pytest.approx(ra_um)


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("1/4 in", 6.35),
        ('1 1/4"', 31.75),
        ("1-1/4 in.", 31.75),
        ("½ in", 12.7),
        ('1½"', 38.1),
        ("25,4 mm", 25.4),
        ("25.4MM", 25.4),
        ("2 thou", 0.0508),
        ('.5"', 12.7),
        ("25 millimeters", 25.0),
    ],
)
def test_lengths_that_are_read(text: str, mm: float) -> None:
    check_asked("height", text)
    assert length_mm(text) == pytest.approx(mm)


@pytest.mark.parametrize("text", ["5 µm", "max 5 µm", "≤ 5 µm", "5 µm max", "up to 5 um"])
def test_a_largest_layer_is_read(text: str) -> None:
    check_asked("recast", text)
    assert most_mm(text) == pytest.approx(0.005)


@pytest.mark.parametrize("text", ["0.0002 in", "200 µin", "200 uin max", "≤ .0002 in", '.0002"'])
def test_a_largest_layer_is_read_as_inch_shops_write_it(text: str) -> None:
    check_asked("recast", text)
    assert read_recast_um(text) == 5.08


@pytest.mark.parametrize("text", ["5", "0.0002", "2 tenths"])
def test_a_layer_of_no_unit_is_refused_with_the_forms_of_a_layer(text: str) -> None:
    with pytest.raises(KerfwrightError) as refused:
        check_asked("recast", text)
    assert refused.value.remedy.endswith(f"Write it with a unit, as {RECAST_FORMS}.")


@pytest.mark.parametrize(
    ("text", "pieces"),
    [
        ("4", (4,)),
        ("1, 5, 25", (1, 5, 25)),
        ("25; 5", (5, 25)),
        ("4 off", (4,)),
        ("4 REQ'D", (4,)),
        ("qty 4", (4,)),
        ("1, 5 and 25 pcs", (1, 5, 25)),
        ("1 5 25", (1, 5, 25)),
        ("1/5 / 25", (1, 5, 25)),
        ("1; 5 25,100", (1, 5, 25, 100)),
        ("5 pcs 10 pcs", (5, 10)),
    ],
)
def test_quantities_that_are_read(text: str, pieces: tuple[int, ...]) -> None:
    check_asked("quantity", text)
    assert read_quantities(text) == pieces


@pytest.mark.parametrize(
    ("text", "xy"),
    [
        ("12.5 mm, 3 mm", (12.5, 3.0)),
        ("0.5in 0.125in", (12.7, 3.175)),
        ("X0.5in Y-0.125in", (12.7, -3.175)),
        ("-12,5 mm; 3 mm", (-12.5, 3.0)),
        ('1/2", 1/8"', (12.7, 3.175)),
        ("(1 in, 2 mm)", (25.4, 2.0)),
    ],
)
def test_places_that_are_read(text: str, xy: tuple[float, float]) -> None:
    assert place_mm(text) == pytest.approx(xy)


def test_a_place_without_a_unit_is_refused_with_the_sign_that_was_written() -> None:
    with pytest.raises(InputError, match="'-16' has no unit"):
        place_mm("-16, 0")


@pytest.mark.parametrize(
    ("line", "text", "code"),
    [
        ("tolerance", "±.0002", "unit-missing"),
        ("tolerance", "5", "unit-missing"),
        ("tolerance", "H7", "fit-size-missing"),
        ("tolerance", "12 H7/g6", "fit-two-members"),
        ("tolerance", "12 IT6", "fit-unknown"),
        ("tolerance", "-5 µm", "tolerance-one-limit"),
        ("tolerance", "0 µm", "tolerance-empty"),
        ("tolerance", "0 tenths", "unit-ambiguous"),
        ("tolerance", "10 mil", "unit-ambiguous"),
        ("tolerance", "1.234,5 mm", "number-ambiguous"),
        ("tolerance", "close", "length-unreadable"),
        ("finish", "Ra 16", "finish-unit-missing"),
        ("finish", "0.4", "finish-unit-missing"),
        ("finish", "N13", "finish-out-of-range"),
        ("finish", "mirror", "finish-unreadable"),
        ("finish", "Ra 0", "finish-out-of-range"),
        ("height", "25.4", "unit-missing"),
        ("height", "1,000 mm", "number-ambiguous"),
        ("height", "-5 mm", "value-negative"),
        ("height", "0 mm", "height-out-of-range"),
        ("height", "1 ft", "unit-unknown"),
        ("recast", "none", "length-unreadable"),
        ("quantity", "a few", "quantity-unreadable"),
        ("quantity", "0", "quantity-unreadable"),
        ("quantity", "4.5", "quantity-unreadable"),
        ("quantity", "-3", "quantity-unreadable"),
        ("quantity", "1 5 few", "quantity-unreadable"),
        ("quantity", "1 500", "quantity-ambiguous"),
        ("due", "3/4", "date-unreadable"),
    ],
)
def test_what_may_mean_two_things_or_nothing_is_refused_with_a_reason(
    line: str, text: str, code: str
) -> None:
    with pytest.raises(KerfwrightError) as refused:
        check_asked(line, text)
    assert refused.value.code == code
    assert text.split(maxsplit=1)[0] in refused.value.message


@pytest.mark.parametrize(("line", "text"), [("material", "unobtainium"), ("wire", "0.99 mm")])
def test_a_name_that_no_table_has_is_refused(line: str, text: str) -> None:
    with pytest.raises(KerfwrightError):
        check_asked(line, text)
