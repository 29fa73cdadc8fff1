"""Findings that say the same of several contours stand together, on papers and on the page."""

from __future__ import annotations

import pytest

from kerfwright.adapters.papers.for_shop import finding_rows
from kerfwright.adapters.papers.words import Units
from kerfwright.app.papers.same_remarks import THESE, alike, mark_of_alike, said_of_any
from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.trade.part import LengthUnit

MM = Units(unit=LengthUnit.MILLIMETRE)


def found(contour: str, message: str, remedy: str = "", code: str = "x", **more: str) -> Finding:
    return Finding(
        code=code,
        severity=Severity.WARNING,
        message=message,
        remedy=remedy,
        where=Place(contour_id=contour),
        data=more,
    )


@pytest.mark.parametrize(
    "words",
    [
        "{}: the wall is thin",
        "the wall is thin",
        "The wall between {} and the edge is thin.",
        "At {} the wall of {} is thin",
        "The slug (of {}) tips.",
    ],
)
def test_a_wording_is_the_same_wherever_it_names_its_contour(words: str) -> None:
    some = [found(name, words.format(name, name)) for name in ("H1", "H2", "H12")]
    ((said, same),) = alike(some).items()
    assert same == some
    assert THESE in said[0]
    assert "H1" not in said[0]
    assert len({mark_of_alike(one) for one in some}) == 1


def test_what_stands_on_the_drawing_is_no_name_of_a_contour() -> None:
    one, other = (found(name, f"“{name} ±0.02” at {name}") for name in ("H1", "H2"))
    assert said_of_any(one)[0] == f"“H1 ±0.02” at {THESE}"
    assert mark_of_alike(one) != mark_of_alike(other)


def test_another_name_that_holds_the_name_is_left_as_it_is() -> None:
    said, _ = said_of_any(found("H1", "H1 lies in H1-LAND, beside H12 and P-H1"))
    assert said == f"{THESE} lies in H1-LAND, beside H12 and P-H1"


def test_another_code_weight_wording_or_remedy_stands_apart() -> None:
    base = found("H1", "thin at H1", "widen H1")
    others = [
        found("H1", "thin at H1", "widen H1", code="y"),
        found("H1", "thick at H1", "widen H1"),
        found("H1", "thin at H1", "leave H1"),
    ]
    assert mark_of_alike(found("H2", "thin at H2", "widen H2")) == mark_of_alike(base)
    assert mark_of_alike(base) not in {mark_of_alike(one) for one in others}


def test_a_finding_on_several_contours_joins_those_on_one() -> None:
    several = found("", "thin at H1, H2", contours="H1,H2")
    single = found("H3", "thin at H3")
    assert mark_of_alike(several) == mark_of_alike(single)
    (row,) = finding_rows([several, single], MM)
    assert row["messages"] == ["thin at H1–H3"]
    assert row["more"] == 0


def test_the_set_up_sheet_says_a_hundred_times_the_same_once() -> None:
    some = [found(f"H{n}", f"Slug of H{n} tips.", f"Hold H{n}.") for n in range(1, 101)]
    (row,) = finding_rows(some, MM)
    assert row == {
        "messages": ["Slug of H1–H100 tips."],
        "more": 0,
        "remedy": "Hold H1–H100.",
    }
