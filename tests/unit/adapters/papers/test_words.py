from __future__ import annotations

import json
import re
import unicodedata
from decimal import Decimal

import pytest
import typst
from hypothesis import given
from hypothesis import strategies as st

from kerfwright.adapters.papers.for_shop import finding_rows
from kerfwright.adapters.papers.words import (
    COVERED,
    Units,
    clock,
    in_unit,
    inch_first,
    money,
    printable,
    runs,
)
from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.foundation.units import tolerance
from kerfwright.trade.part import LengthUnit

MM, INCH = Units(unit=LengthUnit.MILLIMETRE), Units(unit=LengthUnit.INCH)
SHEET = """
#set page(width: 100mm, height: auto)
#set text(font: ("Libertinus Serif", "DejaVu Sans Mono"))
#for c in json(bytes(sys.inputs.signs)) { box(width: 10mm, c); linebreak() }
"""


def glyphs(signs: list[str]) -> list[str]:
    """The first glyph that each sign is drawn with, by the fonts that papers are set in."""
    made = typst.compile(
        SHEET.encode(),
        format="svg",
        ignore_system_fonts=True,
        sys_inputs={"signs": json.dumps(signs)},
    )
    assert isinstance(made, bytes)
    rows: dict[str, str] = {}
    drawn = r'translate\([\d.]+ ([\d.]+)\)"><g[^>]*><use xlink:href="#(g[0-9A-F]+)"'
    for row, glyph in re.findall(drawn, made.decode()):
        rows.setdefault(row, glyph)
    return list(rows.values())


def test_every_sign_that_is_let_through_has_a_glyph_of_its_own() -> None:
    missing = glyphs(["中"])[0]
    signs = [
        chr(code)
        for low, high in COVERED
        for code in range(low, high + 1)
        # Spaces draw nothing, marks join the sign before them, and holes in a block are no signs.
        if unicodedata.category(chr(code)) not in {"Zs", "Mn", "Me", "Cn", "Cf"}
    ]
    found = glyphs(signs)
    assert len(found) == len(signs)
    assert [s for s, g in zip(signs, found, strict=True) if g == missing] == []


@pytest.mark.parametrize(
    ("said", "shown"),
    [
        ("Müller µ Ø ± 中", "Müller µ Ø ± [U+4E2D]"),
        ("u\u0308", "ü"),
        ("a\u202eb\u200bc\x07", "a\ufffdb\ufffdc\ufffd"),
        ("two\nlines\there", "two lines here"),
        ("😀", "[U+1F600]"),
    ],
)
def test_every_sign_shows(said: str, shown: str) -> None:
    assert printable(said) == shown


def test_lengths_keep_to_one_unit_and_negative_zero_is_zero() -> None:
    assert (MM.place(-0.0001), INCH.place(-25.4)) == ("0.000", "−1.0000")
    assert (MM.fine(12.70006), INCH.fine(12.7)) == ("12.7001", "0.50000")
    assert (MM.small(5.0), INCH.small(5.08)) == ("0.005 mm", "0.00020 in")
    assert (MM.small(1000.0), MM.size(25.4), INCH.size(25.4)) == ("1 mm", "25.4 mm", "1.0000 in")
    # One number of digits for each kind, whatever a millimetre comes to.
    assert (INCH.small(5.0), INCH.size(64.0), INCH.size(63.7)) == (
        "0.00020 in",
        "2.5197 in",
        "2.5079 in",
    )
    assert (MM.roughness(0.8), INCH.roughness(0.8)) == ("0.8", "31")


def test_moments_money_and_runs_read_as_people_write_them() -> None:
    assert [clock(s) for s in (0.0, 3599.0, 3600.0 * 100)] == ["0:00", "1:00", "100:00"]
    assert money(Decimal("1234567.8")) == "1\u2009234\u2009567.80"
    assert runs(("H3", "H1", "H2", "P1", "H10", "H11")) == "H1–H3, H10, H11, P1"
    assert runs(()) == ""


@pytest.mark.parametrize(
    ("said", "inch"),
    [
        # Reference figures say in inches about as much as they said in millimetres.
        ("435.5 mm at 1000 mm/min", "17.146 in at 39.4 in/min"),
        ("a hole 300 mm deep", "a hole 11.811 in deep"),
        ("at 7.5 mm/min", "at 0.2953 in/min"),
        ("at 60 mm/min", "at 2.36 in/min"),
        # What a shop holds to tenths of a thou keeps them.
        ("up to 0.123 mm, 2 mm wide, 5 µm", "up to 0.0048 in, 0.0787 in wide, 0.00020 in"),
    ],
)
def test_a_converted_figure_has_the_digits_it_had_and_no_more(said: str, inch: str) -> None:
    assert in_unit(said, INCH) == inch


def test_what_a_person_wrote_keeps_its_unit() -> None:
    for asked in ("+0.02/-0 mm", "0.01 mm", "0.02 mm total", "+10 µm/0"):
        note = tolerance(asked).note
        for words in (in_unit(note, INCH), inch_first(note)):
            assert f"“{asked}” is" in words
            # What was computed from it is converted.
            assert " in" in words.partition("”")[2]
    named = Finding(
        code="x",
        severity=Severity.NOTE,
        message="1 contour on layer 0.25 mm KERF is 0.25 mm wide",
        where=Place(layer="0.25 mm KERF"),
    )
    (row,) = finding_rows([named], INCH)
    assert row["messages"] == ["1 contour on layer 0.25 mm KERF is 0.0098 in wide"]
    assert in_unit("“5 µm (0.0002 in)”", MM) == "“5 µm (0.0002 in)”"


def test_an_amount_for_a_way_is_said_for_a_way_that_is_round_in_the_unit_read() -> None:
    said = "20.3 more minutes per 100 mm (20.6 per 4 in) of wall."
    assert in_unit(said, INCH) == "20.6 more minutes per 4 in of wall."
    assert in_unit(said, MM) == "20.3 more minutes per 100 mm of wall."
    assert inch_first(said) == (
        "20.6 more minutes per 4 in (20.3 more minutes per 100 mm) of wall."
    )


@pytest.mark.parametrize("layer", ["0", "1", "16", "4"])
def test_the_number_of_a_layer_is_no_part_of_a_figure(layer: str) -> None:
    said = f"±10 µm (0.00039 in), Ra 0.406 µm (16 µin), 0.1 mm on layer {layer}"
    inch = in_unit(said, Units(unit=LengthUnit.INCH), kept=(layer,))
    assert inch == f"±0.00039 in, Ra 16 µin, 0.0039 in on layer {layer}"


def test_a_layer_that_is_called_like_a_length_keeps_its_name() -> None:
    said = "0.1 mm on layer 5 mm"
    assert in_unit(said, Units(unit=LengthUnit.INCH), kept=("5 mm",)) == "0.0039 in on layer 5 mm"


@given(st.floats(0.1, 500.0))
def test_limits_on_the_inspection_sheet_are_never_wider_than_they_are(value_mm: float) -> None:
    for unit, per_mm in ((LengthUnit.MILLIMETRE, 1.0), (LengthUnit.INCH, 1 / 25.4)):
        units, value = Units(unit=unit), value_mm * per_mm
        assert float(units.least(value_mm)) >= value - 1e-9
        assert float(units.greatest(value_mm)) <= value + 1e-9
        assert float(units.least(value_mm)) - float(units.greatest(value_mm)) <= 1.01e-4


def test_limits_that_are_round_stay_as_they_are() -> None:
    inch = Units(unit=LengthUnit.INCH)
    assert (inch.least(0.6768 * 25.4), inch.greatest(0.6768 * 25.4)) == ("0.67680", "0.67680")


@pytest.mark.parametrize("said", ["1" * 5000, "1-" * 5000 + "1", "1 × " * 3000 + "1 per"])
def test_a_stranger_s_digits_are_gone_through_once(said: str) -> None:
    """Read anew from each of them, they would take hours."""
    assert in_unit(said, Units(unit=LengthUnit.INCH)) == said
