"""The list of jobs: many drawings at once, search, sorting, what is overdue, and duplicates."""

from __future__ import annotations

import math
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING

import deeds
import ezdxf
from ezdxf.math import Matrix44

if TYPE_CHECKING:
    from playwright.sync_api import Page
    from serving import Open

SAMPLES = Path(str(files("kerfwright") / "data" / "samples"))


def names(page: Page) -> list[str]:
    return page.locator("tbody a.name").all_inner_texts()


def test_many_drawings_are_dropped_searched_and_sorted(empty_desk: str, visit: Open) -> None:
    from playwright.sync_api import expect

    page = visit(empty_desk)
    drawings = sorted(SAMPLES.glob("*.dxf"))
    page.get_by_label("Drawings to add").set_input_files(drawings)
    expect(page.locator("tbody tr")).to_have_count(len(drawings))
    page.get_by_role("link", name="escape_wheel.dxf").click()
    deeds.write(page, "Material", "C270 brass")
    deeds.write(page, "Height", "6 mm")
    page.locator(".each .number").wait_for()
    page.get_by_role("button", name="+ wanted by").click()
    page.get_by_label("Wanted by").fill("2020-01-31")
    page.get_by_label("Wanted by").press("Enter")
    page.goto("/#/")
    row = page.get_by_role("row").filter(has_text="escape_wheel")
    expect(row).to_contain_text("overdue")
    expect(row).to_contain_text("late")
    heading = page.get_by_role("columnheader", name="Wanted by")
    heading.get_by_role("button").click()
    expect(heading).to_have_attribute("aria-sort", "ascending")
    # What has no date comes last, whichever way.
    assert names(page)[0] == "escape_wheel.dxf"
    heading.get_by_role("button").click()
    expect(heading).to_have_attribute("aria-sort", "descending")
    assert names(page)[0] == "escape_wheel.dxf"
    page.reload()
    expect(heading).to_have_attribute("aria-sort", "descending")
    page.get_by_placeholder("Search name").fill("brass")
    expect(page.locator("tbody tr")).to_have_count(1)


def test_the_same_part_turned_under_another_name_is_noticed(
    empty_desk: str, visit: Open, tmp_path: Path
) -> None:
    from playwright.sync_api import expect

    drawing = ezdxf.readfile(SAMPLES / "escape_wheel.dxf")
    for entity in drawing.modelspace():
        entity.transform(Matrix44.z_rotate(math.radians(17)))
    turned = tmp_path / "new order 4711.dxf"
    drawing.saveas(turned)
    page = visit(empty_desk)
    page.get_by_label("Drawings to add").set_input_files([SAMPLES / "escape_wheel.dxf", turned])
    row = page.get_by_role("row").filter(has_text="new order 4711")
    expect(row).to_contain_text("same shapes as escape-wheel")
    deeds.picture(page, "list-sorted")
