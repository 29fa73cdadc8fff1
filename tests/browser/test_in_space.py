"""Part and wire in space: loaded only when asked for, turned, cut by a section, said in words."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import deeds
import pytest
from test_access import AXE, SIZES, violations
from test_reasons import keys, unexplained, unreasoned

if TYPE_CHECKING:
    from playwright.sync_api import Locator, Page
    from serving import Open

PHONE = {"width": 390, "height": 844}
VIEW = "[window.kerfwrightSpace.orbit.turn, window.kerfwrightSpace.orbit.scale]"
INK = """() => {
  const canvas = document.querySelector('section[aria-label="Part in space"] canvas');
  const copy = document.createElement('canvas');
  [copy.width, copy.height] = [canvas.width, canvas.height];
  const c = copy.getContext('2d');
  // What was drawn is kept only until the browser has shown it.
  window.kerfwrightSpace.draw();
  c.drawImage(canvas, 0, 0);
  const dots = c.getImageData(0, 0, copy.width, copy.height).data;
  let inked = 0;
  for (let i = 3; i < dots.length; i += 4) if (dots[i] > 0) inked++;
  return inked / (dots.length / 4);
}"""


def leaning(page: Page, text: str = "3° out from top", contour: str = "H1") -> str:
    """Open a sample of one's own with a wall that leans, once it is proved; returns its name."""
    deeds.open_sample(page)
    whole = page.url
    page.goto(f"{whole}/{contour}")
    field = page.get_by_role("region", name=f"Contour {contour}").get_by_label(
        f"Taper of {contour}"
    )
    field.fill(text)
    field.press("Enter")
    deeds.line(page, f"Taper of {contour}").get_by_text("leans by up to").wait_for()
    page.goto(whole)
    page.get_by_role("button", name="In space").wait_for()
    return whole.rpartition("#/job/")[2]


def opened(page: Page) -> Locator:
    page.get_by_role("button", name="In space").click()
    region = page.get_by_role("region", name="Part in space")
    region.get_by_role("slider", name="Minute on the course of the wire").wait_for()
    return region


def test_what_draws_surfaces_is_loaded_only_where_it_is_asked_for(
    address: str, visit: Open
) -> None:
    page = visit(address)
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    deeds.open_sample(page)
    page.get_by_text("Proved against the drawing.").wait_for()
    assert page.get_by_role("button", name="In space").count() == 0
    leaning(page)
    assert not [url for url in asked if "SpaceView" in url or url.endswith("/cut/space")]
    opened(page)
    assert [url for url in asked if re.search(r"/assets/SpaceView-.*\.js", url)]
    # What was held is given back.
    page.get_by_role("button", name="Flat").click()
    page.get_by_role("region", name="Part in space").wait_for(state="detached")
    assert page.evaluate("window.kerfwrightSpace === undefined")


def test_the_part_is_drawn_turned_and_zoomed(address: str, visit: Open) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    leaning(page)
    region = opened(page)
    page.wait_for_function("() => window.kerfwrightSpace.held.space !== null")
    assert page.evaluate(INK) > 0.02
    hand = region.get_by_role("application")
    turn, scale = page.evaluate(VIEW)
    hand.press("ArrowRight")
    hand.press("+")
    assert page.evaluate(VIEW) == pytest.approx([turn - 0.1, scale * 1.25])
    hand.press("Home")
    assert page.evaluate(VIEW) == pytest.approx([turn, scale])
    box = hand.bounding_box()
    assert box is not None
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 60, y, steps=4)
    page.mouse.up()
    assert page.evaluate(VIEW)[0] < turn - 0.3
    page.mouse.wheel(0, -300)
    page.wait_for_function(f"() => window.kerfwrightSpace.orbit.scale > {scale * 1.2}")
    region.get_by_role("button", name="Fit").click()
    # A wall is chosen from the list as on the flat drawing.
    region.get_by_role("button", name="H1", exact=True).click()
    expect(region.get_by_role("button", name="H1", exact=True)).to_have_attribute(
        "aria-pressed", "true"
    )
    assert page.url.endswith("/H1")


def test_a_section_stands_at_the_height_that_is_said(address: str, visit: Open) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    leaning(page)
    region = opened(page)
    slider = region.get_by_role("slider", name="Height of the section")
    path = region.locator("path.section")
    middle = path.get_attribute("d")
    slider.focus()
    slider.press("End")
    expect(region.locator("output")).to_have_text("6.000 mm up")
    expect(slider).to_have_attribute("aria-valuetext", "6.000 mm above the underside")
    assert path.get_attribute("d") != middle
    page.get_by_role("button", name="in", exact=True).click()
    expect(region.locator("output")).to_have_text("0.2362 in up")


def test_the_course_of_the_wire_is_said_and_leads_to_its_minute(address: str, visit: Open) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    job = leaning(page)
    region = opened(page)
    told = page.context.request.get(f"/api/jobs/{job}").json()["verdict"]["space"]
    most = told["most_angle_deg"]
    row = region.get_by_role("list", name="Most in the program").get_by_role("listitem").first
    expect(row).to_contain_text(f"up to {most['value']:.2f}°")
    row.get_by_role("button").last.click()
    strip = page.get_by_role("slider", name="Minute of the job")
    expect(strip).to_have_attribute("aria-valuenow", str(round(most["minute"])))
    expect(region.locator("p.reading")).to_contain_text(f"leans {most['value']:.2f}°")
    expect(region.locator("circle.guide")).to_have_count(2)
    chart = region.get_by_role("slider", name="Minute on the course of the wire")
    box = chart.bounding_box()
    assert box is not None
    page.mouse.click(box["x"] + box["width"] - 1, box["y"] + 40)
    total = strip.get_attribute("aria-valuemax")
    assert total is not None
    assert abs(float(strip.get_attribute("aria-valuenow") or 0) - float(total)) < 5
    chart.press("Home")
    expect(strip).to_have_attribute("aria-valuenow", "0")
    expect(region.locator("p.reading")).to_contain_text("the wire cuts nothing")


def test_land_and_relief_are_told_apart_in_words(address: str, visit: Open) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    leaning(page, "land=2mm, relief=1°")
    region = opened(page)
    walls = region.get_by_role("list", name="Walls in space")
    expect(walls).to_contain_text(re.compile(r"H1-LAND straight land, from 4\.000.* to 6\.000"))
    expect(walls).to_contain_text(re.compile(r"H1 relief, leans by up to 1\.00°.* to 4\.000"))


def test_without_webgl_numbers_and_course_are_there_all_the_same(address: str, visit: Open) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    page.add_init_script(
        "const get = HTMLCanvasElement.prototype.getContext;"
        "HTMLCanvasElement.prototype.getContext = function (kind, ...more) {"
        "  return kind.startsWith('webgl') ? null : get.call(this, kind, ...more); };"
    )
    page.reload()
    leaning(page)
    region = opened(page)
    expect(region.get_by_role("status").first).to_contain_text("WebGL is switched off or missing")
    expect(region.get_by_role("list", name="Walls in space")).to_contain_text(
        "leans by up to 3.00°"
    )


def test_deviations_colour_the_wall_and_the_worst_is_gone_to(address: str, visit: Open) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    job = leaning(page)
    region = opened(page)
    region.get_by_role("button", name="Deviations of leaning walls").click()
    page.wait_for_function("() => window.kerfwrightSpace.held.off !== null")
    told = page.context.request.get(f"/api/jobs/{job}").json()["verdict"]["space"]
    places = region.get_by_role("list", name="Worst places of leaning walls").get_by_role(
        "listitem"
    )
    expect(places).to_have_count(len(told["worst"]))
    worst = told["worst"][0]
    assert worst["contour_id"] == "H1"
    places.first.get_by_role("button").first.click()
    expect(region.locator("circle.worst")).to_have_count(1)
    assert page.evaluate("window.kerfwrightSpace.orbit.cz") == pytest.approx(worst["height_mm"])
    assert page.evaluate(INK) > 0.02
    deeds.picture(page, "in-space-deviations")


@pytest.mark.skipif(not AXE.exists(), reason="axe-core is not installed (npm ci)")
@pytest.mark.parametrize(
    ("theme", "size"),
    [("light", "laptop"), ("dark", "laptop"), ("dark", "tablet"), ("light", "phone")],
)
def test_the_view_in_space_keeps_the_rules_of_access_and_of_reasons(
    address: str, visit: Open, theme: str, size: str
) -> None:
    page = visit(address, viewport=(SIZES | {"phone": PHONE})[size], color_scheme=theme)
    leaning(page)
    region = opened(page)
    region.get_by_role("list", name="Most in the program").get_by_role(
        "listitem"
    ).first.get_by_role("button").last.click()
    region.get_by_role("button", name="H1", exact=True).click()
    region.get_by_role("button", name="Deviations of leaning walls").click()
    region.get_by_role("list", name="Worst places of leaning walls").wait_for()
    page.evaluate(INK)
    deeds.picture(page, f"in-space-{theme}-{size}")
    assert violations(page) == []
    assert unexplained(page) == []
    assert unreasoned(page, keys(page)) == {}
