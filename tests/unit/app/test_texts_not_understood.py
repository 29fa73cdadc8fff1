"""Words at a contour that were not understood are found, with their place and what would be."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

import handmade
from kerfwright.adapters.fit_tables import load_fits
from kerfwright.app.drawing_says import what_drawing_says
from kerfwright.app.texts_not_understood import FORMS, texts_not_understood
from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.geometry.contour import Contour
from kerfwright.trade.annotation import Annotation, AnnotationKind, Dimensioned, Measures
from kerfwright.trade.callouts import interpret
from kerfwright.trade.part import LengthUnit, Part
from kerfwright.trade.statements import Asks

PART = handmade.part(
    handmade.outline("P1", Contour.from_rows([(0, 0), (60, 0), (60, 40), (0, 40)])),
    handmade.opening("H1", Contour.circle((40, 25), radius_mm=6.0), "P1"),
    handmade.opening("H2", Contour.circle((15, 25), radius_mm=6.0), "P1"),
)
AT_H1, AT_H2 = ((34.0, 25.0), (46.0, 25.0)), ((9.0, 25.0), (21.0, 25.0))


def found(tables: Any, *annotations: Annotation, part: Part = PART) -> list[Finding]:
    noted = replace(part, annotations=annotations)
    says = what_drawing_says(noted, catalogue=tables.catalogue, fits=load_fits())
    return list(texts_not_understood(says, noted))


def dimension(words: str, points: Any = AT_H1, name: str = "2A") -> Annotation:
    return Annotation(
        kind=AnnotationKind.DIMENSION,
        text=words,
        where=Place(x_mm=40, y_mm=33, layer="DIM", entity=f"DIMENSION {name}"),
        points_mm=points,
        size=Dimensioned(measures=Measures.DIAMETER, drawn_mm=12, override=words),
    )


def note(words: str, kind: AnnotationKind = AnnotationKind.TEXT, *points: Any) -> Annotation:
    where = Place(x_mm=1, y_mm=2, entity="TEXT 3B")
    return Annotation(kind=kind, text=words, where=where, points_mm=points)


def test_limits_with_a_letter_in_place_of_a_nought_are_named_with_place_and_forms(
    tables: Any,
) -> None:
    (one,) = found(tables, dimension("Ø12 ±.OO5"))
    assert one.severity is Severity.WARNING
    assert "±.OO5" in one.message
    assert "Ø12 ±.OO5" in one.message
    assert "H1" in one.message
    assert (one.where.entity, one.where.x_mm, one.where.contour_id) == ("DIMENSION 2A", 40, "H1")
    assert all(form in one.remedy for form in FORMS[LengthUnit.MILLIMETRE])


def test_forms_are_named_in_the_unit_of_the_drawing(tables: Any) -> None:
    inch = replace(PART, drawing_unit=LengthUnit.INCH)
    (one,) = found(tables, dimension("Ø12 ±.OO5"), part=inch)
    assert ".500 ±.0005" in one.remedy


@pytest.mark.parametrize("unit", list(LengthUnit))
def test_every_form_that_is_named_is_understood_with_its_limits(
    unit: LengthUnit, tables: Any
) -> None:
    for form in FORMS[unit]:
        (said,) = interpret(form, unit=unit, catalogue=tables.catalogue, fits=load_fits())
        assert said.asks in (Asks.TOLERANCE, Asks.FIT), form
        assert float(said.readings[0].data["size_half_um"]) > 0, form


def test_a_text_that_is_understood_gives_no_finding(tables: Any) -> None:
    assert not found(tables, dimension("Ø12 ±0.005"), note("QTY 4"), note("12 H7"))


def test_equal_texts_are_one_finding_with_all_contours(tables: Any) -> None:
    (one,) = found(tables, dimension("Ø12 ±.OO5"), dimension("Ø12 ±.OO5", AT_H2, "2B"))
    assert "H1, H2" in one.message
    assert one.data["places"] == 2


def test_words_without_a_number_at_a_leader_are_a_note(tables: Any) -> None:
    (one,) = found(tables, note("HONE CAREFULLY PER WIDGET", AnnotationKind.LEADER, (46.0, 25.0)))
    assert one.severity is Severity.NOTE
    assert "H1" in one.message


def test_words_of_the_sheet_are_named_only_where_they_look_like_limits(tables: Any) -> None:
    (one,) = found(tables, note("WIDGET GROUP SEVEN"), note("GENERAL ±.OO5"))
    assert "±.OO5" in one.message


def test_what_is_said_of_a_contour_that_is_not_cut_is_not_named(tables: Any) -> None:
    plate, hole, other = PART.contours
    line = replace(hole, is_cut=False)
    assert not found(
        tables, dimension("Ø12 ±.OO5"), part=replace(PART, contours=(plate, line, other))
    )


def test_a_tolerance_frame_is_said_to_be_shown_only(tables: Any) -> None:
    (one,) = found(tables, note("position | Ø0.05 | A", AnnotationKind.FRAME, (46.0, 25.0)))
    assert one.code == "tolerance-frame-not-planned"
    assert one.severity is Severity.WARNING
    assert "H1" in one.message


def test_a_table_whose_words_are_not_read_is_named(tables: Any) -> None:
    (one,) = found(
        tables, note("ACAD_TABLE", AnnotationKind.UNREAD), note("IMAGE", AnnotationKind.UNREAD)
    )
    assert one.severity is Severity.WARNING
    assert one.message.startswith("A table of the drawing")
