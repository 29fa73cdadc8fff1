"""The week by machine, the attendant's list on a telephone, and the numbers, in a real browser."""

from __future__ import annotations

import json
import re
import time
import urllib.request
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any

import deeds
import pytest
from test_access import AXE, violations

if TYPE_CHECKING:
    from playwright.sync_api import Page
    from serving import Open

SAMPLES = Path(str(files("kerfwright") / "data" / "samples"))
PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}
WIDE = "document.documentElement.scrollWidth - innerWidth"
PATIENCE_S = 60


def call(at: str, method: str, path: str, body: Any = None, **headers: str) -> Any:
    data = None if body is None else json.dumps(body).encode()
    request = urllib.request.Request(  # noqa: S310 our own server
        f"{at}/api{path}", data, {"Content-Type": "application/json"} | headers, method=method
    )
    with urllib.request.urlopen(request) as answer:  # noqa: S310
        text = answer.read()
    return json.loads(text) if text else None


def staged(at: str, job: str, stage: str) -> None:
    end = time.monotonic() + PATIENCE_S
    while not call(at, "GET", f"/jobs/{job}")["verdict"]:
        assert time.monotonic() < end
        time.sleep(0.1)
    revision = call(at, "GET", f"/jobs/{job}")["card"]["revision"]
    call(at, "PATCH", f"/jobs/{job}", {"stage": stage}, **{"If-Match": str(revision)})


@pytest.fixture(scope="module")
def shop(address: str) -> str:
    """Give the address of a shop with an ordered job and a quoted one."""
    for stage in ("ordered", "quoted"):
        staged(address, call(address, "POST", "/jobs/sample")["id"], stage)
    return address


def accessible(page: Page) -> None:
    if AXE.exists():
        assert violations(page) == []
    assert page.evaluate(WIDE) <= 0


def test_a_week_is_planned_kept_worked_by_and_counted(shop: str, visit: Open) -> None:
    from playwright.sync_api import expect

    page = visit(shop)
    page.get_by_role("link", name="Week", exact=True).click()
    # Machines first: what cannot be used is refused, and stays in the field.
    text = page.get_by_label("The file park.toml among the jobs")
    # The sample is fetched once the field stands.
    expect(text).to_have_value(re.compile("07:00-12:00"))
    sample = text.input_value()
    text.fill(sample.replace('"07:00-12:00"', '"19:00-12:00"', 1))
    page.get_by_role("button", name="Keep it").click()
    page.get_by_role("alert").wait_for()
    text.fill(sample)
    page.get_by_role("button", name="Keep it").click()
    page.get_by_text("No week was planned yet.").wait_for()
    page.get_by_label("From").first.fill("2027-03-01T07:00")
    page.get_by_label("search for").select_option("3")
    page.get_by_label("Pieces ordered of escape_wheel.dxf").select_option("5")
    page.get_by_role("button", name="Plan the week").click()
    page.get_by_text("A try, from Mon 1 Mar 07:00.").wait_for()
    page.get_by_text("Nothing is planned late").wait_for()
    accessible(page)
    page.get_by_role("button", name="Work by this week").click()
    page.get_by_text("What people work by").wait_for()
    bar = page.get_by_role("button", name="escape_wheel on M")
    bar.focus()
    page.keyboard.press("Enter")
    page.get_by_role("region", name="Stages of escape_wheel").wait_for()
    accessible(page)
    deeds.picture(page, "week")
    # What if the quoted one came in: people go on working by what was kept.
    page.get_by_role("button", name="came in: which day?").click()
    page.get_by_text("may be promised for").wait_for()
    page.get_by_text("People work by the week of Mon 1 Mar 07:00.").wait_for()
    page.get_by_role("button", name="Forget it").click()
    page.get_by_text("What people work by").wait_for()


def test_the_attendant_marks_on_a_telephone(shop: str, visit: Open) -> None:
    page = visit(shop, "/#/machines", color_scheme="dark", **PHONE)
    nxt = page.get_by_role("region", name="Next")
    nxt.get_by_text("set-up").wait_for()
    nxt.get_by_text("generator off before hands go in").wait_for()
    accessible(page)
    nxt.get_by_role("button", name="I am there").click()
    nxt.get_by_text("There since").wait_for()
    nxt.get_by_role("button", name="The wire broke").click()
    nxt.get_by_role("button", name="flushing").click()
    nxt.get_by_label("where").fill("H3, rough")
    accessible(page)
    deeds.picture(page, "at-the-machines")
    nxt.get_by_role("button", name="Note the break").click()
    page.get_by_text("Wire breaks (1)").wait_for()
    nxt.get_by_text("Say more with it").click()
    nxt.get_by_label("you were there, min").fill("48")
    nxt.get_by_role("button", name="Done").click()
    page.get_by_text("Done (1)").wait_for()
    nxt.get_by_text("slugs and cut-offs").wait_for()
    # A press that was wrong is taken back.
    page.get_by_text("Done (1)").click()
    page.get_by_role("button", name="Take back").first.click()
    nxt.get_by_text("set-up").wait_for()
    nxt.get_by_role("button", name="Done").click()
    page.get_by_text("Done (1)").wait_for()
    for target in page.get_by_role("button").all():
        box = target.bounding_box()
        assert box is None or box["height"] >= 44
    (job,) = call(shop, "GET", "/week")["jobs"]
    kinds = [mark["kind"] for mark in job["marks"]]
    assert kinds == ["ordered", "begun", "break", "done"]


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_the_numbers_name_their_jobs(shop: str, visit: Open, theme: str) -> None:
    page = visit(shop, "/#/numbers", color_scheme=theme)
    page.get_by_text("1 of 1, 21 to 100 %").first.wait_for()
    page.get_by_role("button", name="Which").first.click()
    page.get_by_role("link", name="escape-wheel").first.wait_for()
    accessible(page)
    with page.expect_download() as download:
        page.get_by_role("link", name="CSV").first.click()
    assert download.value.suggested_filename == "jobs.csv"
