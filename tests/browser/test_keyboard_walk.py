"""A job from the sample to its papers by keyboard alone, in a small window without side bars."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import deeds
import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Page
    from serving import Open

_SIDE_BARS = """() => [...document.querySelectorAll('*')].filter(one =>
  one.scrollWidth > one.clientWidth + 1 && one.clientWidth > 0
  && /auto|scroll/.test(getComputedStyle(one).overflowX)
  // Lines of a program are as long as they are.
  && !one.closest('[role=listbox]') && !one.querySelector('[role=listbox]')
).map(one => `${one.tagName} ${one.className} ${one.scrollWidth} > ${one.clientWidth}`)"""
_MOST_TABS = 200


def focused(page: Page) -> str:
    """Return the name of what has the focus."""
    name: str = page.evaluate(
        """() => { const one = document.activeElement;
          return one === document.body ? '' : (one.ariaLabel
          || one.labels?.[0]?.innerText || one.innerText || '').trim().replace(/\\s+/g, ' '); }"""
    )
    return name


def tab_to(page: Page, name: str, *, exact: bool = True) -> None:
    """Press Tab until a control of this name has the focus."""
    wanted = re.compile(rf"^{re.escape(name)}$" if exact else re.escape(name))
    seen = []
    for _ in range(_MOST_TABS):
        page.keyboard.press("Tab")
        label = focused(page)
        if wanted.search(label):
            return
        seen.append(label)
    raise AssertionError(f"{name} is not reached by Tab: {seen}")


def test_a_job_is_walked_from_the_sample_to_its_papers_by_keyboard(
    empty_desk: str, visit: Open
) -> None:
    from playwright.sync_api import expect

    page = visit(empty_desk)
    tab_to(page, "sample", exact=False)
    page.keyboard.press("Enter")
    page.locator(".each .number").wait_for()
    # The height is edited.
    before = deeds.price(page)
    tab_to(page, "Height", exact=False)
    page.keyboard.press("Enter")
    page.keyboard.press("Control+a")
    page.keyboard.type("7 mm")
    page.keyboard.press("Enter")
    expect(deeds.line(page, "Height")).to_contain_text("7 mm")
    page.get_by_text("Proved against the drawing.").wait_for()
    assert deeds.price(page) > before
    # A contour is picked in the list, and let go of.
    tab_to(page, "Pick P1")
    for key in ("ArrowRight", "ArrowDown", "ArrowDown", "ArrowDown"):
        page.keyboard.press(key)
    assert focused(page).startswith("H3 opening")
    page.keyboard.press("Enter")
    expect(page.get_by_role("region", name="Contour H3")).to_be_visible()
    # The reason of what it costs opens and closes, and gives the focus back.
    page.keyboard.press("End")
    assert "Why the machine time of H3 costs this" in focused(page)
    page.keyboard.press("Enter")
    reason = page.get_by_role("dialog")
    expect(reason).to_contain_text("price of the hour")
    page.keyboard.press("Escape")
    expect(reason).to_have_count(0)
    assert "H3" in focused(page)
    # Findings are stepped through.
    card = page.get_by_role("region", name="Findings")
    tab_to(page, "to look at", exact=False)
    page.keyboard.press("Enter")
    expect(card).to_contain_text("1 of ")
    # What was pressed is gone, and the focus with it unless it is handed on.
    assert focused(page) == "Next finding"
    page.keyboard.press("Enter")
    expect(card).to_contain_text("2 of ")
    tab_to(page, "Close findings")
    page.keyboard.press("Enter")
    assert "to look at" in focused(page)
    # The cut plays, and its minute follows the arrows.
    tab_to(page, "Play", exact=False)
    page.keyboard.press("Enter")
    clock = page.get_by_role("slider", name="Minute of the job")
    page.wait_for_function("e => Number(e.ariaValueNow) > 0", arg=clock.element_handle())
    page.keyboard.press("Enter")
    clock.focus()
    at = float(clock.get_attribute("aria-valuenow") or 0)
    page.keyboard.press("ArrowRight")
    assert float(clock.get_attribute("aria-valuenow") or 0) != at
    # The papers are made.
    tab_to(page, "Papers", exact=False)
    page.keyboard.press("Enter")
    tab_to(page, "Make the papers")
    page.keyboard.press("Enter")
    page.get_by_role("button", name="Inspection sheet").wait_for()
    tab_to(page, "Inspection sheet", exact=False)
    page.keyboard.press("Enter")
    expect(page.get_by_role("button", name="Larger")).to_be_visible()


@pytest.mark.parametrize("size", [(1366, 768), (1024, 700)])
def test_nothing_needs_a_side_scroll_bar_in_a_small_window(
    address: str, visit: Open, size: tuple[int, int]
) -> None:
    page = visit(address, viewport={"width": size[0], "height": size[1]})
    deeds.open_sample(page)
    page.get_by_text("Proved against the drawing.").wait_for()
    page.get_by_role("button", name="Deviations", exact=True).click()
    page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
    page.get_by_role("button", name="Price each demand").click()
    page.get_by_role("group", name="Price against the tolerance asked").wait_for()
    for unit in ("mm", "in"):
        page.get_by_role("button", name=unit, exact=True).click()
        assert page.evaluate(_SIDE_BARS) == [], unit
        assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0


def test_the_focus_stays_at_the_line_that_was_worked_in(address: str, visit: Open) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    deeds.open_sample(page)
    height = deeds.line(page, "Height").get_by_role("button", name="Height").first
    height.press("Enter")
    page.keyboard.press("Escape")
    expect(height).to_be_focused()
    # The key that closes an unchanged line does not open it again.
    height.press("Enter")
    page.keyboard.press("Enter")
    expect(page.get_by_label("Height", exact=True)).to_have_count(0)
    expect(height).to_be_focused()
    height.press("Enter")
    page.keyboard.type("9 mm")
    page.keyboard.press("Enter")
    expect(height).to_contain_text("9 mm")
    expect(height).to_be_focused()
    # Also once its numbers are there.
    page.locator("section[aria-label=Price][aria-busy=false] .each .number").wait_for()
    expect(height).to_be_focused()
    more = page.get_by_role("button", name="+ their number")
    more.press("Enter")
    expect(page.get_by_label("Their number", exact=True)).to_be_focused()
    page.keyboard.press("Escape")
    expect(more).to_be_focused()
    more.press("Enter")
    page.keyboard.type("T-118")
    page.keyboard.press("Enter")
    number = deeds.line(page, "Their number").get_by_role("button", name="Their number").first
    expect(number).to_be_focused()
    findings = page.get_by_role("region", name="Findings")
    findings.locator(".tally").press("Enter")
    expect(findings.get_by_role("button", name="Next")).to_be_focused()
    findings.get_by_role("button", name="Close findings").press("Enter")
    expect(findings.locator(".tally")).to_be_focused()


def test_three_stops_lead_past_everything(address: str, visit: Open) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    deeds.open_sample(page)
    page.evaluate("() => document.activeElement?.blur()")
    ways = (
        ("To the drawing", "[role=application]"),
        ("To what is asked", "[aria-labelledby=ledger] [data-line] >> nth=0"),
        ("To the strip of time", "[role=slider]"),
    )
    for stops, (words, place) in enumerate(ways, start=1):
        page.goto(page.url)
        page.reload()
        page.locator(".each .number").wait_for()
        for _ in range(stops):
            page.keyboard.press("Tab")
        way = page.get_by_role("button", name=words)
        expect(way).to_be_focused()
        expect(way).to_be_in_viewport()
        page.keyboard.press("Enter")
        expect(page.locator(place)).to_be_focused()


def test_a_table_of_contours_is_one_stop_with_arrows_inside(address: str, visit: Open) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    deeds.open_sample(page)
    table = page.locator("section[aria-labelledby=contours] table")
    stops = "e => [...e.querySelectorAll('button, input')].filter(s => s.tabIndex >= 0).length"
    assert table.evaluate(stops) == 1
    table.get_by_role("checkbox", name="Pick H1").focus()
    assert table.evaluate(stops) == 1
    for key, name in (
        ("ArrowRight", re.compile("^H1 opening")),
        ("ArrowRight", re.compile("Why this length of H1$")),
        ("ArrowDown", re.compile("Why this length of H2$")),
        ("End", re.compile("machine time of H2 costs this$")),
        ("Control+End", re.compile("machine time of H7 costs this$")),
        ("Home", re.compile("^Pick H7$")),
        ("ArrowUp", re.compile("^Pick H6$")),
        ("Control+Home", re.compile("^Pick P1$")),
    ):
        page.keyboard.press(key)
        expect(page.locator(":focus")).to_have_accessible_name(name)
    # What was left is come back to, and one press goes past all of it.
    page.keyboard.press("ArrowDown")
    page.keyboard.press("Tab")
    assert not table.evaluate("e => e.contains(document.activeElement)")
    page.keyboard.press("Shift+Tab")
    expect(page.locator(":focus")).to_have_accessible_name("Pick H1")
    # A space still ticks what has the focus.
    page.keyboard.press("Space")
    expect(page.locator(":focus")).to_be_checked()
    assert table.evaluate(stops) == 1
