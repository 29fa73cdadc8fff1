"""The list of jobs: many drawings at once, search, sorting, what is overdue, and duplicates."""

from __future__ import annotations

import math
import re
from datetime import UTC, datetime
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING

import deeds
import ezdxf
from ezdxf.math import Matrix44

from kerfwright.adapters.enquiry_store import open_store
from kerfwright.app.enquiries import Stage

if TYPE_CHECKING:
    from playwright.sync_api import Page
    from serving import Open, Served

NOW = datetime(2025, 1, 31, 7, 0, tzinfo=UTC)
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
    first = page.locator("tbody a.name").first
    expect(first).to_have_text("escape_wheel.dxf")
    heading.get_by_role("button").click()
    expect(heading).to_have_attribute("aria-sort", "descending")
    expect(first).to_have_text("escape_wheel.dxf")
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


def many(served: Served, count: int) -> None:
    """Put jobs into the folder beside the server, as another seat does: a part of a list only."""
    store = open_store(served.jobs)
    for number in range(count):
        one = store.add(f"plate {number}.dxf", f"no drawing {number}".encode(), added=NOW)
        store.change(one.id, lambda now, n=number: now.with_lines({"customer": f"Tower {n % 3}"}))
    store.change("plate-7", lambda now: now.at_stage(Stage.ORDERED))
    store.index.close()


def test_a_long_list_is_shown_in_parts(empty_desk: str, visit: Open, served: Served) -> None:
    from playwright.sync_api import expect

    many(served, 230)
    page = visit(empty_desk)
    rows = page.locator("tbody tr")
    expect(rows).to_have_count(100)
    expect(page.get_by_text("100 of 230 jobs")).to_be_visible()
    page.get_by_role("button", name="Show 100 more").press("Enter")
    expect(rows).to_have_count(200)
    page.get_by_role("button", name="Show 30 more").click()
    expect(rows).to_have_count(230)
    expect(page.get_by_role("button", name=re.compile("^Show .* more"))).to_have_count(0)
    # Sorted over all of them, whatever is shown; numbers in names as people count.
    heading = page.get_by_role("columnheader", name="Job")
    heading.get_by_role("button", name="Job").click()
    expect(rows).to_have_count(100)
    expect(page.locator("tbody a.name").nth(9)).to_have_text("plate 9.dxf")
    assert names(page)[:11] == [f"plate {n}.dxf" for n in range(11)]
    stages = page.get_by_role("group", name="Jobs at which stage")
    expect(stages.get_by_role("button", name="all 230")).to_have_attribute("aria-pressed", "true")
    stages.get_by_role("button", name="ordered 1").click()
    expect(rows).to_have_count(1)
    expect(rows).to_contain_text("plate 7.dxf")
    # The same jobs are listed after a reload, and when somebody comes back from one.
    page.reload()
    expect(rows).to_have_count(1)
    page.get_by_placeholder("Search name").fill("tower 2")
    expect(page.get_by_text("No job that is ordered holds “tower 2”.")).to_be_visible()
    page.get_by_role("button", name="Show all").click()
    expect(rows).to_have_count(100)
    expect(page.get_by_placeholder("Search name")).to_have_value("")
    heading = page.get_by_role("columnheader", name="Needs attention")
    heading.get_by_role("button").click()
    expect(heading).to_have_attribute("aria-sort", "descending")
    expect(rows.first).to_contain_text("needs")
    deeds.picture(page, "list-long")


def test_a_job_that_was_taken_off_the_list_is_brought_back(empty_desk: str, visit: Open) -> None:
    from playwright.sync_api import expect

    page = visit(empty_desk)
    page.get_by_label("Drawings to add").set_input_files(sorted(SAMPLES.glob("*.dxf"))[:2])
    rows = page.locator("tbody tr")
    expect(rows).to_have_count(2)
    title = names(page)[0]

    def take_off() -> None:
        page.get_by_role("button", name=f"Take {title} off the list").click()
        page.get_by_role("button", name="Take away").click()
        expect(rows).to_have_count(1)

    take_off()
    told = page.get_by_role("status").filter(has_text="is off the list")
    told.get_by_role("button", name="Bring it back").click()
    expect(rows).to_have_count(2)
    expect(page.get_by_role("status").filter(has_text="is on the list again")).to_be_visible()
    # Later, and after a reload: from the jobs that were taken off.
    take_off()
    page.reload()
    page.get_by_text("Taken off the list", exact=True).click()
    back = page.get_by_role("button", name=f"Bring back {title}").first
    deeds.picture(page, "list-removed")
    back.click()
    expect(rows).to_have_count(2)
    # Gone for good only where somebody says so twice.
    take_off()
    delete = page.get_by_role("button", name=f"Delete {title}…")
    kept = page.context.request.get("/api/removed").json()["jobs"]
    # Those of other tests are there too.
    before = sum(one["title"] == title for one in kept)
    expect(delete).to_have_count(before)
    delete.first.click()
    page.get_by_role("button", name="Keep it").click()
    expect(delete).to_have_count(before)
    delete.first.click()
    expect(page.get_by_text("nothing brings them back")).to_be_visible()
    page.get_by_role("button", name=f"Delete {title} for good").click()
    expect(delete).to_have_count(before - 1)
    expect(rows).to_have_count(1)


def test_price_and_attention_of_a_job_are_seen_on_a_telephone(empty_desk: str, visit: Open) -> None:
    from playwright.sync_api import expect

    page = visit(empty_desk, viewport={"width": 390, "height": 844}, has_touch=True)
    deeds.open_sample(page)
    page.get_by_role("link", name="‹ Jobs").tap()
    page.context.request.post("/api/jobs/sample")
    row = page.get_by_role("row").filter(has_text="escape_wheel")
    expect(row).to_have_count(2)
    for part in (row.first.get_by_text("EUR"), row.first.locator(".attention")):
        box = part.bounding_box()
        assert box is not None
        assert box["x"] >= 0
        assert box["x"] + box["width"] <= 390
    main = page.locator("main")
    assert main.evaluate("one => one.scrollWidth - one.clientWidth") <= 0
    page.get_by_role("button", name="Customer").tap()
    expect(page.get_by_role("columnheader", name="Customer")).to_have_attribute(
        "aria-sort", "ascending"
    )
    deeds.picture(page, "list-telephone")


def test_nothing_of_the_list_is_cut_on_any_tablet(address: str, visit: Open) -> None:
    page = visit(address)
    deeds.open_sample(page)
    deeds.write(page, "Customer", "Observatory of the northern ridge")
    deeds.write(page, "Material", "something that nobody knows")
    page.goto("/#/")
    page.get_by_role("cell", name="Observatory").wait_for()
    outside = """() => [...document.querySelectorAll("main table, main td > *, main th > *")]
      .filter(e => e.getBoundingClientRect().right > document.documentElement.clientWidth + 1)
      .map(e => e.outerHTML.slice(0, 90))"""
    for width in (600, 640, 768, 820, 900, 1024, 1099, 1100):
        page.set_viewport_size({"width": width, "height": 1100})
        assert page.evaluate(outside) == [], width
        main = page.locator("main")
        assert main.evaluate("e => e.scrollWidth - e.clientWidth") <= 0, width
    deeds.picture(page, "list-tablet")


def test_a_job_is_asked_for_when_its_name_is_pressed_and_not_again_when_it_opens(
    empty_desk: str, visit: Open
) -> None:
    page = visit(empty_desk)
    page.get_by_label("Drawings to add").set_input_files(SAMPLES / "escape_wheel.dxf")
    page.wait_for_url("**/#/job/*")
    page.goto("/#/")
    name = page.get_by_role("link", name="escape_wheel.dxf")
    name.wait_for()
    page.wait_for_load_state("networkidle")
    asked: list[str] = []
    page.on("request", lambda one: asked.append(f"{one.method} {one.url.partition('/api/')[2]}"))
    box = name.bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    with page.expect_response(re.compile(r"/geometry$")):
        page.mouse.down()
    assert "#/job/" not in page.url
    page.mouse.up()
    page.get_by_role("application").wait_for()
    page.wait_for_function("() => window.kerfwrightView?.scene.geometry?.count > 0")
    job = page.url.partition("#/job/")[2].partition("/")[0]
    assert asked.count(f"GET jobs/{job}") == 1
    assert len([one for one in asked if one.endswith("/geometry")]) == 1
