from __future__ import annotations

from pathlib import Path

import pytest

from kerfwright.app.enquiries import Enquiry, Stage, changes_the_job
from kerfwright.app.enquiry_lines import own_lines, read_quantities, request_of
from kerfwright.app.requirements import read_placements
from kerfwright.foundation.errors import InputError, KerfwrightError
from kerfwright.trade.part import ContourUse, LayerUse, LengthUnit
from kerfwright.workbench.asked import check_asked


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
        ("height", "2 tenths", "unit-ambiguous"),
        ("height", "0 mm", "height-out-of-range"),
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


@pytest.mark.parametrize(
    ("name", "text", "says"),
    [
        ("height", "1/0 in", "as in 1/2"),
        ("recast", "0 µm", "leave the line empty"),
        ("stock-margin", "0 mm", "leave the line empty"),
        ("finish", "Ra 0", "such as Ra 0.8 µm"),
        ("finish", "N99", "such as Ra 0.8 µm"),
        ("finish", "VDI 99", "such as Ra 0.8 µm"),
        ("taper H1", "91° out from top", "to the vertical"),
        ("taper H1", "1° out from top, sides=4:75°", "to the vertical"),
        ("customer", "x" * 201, "fewer words"),
    ],
)
def test_a_line_that_is_refused_says_what_to_do(name: str, text: str, says: str) -> None:
    with pytest.raises(KerfwrightError) as caught:
        check_asked(name, text)
    assert says in caught.value.remedy


def test_quantities_are_sorted_and_each_is_there_once() -> None:
    assert read_quantities("25, 1,5 ,5") == (1, 5, 25)


def test_one_line_may_name_several_contours_and_each_keeps_its_own() -> None:
    after = enquiry().with_lines({"contour h1, H10,H2": "finish=Ra 0.4 µm"})
    assert list(after.asked) == ["contour H1", "contour H2", "contour H10"]
    less = after.with_lines({"contour H2": ""})
    assert list(less.asked) == ["contour H1", "contour H10"]
    assert after.undone().asked == {}


def test_a_demand_of_a_selection_leaves_the_other_demands_of_each() -> None:
    asked = {"contour H1": "tolerance=±2 µm, finish=Ra 0.4 µm", "contour H2": "recast=5 µm"}
    lines = own_lines(asked, ["h1", "H2", "H3"], {"tolerance": "±4 µm"})
    assert lines == {
        "contour H1": "tolerance=±4 µm, finish=Ra 0.4 µm",
        "contour H2": "tolerance=±4 µm, recast=5 µm",
        "contour H3": "tolerance=±4 µm",
    }
    assert own_lines(lines, ["H3"], {"tolerance": ""}) == {"contour H3": ""}
    with pytest.raises(KerfwrightError, match="no demand"):
        own_lines({}, ["H1"], {"colour": "red"})


def test_a_lead_in_placed_leaves_a_tab_where_it_was_put() -> None:
    one = enquiry().with_lines({"tab H1": "1 mm, 2 mm", "tab-width h1": "0.08 in"})
    two = one.with_lines({"lead-in H1": "3 mm, 4 mm"})
    assert two.asked == {
        "lead-in H1": "3 mm, 4 mm", "tab H1": "1 mm, 2 mm", "tab-width H1": "0.08 in",
    }  # fmt: skip
    request = request_of(two.with_lines({"material": "D2", "height": "1 in"}), Path("wheel.dxf"))
    assert request is not None
    place = read_placements(request)["H1"]
    assert (place.lead_in_mm, place.tab_mm) == ((3.0, 4.0), (1.0, 2.0))
    assert place.tab_width_mm == pytest.approx(2.032)
    assert two.undone().asked == one.asked


def test_roles_and_places_reach_the_request() -> None:
    one = enquiry(
        material="D2",
        height="1 in",
        **{"role P2": "not-cut", "start H1": "0.5in 0.125in", "tab H2": "12,5 mm; -3 mm"},
    )
    request = request_of(one, Path("wheel.dxf"))
    assert request is not None
    assert request.roles == {"P2": ContourUse.NOT_CUT}
    places = read_placements(request)
    assert places["H1"].start_mm == pytest.approx((12.7, 3.175))
    assert places["H2"].tab_mm == pytest.approx((12.5, -3.0))


@pytest.mark.parametrize(
    ("line", "text", "code"),
    [
        ("role H1", "slot", "choice-unknown"),
        ("start H1", "12.5 mm", "place-unreadable"),
        ("start H1", "12.5, 3", "unit-missing"),
        ("lead-in H1", "12,5 mm", "unit-missing"),
        ("tab H1", "1 mm, 2 ells", "unit-unknown"),
        ("tab H1", "here", "place-unreadable"),
        ("tab-width H1", "2", "unit-missing"),
        ("tab-width H1", "0 mm", "requirement-value"),
    ],
)
def test_roles_and_places_that_cannot_be_meant_are_refused(line: str, text: str, code: str) -> None:
    with pytest.raises(KerfwrightError) as refused:
        check_asked(line, text)
    assert refused.value.code == code
