"""What is typed or chosen and could not be stored: kept and said so, never shown as if it were."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import deeds
import pytest

from kerfwright.adapters.papers.typeset import can_typeset

if TYPE_CHECKING:
    from playwright.sync_api import Page
    from serving import Open, Served


def stored(page: Page) -> dict[str, str]:
    job = page.context.request.get(f"/api/jobs/{deeds.job_of(page)}").json()
    asked: dict[str, str] = job["asked"]
    return asked | {"stage": job["card"]["stage"]}


def test_a_refused_choice_goes_back_and_a_refused_text_waits_and_holds_the_papers(
    address: str, served: Served, visit: Open
) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    deeds.open_sample(page)
    page.get_by_text("Proved against the drawing.").wait_for()
    page.get_by_role("button", name=re.compile("^H7 opening")).click()
    card = page.get_by_role("region", name="Contour H7")
    role, layer = card.get_by_label("Role"), card.locator("#layer-use")
    stage, tolerance = page.get_by_label("Stage"), card.get_by_label("Tolerance")
    download = page.get_by_role("link", name="Download program")
    expect(download).to_be_visible()
    # Another window is first, and this one has not heard of it.
    deaf = re.compile(r"/api/jobs/[\w-]+$")
    page.route(deaf, lambda r: r.abort() if r.request.method == "GET" else r.continue_())
    with page.expect_event("requestfailed"):
        deeds.beside(page, "customer", "Observatory")
    page.unroute(deaf)
    role.select_option("not-cut")
    expect(card.get_by_role("status")).to_contain_text("“not cut, but a wall” was not stored")
    expect(role).to_have_value("")
    served.end()
    expect(page.get_by_text("What you see is as it was")).to_be_visible()
    layer.select_option("ignore")
    stage.select_option("quoted")
    expect(card.get_by_text("“leave out” was not stored")).to_be_visible()
    expect(page.get_by_text("“quoted” was not stored")).to_be_visible()
    page.locator("header").get_by_role("button", name="Understood").first.click()
    expect(page.get_by_text("“quoted” was not stored")).to_have_count(0)
    tolerance.fill("±2.5 µm")
    tolerance.press("Enter")
    said = card.get_by_role("status").filter(has_text="Not sent yet")
    expect(said).to_be_visible()
    served.begin_again()
    expect(page.get_by_text("What you see is as it was")).to_have_count(0)
    for choice, value in ((role, ""), (layer, ""), (stage, "open")):
        expect(choice).to_have_value(value)
    # The server is back, and it still stands there as what it is, on any view.
    expect(said).to_be_visible()
    expect(page.get_by_role("button", name="Not all is sent")).to_be_disabled()
    expect(download).to_have_count(0)
    now = stored(page)
    assert (now["stage"], "role H7" in now, "contour H7" in now) == ("open", False, False)
    page.get_by_role("link", name="Papers").click()
    waits = page.get_by_text("Tolerance of H7: “±2.5 µm” is not sent yet")
    expect(waits).to_be_visible()
    page.get_by_role("button", name="Make the papers").click()
    expect(page.get_by_role("alert")).to_contain_text("not sent yet is “Tolerance of H7”")
    page.get_by_role("button", name="Let it go").click()
    expect(waits).to_have_count(0)
    page.get_by_role("link", name="Drawing").click()
    expect(download).to_be_visible()


@pytest.mark.skipif(not can_typeset(), reason="typst is not installed")
def test_a_customer_that_was_not_stored_gets_no_quote_until_it_is(
    address: str, served: Served, visit: Open
) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    deeds.open_sample(page)
    page.get_by_role("link", name="Papers").click()
    customer, delivery = page.get_by_label("Customer"), page.get_by_label("Delivery")
    expect(delivery).to_be_visible()
    served.end()
    for field, text in ((customer, "Right Firm"), (delivery, "six weeks")):
        field.fill(text)
        field.press("Enter")
    expect(page.get_by_role("status").filter(has_text="Not sent yet")).to_have_count(2)
    served.begin_again()
    expect(page.get_by_text("does not answer")).to_have_count(0)
    page.get_by_role("button", name="Make the papers").click()
    alert = page.get_by_role("alert").filter(has_text="No papers were made")
    expect(alert).to_contain_text("“Customer”, “Delivery on the quote”")
    for field in (customer, delivery):
        field.press("Enter")
    expect(page.get_by_role("status").filter(has_text="Not sent yet")).to_have_count(0)
    page.get_by_role("button", name="Make the papers").click()
    expect(page.get_by_alt_text("Quote, page 1 of")).to_be_visible()
    assert stored(page)["customer"] == "Right Firm"


def test_words_of_the_papers_are_stored_as_they_are_written_and_two_windows_follow(
    address: str, visit: Open
) -> None:
    from playwright.sync_api import expect

    one = visit(address)
    deeds.open_sample(one)
    one.get_by_role("link", name="Papers").click()
    two = one.context.new_page()
    two.goto(one.url)
    for label, text in (("Number", "Q-1"), ("Delivery", "six weeks")):
        one.get_by_label(label, exact=True).fill(text)
    one.get_by_label("Terms, one a line").fill("Half with the order.\nNet 30.")
    # Typed and not left: it stands after a reload, as what is not sent.
    one.reload()
    terms = one.get_by_label("Terms, one a line")
    expect(terms).to_have_value("Half with the order.\nNet 30.")
    expect(one.get_by_role("status")).to_contain_text("Not sent yet. Ctrl+Enter sends it")
    terms.press("Control+Enter")
    expect(one.get_by_role("status")).to_have_count(0)
    # The other window follows, and changes its own only.
    expect(two.get_by_label("Number", exact=True)).to_have_value("Q-1")
    expect(two.get_by_label("Delivery")).to_have_value("six weeks")
    two.get_by_role("button", name="Letter").click()
    expect(one.get_by_role("button", name="Letter")).to_have_attribute("aria-pressed", "true")
    at = f"/api/jobs/{deeds.job_of(one)}/papers"
    wanted = one.context.request.get(at).json()["wanted"]
    assert (wanted["number"], wanted["delivery"]) == ("Q-1", "six weeks")
    assert wanted["terms"] == ["Half with the order.", "Net 30."]
    # A window that has not heard of a change is told, and shows it.
    deaf = re.compile(r"/papers$")
    two.route(deaf, lambda r: r.abort() if r.request.method == "GET" else r.continue_())
    with two.expect_event("requestfailed"):
        one.get_by_label("Number", exact=True).fill("Q-2")
        one.get_by_label("Number", exact=True).press("Enter")
    two.unroute(deaf)
    two.get_by_label("Delivery").fill("three weeks")
    two.get_by_label("Delivery").press("Enter")
    expect(two.get_by_role("alert")).to_contain_text("changed in another window")
    expect(two.get_by_label("Number", exact=True)).to_have_value("Q-2")
    expect(two.get_by_label("Delivery")).to_have_value("three weeks")
    assert one.context.request.get(at).json()["wanted"]["delivery"] == "six weeks"


def test_keys_that_move_a_place_are_kept_though_another_contour_is_picked_or_the_page_left(
    address: str, visit: Open
) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    deeds.open_sample(page)
    page.get_by_role("button", name=re.compile("^H7 opening")).click()
    grip = page.get_by_role("button", name=re.compile("^Start hole of H7"))
    for _ in range(2):
        grip.press("ArrowLeft")
    page.get_by_role("button", name=re.compile("^H3 opening")).click()
    expect(deeds.line(page, "Start of H7")).to_be_visible()
    page.get_by_role("button", name=re.compile("^H7 opening")).click()
    grip.press("ArrowLeft")
    page.reload()
    card = page.get_by_role("region", name="Contour H7")
    expect(card.get_by_role("status")).to_contain_text("Not sent yet")
    card.get_by_label("Start hole").press("Escape")
    expect(card.get_by_role("status")).to_have_count(0)
