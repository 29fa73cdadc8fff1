"""What real drawings of the corpus say, as a person reads it off each of them.

Nobody here made the drawings (origin: ``../shared/corpus/MANIFEST.csv``).  The expected lines were
written from the pictures that their own programs left of the dimensions, opened with ezdxf.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import ezdxf
import pytest

from kerfwright.adapters.dxf import read_drawing
from kerfwright.adapters.dxf.annotation_text import block_text
from kerfwright.app.drawing_says import Saying
from kerfwright.foundation.errors import KerfwrightError
from kerfwright.trade.part import LengthUnit, Part
from kerfwright.trade.statements import Asks
from kerfwright.wiring import drawing_says

DRAWINGS = Path(__file__).resolve().parents[3] / "shared" / "corpus" / "dxf"
pytestmark = [
    pytest.mark.corpus,
    pytest.mark.skipif(not DRAWINGS.is_dir(), reason="the corpus is not beside this checkout"),
]
MM, IN = LengthUnit.MILLIMETRE, LengthUnit.INCH


@cache
def read(name: str, unit: LengthUnit | None = None) -> tuple[Part, tuple[Saying, ...]]:
    part = read_drawing(DRAWINGS / name, unit=unit)
    return part, drawing_says(part)


def lines(says: tuple[Saying, ...]) -> list[tuple[Asks, str, tuple[str, ...]]]:
    return [(s.statement.asks, s.statement.text, s.contour_ids) for s in says]


def test_the_motor_plate_gives_six_sizes_with_their_contours() -> None:
    _, says = read("wd_nema34_in_dims.dxf", IN)
    assert lines(says) == [
        (Asks.SIZE, "Ø2.8750", ("H1",)),
        (Asks.SIZE, "2.7440", ("H2", "H5")),
        (Asks.SIZE, "5.0000", ("H9", "H8")),
        (Asks.SIZE, "3.0000", ("H6", "H8")),
        (Asks.SIZE, "3.6560", ("P1",)),
        (Asks.SIZE, "6.0000", ("P1",)),
    ]
    data = says[0].statement.readings[0].data
    assert data["diameter_mm"] == pytest.approx(2.875 * 25.4)
    assert says[0].where.entity == "DIMENSION 94"


def test_the_pulley_for_the_wire_machine_says_that_it_is_drawn_ten_times_its_size() -> None:
    part, says = read("odri_pulley_wire_edm_rev2.dxf")
    assert [(s.statement.asks, s.statement.text) for s in says] == [
        (Asks.NOT_UNDERSTOOD, "AT3 T10 Pulley Geometry"),
        (Asks.OTHER_WORK, "Wire EDM Fabrication"),
        (Asks.TITLE_BLOCK, "A4 Drawing"),
        (Asks.SCALE, "Scale 10:1"),
        (Asks.DATE, "7.8.2019"),
        (Asks.SIZE, "Ø9.14"),
        (Asks.SIZE, "Ø7.14"),
        (Asks.RADIUS, "R0.5"),
        (Asks.ANGLE, "50°"),
        (Asks.SIZE, "2.4"),
    ]
    (finding,) = (f for f in part.findings if f.code == "drawn-at-a-scale")
    assert finding.data["factor"] == pytest.approx(0.1)
    # The tip circle is 91.4 mm as drawn; the dimension says 9.14.
    assert says[5].statement.readings[0].data["diameter_mm"] == pytest.approx(9.14)
    assert "written" not in says[5].statement.remark


def test_the_case_gives_a_thread_that_no_wire_cuts_and_its_sizes() -> None:
    part, says = read("hr_case_dims.dxf", MM)
    said = {s.where.entity: s for s in says}
    assert said["DIMENSION DE"].statement.asks is Asks.THREAD
    assert "not for the wire" in said["DIMENSION DE"].statement.remark
    values = {
        entity: said[f"DIMENSION {entity}"].statement.readings[0].data
        for entity in ("B7", "DF", "E0", "E1", "E2")
    }
    assert values["DF"]["nominal_mm"] == pytest.approx(112)
    assert values["E0"]["nominal_mm"] == pytest.approx(122)
    assert values["E1"]["nominal_mm"] == pytest.approx(77)
    assert values["B7"]["nominal_mm"] == pytest.approx(5)
    assert values["E2"]["radius_mm"] == pytest.approx(5)
    assert all(s.contour_ids for s in says if s.statement.asks is Asks.SIZE), part.contours


def test_constraints_of_a_sketch_come_out_as_sizes_without_limits() -> None:
    _, says = read("sk_dims_r12.dxf", MM)
    assert len(says) == 13
    assert {s.statement.asks for s in says} == {Asks.SIZE}
    by_text = {s.statement.text: s.statement.readings[0].data["nominal_mm"] for s in says}
    assert by_text["dia1=38.5000"] == pytest.approx(38.5)
    assert by_text["d1=33.2/2"] == pytest.approx(16.6)
    assert by_text["d9=60.0000"] == pytest.approx(60)
    assert not any(r.option for s in says for r in s.statement.readings)
    assert not any("written" in s.statement.remark for s in says)


def test_words_that_ask_nothing_are_listed_as_not_understood() -> None:
    _, says = read("tm_sliding_base_in.dxf")
    assert [(s.statement.asks, s.statement.text) for s in says] == [
        (Asks.NOT_UNDERSTOOD, "SolidWorks Educational Edition"),
        (Asks.NOT_UNDERSTOOD, "For Instructional Use Only"),
    ]


@pytest.mark.parametrize(
    ("name", "unit"),
    [
        ("hr_case_dims.dxf", MM),
        ("odri_pulley_wire_edm_rev2.dxf", MM),
        ("wd_nema34_in_dims.dxf", IN),
    ],
)
def test_our_value_of_a_dimension_is_the_one_its_own_picture_writes(
    name: str, unit: LengthUnit
) -> None:
    document = ezdxf.readfile(DRAWINGS / name)  # type: ignore[attr-defined,unused-ignore]
    _, says = read(name, unit)
    ours = {s.where.entity: s.statement for s in says}
    compared = 0
    for entity in document.modelspace().query("DIMENSION"):
        picture = block_text(document, entity.dxf.get("geometry", ""))
        digits = picture.replace(",", ".").strip("ØR°")
        statement = ours[f"DIMENSION {entity.dxf.handle}"]
        if not statement.readings or not digits.replace(".", "").isdigit():
            continue
        data = statement.readings[0].data
        value = next(
            float(data[k])
            for k in ("nominal_mm", "diameter_mm", "radius_mm", "angle_deg")
            if k in data
        )
        value /= 25.4 if unit is IN and "angle_deg" not in data else 1.0
        last = 10.0 ** -len(digits.partition(".")[2])
        assert value == pytest.approx(float(digits), abs=last / 2 + last / 1000), statement
        compared += 1
    assert compared >= 5


def test_no_note_of_the_corpus_is_taken_for_a_material_that_it_does_not_name() -> None:
    named = {
        (path.name, s.statement.text)
        for path in sorted(DRAWINGS.glob("*.dxf"))
        for s in _says_or_nothing(path.name)
        if s.statement.asks is Asks.MATERIAL
    }
    assert named == MATERIALS_NAMED


MATERIALS_NAMED: set[tuple[str, str]] = set()


def _says_or_nothing(name: str) -> tuple[Saying, ...]:
    try:
        return read(name, MM)[1]
    except KerfwrightError:
        return ()
