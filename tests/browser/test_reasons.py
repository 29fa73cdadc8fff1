"""Any number on the page opens its reason: every one is walked, in every view."""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING

import deeds

if TYPE_CHECKING:
    from playwright.sync_api import Page
    from serving import Open

ADDRESSES = [
    # Names, addresses and choices are no results; each with why it has no reason.
    ("h1, .name, .folder", "name of the drawing, folder of the jobs"),
    ("select, input, datalist, option", "what a person chooses or types"),
    ("section[aria-labelledby=ledger] .asked, .hint", "what a person wrote, and how to write it"),
    (".quantities", "the quantities asked, to choose from"),
    ("#says, section[aria-labelledby=says] li", "what the drawing itself says, with its place"),
    ("[data-id] th, .card > header, tr > th", "numbers of contours and passes: names"),
    ("h2 .muted, summary .muted", "count of the rows below it"),
    (".cursor, .card header .address", "coordinates of the drawing"),
    (".address, .lines", "line of the program, minute or pass to go to"),
    (".now", "the minute and pass the strip stands at"),
    (".bar > span, .tally, .places > span", "which of how many is looked at"),
    (".withheld", "what was asked and its limit, as the finding says them"),
    (".reading", "height chosen for the section, and the wire at the minute of the strip"),
    ("svg", "scale of a picture, and dots whose words carry the reason"),
    ("li .bare:first-child, p.weight", "name of the contour it is at"),
    ("section[aria-labelledby=program] li", "names of files"),
    ("thead", "heads of columns"),
    (".title, .text, dt label", "what a line is called"),
    ("td.left, .job, td span.small", "customer, dates, material and quantity as they were asked"),
    (".attention", "count of the findings that the job itself lists"),
    (".stages", "counts of the jobs that each button leaves in the list"),
    ("li[aria-label^=Version]", "what a version asked, and of how many; its prices open theirs"),
]
WALK = """allowed => {
  const found = [];
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let node; (node = walker.nextNode()); ) {
    const text = node.textContent;
    // A digit that is not part of a name such as H3.
    if (!/(?<![\\p{L}\\d])\\d/u.test(text)) continue;
    const at = node.parentElement;
    if (at.closest('script, style, title, [data-why], .unseen')) continue;
    if (!at.checkVisibility()) continue;
    if (allowed.some(([selector]) => at.closest(selector))) continue;
    found.push(`${at.closest('section, li, div')?.className} <${at.tagName}> ${text.trim()}`);
  }
  return found;
}"""


def unexplained(page: Page) -> list[str]:
    """Return the numbers in sight that neither open a reason nor are listed above."""
    found: list[str] = page.evaluate(WALK, ADDRESSES)
    return found


def keys(page: Page) -> set[str]:
    found: list[str] = page.evaluate(
        "[...document.querySelectorAll('[data-why]')].map(e => e.dataset.why)"
    )
    return set(found)


def spread(found: dict[str, float] | None) -> float:
    return 0.0 if found is None else found["high"] - found["low"]


def unreasoned(page: Page, wanted: set[str]) -> dict[str, str]:
    """Return the keys whose reason lacks something that a reader needs."""
    job = page.url.rpartition("#/job/")[2].partition("/")[0]
    reasons = page.evaluate(f"fetch('/api/jobs/{job}/reasons').then(r => r.json())")
    faults = {}
    for key in wanted:
        reason = reasons.get(key)
        if reason is None:
            faults[key] = "no reason"
        elif not (reason["formula"] and reason["source"] and reason["title"]):
            faults[key] = json.dumps(reason)
        elif spread(reason["range"]) and not reason["shares"]:
            faults[key] = "a range that nothing brings"
    return faults


def everything_open(page: Page) -> None:
    """Open all that holds numbers."""
    page.get_by_text("Proved against the drawing.").wait_for()
    page.get_by_role("button", name="Deviations", exact=True).click()
    page.get_by_role("region", name="Deviations from the drawing").wait_for()
    page.get_by_role("button", name="Next worst place").click()
    page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
    page.get_by_role("button", name="Price each demand").click()
    page.get_by_role("group", name="Price against the tolerance asked").wait_for()
    page.get_by_role("button", name=re.compile("^1 pass with")).first.click()
    page.get_by_role("button", name=re.compile("^H3 opening")).click()
    page.get_by_role("slider", name="Minute of the job").press("End")
    page.get_by_role("application").press("l")


def test_no_number_of_a_job_is_without_its_reason(address: str, visit: Open) -> None:
    page = visit(address)
    deeds.open_sample(page)
    everything_open(page)
    page.get_by_role("button", name="5", exact=True).click()
    assert unexplained(page) == []
    seen = keys(page)
    findings = page.get_by_role("region", name="Findings")
    findings.get_by_role("button").first.click()
    for _ in range(6):
        assert unexplained(page) == []
        seen |= keys(page)
        page.get_by_role("button", name="Next finding").click()
    page.get_by_role("button", name="in", exact=True).click()
    assert unexplained(page) == []
    assert len(seen) > 100
    assert unreasoned(page, seen) == {}


def test_a_change_of_price_and_a_refused_job_are_explained_too(address: str, visit: Open) -> None:
    page = visit(address)
    deeds.open_sample(page)
    deeds.write(page, "Height", "9 mm")
    page.locator(".moved").filter(has_text="more a piece").wait_for()
    assert unexplained(page) == []
    deeds.write(page, "Tolerance", "±0.1 µm")
    deeds.line(page, "Tolerance").get_by_role("button", name="refused").wait_for()
    page.get_by_text("it was refused, or did not pass its proof").wait_for()
    page.get_by_role("region", name="Findings").get_by_role("button").first.click()
    assert unexplained(page) == []
    assert unreasoned(page, keys(page)) == {}


STOPPED = """place => {
  // What has the focus from now on, in its order.
  window.focused = [];
  const host = document.querySelector(place);
  host.addEventListener('focusin', e => window.focused.push(e.target.dataset.why ?? ''));
  const stops = [...host.querySelectorAll('button, input')].filter(e => !e.disabled);
  stops.find(e => e.tabIndex === 0).focus();
  return [...host.querySelectorAll('tr')]
    .map(row => stops.filter(e => row.contains(e)).length).filter(n => n);
}"""


def in_table(page: Page, place: str) -> list[str]:
    """Walk a table by its arrow keys, and return the keys of the numbers that had the focus."""
    rows: list[int] = page.evaluate(STOPPED, place)
    page.keyboard.press("Control+Home")
    for width in rows:
        for _ in range(width - 1):
            page.keyboard.press("ArrowRight")
        page.keyboard.press("Home")
        page.keyboard.press("ArrowDown")
    found: list[str] = page.evaluate("[...new Set(window.focused)].filter(why => why)")
    return found


def test_every_number_is_reached_and_opened_by_the_keyboard(address: str, visit: Open) -> None:
    page = visit(address)
    deeds.open_sample(page)
    page.get_by_text("Proved against the drawing.").wait_for()
    page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
    numbers = page.locator("[data-why]")
    whys: list[str] = numbers.evaluate_all("all => all.map(e => e.dataset.why)")
    assert len(whys) > 60
    # All are stops of the Tab key, or lie in a table that is one, where the arrows go to each.
    passed: list[str] = numbers.evaluate_all(
        "all => all.filter(e => !(e.tabIndex === 0 && e.tagName === 'BUTTON'))"
        ".filter(e => !e.closest('.rows')).map(e => e.dataset.why)"
    )
    assert passed == []
    for name in ("contours", "pieces"):
        place = f"section[aria-labelledby={name}] .rows"
        held: list[str] = page.locator(f"{place} [data-why]").evaluate_all(
            "all => all.map(e => e.dataset.why)"
        )
        assert in_table(page, place) == held
    in_tables = page.locator(".rows [data-why]").count()
    assert (
        in_tables
        == page.locator(
            "section:is([aria-labelledby=contours], [aria-labelledby=pieces]) .rows [data-why]"
        ).count()
    )
    first: dict[str, int] = {}
    for at, why in enumerate(whys):
        first.setdefault(re.sub(r"\d+|/[HP]\d+/|^[HP]\d+", "#", why), at)
    assert len(first) > 20
    dialog = page.get_by_role("dialog")
    for why, at in first.items():
        numbers.nth(at).evaluate("e => e.focus()")
        page.keyboard.press("Enter")
        dialog.locator(".formula:not(:empty)").wait_for()
        assert "Source" in dialog.inner_text(), why
        page.keyboard.press("Escape")
        dialog.wait_for(state="detached")


def test_a_price_in_the_list_of_jobs_opens_its_reason(address: str, visit: Open) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    deeds.open_sample(page)
    page.goto("/#/")
    page.get_by_role("table").wait_for()
    assert unexplained(page) == []
    page.get_by_role("button", name=re.compile("Why this price of")).first.click()
    expect(page.get_by_role("dialog")).to_contain_text("Source")


def test_the_reason_of_a_price_leads_down_to_each_of_its_lines(address: str, visit: Open) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    deeds.open_sample(page)
    page.get_by_label("Price", exact=True).locator(".each .number").click()
    dialog = page.get_by_role("dialog")
    ways = dialog.locator("li button")
    job = page.url.partition("#/job/")[2].partition("/")[0]
    draft = page.context.request.get(f"/api/jobs/{job}").json()["draft"]
    lines = draft["prices"][0]["lines"]
    expect(ways).to_have_count(len(lines))
    deeds.picture(page, "why-a-price")
    title = dialog.get_by_role("heading", level=2)
    above = title.inner_text()
    for i, line in enumerate(lines):
        expect(ways.nth(i)).to_contain_text(line["item"])
        ways.nth(i).click()
        expect(title).not_to_have_text(above)
        expect(dialog.locator(".value")).to_contain_text(
            f"{float(line['likely']):,.2f}".replace("-", "−")
        )
        # And back up to the price.
        ways.first.click()
        expect(title).to_have_text(above)
    # The sum of the lines leads down too.
    page.keyboard.press("Escape")
    page.get_by_text("What the price is made of").click()
    page.get_by_role("button", name=re.compile("Why this sum$")).last.click()
    expect(ways).to_have_count(len(lines))
