"""What each demand costs: told once, each dot named, and the hours beside it add up."""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING

import deeds

if TYPE_CHECKING:
    from serving import Open


def minutes(text: str) -> int:
    """Return the minutes of ``8 h 18 min``."""
    found = re.search(r"(?:(\d+) h )?(\d+) min", text)
    assert found, text
    return 60 * int(found[1] or 0) + int(found[2])


def test_near_equal_savings_stand_behind_the_best_of_them_and_dots_say_what_they_are(
    address: str, visit: Open
) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    deeds.open_sample(page)
    part = page.locator("section[aria-labelledby=savings]")
    part.get_by_role("button", name="Price each demand").click()
    dots = part.locator("figure g[role=button]")
    dots.first.wait_for()
    job = page.url.partition("#/job/")[2].partition("/")[0]
    found = json.loads(page.evaluate(f"fetch('/api/jobs/{job}').then(r => r.text())"))
    savings = found["savings"]
    near = float(savings["as_asked"]["each"]) / 100
    kept: list[tuple[str, float]] = []
    for one in savings["alternatives"]:
        saved = float(one["saved_each"])
        if not any(d == one["demand"] and s - saved < near for d, s in kept):
            kept.append((one["demand"], saved))
    alike = len(savings["alternatives"]) - len(kept)
    assert alike > 0
    expect(part.locator(":scope > ul > li")).to_have_count(len(kept))
    expect(part.locator("summary")).to_contain_text(f"{alike} more of the same kind")
    # None is lost: they are one press away.
    part.locator("summary").click()
    expect(part.locator("details li")).to_have_count(alike)
    offer = savings["front"][1]
    dots.nth(1).hover()
    caption = part.locator("figcaption")
    expect(caption).to_contain_text(f"{offer['wire_mm']} mm {offer['wire_name']} wire")
    expect(caption).to_contain_text(f"{offer['passes']} passes")
    expect(caption).to_contain_text(offer["each"])
    assert offer["each"] in (dots.nth(1).locator("title").text_content() or "")


def test_the_hours_of_the_machine_are_those_of_the_strip_and_its_wire_breaks(
    address: str, visit: Open
) -> None:
    page = visit(address)
    deeds.open_sample(page)
    # The machine's hours hold the wire breaks to be expected, which no strip can place.
    for height in ("6 mm", "25 mm", "60 mm"):
        deeds.write(page, "Height", height)
        page.locator("section[aria-label=Price][aria-busy=false] .each .number").wait_for()
        machine = minutes(page.locator("section[aria-label=Price] .facts span").first.inner_text())
        total = page.locator(".total").inner_text()
        strip = minutes(total)
        breaks = re.search(r"and (\d+) min\b", total)
        assert machine == strip + int(breaks[1] if breaks else 0), (height, total)
