"""Callouts of holes against the circles that are drawn."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

import handmade
from kerfwright.adapters.fit_tables import load_fits
from kerfwright.app.drawing_says import what_drawing_says
from kerfwright.app.hole_counts import contradicted_counts
from kerfwright.foundation.findings import Finding, Place
from kerfwright.geometry.contour import Contour
from kerfwright.trade.annotation import Annotation, AnnotationKind

SIX = handmade.part(
    handmade.outline("P1", Contour.from_rows([(0, 0), (80, 0), (80, 40), (0, 40)])),
    *(
        handmade.opening(f"H{k + 1}", Contour.circle((10 + 10 * k, 20), radius_mm=1.5), "P1")
        for k in range(6)
    ),
)


def found(tables: Any, *texts: str) -> list[Finding]:
    notes = tuple(
        Annotation(
            kind=AnnotationKind.TEXT, text=t, where=Place(x_mm=1, y_mm=2, entity=f"TEXT {k}")
        )
        for k, t in enumerate(texts)
    )
    part = replace(SIX, annotations=notes)
    says = what_drawing_says(part, catalogue=tables.catalogue, fits=load_fits())
    return list(contradicted_counts(says, part))


def test_eight_holes_named_and_six_drawn_are_a_finding(tables: Any) -> None:
    (one,) = found(tables, "8X Ø3 THRU")
    assert "names 8 holes Ø3 mm" in one.message
    assert "6 circles of that size are drawn (H1, H2, H3, H4, H5, H6)" in one.message
    assert (one.where.x_mm, one.data["named"], one.data["drawn"]) == (1, 8, 6)


def test_a_size_that_is_not_drawn_names_the_nearest(tables: Any) -> None:
    (one,) = found(tables, "4X Ø5 THRU")
    assert "no circle of that size is drawn, the nearest is Ø3 mm" in one.message


@pytest.mark.parametrize(
    "texts",
    [
        ("6X Ø3 THRU",),
        # Said once more, or each of some of them.
        ("6X Ø3", "6X Ø3"),
        ("2X Ø3", "4X Ø3"),
        # One of them, and no number: nothing is contradicted.
        ("Ø3",),
        ("4X Ø5 X 3 DEEP",),
    ],
)
def test_what_agrees_with_the_drawing_is_no_finding(texts: tuple[str, ...], tables: Any) -> None:
    assert found(tables, *texts) == []
