"""Limits of the drawing whose middle is not the drawn line, where the plan holds as close."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from kerfwright.app.drawing_doubts import untaken_demands
from kerfwright.app.drawing_says import Saying, what_drawing_says
from kerfwright.app.off_the_line import sizes_off_the_line
from kerfwright.app.requirements import ZONE_OFF_THE_LINE
from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.geometry.contour import Contour
from kerfwright.trade.annotation import Annotation, AnnotationKind, Dimensioned, Measures
from kerfwright.trade.part import Part, Role
from kerfwright.trade.requirement import Demand, Requirement
from kerfwright.wiring import load_fits


@pytest.fixture
def plate(make_part: Any) -> Part:
    """A plate of 60 x 40 with holes of Ø12 at the nominal size and at the middle of 0 to +0.02."""
    outline = Contour.from_rows([(0, 0), (60, 0), (60, 40), (0, 40)])
    holes = [((15, 20), 6), ((40, 20), 6.005)]
    return make_part(
        [
            (Role.OUTLINE, outline, None),
            *((Role.OPENING, Contour.circle(at, radius_mm=r), "P1") for at, r in holes),
        ]
    )


def says(part: Part, tables: Any, *annotations: Annotation) -> tuple[Saying, ...]:
    noted = replace(part, annotations=annotations)
    return what_drawing_says(noted, catalogue=tables.catalogue, fits=load_fits())


def bore(words: str, x: float = 15.0, radius: float = 6.0) -> Annotation:
    return Annotation(
        kind=AnnotationKind.DIMENSION,
        text=words,
        points_mm=((x - radius, 20), (x + radius, 20)),
        size=Dimensioned(measures=Measures.DIAMETER, drawn_mm=2 * radius),
    )


def note(words: str) -> Annotation:
    return Annotation(kind=AnnotationKind.TEXT, text=words, where=Place(x_mm=1, y_mm=2))


@pytest.fixture
def off(plate: Part, tables: Any, requirement: Requirement) -> Any:
    """Return the warnings of texts on the plate, at demands."""

    def found(
        *annotations: Annotation, told: tuple[Finding, ...] = (), **demands: Any
    ) -> list[Finding]:
        planned = replace(requirement, **({"contours": {}} | demands))
        said = says(plate, tables, *annotations)
        return list(sizes_off_the_line(said, plate, planned, told=told))

    return found


@pytest.mark.parametrize(
    ("words", "planned_um", "where", "many"),
    [
        ("Ø12 +0.02/0", 2.5, "10 µm (0.00039 in) above", "at the end of them, and one in two"),
        ("Ø12 H7", 2.5, "9 µm (0.00035 in) above", "at the end of them, and one in two"),
        ("Ø12.000/12.018", 2.5, "9 µm (0.00035 in) above", "at the end of them, and one in two"),
        ("Ø12 -0.01/-0.03", 2.5, "20 µm (0.00079 in) below", "outside of them, and most"),
        ("Ø12 +0.03/-0.01", 6.0, "10 µm (0.00039 in) above", "to one side of them, and more"),
    ],
)
def test_a_closer_tolerance_than_the_limits_does_not_move_the_wall_to_their_middle(
    words: str, planned_um: float, where: str, many: str, off: Any
) -> None:
    (found,) = off(bore(words), tolerance_um=planned_um)
    assert (found.code, found.severity) == ("drawing-asks-off-the-line", Severity.WARNING)
    assert f"“{words}” at H1. The middle of these limits is {where} what is drawn" in found.message
    assert many in found.message
    assert "Draw the walls at the middle" in found.remedy


def test_walls_that_are_drawn_at_the_middle_or_that_keep_the_limits_all_the_same_are_no_matter(
    off: Any,
) -> None:
    assert off(bore("Ø12 +0.02/0", x=40.0, radius=6.005), tolerance_um=5.0) == []
    assert off(bore("Ø12 ±0.01"), tolerance_um=5.0) == []
    # The wall may be 10 µm of its zone of ±10 off, and 5 of them are the way to the middle.
    wide = bore("Ø12 +0.03/-0.01")
    assert off(wide, tolerance_um=5.0) == []
    assert len(off(wide, tolerance_um=5.5)) == 1


def test_equal_limits_are_off_only_where_the_line_is_drawn_outside_of_them(off: Any) -> None:
    drawn = {"x": 40.0, "radius": 6.005}
    assert off(bore("Ø12.0 ±0.015", **drawn), tolerance_um=7.0) == []
    (found,) = off(bore("Ø12.000 ±0.004", **drawn), tolerance_um=1.0)
    assert "10 µm (0.00039 in) below what is drawn" in found.message
    assert "outside of them" in found.message


def test_what_is_asked_off_the_line_itself_and_what_is_asked_wider_is_said_elsewhere(
    off: Any, plate: Part, tables: Any, requirement: Requirement
) -> None:
    read = Finding(
        code=ZONE_OFF_THE_LINE,
        severity=Severity.WARNING,
        message="read",
        where=Place(contour_id="H1"),
    )
    own = {"H1": Demand(tolerance_um=5.0)}
    text = bore("Ø12 +0.02/0")
    assert len(off(text, contours=own, tolerance_um=25.0)) == 1
    assert off(text, contours=own, tolerance_um=25.0, told=(read,)) == []
    # That of the job speaks of every contour without a demand of its own.
    of_job = replace(read, where=Place())
    assert off(text, tolerance_um=5.0, told=(of_job,)) == []
    assert len(off(text, contours=own, tolerance_um=25.0, told=(of_job,))) == 1
    for planned_um in (None, 25.0):
        assert off(text, tolerance_um=planned_um) == []
        wider = replace(requirement, tolerance_um=planned_um, contours={})
        (closer,) = untaken_demands(says(plate, tables, text), plate, wider)
        assert closer.code == "drawing-asks-closer"
        assert "The middle of its limits is 10 µm (0.00039 in) above what is" in closer.message


def test_limits_of_every_wall_that_lie_off_the_line_are_said_once_and_not_at_a_size_with_its_own(
    off: Any,
) -> None:
    of_all = note("ALL WALLS +0.01/-0")
    (found,) = off(of_all, tolerance_um=2.0)
    assert "“ALL WALLS +0.01/-0”. The middle" in found.message
    assert "at the end of them" in found.message
    assert off(note("ALL WALLS ±0.005"), tolerance_um=2.0) == []
    own = {"P1": Demand(tolerance_um=9.0)}
    at_both = (bore("Ø12 ±0.01"), bore("Ø12.01 ±0.01", x=40.0, radius=6.005))
    assert off(of_all, *at_both, tolerance_um=2.0, contours=own) == []
