from __future__ import annotations

from pathlib import Path

import pytest

from kerfwright.app.enquiries import Enquiry, Stage, changes_the_job
from kerfwright.app.enquiry_lines import read_quantities, request_of
from kerfwright.foundation.errors import InputError, KerfwrightError
from kerfwright.trade.part import LayerUse, LengthUnit
from kerfwright.wiring import check_asked


def enquiry(**asked: str) -> Enquiry:
    return Enquiry(
        id="wheel",
        title="wheel.dxf",
        drawing="wheel.dxf",
        drawing_sha256="0",
        added="",
        asked=asked,
    )


def test_without_material_or_height_there_is_no_request() -> None:
    assert enquiry(material="D2").missing == ("height",)
    assert request_of(enquiry(material="D2"), Path("wheel.dxf")) is None


def test_the_lines_become_the_request() -> None:
    one = enquiry(
        material="D2", height="1 in", quantity="5, 1", units="in", **{"layer HOLES": "start"}
    )
    request = request_of(one, Path("wheel.dxf"))
    assert request is not None
    assert (request.material, request.height, request.quantities) == ("D2", "1 in", (1, 5))
    assert request.units is LengthUnit.INCH
    assert dict(request.layer_uses) == {"HOLES": LayerUse.START}


def test_a_change_can_be_undone_and_done_again_and_each_is_a_revision() -> None:
    first = enquiry(material="D2")
    second = first.with_lines({"height": " 25 mm "})
    assert second.asked == {"material": "D2", "height": "25 mm"}
    undone = second.undone()
    assert undone.asked == first.asked
    assert undone.redone().asked == second.asked
    assert [e.revision for e in (first, second, undone, undone.redone())] == [1, 2, 3, 4]


def test_a_change_after_undo_forgets_what_was_undone() -> None:
    undone = enquiry(material="D2").with_lines({"height": "1 in"}).undone()
    with pytest.raises(InputError) as caught:
        undone.with_lines({"height": "2 in"}).redone()
    assert caught.value.code == "nothing-to-redo"


def test_an_empty_text_takes_a_line_away_and_the_same_text_changes_nothing() -> None:
    one = enquiry(material="D2", height="1 in")
    assert one.with_lines({"height": ""}).asked == {"material": "D2"}
    assert one.with_lines({"height": "1 in"}) is one
    assert one.at_stage(Stage.OPEN) is one


def test_customer_and_date_leave_the_numbers_alone_and_a_layer_does_not() -> None:
    asked = {"material": "D2", "height": "1 in"}
    assert not changes_the_job(asked, asked | {"customer": "Observatory", "due": "2027-01-31"})
    assert changes_the_job(asked, asked | {"layer A": "ignore"})


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("tolerance", "0.0002 in"),
        ("tolerance", "±5 µm"),
        ("tolerance", "+0.01/-0 mm"),
        ("finish", "16 µin"),
        ("finish", "N6"),
        ("height", '1 1/2"'),
        ("quantity", "1; 5;25"),
        ("material", "C270 brass"),
        ("wire", "0.25 mm"),
        ("machine", "generic-inch"),
        ("due", "2027-03-31"),
        ("layer 0", "stock"),
        ("recast", ""),
    ],
)
def test_the_ways_in_which_the_trade_writes_are_accepted(name: str, text: str) -> None:
    check_asked(name, text)


@pytest.mark.parametrize(
    ("name", "text", "code"),
    [
        ("tolerance", "5", "unit-missing"),
        ("tolerance", "2 tenths", "unit-ambiguous"),
        ("height", "0 mm", "requirement-value"),
        ("quantity", "a few", "quantity-unreadable"),
        ("quantity", "0", "quantity-unreadable"),
        ("due", "3/4/2027", "date-unreadable"),
        ("nozzles", "wide", "choice-unknown"),
        ("layer 0", "hole", "choice-unknown"),
        ("colour", "blue", "line-unknown"),
        ("customer", "x" * 201, "line-too-long"),
    ],
)
def test_what_a_line_cannot_mean_is_refused_with_its_reason(
    name: str, text: str, code: str
) -> None:
    with pytest.raises(KerfwrightError) as caught:
        check_asked(name, text)
    assert caught.value.code == code
    assert caught.value.message


def test_quantities_are_sorted_and_each_is_there_once() -> None:
    assert read_quantities("25, 1,5 ,5") == (1, 5, 25)
