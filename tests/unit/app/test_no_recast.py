"""A drawing that allows no recast layer is answered on every paper."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

import handmade
from kerfwright.adapters.fit_tables import load_fits
from kerfwright.app.drawing_says import what_drawing_says
from kerfwright.app.no_recast import recast_forbidden
from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.geometry.contour import Contour
from kerfwright.trade.annotation import Annotation, AnnotationKind
from kerfwright.trade.requirement import Requirement

PART = handmade.part(
    handmade.outline("P1", Contour.from_rows([(0, 0), (60, 0), (60, 40), (0, 40)])),
    handmade.opening("H1", Contour.circle((40, 25), radius_mm=6.0), "P1"),
)


def found(tables: Any, requirement: Requirement, *words: str) -> list[Finding]:
    notes = tuple(
        Annotation(
            kind=AnnotationKind.TEXT, text=one, where=Place(x_mm=1, y_mm=float(n)), points_mm=()
        )
        for n, one in enumerate(words)
    )
    noted = replace(PART, annotations=notes)
    says = what_drawing_says(noted, catalogue=tables.catalogue, fits=load_fits())
    return list(recast_forbidden(says, noted, requirement))


@pytest.mark.parametrize(
    "words",
    [
        "NO RECAST LAYER PERMITTED",
        "NO RECAST",
        "RECAST LAYER NOT PERMITTED",
        "RECAST: NONE",
        "WHITE LAYER TO BE REMOVED",
        "NO RECAST ABOVE 0",
    ],
)
def test_no_recast_is_a_warning_that_asks_how_thin(
    words: str, tables: Any, requirement: Requirement
) -> None:
    (one,) = found(tables, replace(requirement, max_recast_um=None), words)
    assert (one.code, one.severity) == ("drawing-allows-no-recast", Severity.WARNING)
    assert f"“{words}”" in one.message
    assert "no limit of it is planned" in one.message
    assert "how thin" in one.remedy


def test_a_thin_layer_asked_of_the_job_is_named_and_the_warning_stays(
    tables: Any, requirement: Requirement
) -> None:
    (one,) = found(tables, replace(requirement, max_recast_um=5.0), "NO RECAST ALLOWED")
    assert one.data["planned_um"] == 5.0
    assert "at most 5 µm (0.000196 in) is planned and quoted" in one.message


def test_the_same_words_are_said_once_and_a_limit_not_at_all(
    tables: Any, requirement: Requirement
) -> None:
    assert len(found(tables, requirement, "NO RECAST", "no recast")) == 1
    assert found(tables, requirement, "NO RECAST ABOVE 5 µm") == []
