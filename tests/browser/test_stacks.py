"""Stacks on the page: lines, the picture of what a number costs, and a number taken over."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import deeds
import pytest
from test_access import AXE, SIZES, violations
from test_reasons import keys, unexplained, unreasoned

if TYPE_CHECKING:
    from playwright.sync_api import Page
    from serving import Open


def open_sheet(page: Page) -> None:
    """Open the sample as a sheet of which forty are wanted."""
    asks = page.context.request
    job = asks.post("/api/jobs/sample").json()
    lines = {"height": "2 mm", "quantity": "40"}
    asks.patch(
        f"/api/jobs/{job['id']}",
        data={"lines": lines},
        headers={"If-Match": f'"{job["revision"]}"'},
    )
    page.evaluate("job => { location.hash = `#/job/${job}`; }", job["id"])
    page.get_by_role("button", name="Price stacks for 40").wait_for()


@pytest.mark.skipif(not AXE.exists(), reason="axe-core is not installed (npm ci)")
def test_a_stack_is_asked_looked_at_and_taken_from_the_picture_by_keyboard(
    address: str, visit: Open
) -> None:
    from playwright.sync_api import expect

    page = visit(address, viewport=SIZES["tablet"], color_scheme="dark")
    open_sheet(page)
    single = deeds.price(page)
    # How a stack is held is asked only where there is one.
    expect(page.get_by_role("button", name="+ covers")).to_have_count(0)
    page.get_by_role("button", name="+ stack").click()
    field = page.get_by_label("Stack", exact=True)
    field.fill("0")
    field.press("Enter")
    expect(page.get_by_role("alert")).to_contain_text("1 to 500 or auto")
    field.fill("8")
    field.press("Enter")
    stack = deeds.line(page, "Stack")
    expect(stack).to_contain_text("40: 8 at once, 5 stacks")
    expect(stack).to_contain_text("a sheet is expected to hold ±")
    assert deeds.price(page) < single / 2
    part = page.locator("section[aria-labelledby=stacks]")
    part.get_by_role("button", name="Price stacks for 40").click()
    picture = part.get_by_role("slider", name="Sheets in a stack, for 40")
    # Opened at what costs least, with the reason in words.
    expect(picture).to_have_attribute("aria-valuenow", "40")
    expect(part).to_contain_text("Costs least.")
    expect(part).to_contain_text("All pieces are in one stack.")
    picture.focus()
    picture.press("ArrowLeft")
    expect(picture).to_have_attribute("aria-valuenow", "20")
    part.locator("summary").click()
    assert unexplained(page) == []
    assert unreasoned(page, keys(page)) == {}
    assert violations(page) == []
    deeds.picture(page, "stacks-tablet")
    said = re.search(r"EUR ([\d.]+) each", picture.get_attribute("aria-valuetext") or "")
    assert said
    picture.press("Enter")
    expect(deeds.line(page, "Stack")).to_contain_text("40: 20 at once, 2 stacks")
    expect(part).to_contain_text("as asked now")
    assert deeds.price(page) == float(said[1])


def test_a_dot_is_pressed_and_singly_takes_the_stack_and_its_lines_away(
    address: str, visit: Open
) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    open_sheet(page)
    single = deeds.price(page)
    part = page.locator("section[aria-labelledby=stacks]")
    part.get_by_role("button", name="Price stacks for 40").click()
    part.get_by_role("button", name="Cut 40 at once", exact=True).click()
    expect(deeds.line(page, "Stack")).to_contain_text("40 at once, 1 stack")
    covers = deeds.line(page, "Covers")
    covers.get_by_role("button", name="Covers").click()
    page.get_by_label("Covers", exact=True).fill("2")
    page.get_by_label("Covers", exact=True).press("Enter")
    expect(covers).to_contain_text("2 scrap sheets: 1 above, 1 below")
    # With covers each number costs otherwise: it is priced anew, and stopped.
    part.get_by_role("button", name="Price stacks for 40").click()
    picture = part.get_by_role("slider")
    box = picture.bounding_box()
    assert box is not None
    picture.click(position={"x": box["width"] * 0.16, "y": box["height"] * 0.5})
    part.get_by_role("button", name="Cut singly", exact=True).click()
    expect(deeds.line(page, "Stack")).to_have_count(0)
    page.locator(".moved").filter(has_text="more a piece").wait_for()
    assert deeds.price(page) == single


def test_each_quantity_says_how_it_is_stacked_and_whose_the_program_is(
    address: str, visit: Open
) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    open_sheet(page)
    deeds.write(page, "Quantity", "6, 40")
    page.get_by_role("button", name="+ stack").click()
    page.get_by_label("Stack", exact=True).fill("auto")
    page.get_by_label("Stack", exact=True).press("Enter")
    head = page.get_by_role("region", name="Price", exact=True)
    expect(head).to_contain_text("6 at once, 1 stack")
    expect(head).to_contain_text("somebody there")
    of_six = deeds.price(page)
    head.get_by_role("button", name="40", exact=True).click()
    expect(head).to_contain_text("40 at once, 1 stack")
    expect(head).to_contain_text("drawing, passes and program are those of 6")
    expect(head).not_to_contain_text("somebody there")
    assert deeds.price(page) < of_six / 3
    assert not unexplained(page)
    assert not unreasoned(page, keys(page))
