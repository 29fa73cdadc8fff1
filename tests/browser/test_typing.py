"""What somebody types stands until Enter or Escape, whatever the server answers meanwhile."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import deeds

if TYPE_CHECKING:
    from playwright.sync_api import Route
    from serving import Open


def test_an_answer_that_arrives_leaves_what_is_being_typed(address: str, visit: Open) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    deeds.open_sample(page)
    page.get_by_role("button", name=re.compile("^H7 opening")).click()
    card = page.get_by_role("region", name="Contour H7")
    lead, tab = (card.get_by_label(name, exact=True) for name in ("Lead-in", "Tab"))
    finish, finish_line = card.get_by_label("Finish"), deeds.line(page, "Finish")
    first, told = tab.input_value(), lead.input_value()
    x, y = (float(v) for v in re.findall(r"-?\d+\.\d+", told))
    # The answer to the first change is held back; the tab follows the lead-in and will move.
    held: list[Route] = []

    def hold(route: Route) -> None:
        if held or route.request.method != "PATCH":
            route.continue_()
        else:
            held.append(route)

    page.route("**/api/jobs/*", hold)
    lead.fill(f"{-y} mm, {x} mm")
    lead.press("Enter")
    expect(page.locator("[aria-busy=true]")).to_be_visible()
    tab.fill("17 mm, nowhere")
    assert len(held) == 1
    held[0].continue_()
    expect(deeds.line(page, "Lead-in of H7")).to_be_visible()
    expect(card.get_by_role("status")).to_contain_text("Changed meanwhile to ")
    expect(tab).to_have_value("17 mm, nowhere")
    # Escape takes what is stored.
    tab.press("Escape")
    expect(tab).not_to_have_value("17 mm, nowhere")
    expect(tab).not_to_have_value(first)
    expect(card.get_by_role("status")).to_have_count(0)
    # A demand of the contour, and a line of the ledger, against another window.
    finish.fill("Ra 0.4")
    deeds.beside(page, "contour H7", "finish=Ra 1.6 µm")
    expect(card.get_by_role("status")).to_contain_text("to Ra 1.6 µm")
    finish.press_sequentially(" µm")
    finish.press("Enter")
    expect(deeds.line(page, "Contour H7")).to_contain_text("Ra 0.4 µm")
    finish_line.get_by_role("button", name="Finish").first.click()
    deeds.beside(page, "finish", "Ra 1.6 µm")
    expect(finish_line.get_by_role("status")).to_contain_text("to Ra 1.6 µm")
    # Opened, and left as it was: the other window's word stands.
    page.get_by_label("Finish", exact=True).press("Tab")
    expect(finish_line).to_contain_text("Ra 1.6 µm")
    # The names on the papers.
    page.get_by_role("link", name="Papers").click()
    customer = page.get_by_label("Customer")
    customer.fill("Observatory of Os")
    deeds.beside(page, "customer", "Tower of Am")
    expect(page.get_by_role("status")).to_contain_text("to Tower of Am")
    expect(customer).to_have_value("Observatory of Os")
    customer.press("Enter")
    expect(page.get_by_role("status")).to_have_count(0)
    page.reload()
    expect(customer).to_have_value("Observatory of Os")


def test_a_drawing_that_did_not_arrive_is_asked_for_again(address: str, visit: Open) -> None:
    page = visit(address)
    asked: list[str] = []

    def first_fails(route: Route) -> None:
        asked.append(route.request.url)
        if len(asked) == 1:
            route.abort()
        else:
            route.continue_()

    page.route("**/geometry*", first_fails)
    deeds.open_sample(page)
    with page.expect_response(lambda answer: "/geometry" in answer.url and answer.ok):
        deeds.write(page, "Customer", "Observatory")
    assert len(asked) >= 2


def test_a_press_on_a_line_opens_it_though_the_open_one_above_it_closes(
    address: str, visit: Open
) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    deeds.open_sample(page)
    deeds.line(page, "Material").get_by_role("button", name="Material").first.click()
    expect(page.get_by_label("Material", exact=True)).to_be_focused()
    below = deeds.line(page, "Height").get_by_role("button", name="Height").first.bounding_box()
    assert below is not None
    page.mouse.move(below["x"] + 30, below["y"] + 0.7 * below["height"])
    page.mouse.down()
    # The line above has closed by the time the finger lifts.
    expect(page.get_by_label("Material", exact=True)).to_have_count(0)
    page.mouse.up()
    expect(page.get_by_label("Height", exact=True)).to_be_focused()
    # Typed and not sent: it stands after a reload, and in the next window where this one is closed.
    page.keyboard.type("6.1")
    page.reload()
    expect(page.get_by_label("Height", exact=True)).to_have_value("6.1")
    expect(deeds.line(page, "Height").get_by_role("status")).to_contain_text("Not sent yet")
    other, job = page.context.new_page(), page.url
    page.close()
    other.goto(job)
    expect(other.get_by_label("Height", exact=True)).to_have_value("6.1")


def test_the_page_is_no_taller_than_its_window(address: str, visit: Open) -> None:
    page = visit(address)
    deeds.open_sample(page)
    page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
    tall, window = page.evaluate("[document.scrollingElement.scrollHeight, innerHeight]")
    assert tall <= window
