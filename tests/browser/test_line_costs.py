"""What a line of the ledger costs: asked for at the line, and answered there."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import deeds
import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Page
    from serving import Open

DEMANDS = {"Tolerance": "tolerance", "Finish": "finish", "Recast layer": "recast"}


def where(page: Page) -> str:
    """Return the line of the ledger that the keyboard is in."""
    return str(
        page.evaluate(
            "() => document.activeElement.closest('section[aria-labelledby=ledger] li')"
            "?.querySelector('[data-line]').dataset.line ?? ''"
        )
    )


# Heights of no other test: what was worked out once for a job is answered at once.
@pytest.mark.parametrize(
    ("title", "height"), [("Tolerance", "7.1 mm"), ("Finish", "7.2 mm"), ("Recast layer", "7.4 mm")]
)
def test_a_line_that_is_pressed_is_answered_there_and_keeps_the_keyboard(
    address: str, visit: Open, title: str, height: str
) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    deeds.open_sample(page)
    deeds.write(page, "Height", height)
    expect(deeds.line(page, "Height")).to_contain_text("in the price, the rough pass through it:")
    deeds.write(page, "Recast layer", "5 µm")
    expect(deeds.line(page, "Recast layer").get_by_text("What it costs")).to_be_visible()
    page.locator("section[aria-label=Price][aria-busy=false] .each .number").wait_for()
    line = deeds.line(page, title)
    line.get_by_role("button", name="What it costs").press("Enter")
    # Only where it was asked for, and with a way to stop it.
    bars = page.locator("section[aria-labelledby=ledger]").get_by_role("progressbar")
    expect(line.get_by_role("progressbar")).to_be_visible()
    expect(bars).to_have_count(1)
    expect(line.get_by_role("button", name="Stop")).to_be_visible()
    assert where(page) == DEMANDS[title]
    expect(bars).to_have_count(0)
    assert where(page) == DEMANDS[title]
    job = page.url.partition("#/job/")[2].partition("/")[0]
    found = page.context.request.get(f"/api/jobs/{job}").json()["savings"]["alternatives"]
    for name, demand in DEMANDS.items():
        at = deeds.line(page, name)
        alone = [one for one in found if one["demand"] == demand]
        together = [one for one in found if demand in re.split(", | and ", one["demand"])]
        together = [one for one in together if one not in alone]
        assert alone or together, (name, "was asked and has no answer")
        for one in (*alone[:1], *together[:1]):
            expect(at).to_contain_text(one["sentence"])
        expect(at.get_by_role("button", name="What it costs")).to_have_count(0)
    assert any(" and " in one["demand"] for one in found), "nothing is asked together here"
    line.get_by_role("button", name="Why this saving").first.click()
    why = page.get_by_role("dialog", name=re.compile(rf"^saving \d+ .*{DEMANDS[title]}"))
    expect(why).to_contain_text("both computed whole")


def test_an_order_of_more_pieces_says_that_it_is_one(address: str, visit: Open) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    deeds.open_sample(page)
    deeds.line(page, "Tolerance").get_by_role("button", name="What it costs").click()
    quantity = deeds.line(page, "Quantity")
    expect(quantity).to_contain_text(re.compile(r"an order of \d+ saves [\d.,]+ a piece"))
