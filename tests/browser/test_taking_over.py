"""What the drawing says is taken over without loosening anything, and a frame is left out."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

import deeds
import ezdxf
import pytest
from test_edits import asked, job_of

if TYPE_CHECKING:
    from pathlib import Path

    from playwright.sync_api import Locator, Page
    from serving import Open


def arbor_plate(*, wide: str = "12 %%p0.04", close: str = "30 %%p0.01") -> Any:
    """A plate of a tower clock with a window, four holes and the demands of its drawing."""
    document = ezdxf.new("R2010", units=4)
    space = document.modelspace()
    space.add_lwpolyline([(0, 0), (80, 0), (80, 50), (0, 50)], close=True)
    space.add_lwpolyline([(34, 10), (46, 10), (46, 40), (34, 40)], close=True)
    for at in ((10, 10), (70, 10), (10, 40), (70, 40)):
        space.add_circle(at, 3)
    space.add_linear_dim(base=(34, 60), p1=(34, 40), p2=(46, 40), text=wide).render()
    space.add_linear_dim(base=(90, 10), p1=(46, 10), p2=(46, 40), angle=90, text=close).render()
    for k, text in enumerate(("4x %%c6 %%p0.02", "25.000/25.013", "TOL: %%p0.2", "QTY: 4")):
        space.add_text(text, height=3, dxfattribs={"insert": (0, -8 - 6 * k)})
    return document


def opened(page: Page, document: Any, folder: Path) -> Locator:
    """Add a drawing and return what it says on the page."""
    document.saveas(folder / "arbor-plate.dxf")
    page.get_by_label("Drawings to add").set_input_files(folder / "arbor-plate.dxf")
    deeds.write(page, "Material", "D2")
    deeds.write(page, "Height", "10 mm")
    page.locator(".each .number").wait_for()
    return page.get_by_role("region", name="The drawing says")


def text_of(says: Locator, words: str) -> Locator:
    return says.get_by_role("listitem").filter(has=says.page.get_by_text(words, exact=True))


@pytest.mark.parametrize("first", ["12 ±0.04", "30 ±0.01"])
def test_the_closer_of_two_texts_for_one_contour_stands_and_the_looser_is_a_choice(
    first: str, address: str, visit: Open, tmp_path: Path
) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    says = opened(page, arbor_plate(), tmp_path)
    wide, close = text_of(says, "12 ±0.04"), text_of(says, "30 ±0.01")
    for one in (wide, close) if first == "12 ±0.04" else (close, wide):
        one.get_by_role("button", name="Take", exact=True).or_(
            one.get_by_text("stands, which is closer")
        ).first.wait_for()
        if one.get_by_role("button", name="Take", exact=True).count():
            one.get_by_role("button", name="Take", exact=True).click()
            expect(one.get_by_text("in the ledger")).to_be_visible()
    assert asked(address, job_of(page))["contour H1"] == "tolerance=±0.005mm"
    # The page says where it happens which demand stands, and from which text.
    expect(wide).to_contain_text("H1: ±5 µm stands, which is closer, from “30 ±0.01”")
    expect(wide.get_by_role("button", name="Take", exact=True)).to_have_count(0)
    deeds.picture(page, "closer-stands")
    # On purpose the looser one can be asked; the closer then says what it would replace.
    wide.get_by_role("button", name="Ask this looser one all the same").click()
    expect(wide.get_by_text("in the ledger")).to_be_visible()
    expect(close).to_contain_text("In place of H1: ±20 µm, from “12 ±0.04”")
    assert asked(address, job_of(page))["contour H1"] == "tolerance=±0.02mm"


def test_a_group_shows_as_taken_and_limits_of_no_size_are_asked_of_picked_contours(
    address: str, visit: Open, tmp_path: Path
) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    says = opened(page, arbor_plate(), tmp_path)
    group = text_of(says, "4x Ø6 ±0.02")
    group.get_by_role("button", name="Take", exact=True).click()
    expect(group.get_by_text("in the ledger")).to_be_visible()
    lines = asked(address, job_of(page))
    assert [name for name in lines if name.startswith("contour")] == [
        f"contour H{n}" for n in (2, 3, 4, 5)
    ]
    # Limits of a size that is nowhere drawn are of no use to the whole job.
    lost = text_of(says, "25.000/25.013")
    expect(lost).to_contain_text("Pick its contours on the drawing")
    expect(lost.get_by_role("button", name="Take", exact=True)).to_have_count(0)
    page.get_by_role("button", name=re.compile("^H1 opening")).click()
    lost.get_by_role("button", name="Ask of H1", exact=True).click()
    expect(lost).to_contain_text("asked of H1")
    deeds.picture(page, "asked-of-picked")
    lines = asked(address, job_of(page))
    assert lines["contour H1"] == "tolerance=±0.00325mm"
    assert "tolerance" not in lines
    # Of a contour that is asked something closer it can be asked on purpose.
    page.get_by_role("region", name="Contour H1").get_by_label("Tolerance").fill("±2 µm")
    page.get_by_role("region", name="Contour H1").get_by_label("Tolerance").press("Enter")
    expect(lost).to_contain_text("H1: something closer is asked already")
    lost.get_by_role("button", name="Ask this looser one there").click()
    expect(lost).to_contain_text("asked of H1")
    assert asked(address, job_of(page))["contour H1"] == "tolerance=±0.00325mm"
    # A size between two walls keeps the general tolerance: each wall gets half.
    general = text_of(says, "TOL: ±0.2")
    general.get_by_role("button", name="Take", exact=True).click()
    expect(deeds.line(page, "Tolerance")).to_contain_text("±0.1mm")


def test_what_a_line_says_is_named_before_it_is_replaced(
    address: str, visit: Open, tmp_path: Path
) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    says = opened(page, arbor_plate(), tmp_path)
    deeds.write(page, "Quantity", "40")
    count = text_of(says, "QTY: 4")
    expect(count).to_contain_text("In place of “40”")
    count.get_by_role("button", name="Take", exact=True).click()
    expect(count.get_by_text("in the ledger")).to_be_visible()


def test_the_frame_of_a_sheet_is_left_out_in_sight_and_taken_back_with_one_press(
    address: str, visit: Open, tmp_path: Path
) -> None:
    from playwright.sync_api import expect

    document = arbor_plate()
    space = document.modelspace()
    frame = [(-100, -120), (290, -120), (290, 157), (-100, 157)]
    space.add_lwpolyline(frame, close=True)
    for k, text in enumerate(("TITLE: ARBOR PLATE", "SCALE 1:1", "DRAWN BY: K.L.")):
        space.add_text(text, height=3, dxfattribs={"insert": (200, -110 + 6 * k)})
    page = visit(address)
    opened(page, document, tmp_path)
    before = deeds.price(page)
    page.locator(".tally").click()
    card = page.get_by_role("region", name="Findings")
    for _ in range(20):
        if card.get_by_text("is taken for a frame of the sheet").count():
            break
        card.get_by_role("button", name="Next finding").click()
    expect(card).to_contain_text("as large as the frame of a sheet A3")
    expect(card).to_contain_text("neither cut nor priced")
    deeds.picture(page, "frame-left-out")
    with page.expect_response(lambda answer: answer.request.method == "PATCH"):
        card.get_by_role("button", name=re.compile("^It is the part: cut P")).click()
    expect(page.locator("section[aria-label=Price]")).to_have_attribute("aria-busy", "false")
    expect(page.locator(".tally, .bar").first).to_be_visible()
    # With it as the edge of the part far more is cut.
    page.wait_for_function(
        "before => { const t = document.querySelector('.each .number')?.textContent ?? '';"
        " const n = parseFloat(t.replace(/[^\\d.]/g, '')); return n > before * 1.5; }",
        arg=before,
    )
