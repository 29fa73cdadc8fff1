"""What is typed or chosen and could not be stored: kept and said so, never shown as if it were."""

from __future__ import annotations

import base64
import re
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING

import deeds
import pytest

from kerfwright.adapters.papers.typeset import can_typeset

if TYPE_CHECKING:
    from playwright.sync_api import Page, Route
    from serving import Open, Served

WHEEL = Path(str(files("kerfwright") / "data" / "samples" / "escape_wheel.dxf"))
PICTURE = base64.b64decode(
    "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNk+M9QDwADhgGAWjR9awAAAABJRU5ErkJggg=="
)
"""One point of a PNG."""


def stored(page: Page) -> dict[str, str]:
    job = page.context.request.get(f"/api/jobs/{deeds.job_of(page)}").json()
    asked: dict[str, str] = job["asked"]
    return asked | {"stage": job["card"]["stage"]}


def ask_quantity(page: Page, text: str) -> None:
    deeds.line(page, "Quantity").get_by_role("button", name="Quantity").first.click()
    field = page.get_by_role("textbox", name="Quantity")
    field.fill(text)
    field.press("Enter")


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
    expect(two.get_by_label("Terms, one a line")).to_have_value("Half with the order.\nNet 30.")
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


def test_an_answer_lost_while_the_server_lives_is_looked_up_at_once(
    address: str, visit: Open
) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    deeds.open_sample(page)
    lost: list[str] = []

    def lose(route: Route) -> None:
        """Let the next change arrive, and its answer go astray."""
        if route.request.method == "GET" or lost:
            route.continue_()
        else:
            lost.append(route.request.url)
            route.fetch()
            route.abort()

    page.route(re.compile(r"/api/jobs/[\w-]+(/undo)?$"), lose)
    ask_quantity(page, "7")
    each = page.get_by_label("Price", exact=True)
    expect(each).to_contain_text("for all 7")
    expect(each.get_by_text("Being computed anew")).to_have_count(0)
    expect(page.get_by_role("textbox", name="Quantity")).to_have_count(0)
    assert stored(page)["quantity"] == "7"
    page.get_by_role("button", name=re.compile("^H7 opening")).click()
    card = page.get_by_role("region", name="Contour H7")
    role, tolerance = card.get_by_label("Role"), card.get_by_label("Tolerance")
    lost.clear()
    role.select_option("not-cut")
    expect(card.get_by_text("your word")).to_be_visible()
    expect(role).to_have_value("not-cut")
    # It was this window, so no other one is said to have written it.
    role.select_option("reference")
    expect(deeds.line(page, "Role of H7")).to_contain_text("reference line")
    expect(card).to_contain_text("reference in P1")
    lost.clear()
    page.get_by_role("button", name="Undo").click()
    expect(role).to_have_value("not-cut")
    lost.clear()
    tolerance.fill("±2.5 µm")
    tolerance.press("Enter")
    expect(each).to_have_attribute("aria-busy", "false")
    for words in ("does not answer", "was not stored", "Not sent yet", "another window"):
        expect(page.get_by_text(words)).to_have_count(0)
    assert stored(page)["contour H7"] == "tolerance=±2.5 µm"


def test_a_change_that_got_lost_on_its_way_says_so_and_one_found_later_is_settled(
    address: str, visit: Open
) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    deeds.open_sample(page)
    at = re.compile(r"/api/jobs/[\w-]+$")
    page.route(at, lambda r: r.abort() if r.request.method == "PATCH" else r.continue_())
    deeds.write(page, "Height", "7 mm")
    said = deeds.line(page, "Height").get_by_role("alert")
    expect(said).to_contain_text("this is not stored. Send it again")
    page.unroute(at)
    page.get_by_label("Height", exact=True).press("Enter")
    expect(deeds.line(page, "Height")).to_contain_text("7.00 mm")
    # The network stays away for a while, and the link hears nothing of it.
    away = True

    def gone(route: Route) -> None:
        if away and route.request.method == "PATCH":
            route.fetch()
        route.abort() if away else route.continue_()

    page.route(at, gone)
    page.get_by_role("button", name=re.compile("^H7 opening")).click()
    card = page.get_by_role("region", name="Contour H7")
    card.get_by_label("Role").select_option("not-cut")
    ask_quantity(page, "8")
    expect(deeds.line(page, "Quantity").get_by_role("alert")).to_contain_text("does not answer")
    away = False
    expect(card.get_by_text("your word")).to_be_visible()
    expect(card.get_by_label("Role")).to_have_value("not-cut")
    expect(page.get_by_text("was not stored")).to_have_count(0)
    expect(page.get_by_text("another window")).to_have_count(0)


def test_a_drawing_dropped_while_the_server_is_away_waits_with_its_name(
    empty_desk: str, served: Served, visit: Open, tmp_path: Path
) -> None:
    from playwright.sync_api import expect

    page = visit(empty_desk)
    deeds.open_sample(page)
    job = page.url
    page.goto("/#/")
    expect(page.locator("tbody tr")).to_have_count(1)
    wheels = [tmp_path / f"{name}-wheel.dxf" for name in ("great", "third")]
    for one in wheels:
        one.write_bytes(WHEEL.read_bytes())
    picture = tmp_path / "sheet.png"
    picture.write_bytes(PICTURE)
    served.end()
    expect(page.get_by_text("What you see is as it was")).to_be_visible()
    page.get_by_label("Drawings to add").set_input_files(wheels)
    waits = page.get_by_role("alert").filter(has_text="is not added")
    expect(waits).to_have_count(2)
    served.begin_again()
    expect(page.get_by_text("What you see is as it was")).to_have_count(0)
    # It waits through other views, where a sheet to pin waits alike.
    page.goto(job)
    page.locator(".each .number").wait_for()
    at = re.compile(r"/pinned$")
    page.route(at, lambda r: r.abort() if r.request.method == "PUT" else r.continue_())
    page.get_by_label("PDF or picture to pin").set_input_files(picture)
    expect(waits).to_contain_text("sheet.png is not added")
    page.unroute(at)
    page.get_by_role("button", name="Send sheet.png again").click()
    pinned = page.get_by_role("region", name="Pinned drawing")
    expect(pinned.get_by_role("img")).to_have_attribute("alt", "sheet.png, page 1")
    expect(waits).to_have_count(0)
    page.goto("/#/")
    expect(waits).to_have_count(2)
    waits.filter(has_text="third").get_by_role("button", name="Let it go").click()
    expect(waits).to_have_count(1)
    page.get_by_role("button", name="Send great-wheel.dxf again").click()
    expect(page.locator("tbody tr")).to_have_count(2)
    expect(waits).to_have_count(0)


def test_a_choice_that_is_undone_before_its_plan_is_there_goes_back(
    address: str, visit: Open
) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    deeds.open_sample(page)
    page.get_by_role("button", name=re.compile("^H7 opening")).click()
    role = page.get_by_role("region", name="Contour H7").get_by_label("Role")
    role.select_option("not-cut")
    page.get_by_role("button", name="Undo").click()
    page.locator("section[aria-label=Price][aria-busy=false] .each .number").wait_for()
    assert "role H7" not in stored(page)
    expect(role).to_have_value("")
    # One that stands stays as it was chosen.
    role.select_option("not-cut")
    page.locator("section[aria-label=Price][aria-busy=false] .each .number").wait_for()
    expect(role).to_have_value("not-cut")
