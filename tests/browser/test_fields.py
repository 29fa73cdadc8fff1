"""Dates and places in their fields: half a date, a past day, a place given back, a second place."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import deeds

if TYPE_CHECKING:
    from playwright.sync_api import Page, Route
    from serving import Open, Served


def due_of(page: Page) -> str:
    found: str = page.evaluate(
        """async () => {
          const path = '/api/jobs/' + location.hash.split('/')[2];
          const job = await (await fetch(path)).json();
          return job.draft.ledger.find((one) => one.name === 'due').asked;
        }"""
    )
    return found


def ask_for(page: Page, day: str) -> None:
    at = "/api/jobs/" + page.url.split("/")[-1]
    asks = page.context.request
    revision = asks.get(at).json()["revision"]
    answer = asks.patch(at, data={"lines": {"due": day}}, headers={"If-Match": f'"{revision}"'})
    assert answer.ok


def test_half_a_date_is_refused_and_takes_no_date_away(address: str, visit: Open) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    deeds.open_sample(page)
    ask_for(page, "2199-12-18")
    wanted = deeds.line(page, "Wanted by")
    expect(wanted).to_contain_text("18 Dec 2199")
    wanted.get_by_role("button", name="Wanted by").first.click()
    field = page.get_by_label("Wanted by", exact=True)
    field.press("Delete")
    field.press("Enter")
    expect(wanted.get_by_role("alert")).to_contain_text("This date is not whole")
    assert due_of(page) == "2199-12-18"
    deeds.picture(page, "half-a-date")
    field.press("Escape")
    expect(wanted).to_contain_text("18 Dec 2199")
    expect(wanted).not_to_contain_text("past")


def test_a_day_that_is_past_is_said_at_its_line(address: str, visit: Open) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    deeds.open_sample(page)
    ask_for(page, "2199-12-18")
    wanted = deeds.line(page, "Wanted by")
    expect(wanted).not_to_contain_text("this day is past")
    deeds.write(page, "Wanted by", "2025-01-01")
    expect(wanted).to_contain_text("1 Jan 2025")
    expect(wanted).to_contain_text("this day is past")


def test_a_second_place_right_behind_the_first_is_nobody_elses(address: str, visit: Open) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    deeds.open_sample(page)
    page.get_by_role("button", name=re.compile("^H7 opening")).click()
    card = page.get_by_role("region", name="Contour H7")
    lead = card.get_by_label("Lead-in", exact=True)
    x, y = (float(v) for v in re.findall(r"-?\d+\.\d+", lead.input_value()))
    held: list[Route] = []

    def hold(route: Route) -> None:
        if held or route.request.method != "PATCH":
            route.continue_()
        else:
            held.append(route)

    page.route("**/api/jobs/*", hold)
    with page.expect_request(lambda asked: asked.method == "PATCH"):
        lead.fill(f"{-y} mm, {x} mm")
        lead.press("Enter")
    lead.fill(f"{-x} mm, {-y} mm")
    held[0].continue_()
    expect(deeds.line(page, "Lead-in of H7")).to_be_visible()
    expect(page.locator("[aria-busy=true]")).to_have_count(0)
    expect(card.get_by_text("Changed meanwhile")).to_have_count(0)
    lead.press("Enter")
    expect(deeds.line(page, "Lead-in of H7")).to_contain_text(f"{-x:g}")
    # Emptied, it is the planner's again.
    lead.fill("")
    lead.press("Enter")
    expect(card.get_by_text("your choice")).to_have_count(0)
    expect(lead).to_have_value(re.compile(rf"^{x:.3f} mm, {y:.3f} mm"))


def test_what_an_absent_server_could_not_answer_is_forgotten_once_it_is_back(
    address: str, served: Served, visit: Open
) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    deeds.open_sample(page)
    page.get_by_role("button", name=re.compile("^H7 opening")).click()
    card = page.get_by_role("region", name="Contour H7")
    lead = card.get_by_label("Lead-in", exact=True)
    x, y = (float(v) for v in re.findall(r"-?\d+\.\d+", lead.input_value()))
    served.end()
    lead.fill(f"{-y} mm, {x} mm")
    lead.press("Enter")
    said = card.get_by_text("does not answer")
    expect(said).to_be_visible()
    assert "`" not in said.inner_text()
    served.begin_again()
    expect(page.get_by_text("does not answer")).to_have_count(0)
    page.evaluate("location.hash = '#/numbers'")
    expect(page.get_by_role("heading", name="Quoted against marked")).to_be_visible()
    served.end()
    page.evaluate("location.hash = '#/week'")
    expect(page.locator("p.fault").first).to_contain_text("does not answer")
    served.begin_again()
    expect(page.get_by_text("does not answer")).to_have_count(0)
