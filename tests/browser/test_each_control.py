"""Controls of drawing, strip, cards and tables that no story of a person happens to use."""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING

import deeds
import ezdxf
import pytest
from test_contours_and_places import open_bore, pull
from test_savings import priced

if TYPE_CHECKING:
    from pathlib import Path

    from playwright.sync_api import Locator, Page, Route
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
    after = minute(sample)
    assert after > before
    strip.press("PageUp")
    assert minute(sample) == before
    strip.press("PageDown")
    assert minute(sample) == after
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
    document.layout("Layout1").add_text("FINISH RA 0.8", height=2, dxfattribs={"insert": (5, 5)})
    document.saveas(tmp_path / "plate.dxf")
    page = visit(address)
    page.get_by_label("Drawings to add").set_input_files(tmp_path / "plate.dxf")
    says = page.get_by_role("region", name="The drawing says")
    says.get_by_role("button", name=re.compile("^Show .*58-60 HRC")).wait_for()
    fitted = camera(page)
    says.get_by_role("button", name=re.compile("^Show .*58-60 HRC")).click()
    assert camera(page)[1:] != pytest.approx(fitted[1:])
    # The words stand where they are on the drawing, until they are let go.
    told = page.locator(".saying")
    expect(told).to_contain_text("58-60 HRC")
    ring, box = told.locator(".ring").bounding_box(), page.get_by_role("application").bounding_box()
    assert ring is not None
    assert box is not None
    at = world(page, (ring["x"] + ring["width"] / 2, ring["y"] + ring["height"] / 2))
    assert at == pytest.approx((0, -8), abs=1.5)
    # The drawing stays in sight beside it.
    top = page.evaluate(f"{VIEW}.camera.toScreen(20, 20)[1]")
    assert 0 < top < ring["y"] - box["y"]
    deeds.picture(page, "text-shown")
    told.get_by_role("button", name="Let go of the text").click()
    expect(told).to_have_count(0)
    # What stands on a paper sheet has no place on the drawing, and says so.
    on_paper = says.get_by_role("listitem").filter(has_text="FINISH RA 0.8")
    expect(on_paper).to_contain_text("on a paper sheet")
    expect(on_paper.get_by_role("button", name="show")).to_have_count(0)
    expect(deeds.line(page, "Material")).to_contain_text("needed")
    says.get_by_role("button", name="Take", exact=True).first.click()
    expect(deeds.line(page, "Material")).to_contain_text("D2")
    page.get_by_role("button", name="Undo").click()
    expect(deeds.line(page, "Material")).to_contain_text("needed")
    page.get_by_role("button", name="Redo").click()
    expect(deeds.line(page, "Material")).to_contain_text("D2")


def two_plates(page: Page, folder: Path) -> None:
    """Add two small plates side by side, one with a window on a layer of its own."""
    document = ezdxf.new("R2010", units=4)
    space = document.modelspace()
    for x in (0, 30):
        corners = [(x, 0), (x + 24, 0), (x + 24, 16), (x, 16)]
        space.add_lwpolyline(corners, close=True)
    window = [(6, 5), (14, 5), (14, 11), (6, 11)]
    space.add_lwpolyline(window, close=True, dxfattribs={"layer": "WINDOWS"})
    document.saveas(folder / "plates.dxf")
    page.get_by_label("Drawings to add").set_input_files(folder / "plates.dxf")
    deeds.write(page, "Material", "D2")
    deeds.write(page, "Height", "20 mm")
    computed(page)


def computed(page: Page) -> Locator:
    """Wait until what is shown belongs to what is asked."""
    price = page.locator("section[aria-label=Price][aria-busy=false]")
    price.locator(".each").filter(has_text=re.compile(r"\d\.\d\d|No price offered")).wait_for()
    return price


def ask(page: Page, title: str, text: str) -> None:
    """Write a line of the ledger, or choose in it; brought up where nothing is asked of it yet."""
    bring = page.get_by_role("button", name=f"+ {title.lower()}", exact=True)
    if bring.count():
        bring.click()
    else:
        deeds.line(page, title).get_by_role("button", name=title).first.click()
    field = page.get_by_label(title, exact=True)
    before = page.locator("section[aria-label=Price]").inner_text()
    if field.evaluate("one => one.tagName") == "SELECT":
        field.select_option(text)
    else:
        field.fill(text)
        field.press("Enter")
    page.wait_for_function(
        "was => document.querySelector('section[aria-label=Price]').innerText !== was", arg=before
    )
    computed(page)


def test_each_line_of_the_ledger_moves_price_answer_or_finding(
    address: str, visit: Open, tmp_path: Path
) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    two_plates(page, tmp_path)
    usual = deeds.price(page)
    for title, text, back, answer, moves in (
        ("Wire", "0.15 mm", "", "0.15 mm hard brass, as asked", 1),
        ("Recast layer", "5 µm", "", "leaves 3.5 µm", 1),
        ("Machine", "generic-inch", "", "Generic wire machine, inch", 0),
        ("Nozzles", "one-open", "", "", 1),
        ("Outside corners", "extend", "", "", 1),
        ("Insides", "always", "", "H1 cut away whole", 1),
        ("Threading", "always", "", "P1, P2 on a string", -1),
    ):
        ask(page, title, text)
        expect(deeds.line(page, title)).to_contain_text(answer)
        price = deeds.price(page)
        assert (price > usual) - (price < usual) == moves, (title, price, usual)
        if title == "Nozzles":
            findings = page.get_by_role("region", name="Findings")
            findings.locator(".tally").click()
            expect(findings).to_contain_text("of 3")
            findings.get_by_role("button", name="Close findings").click()
        ask(page, title, back)
        assert deeds.price(page) == usual, title
    # Read in inches the plates are 25 times as large: no machine has such travels.
    ask(page, "Drawing is in", "in")
    expect(computed(page)).to_contain_text("No price offered")
    expect(deeds.line(page, "Drawing is in")).to_contain_text("inches")


def test_a_contour_alone_has_its_recast_layer_its_inside_and_the_use_of_its_layer(
    address: str, visit: Open, tmp_path: Path
) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    two_plates(page, tmp_path)
    usual = deeds.price(page)
    page.get_by_role("button", name=re.compile("^H1 opening")).click()
    card = page.get_by_role("region", name="Contour H1")
    passes = page.locator("section[aria-label=Price] .facts")
    expect(passes).to_contain_text("1 pass")
    card.get_by_label("Recast layer of H1").fill("2 µm")
    card.get_by_label("Recast layer of H1").press("Enter")
    expect(passes).to_contain_text("5 passes")
    computed(page)
    assert deeds.price(page) > usual
    expect(deeds.line(page, "Contour H1")).to_contain_text("recast=2 µm")
    page.get_by_role("button", name="Undo").click()
    expect(passes).to_contain_text("1 pass")
    card.get_by_label("Inside").select_option("always")
    expect(deeds.line(page, "Inside of H1")).to_be_visible()
    expect(deeds.line(page, "Insides")).to_contain_text("H1 cut away whole")
    page.get_by_role("button", name="Undo").click()
    expect(deeds.line(page, "Inside of H1")).to_have_count(0)
    layer = card.get_by_label("layer WINDOWS")
    expect(layer).to_have_value("")
    layer.select_option("ignore")
    expect(page.get_by_role("button", name=re.compile("^H1 opening"))).to_have_count(0)
    expect(deeds.line(page, "Layer WINDOWS")).to_contain_text("leave out")
    computed(page)
    assert deeds.price(page) < usual


def test_the_stock_around_is_looked_at_where_no_stock_is_drawn(
    address: str, visit: Open, tmp_path: Path
) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    two_plates(page, tmp_path)
    starts = "kerfwrightView.scene.contours.map(c => c.start)"
    before = page.evaluate(starts)
    page.get_by_role("button", name="+ stock around", exact=True).click()
    page.get_by_label("Stock around", exact=True).fill("STOCK")
    page.get_by_label("Stock around", exact=True).press("Enter")
    expect(deeds.line(page, "Stock around").get_by_role("alert")).to_contain_text("Stock margin")
    assert page.evaluate(starts) == before
    page.get_by_label("Stock around", exact=True).fill("1 mm")
    page.get_by_label("Stock around", exact=True).press("Enter")
    expect(deeds.line(page, "Stock around")).to_contain_text("1 mm")
    page.wait_for_function(f"was => JSON.stringify({starts}) !== was", arg=json.dumps(before))


def test_a_change_that_was_stopped_is_taken_back_and_a_proof_is_tried_again(sample: Page) -> None:
    from playwright.sync_api import expect

    deeds.write(sample, "Height", "7 mm")
    expect(deeds.line(sample, "Height")).to_contain_text("7 mm")
    computed(sample)
    sample.get_by_text("Proved against the drawing.").wait_for()
    told: dict[str, object] = {"draft": None, "work": [], "stopped": ["draft"]}

    def as_said(route: Route) -> None:
        answer = route.fetch()
        found = answer.json()
        if route.request.method == "GET":
            found |= told
            if told.get("proof_fault"):
                found["card"]["is_proved"] = False
        route.fulfill(response=answer, json=found)

    # As the server says it when a draft was stopped before it was done.
    sample.route(re.compile(r"/api/jobs/[\w-]+$"), as_said)
    sample.reload()
    back = sample.get_by_role("button", name="Take the change back")
    back.wait_for()
    told.clear()
    back.click()
    expect(deeds.line(sample, "Height")).not_to_contain_text("7 mm")
    sample.get_by_text("Proved against the drawing.").wait_for()
    # And as it says it when a proof came to nothing.
    fault = {"code": "x", "message": "the proof ended", "where": "", "remedy": "", "line": ""}
    told.update(proof_fault=fault, verdict=None, work=[])
    sample.reload()
    program = sample.locator("section[aria-labelledby=program]")
    expect(program.get_by_role("alert")).to_contain_text("The proof ended")
    again = program.get_by_role("button", name="Try again")
    told.clear()
    with sample.expect_response(lambda answer: answer.url.endswith("/proof")) as begun:
        again.click()
    assert begun.value.request.method == "POST"
    assert begun.value.status == 202
    expect(program).to_contain_text("Proved against the drawing.")


def test_a_refused_place_is_told_clear_of_the_card_until_it_is_understood(sample: Page) -> None:
    from playwright.sync_api import expect

    open_bore(sample)
    grip = sample.get_by_role("button", name=re.compile("^Start hole of H7"))
    pull(sample, grip, 0, -320)
    kept = sample.locator(".kept")
    expect(kept).to_contain_text("stays where it was")
    deeds.picture(sample, "refused-clear")
    told, card = kept.bounding_box(), sample.get_by_role("region", name="Contour H7").bounding_box()
    assert told is not None
    assert card is not None
    assert told["x"] >= card["x"] + card["width"]
    kept.get_by_role("button", name="Understood").click()
    expect(kept).to_have_count(0)


def test_a_saving_is_applied_and_a_dot_of_the_front_is_asked_for(address: str, visit: Open) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    part = priced(page)
    # A stack is best for another order than the one whose price is shown.
    rows = part.locator("li").filter(has_not_text="for an order of")
    apply = rows.get_by_role("button", name="Apply").first
    apply.wait_for()
    before = deeds.price(page)
    apply.click()
    page.locator(".moved.less").filter(has_text="less a piece").wait_for()
    assert deeds.price(page) < before
    page.get_by_role("button", name="Undo").click()
    computed(page)
    part.get_by_role("button", name="Price each demand").or_(part.locator("figure g")).first.click()
    dots = part.locator("figure g[role=button]")
    dots.first.wait_for()
    other = part.locator("figure g[role=button]:not(.asked)").first
    words = other.get_attribute("aria-label") or ""
    other.click()
    expect(other).to_have_attribute("aria-pressed", "true")
    # It stays chosen where the pointer is gone.
    page.mouse.move(5, 5)
    expect(part.locator("figcaption")).to_contain_text(words)
    each = re.search(r"([\d,]+\.\d\d) each", words)
    assert each
    part.get_by_role("button", name="Ask for this").click()
    expect(page.locator("section[aria-label=Price] .each")).to_contain_text(each[1])
