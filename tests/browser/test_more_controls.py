"""Controls of the listing, the program and the ledger that no other test uses."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import deeds
from test_each_control import ask, computed
from test_stacks import open_sheet

if TYPE_CHECKING:
    from playwright.sync_api import Page, Route
    from serving import Open


def test_the_listing_is_hidden_again_and_a_program_not_written_yet_is_asked_for(
    address: str, visit: Open
) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    deeds.open_sample(page)
    listing = page.locator("section[aria-labelledby=listing]")
    show = listing.get_by_role("button", name="show the program")
    show.click()
    expect(listing).to_contain_text("A line moves the wire to its end")
    listing.get_by_role("button", name="hide", exact=True).click()
    expect(listing).not_to_contain_text("A line moves the wire to its end")
    expect(show).to_be_visible()
    told: dict[str, object] = {"verdict": None, "work": []}

    def as_said(route: Route) -> None:
        answer = route.fetch()
        found = answer.json()
        if told and route.request.method == "GET":
            found |= told
            found["card"]["is_proved"] = False
        route.fulfill(response=answer, json=found)

    # As the server says it when a proof was stopped before it was done.
    page.route(re.compile(r"/api/jobs/[\w-]+$"), as_said)
    page.reload()
    program = page.locator("section[aria-labelledby=program]")
    write = program.get_by_role("button", name="Write and prove the program")
    write.wait_for()
    told.clear()
    with page.expect_response(lambda answer: answer.url.endswith("/proof")) as begun:
        write.click()
    assert begun.value.status == 202
    expect(program).to_contain_text("Proved against the drawing.")


def bring(page: Page, title: str, text: str) -> None:
    """Write a line of which nothing was asked before."""
    page.get_by_role("button", name=f"+ {title.lower()}", exact=True).click()
    page.get_by_label(title, exact=True).fill(text)
    page.get_by_label(title, exact=True).press("Enter")


def test_the_revision_clamps_and_what_holds_a_stack_are_written(address: str, visit: Open) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    open_sheet(page)
    bring(page, "Drawing revision", "C2")
    expect(deeds.line(page, "Drawing revision")).to_contain_text("C2")
    bring(page, "Clamps", "here")
    expect(deeds.line(page, "Clamps").get_by_role("alert")).to_be_visible()
    page.get_by_label("Clamps", exact=True).fill("0mm,80mm,15mm,40mm")
    page.get_by_label("Clamps", exact=True).press("Enter")
    expect(deeds.line(page, "Clamps")).to_contain_text("0mm,80mm,15mm,40mm")
    bring(page, "Stack", "8")
    computed(page)
    clamped = deeds.price(page)
    ask(page, "Holding", "bolted")
    expect(deeds.line(page, "Holding")).to_contain_text("bolted")
    assert deeds.price(page) != clamped
    job = page.url.partition("#/job/")[2].partition("/")[0]
    asked = page.context.request.get(f"/api/jobs/{job}").json()["asked"]
    wanted = {"revision": "C2", "clamps": "0mm,80mm,15mm,40mm", "holding": "bolted"}
    assert {name: asked[name] for name in wanted} == wanted


def test_arrow_keys_are_told_of_while_the_keyboard_is_in_a_table(address: str, visit: Open) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    deeds.open_sample(page)
    contours = page.locator("section[aria-labelledby=contours]")
    hint = contours.get_by_text("Arrow keys move through the numbers")
    expect(hint).to_be_hidden()
    contours.locator(".rows button:visible").first.focus()
    expect(hint).to_be_visible()
    page.get_by_role("button", name="Deviations").click()
    card = page.get_by_role("region", name="Deviations from the drawing")
    expect(hint).to_be_hidden()
    card.locator("ol button").first.focus()
    expect(card.get_by_text("Arrow keys move through the numbers")).to_be_visible()


def test_a_length_far_below_what_a_machine_places_is_said_as_nought(
    address: str, visit: Open
) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    deeds.open_sample(page)

    def as_said(route: Route) -> None:
        answer = route.fetch()
        found = answer.json()
        if found.get("verdict"):
            found["verdict"] |= {"gouge_um": 0.000005, "leftover_um": 0.0123}
        route.fulfill(response=answer, json=found)

    page.route(re.compile(r"/api/jobs/[\w-]+$"), as_said)
    page.reload()
    program = page.locator("section[aria-labelledby=program]")
    expect(program).to_contain_text(re.compile(r"gouge\s+0\b[^.\d]+µm, .*leftover\s+0\.0123\b"))
    page.get_by_role("button", name="in", exact=True).click()
    expect(program).to_contain_text(
        re.compile(r"gouge\s+0\b[^.\d]+ in, .*leftover\s+0\b[^.\d]+ in,")
    )
