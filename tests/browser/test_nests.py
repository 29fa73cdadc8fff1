"""Parts of jobs in a sheet: laid, dragged with the spacing looked up, turned by keys, made jobs."""

from __future__ import annotations

from typing import TYPE_CHECKING

import deeds

if TYPE_CHECKING:
    from playwright.sync_api import Page
    from serving import Open


def lay(page: Page, pieces: int) -> str:
    """Lay parts of the sample in a sheet and return the name of their job."""
    job: str = page.context.request.post("/api/jobs/sample").json()["id"]
    page.get_by_role("link", name="Parts in a sheet").click()
    page.get_by_label("The parts of which job?").select_option(job)
    page.get_by_label("Pieces").fill(str(pieces))
    page.get_by_label("Sizes, one a line").fill("300x200mm")
    page.get_by_role("textbox", name="Material").fill("C270")
    page.get_by_label("Thickness").fill("2.5")
    page.get_by_label("Look for better").fill("2")
    # Filled in and not laid: it stands after a reload.
    page.reload()
    page.get_by_role("button", name="Lay them").click()
    page.get_by_role("alert").get_by_text("2.5").wait_for()
    page.get_by_label("Thickness").fill("2.5 mm")
    page.get_by_role("button", name="Lay them").click()
    page.get_by_text("It holds").wait_for()
    assert page.get_by_text("Not laid as it stands here").count() == 0
    return job


def test_a_part_is_dragged_with_its_spacing_looked_up_and_laid_back(
    address: str, visit: Open
) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    job = lay(page, 2)
    deeds.picture(page, "nest")
    status = page.get_by_role("status")
    one, other = (page.get_by_role("button", name=f"{job} {n}").first for n in (1, 2))
    where = one.get_attribute("transform")
    a, b = one.bounding_box(), other.bounding_box()
    assert a
    assert b
    middle = [(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2) for box in (a, b)]
    page.mouse.move(*middle[0])
    page.mouse.down()
    page.mouse.move(*middle[1], steps=4)
    # While it is held, nothing is changed, and what stands against it is said.
    expect(page.locator("figcaption .refusal")).to_contain_text(f"{job} 1")
    expect(status).to_contain_text("It holds")
    page.mouse.up()
    expect(status).to_contain_text("It does not hold")
    expect(page.get_by_role("button", name="Make a job")).to_be_disabled()
    page.get_by_role("button", name="Undo").click()
    expect(status).to_contain_text("It holds")
    expect(one).to_have_attribute("transform", where or "")
    # By keys: held elsewhere, laid back, turned and let go.
    one.focus()
    page.keyboard.press("ArrowRight")
    expect(page.locator("figcaption .weight")).to_be_visible()
    page.keyboard.press("Escape")
    expect(one).to_have_attribute("transform", where or "")
    page.keyboard.press("t")
    expect(one).not_to_have_attribute("transform", where or "")
    page.keyboard.press("Enter")
    page.get_by_text("by hand").wait_for()


def test_a_sheet_becomes_a_job_that_asks_what_its_parts_ask(address: str, visit: Open) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    lay(page, 2)
    # A reload shows the nest and what was wanted.
    page.reload()
    page.get_by_text("It holds").wait_for()
    expect(page.get_by_label("Thickness")).to_have_value("2.5 mm")
    page.get_by_role("button", name="Make a job").click()
    made = page.locator(".made")
    made.get_by_role("link").click()
    expect(deeds.line(page, "Tolerance")).to_contain_text("±0.005 mm")
    expect(deeds.line(page, "Height")).to_contain_text("2.5 mm")
