"""What a person does on the page, in a line each."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from playwright.sync_api import Locator, Page


def line(page: Page, title: str) -> Locator:
    """Return a line of the ledger."""
    return page.locator("section[aria-labelledby=ledger] li").filter(
        has=page.get_by_text(title, exact=True)
    )


def write(page: Page, title: str, text: str) -> None:
    """Write a line of the ledger."""
    line(page, title).get_by_role("button", name=title).first.click()
    page.get_by_label(title, exact=True).fill(text)
    page.get_by_label(title, exact=True).press("Enter")


def price(page: Page) -> float:
    """Return the price of one piece that is shown."""
    shown = page.get_by_label("Price", exact=True).locator(".each").inner_text()
    found = re.search(r"[\d,]+\.\d\d", shown)
    assert found, shown
    return float(found.group().replace(",", ""))


def open_sample(page: Page) -> None:
    """Open the sample and wait for its price."""
    if page.get_by_role("button", name="Open the sample").count() == 0:
        page.evaluate(
            "fetch('/api/jobs/sample', {method: 'POST'}).then(r => r.json())"
            ".then(card => { location.hash = `#/job/${card.id}`; })"
        )
    else:
        page.get_by_role("button", name="Open the sample").click()
    page.locator(".each .number").wait_for()
