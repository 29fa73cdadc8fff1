"""Controls of drawing, strip, cards and tables that no story of a person happens to use."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import deeds
import ezdxf
import pytest

if TYPE_CHECKING:
    from pathlib import Path

    from playwright.sync_api import Page
    from serving import Open

VIEW = "window.kerfwrightView"
Place = tuple[float, float]


@pytest.fixture
def sample(address: str, visit: Open) -> Page:
    page = visit(address)
    deeds.open_sample(page)
    page.get_by_text("Proved against the drawing.").wait_for()
    return page


def settled(page: Page) -> None:
    page.evaluate("new Promise(r => requestAnimationFrame(() => requestAnimationFrame(r)))")


def camera(page: Page) -> tuple[float, float, float]:
    settled(page)
    scale, x, y = page.evaluate(f"(c => [c.scale, c.cx, c.cy])({VIEW}.camera)")
    return scale, x, y


def middle(page: Page) -> Place:
    box = page.get_by_role("application").bounding_box()
    assert box is not None
    # A wheel is turned at whole pixels.
    return round(box["x"] + box["width"] / 2), round(box["y"] + box["height"] / 2)


def world(page: Page, at: Place) -> Place:
    x, y = page.evaluate(
        f"([x, y]) => {{ const b = {VIEW}.overlay.getBoundingClientRect();"
        f" return {VIEW}.camera.toWorld(x - b.left, y - b.top); }}",
        list(at),
    )
    return x, y


def minute(page: Page) -> int:
    slider = page.get_by_role("slider", name="Minute of the job")
    return int(slider.get_attribute("aria-valuenow") or -1)


def test_the_drawing_moves_by_wheel_drag_keys_and_buttons(sample: Page) -> None:
    x, y = middle(sample)
    drawing = sample.get_by_role("application")
    fitted = camera(sample)
    # The place under the pointer stays where it is.
    at = (x + 90, y - 60)
    before = world(sample, at)
    sample.mouse.move(*at)
    sample.mouse.wheel(0, -300)
    assert camera(sample)[0] > 1.3 * fitted[0]
    assert world(sample, at) == pytest.approx(before, abs=1e-6)
    # A drag takes the drawing along.
    sample.mouse.down()
    sample.mouse.move(at[0] + 40, at[1] + 25, steps=4)
    sample.mouse.up()
    assert world(sample, (at[0] + 40, at[1] + 25)) == pytest.approx(before, abs=1e-6)
    sample.get_by_role("button", name="Fit", exact=True).click()
    assert camera(sample) == pytest.approx(fitted)
    for press, back in (("ArrowLeft", "ArrowRight"), ("ArrowUp", "ArrowDown"), ("+", "-")):
        drawing.press(press)
        assert camera(sample) != pytest.approx(fitted)
        drawing.press(back)
        assert camera(sample) == pytest.approx(fitted)
    sample.get_by_role("button", name="Zoom in").click()
    near = camera(sample)[0]
    sample.get_by_role("button", name="Zoom out").click()
    assert camera(sample)[0] < near
    drawing.press("ArrowLeft")
    drawing.press("0")
    assert camera(sample) == pytest.approx(fitted)
    drawing.press("ArrowLeft")
    drawing.dblclick(position={"x": 60, "y": 60})
    assert camera(sample) == pytest.approx(fitted)


def test_hovering_lights_a_contour_both_ways_and_keys_step_back(sample: Page) -> None:
    from playwright.sync_api import expect

    row = sample.locator("tr[data-id=H3]")
    row.hover()
    which = f"{VIEW}.scene.contours[{VIEW}.scene.hovered]?.id"
    settled(sample)
    assert sample.evaluate(which) == "H3"
    x, y = sample.evaluate(
        f"() => {{ const v = {VIEW}, i = v.scene.contours.findIndex(c => c.id === 'H3'),"
        " g = v.scene.geometry, p = g.starts[i], b = v.overlay.getBoundingClientRect(),"
        " [x, y] = v.camera.toScreen(g.points[2 * p] + g.originX, g.points[2 * p + 1] + g.originY);"
        " return [b.left + x, b.top + y]; }"
    )
    sample.mouse.move(5, 5)
    expect(row).not_to_have_class(re.compile("hovered"))
    sample.mouse.move(x, y)
    expect(row).to_have_class(re.compile("hovered"))
    drawing = sample.get_by_role("application")
    for key, wanted in ((".", "P1"), (".", "H1"), (",", "P1")):
        drawing.press(key)
        expect(sample.get_by_role("region", name=f"Contour {wanted}")).to_be_visible()


def test_the_strip_is_pulled_stepped_and_gathers_its_marks(sample: Page) -> None:
    from playwright.sync_api import expect

    strip = sample.get_by_role("slider", name="Minute of the job")
    box = strip.bounding_box()
    assert box is not None
    y = box["y"] + box["height"] / 2
    sample.mouse.move(box["x"] + 0.3 * box["width"], y)
    sample.mouse.down()
    first = minute(sample)
    sample.mouse.move(box["x"] + 0.6 * box["width"], y, steps=3)
    assert minute(sample) > 1.5 * first > 0
    # The wire goes where the strip is pulled to.
    settled(sample)
    assert sample.evaluate(f"{VIEW}.scene.minute") == pytest.approx(minute(sample), abs=1)
    sample.mouse.up()
    pulled = minute(sample)
    sample.mouse.move(box["x"] + 0.2 * box["width"], y)
    assert minute(sample) == pulled
    sample.get_by_role("button", name="‹ stop").click()
    before = minute(sample)
    assert before < pulled
    sample.get_by_role("button", name="stop ›").click()
    assert minute(sample) > before
    # Marks of pieces that would lie over each other are one, with their number.
    sample.evaluate(
        "() => { window.written = []; const p = CanvasRenderingContext2D.prototype, f = p.fillText;"
        " p.fillText = function (text, ...at) {"
        " if (!this.canvas.closest('[aria-label=Drawing]'))"
        " window.written.push([text, this.fillStyle]);"
        " return f.call(this, text, ...at); }; }"
    )
    sample.get_by_role("button", name="‹ stop").click()
    settled(sample)
    assert not [t for t, _ in sample.evaluate("window.written") if re.match("×", t)]
    sample.set_viewport_size({"width": 600, "height": 768})
    expect(strip).to_be_visible()
    for _ in range(5):
        settled(sample)
    written = [(t, ink) for t, ink in sample.evaluate("window.written") if re.match("×", t)]
    assert written
    paper = "getComputedStyle(document.documentElement).getPropertyValue('--paper').trim()"
    for text, ink in written:
        assert 2 <= int(text.strip("×!")) <= 8
        assert ink.lower() != sample.evaluate(paper).lower()


def test_what_is_picked_is_let_go_and_gone_to(sample: Page) -> None:
    from playwright.sync_api import expect

    selection = sample.get_by_role("region", name="Selection")
    for way in ("none", "Let go of the selection"):
        sample.get_by_role("button", name="all openings").click()
        expect(selection).to_be_visible()
        sample.get_by_role("button", name=way).click()
        expect(selection).to_be_hidden()
    sample.get_by_role("button", name=re.compile("^H7 opening")).click()
    at = minute(sample)
    sample.get_by_role("button", name="Go to its first cut").click()
    assert minute(sample) != at
    sample.get_by_role("button", name="Let go of H7").click()
    drawing = sample.get_by_role("application")
    sample.evaluate(f"{VIEW}.goTo(-4, 0)")
    drawing.press("l")
    lines = sample.get_by_role("region", name="Lines that cut this place")
    expect(lines).to_be_visible()
    sample.get_by_role("button", name="Close what cuts here").click()
    expect(lines).to_be_hidden()
    pieces = sample.get_by_role("region", name="Pieces that come free")
    line = pieces.get_by_role("button", name=re.compile("^Show line")).first
    line.click()
    listing = sample.get_by_role("listbox", name="Lines of the program")
    chosen = listing.get_by_role("option", selected=True)
    expect(chosen).to_have_attribute("aria-posinset", line.inner_text())


def test_worst_places_and_findings_are_stepped_both_ways(sample: Page) -> None:
    from playwright.sync_api import expect

    sample.get_by_role("button", name="Deviations", exact=True).click()
    card = sample.get_by_role("region", name="Deviations from the drawing")
    places = card.locator("li")
    card.get_by_role("button", name="Next worst place").click()
    card.get_by_role("button", name="Next worst place").click()
    expect(places.nth(1)).to_have_class(re.compile("chosen"))
    card.get_by_role("button", name="Worse place").click()
    expect(places.nth(0)).to_have_class(re.compile("chosen"))
    places.nth(2).locator("button").first.click()
    expect(places.nth(2)).to_have_class(re.compile("chosen"))
    show = card.get_by_role("button", name=re.compile("^Show line")).nth(1)
    wanted = re.search(r"\d+", show.inner_text())
    assert wanted
    show.click()
    listing = sample.get_by_role("listbox", name="Lines of the program")
    expect(listing.get_by_role("option", selected=True)).to_have_attribute(
        "aria-posinset", wanted.group()
    )
    sample.get_by_role("button", name="Deviations", exact=True).click()
    expect(card).to_be_hidden()
    findings = sample.get_by_role("region", name="Findings")
    findings.locator(".tally").click()
    expect(findings).to_contain_text("1 of")
    findings.get_by_role("button", name="Next finding").click()
    expect(findings).to_contain_text("2 of")
    findings.get_by_role("button", name="Finding before").click()
    expect(findings).to_contain_text("1 of")
    findings.get_by_role("button", name="Close findings").click()
    expect(findings.locator(".tally")).to_be_visible()


def test_what_the_drawing_says_is_shown_taken_and_taken_back(
    address: str, visit: Open, tmp_path: Path
) -> None:
    from playwright.sync_api import expect

    document = ezdxf.new("R2010", units=4)
    space = document.modelspace()
    space.add_lwpolyline([(0, 0), (40, 0), (40, 20), (0, 20)], close=True)
    space.add_text("MATERIAL: D2 58-60 HRC", height=2, dxfattribs={"insert": (0, -8)})
    document.saveas(tmp_path / "plate.dxf")
    page = visit(address)
    page.get_by_label("Drawings to add").set_input_files(tmp_path / "plate.dxf")
    says = page.get_by_role("region", name="The drawing says")
    says.get_by_role("button", name=re.compile("^Show .*58-60 HRC")).wait_for()
    fitted = camera(page)
    says.get_by_role("button", name=re.compile("^Show .*58-60 HRC")).click()
    assert camera(page)[1:] != pytest.approx(fitted[1:])
    expect(deeds.line(page, "Material")).to_contain_text("needed")
    says.get_by_role("button", name="Take", exact=True).first.click()
    expect(deeds.line(page, "Material")).to_contain_text("D2")
    page.get_by_role("button", name="Undo").click()
    expect(deeds.line(page, "Material")).to_contain_text("needed")
    page.get_by_role("button", name="Redo").click()
    expect(deeds.line(page, "Material")).to_contain_text("D2")
