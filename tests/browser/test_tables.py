"""The shop's tables on the page: searched, overridden by keyboard, copied, taken back."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import deeds

if TYPE_CHECKING:
    from playwright.sync_api import Route
    from serving import Open


def test_a_rate_is_overridden_refused_and_taken_back_by_keyboard(
    empty_desk: str, visit: Open
) -> None:
    from playwright.sync_api import expect

    page = visit(empty_desk)
    deeds.open_sample(page)
    page.get_by_role("link", name="‹ Jobs").click()
    page.get_by_role("link", name="Shop tables").click()
    page.get_by_role("link", name="Rates").click()
    change = page.get_by_role("button", name="Change machine unattended of rates of an hour")
    change.press("Enter")
    page.keyboard.type("-3")
    page.keyboard.press("Enter")
    expect(page.get_by_role("alert")).to_contain_text("number not below 0")
    page.keyboard.press("Control+a")
    page.keyboard.type("50")
    page.get_by_label("Where it comes from").fill("our books")
    page.keyboard.press("Enter")
    expect(change).to_have_text("50 EUR an hour")
    expect(page.get_by_text("shop's own: our books")).to_be_visible()
    expect(page.get_by_text("1 price moved")).to_be_visible()
    page.get_by_label("only ours").check()
    expect(page.get_by_role("button", name="Change bench of rates of an hour")).to_have_count(0)
    # Another table is not looked at through what was ticked for this one.
    page.get_by_role("link", name="Planning").click()
    expect(page.get_by_label("only ours")).not_to_be_checked()
    page.get_by_role("link", name="Rates").click()
    expect(page.get_by_label("only ours")).not_to_be_checked()
    page.get_by_role("button", name="As shipped: machine unattended of rates of an hour").click()
    expect(change).to_have_text("35 EUR an hour")
    # Typed and not saved: it stands after another table, and after a reload.
    change.press("Enter")
    page.keyboard.type("55")
    page.get_by_label("Where it comes from").fill("our books")
    page.get_by_role("link", name="Planning").click()
    expect(page.get_by_role("heading", name="Planning")).to_be_visible()
    page.get_by_role("link", name="Rates").click()
    page.reload()
    expect(page.get_by_label("machine unattended")).to_have_value("55")
    expect(page.get_by_label("Where it comes from")).to_have_value("our books")
    expect(page.get_by_role("status")).to_contain_text("Not sent yet")
    page.get_by_label("machine unattended").press("Escape")
    expect(change).to_have_text("35 EUR an hour")
    page.reload()
    expect(change).to_be_visible()


def test_a_saved_value_keeps_its_row_open_and_the_focus(empty_desk: str, visit: Open) -> None:
    from playwright.sync_api import expect

    page = visit(empty_desk, path="/#/tables/materials")
    row = page.locator("details").filter(has_text="AISI D2").first
    row.wait_for()
    # More rows than are shown open at once: this one is opened by the person.
    assert page.locator("details").count() > 8
    row.locator("summary").click()
    change = page.get_by_role("button", name="Change density of AISI D2 tool steel")
    change.press("Enter")
    page.keyboard.type("7710 kg/m³")
    page.keyboard.press("Enter")
    expect(change).to_contain_text("7710")
    expect(change).to_be_visible()
    expect(change).to_be_focused()
    expect(page.locator("details[open]")).to_have_count(1)
    page.keyboard.press("Enter")
    page.keyboard.press("Escape")
    expect(change).to_be_focused()
    page.get_by_role("button", name="As shipped: density of AISI D2 tool steel").press("Enter")
    expect(change).not_to_contain_text("7710")
    expect(change).to_be_focused()


def test_a_material_is_made_like_another_and_taken_away(address: str, visit: Open) -> None:
    from playwright.sync_api import expect

    page = visit(address, path="/#/tables/materials")
    page.get_by_label("Search in Materials").fill("AISI D2")
    page.get_by_role("button", name="Make one like AISI D2 tool steel").click()
    page.get_by_label("Name", exact=True).fill("Yard D2")
    page.get_by_label("Short name").fill("tool-steel-d2")
    page.get_by_role("button", name="Add it").click()
    expect(page.get_by_role("alert")).to_contain_text("already")
    page.get_by_label("Short name").fill("yard-d2")
    page.get_by_role("button", name="Add it").click()
    page.get_by_label("Search in Materials").fill("Yard")
    expect(page.get_by_role("button", name="Change density of Yard D2")).to_be_visible()
    page.get_by_role("button", name="Take it away").click()
    page.get_by_role("button", name="Yes, take Yard D2 away").click()
    expect(page.get_by_text("Nothing found.")).to_be_visible()


def test_lengths_are_written_in_the_unit_that_is_shown(address: str, visit: Open) -> None:
    from playwright.sync_api import expect

    page = visit(address, path="/#/tables/planning")
    page.get_by_role("button", name="in", exact=True).click()
    page.get_by_label("Search in Planning rules").fill("wall clearance")
    change = page.get_by_role("button", name="Change wall clearance of start hole")
    expect(change).to_have_text("0.019685 in")
    change.click()
    page.keyboard.type("0.02 in")
    page.keyboard.press("Enter")
    page.get_by_role("button", name="mm", exact=True).click()
    expect(change).to_have_text("0.508 mm")
    page.get_by_role("button", name="As shipped: wall clearance of start hole").click()
    expect(change).to_have_text("0.5 mm")


def test_a_likely_slip_is_asked_about_where_it_stands_and_a_second_window_follows(
    empty_desk: str, visit: Open
) -> None:
    from playwright.sync_api import expect
    from test_access import violations

    page = visit(empty_desk, path="/#/tables/materials")
    page.get_by_label("Search in Materials").fill("AISI D2 latent heat")
    other = page.context.new_page()
    other.goto("/#/tables/materials")
    other.get_by_label("Search in Materials").fill("AISI D2 latent heat")
    name = "Change latent heat of AISI D2 tool steel"
    for text, said in (
        ("", "is empty"),
        ("280000", "10 to 12,000"),
        ("5000", "it is meant"),
        ("12 EUR", "kJ/kg"),
    ):
        page.get_by_role("button", name=name).click()
        page.get_by_label("latent heat").fill(text)
        page.keyboard.press("Enter")
        expect(page.get_by_role("alert")).to_contain_text(said)
        if text == "5000":
            assert violations(page) == []
        page.keyboard.press("Escape")
    page.get_by_role("button", name=name).click()
    page.get_by_label("latent heat").fill("5000")
    page.keyboard.press("Enter")
    page.get_by_role("button", name="It is meant: save it").click()
    changed = page.get_by_role("button", name=name)
    expect(changed).to_have_text("5000 kJ/kg")
    expect(other.get_by_role("button", name=name)).to_have_text("5000 kJ/kg")
    page.get_by_role("button", name="As shipped: latent heat of AISI D2 tool steel").click()
    expect(other.get_by_role("button", name=name)).to_have_text("270 kJ/kg")


def test_a_table_that_comes_late_is_not_shown_in_place_of_the_one_opened_since(
    address: str, visit: Open
) -> None:
    from playwright.sync_api import expect

    page = visit(address, path="/#/tables")
    held: list[Route] = []

    def hold(route: Route) -> None:
        held.append(route)

    page.route(re.compile(r"/api/tables/rates$"), hold)
    page.get_by_role("link", name="Rates").click()
    page.get_by_role("link", name="Planning").click()
    expect(page.get_by_label("Search in Planning")).to_be_visible()
    with page.expect_response(lambda said: said.url.endswith("/api/tables/rates")):
        held[0].continue_()
    page.evaluate("() => new Promise(done => setTimeout(done, 100))")
    expect(page.get_by_label("Search in Planning")).to_be_visible()
    expect(page.get_by_label("Search in Rates")).to_have_count(0)
