"""What was planned before: its price, what changed since, its files, and to ask it again."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import deeds

if TYPE_CHECKING:
    from serving import Open


def test_an_earlier_version_is_looked_at_and_asked_again(address: str, visit: Open) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    deeds.open_sample(page)
    before = deeds.price(page)
    deeds.write(page, "Height", "9 mm")
    expect(page.get_by_text("Proved against the drawing.")).to_be_visible()
    summary = page.locator("summary", has_text="Versions")
    summary.press("Enter")
    second = page.get_by_role("listitem", name="Version 2")
    expect(second).to_contain_text("height 9")
    expect(second).to_contain_text("Asked now")
    first = page.get_by_role("listitem", name="Version 1")
    expect(first).to_contain_text(re.compile(rf"{before:.2f}.* each of 1"))
    # Its price opens the reason that was kept with it, not that of now.
    first.get_by_role("button", name="Price of version 1 for 1").click()
    why = page.get_by_role("dialog")
    expect(why.get_by_role("heading", level=2)).to_have_text("version 1, price for 1 each")
    expect(why.locator(".value")).to_contain_text(f"{before:,.2f}")
    why.get_by_role("button", name="set-up").click()
    expect(why.locator(".formula")).to_contain_text("once a job")
    why.get_by_role("button", name="the price of a piece").click()
    expect(why.locator(".value")).to_contain_text(f"{before:,.2f}")
    why.get_by_role("button", name="Close").click()
    expect(first).to_contain_text("proved program")
    second.get_by_role("button", name="What changed").click()
    expect(second.locator("dl")).to_contain_text(re.compile("height.*6.*→.*9"))
    deeds.picture(page, "versions")
    second.get_by_role("button", name="What changed").click()
    expect(second.locator("dl")).to_have_count(0)
    first.locator("summary").click()
    with page.expect_download() as kept:
        first.get_by_role("link", name="program.nc").click()
    assert kept.value.suggested_filename.endswith("-v1-program.nc")
    # Asked again it is computed anew, and can be undone.
    first.get_by_role("button", name="Ask this again").click()
    expect(first).to_contain_text("Asked now")
    expect(deeds.line(page, "Height")).to_contain_text("6")
    expect(page.locator(".each .number")).to_contain_text(f"{before:,.2f}")
    page.get_by_role("button", name="Undo").click()
    expect(second).to_contain_text("Asked now")
