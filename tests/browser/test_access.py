"""Each view is checked by axe-core, a public checker of WCAG rules, in both themes, all sizes."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

import deeds
import pytest
from serving import ROOT
from tests.soak import SOAK

if TYPE_CHECKING:
    from playwright.sync_api import Page
    from serving import Open

AXE = ROOT / "frontend" / "node_modules" / "axe-core" / "axe.min.js"
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
SIZES = {
    "laptop": {"width": 1366, "height": 768},
    "tablet": {"width": 820, "height": 1180},
    "wide": {"width": 1920, "height": 1080},
}


def looks(*few: tuple[str, str]) -> list[tuple[str, str]]:
    """Return themes and sizes: these few, every pair in the soak; views share them out."""
    return [(theme, size) for theme in ("light", "dark") for size in SIZES] if SOAK else [*few]


pytestmark = pytest.mark.skipif(not AXE.exists(), reason="axe-core is not installed (npm ci)")


def violations(page: Page) -> list[str]:
    """Return what axe finds on the page as it stands."""
    # Given to the browser by the test: the page's own policy allows no such script.
    page.evaluate(AXE.read_text(encoding="utf-8") + "; undefined")
    # A button on its way from one colour to another has that of neither.
    page.evaluate("Promise.allSettled(document.getAnimations().map(a => a.finished))")
    found: list[dict[str, Any]] = page.evaluate(
        "rules => axe.run(document, {runOnly: rules}).then(r => r.violations)", RULES
    )
    return [f"{v['id']}: {v['help']}: {n['html'][:160]}" for v in found for n in v["nodes"]]


@pytest.mark.parametrize(("theme", "size"), looks(("light", "laptop"), ("dark", "tablet")))
def test_no_view_breaks_a_rule_of_access(address: str, visit: Open, theme: str, size: str) -> None:
    page = visit(address, viewport=SIZES[size], color_scheme=theme)
    deeds.open_sample(page)
    page.get_by_text("Proved against the drawing.").wait_for()
    # The chosen unit is read under the pointer too, and inches break no number in two.
    page.locator(".units button").last.click()
    page.locator("[aria-labelledby=passes] th", has_text="offset in").wait_for()
    page.locator(".units [aria-pressed=true]").hover()
    broken = page.evaluate(
        """() => [...document.querySelectorAll("[aria-labelledby=passes] td")].filter(cell => {
            const range = document.createRange();
            const text = document.createTreeWalker(cell, NodeFilter.SHOW_TEXT);
            while (text.nextNode()) {
              range.selectNodeContents(text.currentNode);
              const tops = [...range.getClientRects()].map(r => Math.round(r.top));
              if (new Set(tops).size > 1) return true;
            }
            return false;
          }).map(cell => cell.innerText)"""
    )
    assert broken == []
    aside = page.locator("[aria-labelledby=passes]")
    assert aside.evaluate("e => e.scrollWidth - e.clientWidth") <= 0
    deeds.picture(page, f"inches-{size}")
    assert violations(page) == []
    page.get_by_role("button", name="Why this price").click()
    page.get_by_role("dialog").wait_for()
    assert violations(page) == []
    page.keyboard.press("Escape")
    page.get_by_role("region", name="Findings").get_by_role("button").first.click()
    page.get_by_role("button", name="H3 opening").click()
    deeds.write(page, "Tolerance", "5")
    page.get_by_role("alert").wait_for()
    assert violations(page) == []
    page.goto("/#/")
    page.get_by_role("table").wait_for()
    assert violations(page) == []


@pytest.mark.parametrize(("theme", "size"), looks(("dark", "tablet")))
def test_no_view_beside_the_drawing_breaks_a_rule_of_access(
    address: str, visit: Open, theme: str, size: str
) -> None:
    page = visit(address, viewport=SIZES[size], color_scheme=theme)
    deeds.open_sample(page)
    page.get_by_text("Proved against the drawing.").wait_for()
    wide = "document.documentElement.scrollWidth - innerWidth"
    page.get_by_role("link", name="Papers").click()
    page.get_by_role("button", name="Make the papers").click()
    page.get_by_alt_text("Quote, page 1 of").wait_for()
    assert violations(page) == []
    assert page.evaluate(wide) <= 0
    page.get_by_role("link", name="At the machine").click()
    page.get_by_role("button", name="1 rough").click()
    assert violations(page) == []
    page.keyboard.type("7")
    page.get_by_role("button", name="Next").click()
    assert violations(page) == []
    assert page.evaluate(wide) <= 0
    page.goto("/#/tables/rates")
    page.get_by_role("button", name="Change bench of rates of an hour").click()
    page.keyboard.type("-1")
    page.keyboard.press("Enter")
    page.get_by_role("alert").wait_for()
    assert violations(page) == []
    assert page.evaluate(wide) <= 0


def test_nothing_runs_out_of_the_window(address: str, visit: Open) -> None:
    page = visit(address)
    deeds.open_sample(page)
    job = page.url
    wide = "document.documentElement.scrollWidth - innerWidth"
    for name, size in SIZES.items():
        # Loaded anew at each size, as a person with that screen has it.
        page.set_viewport_size(size)  # type: ignore[arg-type]
        page.goto(job)
        page.reload()
        page.locator(".each .number").wait_for()
        assert page.evaluate(wide) <= 0, name
        page.goto("/#/")
        page.get_by_role("table").wait_for()
        assert page.evaluate(wide) <= 0, name


def test_the_ledger_is_written_by_keyboard_alone(address: str, visit: Open) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    deeds.open_sample(page)
    for _ in range(60):
        page.keyboard.press("Tab")
        if "Height" in page.evaluate("document.activeElement.innerText ?? ''")[:8]:
            break
    page.keyboard.press("Enter")
    page.keyboard.press("Control+a")
    page.keyboard.type("1/4 in")
    page.keyboard.press("Enter")
    expect(deeds.line(page, "Height")).to_contain_text("6.35 mm")


def test_a_finger_finds_what_it_presses(address: str, visit: Open) -> None:
    page = visit(address, viewport={"width": 820, "height": 1180}, has_touch=True, is_mobile=True)
    deeds.open_sample(page)
    page.get_by_text("Proved against the drawing.").wait_for()
    page.goto(f"{page.url}/H7")
    page.get_by_role("region", name="Contour H7").wait_for()
    small = """least => [...document.querySelectorAll('button, select, input, a.button')]
      .filter(e => e.offsetParent && !e.matches('.inline, [type=checkbox], [type=radio]'))
      .filter(e => e.getBoundingClientRect().height < least)
      .map(e => e.outerHTML.slice(0, 120))"""
    assert page.evaluate(small, 44) == []
    # What is pressed with gloves is larger still.
    page.get_by_role("link", name="At the machine").click()
    page.get_by_role("heading", name="Which pass was cut?").wait_for()
    assert page.locator(".passes button").first.bounding_box()["height"] >= 84  # type: ignore[index]
    page.locator(".passes button").first.click()
    page.get_by_role("group", name="Number pad").wait_for()
    assert (
        page.evaluate(small.replace("button, select", ".pad button, .ways button, select"), 60)
        == []
    )


def test_the_head_of_a_page_leaves_a_telephone_to_what_is_below_it(
    address: str, visit: Open
) -> None:
    page = visit(address, viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True)
    deeds.open_sample(page)
    page.get_by_text("Proved against the drawing.").wait_for()
    job = page.url.rpartition("/")[2]
    high = "Math.max(...[...document.querySelectorAll('header.head')].map(e => e.offsetHeight))"
    places = {
        f"#/job/{job}": page.get_by_role("application"),
        f"#/papers/{job}": page.get_by_role("heading", name="What the papers say"),
        f"#/cuts/{job}": page.get_by_role("heading", name="Which pass was cut?"),
        "#/": page.get_by_role("button", name=re.compile("Why this price of")).first,
    }
    for at, shown in places.items():
        page.evaluate("at => { location.hash = at; }", at)
        shown.wait_for()
        for width, limit in ((390, 120), (360, 130)):
            page.set_viewport_size({"width": width, "height": 780})
            assert 40 < page.evaluate(high) <= limit, (at, width)
            assert page.evaluate("document.documentElement.scrollWidth") <= width, (at, width)
