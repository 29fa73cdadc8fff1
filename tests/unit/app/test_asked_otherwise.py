"""A job that asks another material, thickness or number than its drawing writes."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from kerfwright.adapters.fit_tables import load_fits
from kerfwright.app.asked_otherwise import asked_otherwise
from kerfwright.app.drawing_says import what_drawing_says
from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.geometry.contour import Contour
from kerfwright.trade.annotation import Annotation, AnnotationKind
from kerfwright.trade.part import LengthUnit, Part, Role
from kerfwright.trade.requirement import Requirement


@pytest.fixture
def plate(make_part: Any) -> Part:
    part: Part = make_part(
        [(Role.OUTLINE, Contour.from_rows([(0, 0), (60, 0), (60, 40), (0, 40)]), None)]
    )
    return replace(part, drawing_unit=LengthUnit.INCH)


def found(
    plate: Part, tables: Any, requirement: Requirement, *words: str, **asked: Any
) -> list[Finding]:
    notes = tuple(
        Annotation(
            kind=AnnotationKind.TEXT, text=one, where=Place(x_mm=1, y_mm=2, entity=f"TEXT {k}")
        )
        for k, one in enumerate(words)
    )
    said = what_drawing_says(
        replace(plate, annotations=notes), catalogue=tables.catalogue, fits=load_fits()
    )
    wanted = replace(requirement, **asked)
    return list(asked_otherwise(said, wanted, catalogue=tables.catalogue))


def test_what_the_drawing_writes_otherwise_is_told_with_both(
    plate: Part, tables: Any, requirement: Requirement
) -> None:
    brass = tables.catalogue.material("C270")
    words = ("MATERIAL: D2", "THK 1.000", "4 REQ'D")
    material, height, count = found(
        plate, tables, requirement, *words, material=brass, height_mm=31.75, quantities=(1, 5, 25)
    )
    assert material.severity is height.severity is Severity.WARNING
    assert "“MATERIAL: D2”" in material.message
    assert f"{brass.name} is what is planned" in material.message
    assert "25.4 mm (1.0000 in), and 31.75 mm (1.2500 in)" in height.message
    assert (count.code, count.severity) == ("drawing-asks-other-quantity", Severity.NOTE)
    assert "4 pieces, and 1, 5 and 25 pieces are what is quoted" in count.message
    assert [one.where.entity for one in (material, height, count)] == ["TEXT 0", "TEXT 1", "TEXT 2"]


def test_what_was_taken_over_is_told_no_more(
    plate: Part, tables: Any, requirement: Requirement
) -> None:
    words = ("MATERIAL: D2", "THK 1.000", "4 REQ'D")
    asked = {"height_mm": 25.4, "quantities": (1, 4)}
    assert found(plate, tables, requirement, *words, **asked) == []
    # A thickness rounded in the other unit is the same.
    assert found(plate, tables, requirement, "THK .394", height_mm=10.0) == []


def test_any_of_several_words_that_is_asked_is_enough(
    plate: Part, tables: Any, requirement: Requirement
) -> None:
    asked = {"height_mm": 25.4}
    assert found(plate, tables, requirement, "THK 1.000", "THK .500", **asked) == []
    assert found(plate, tables, requirement, "2 SETS OF 6", quantities=(2,)) == []
    (only,) = found(plate, tables, requirement, "2 SETS OF 6", quantities=(3,))
    assert "12 pieces or 2 pieces, and 3 pieces are what is quoted" in only.message
    # What the table does not know, or what is an alternative, is not compared.
    assert found(plate, tables, requirement, "MATERIAL: UNOBTAINIUM") == []
