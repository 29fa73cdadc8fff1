"""Papers on the page: worded, made, stopped, looked at, and taken."""

from __future__ import annotations

from typing import TYPE_CHECKING

import deeds
import pytest

from kerfwright.adapters.papers.typeset import can_typeset

if TYPE_CHECKING:
    from serving import Open, Served

pytestmark = pytest.mark.skipif(not can_typeset(), reason="typst is not installed")


def test_from_a_job_to_its_downloaded_quote(address: str, visit: Open) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    deeds.open_sample(page)
    page.get_by_role("link", name="Papers").click()
    page.get_by_label("Their number").fill("PO-77")
    page.get_by_label("Their number").press("Tab")
    page.get_by_role("button", name="Letter").click()
    page.get_by_role("button", name="in", exact=True).last.click()
    page.get_by_label("Valid for, days").fill("10")
    page.get_by_label("Delivery").fill("three weeks after your order")
    page.get_by_label("Terms, one a line").fill("Half with the order.")
    page.get_by_label("Say what each demand costs").check()
    page.get_by_role("button", name="Make the papers").click()
    page.get_by_role("button", name="Stop").click()
    expect(page.get_by_role("button", name="Make the papers")).to_be_visible()
    page.get_by_label("Say what each demand costs").uncheck()
    page.get_by_role("button", name="Make the papers").click()
    picture = page.get_by_alt_text("Quote, page 1 of")
    expect(picture).to_be_visible()
    assert picture.evaluate("image => image.naturalWidth") > 0
    page.get_by_role("button", name="Inspection sheet").click()
    expect(page.get_by_alt_text("Inspection sheet, page 1 of")).to_be_visible()
    page.get_by_role("button", name="Larger").click()
    wide = page.get_by_alt_text("Inspection sheet, page 1 of").bounding_box()
    assert wide is not None
    assert wide["width"] > 1400
    with page.expect_download() as download:
        page.get_by_role("link", name="Download Quote").click()
    assert download.value.path().read_bytes().startswith(b"%PDF")
    # Pressed straight after typing: the field is stored first, and the papers say it.
    page.get_by_label("Customer").fill("Astronomers")
    page.get_by_role("button", name="Make them again").click()
    expect(page.get_by_role("progressbar")).to_be_visible()
    expect(page.get_by_role("link", name="Download Quote")).to_be_visible()
    expect(page.get_by_label("Customer")).to_have_value("Astronomers")
    # What they were made for changes, and they are gone.
    page.get_by_label("Customer").fill("Observatory")
    page.get_by_label("Customer").press("Tab")
    expect(page.get_by_role("link", name="Download Quote")).to_have_count(0)
    page.reload()
    expect(page.get_by_label("Terms, one a line")).to_have_value("Half with the order.")
    expect(page.get_by_label("Their number")).to_have_value("PO-77")


def test_a_server_started_anew_gives_the_papers_again_and_says_so(
    address: str, served: Served, visit: Open
) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    deeds.open_sample(page)
    page.get_by_text("Proved against the drawing.").wait_for()
    page.get_by_role("link", name="Papers").click()
    page.get_by_role("button", name="Make the papers").click()
    expect(page.get_by_alt_text("Quote, page 1 of")).to_be_visible()
    where = page.url.removeprefix(address)
    page.close()
    served.end()
    served.begin_again()
    page = visit(address, where)
    expect(page.get_by_alt_text("Quote, page 1 of")).to_be_visible()
    expect(page.get_by_role("status").filter(has_text="dated today")).to_be_visible()
