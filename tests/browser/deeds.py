"""What a person does on the page, in a line each."""

from __future__ import annotations

import re
import time
from typing import TYPE_CHECKING

from serving import ARTEFACTS, DRAWS_PICTURES, PATIENCE_MS

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
    """Open a sample of one's own, once its program is proved, and wait for its price.

    Proved first: a page that shows each step of the computing paints all of them.
    """
    asks = page.context.request
    job = asks.post("/api/jobs/sample").json()["id"]
    end = time.monotonic() + PATIENCE_MS / 1000
    while asks.get(f"/api/jobs/{job}").json()["verdict"] is None:
        assert time.monotonic() < end, "no proof came"
        time.sleep(0.1)
    page.evaluate("job => { location.hash = `#/job/${job}`; }", job)
    page.locator(".each .number").wait_for()


def picture(page: Page, name: str) -> None:
    """Take a picture for people, where pictures are wanted."""
    if DRAWS_PICTURES:
        ARTEFACTS.mkdir(parents=True, exist_ok=True)
        page.screenshot(path=ARTEFACTS / f"{name}.png")


def job_of(page: Page) -> str:
    """Return the id of the job that is open."""
    return page.url.partition("#/")[2].split("/")[1]


def beside(page: Page, line: str, text: str) -> None:
    """Set a line of the job that is open, as another window does."""
    at, asks = f"/api/jobs/{job_of(page)}", page.context.request
    revision = asks.get(at).json()["revision"]
    answer = asks.patch(at, data={"lines": {line: text}}, headers={"If-Match": f'"{revision}"'})
    assert answer.ok
