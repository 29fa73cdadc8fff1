"""Edits are kept though others follow at once, one is stopped, or the page is left."""

from __future__ import annotations

import json
import re
import time
import urllib.request
from typing import TYPE_CHECKING, Any

import deeds
from serving import PATIENCE_MS

if TYPE_CHECKING:
    from playwright.sync_api import Page, Route
    from serving import Open

_TYPE_BOTH_AND_LEAVE = """() => {
  const card = document.querySelector('[aria-label="Contour H7"]');
  const fields = [...card.querySelectorAll('label')].filter(
    (one) => ['Tolerance', 'Finish'].includes(one.textContent.trim()));
  const texts = ['±8 µm', 'Ra 0.4 µm'];
  fields.forEach((label, i) => {
    const field = document.getElementById(label.htmlFor) ?? label.querySelector('input');
    field.value = texts[i];
    field.dispatchEvent(new Event('input', {bubbles: true}));
    field.dispatchEvent(new KeyboardEvent('keydown', {key: 'Enter', bubbles: true}));
  });
  location.href = 'about:blank';
  return fields.length;
}"""


def job_of(page: Page) -> str:
    return page.url.partition("#/job/")[2].partition("/")[0]


def asked(address: str, job: str) -> dict[str, str]:
    with urllib.request.urlopen(f"{address}/api/jobs/{job}") as answer:  # noqa: S310 our own
        found: dict[str, Any] = json.load(answer)
    return dict(found["asked"])


def test_edits_are_kept_though_the_page_is_left_at_once(address: str, visit: Open) -> None:
    page = visit(address)
    deeds.open_sample(page)
    page.get_by_role("button", name=re.compile("^H7 opening")).click()
    page.get_by_role("region", name="Contour H7").get_by_label("Finish").wait_for()
    job = job_of(page)
    # In one turn of the page: the second is in line behind the first, which is under way.
    assert page.evaluate(_TYPE_BOTH_AND_LEAVE) == 2
    end = time.monotonic() + 10
    while (found := asked(address, job).get("contour H7", "")).count("=") < 2:
        assert time.monotonic() < end, found
        time.sleep(0.1)
    assert found == "tolerance=±8 µm, finish=Ra 0.4 µm"


def test_an_edit_does_not_wait_for_the_price_of_the_one_before(address: str, visit: Open) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    deeds.open_sample(page)
    held: list[Route] = []
    is_held = True

    def keep_back(route: Route) -> None:
        if is_held and route.request.method == "GET":
            held.append(route)
        else:
            route.continue_()

    # The numbers of a job are held back; what is typed is kept all the same.
    page.route(re.compile(r"/api/jobs/[\w-]+$"), keep_back)
    for title, text in (("Tolerance", "±9 µm"), ("Finish", "Ra 1.2 µm"), ("Height", "7 mm")):
        with page.expect_response(lambda answer: answer.request.method == "PATCH"):
            deeds.write(page, title, text)
        expect(deeds.line(page, title)).to_contain_text(text)
    assert held
    job = job_of(page)
    lines = asked(address, job)
    assert (lines["tolerance"], lines["finish"], lines["height"]) == ("±9 µm", "Ra 1.2 µm", "7 mm")
    expect(page.locator("section[aria-label=Price]")).to_have_attribute("aria-busy", "true")
    is_held = False
    for one in held:
        one.continue_()
    expect(page.locator("section[aria-label=Price]")).to_have_attribute("aria-busy", "false")


def test_a_computation_that_was_stopped_can_be_taken_up_again(address: str, visit: Open) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    deeds.open_sample(page)
    price = page.get_by_label("Price", exact=True)
    # As the server says it when a draft was stopped before it was done.
    is_stopped = True

    def stopped(route: Route) -> None:
        answer = route.fetch()
        found = answer.json()
        if is_stopped and route.request.method == "GET":
            found |= {"draft": None, "work": [], "stopped": ["draft"]}
        route.fulfill(response=answer, json=found)

    page.route(re.compile(r"/api/jobs/[\w-]+$"), stopped)
    page.reload()
    expect(price).to_contain_text("Stopped: nothing was computed.")
    again = price.get_by_role("button", name="Compute it")
    is_stopped = False
    with page.expect_response(lambda answer: answer.url.endswith("/draft")) as begun:
        again.click()
    assert begun.value.status == 202
    expect(price.locator(".each .number")).to_be_visible(timeout=PATIENCE_MS)
    expect(again).to_have_count(0)
