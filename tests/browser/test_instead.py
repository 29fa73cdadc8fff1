"""What could be asked instead of a refused job: priced at the refusal, and applied there."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

import deeds
import ezdxf
import pytest
from test_reasons import keys, unexplained, unreasoned

if TYPE_CHECKING:
    from playwright.sync_api import Locator, Page
    from serving import Open


def stored(page: Page) -> dict[str, Any]:
    job = page.url.partition("#/job/")[2].partition("/")[0]
    found: dict[str, Any] = page.context.request.get(f"/api/jobs/{job}").json()
    return found


def head(page: Page) -> Locator:
    return page.locator("section[aria-label=Price]")


# Heights of no other test: what was worked out once for a job is answered at once.
@pytest.mark.parametrize(
    ("lines", "unit"),
    [({"Height": "301 mm"}, "mm"), ({"Height": "7.7 mm", "Tolerance": "±0.1 µm"}, "in")],
)
def test_a_refused_job_is_offered_at_the_refusal_what_lifts_it_and_takes_it(
    address: str, visit: Open, lines: dict[str, str], unit: str
) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    deeds.open_sample(page)
    for title, text in lines.items():
        deeds.write(page, title, text)
    price = head(page)
    expect(price).to_contain_text("No price offered")
    page.get_by_role("button", name=unit, exact=True).first.click()
    price.get_by_role("button", name="What could be asked instead").click()
    offered = price.get_by_role("group", name="Instead").locator("li")
    offered.first.wait_for()
    savings = stored(page)["savings"]
    first = savings["alternatives"][0]
    each = first["offer"]["each"]
    expect(offered).to_have_count(len(savings["alternatives"]))
    for shown in (offered.first, page.locator("section[aria-labelledby=savings] li").first):
        expect(shown).to_contain_text(f"lifts what is refused: {savings['currency']} {each}")
        expect(shown.locator("[data-why]")).to_have_attribute("data-why", "saving 1 price each so")
        expect(shown.get_by_role("button", name="Apply")).to_be_visible()
        if unit == "in":
            assert re.findall(r"[\d.]+ (?:mm|µm)\b", shown.inner_text()) == []
    expect(page.get_by_role("heading", name="What could be asked instead")).to_be_visible()
    assert unexplained(page) == []
    assert unreasoned(page, keys(page)) == {}
    deeds.picture(page, f"instead-of-{len(lines)}")
    offered.first.get_by_role("button", name="Apply").click()
    page.locator("section[aria-label=Price][aria-busy=false] .each .number").wait_for()
    assert f"{deeds.price(page):.2f}" == each
    # Of a job with a price the offers are no longer; each demand can be priced.
    expect(price.get_by_role("group", name="Instead")).to_have_count(0)
    expect(page.get_by_role("button", name="Price each demand")).to_be_visible()


def test_a_refused_job_for_which_nothing_is_offered_says_so_where_it_is_refused(
    address: str, visit: Open, tmp_path: Path
) -> None:
    from playwright.sync_api import expect

    drawing = ezdxf.new("R2000", units=4)
    # A rail of an observatory's roof: no machine of ours travels so far.
    rail = [(0, 0), (5000, 0), (5000, 20), (0, 20)]
    drawing.modelspace().add_lwpolyline(rail, close=True, dxfattribs={"layer": "OUTLINE"})
    drawing.saveas(tmp_path / "rail.dxf")
    page = visit(address)
    page.get_by_label("Drawings to add").set_input_files(tmp_path / "rail.dxf")
    price = head(page)
    instead = price.get_by_role("group", name="Instead")
    deeds.write(page, "Material", "C270 brass")
    expect(deeds.line(page, "Material")).to_contain_text("C270")
    # While a line is still to be filled in, nothing is offered.
    expect(instead).to_have_count(0)
    deeds.write(page, "Height", "6 mm")
    expect(price).to_contain_text("No price offered")
    instead.get_by_role("button", name="What could be asked instead").click()
    why = instead.get_by_text("Nothing is offered instead")
    why.wait_for()
    expect(instead).to_contain_text("a larger machine")
    expect(instead.get_by_role("button", name="Apply")).to_have_count(0)
    expect(page.locator("section[aria-labelledby=savings]")).to_contain_text(
        "Nothing is offered instead"
    )
    assert unexplained(page) == []
    assert unreasoned(page, keys(page)) == {}
