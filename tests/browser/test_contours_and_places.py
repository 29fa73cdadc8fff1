"""Several contours at once, roles, and start holes, lead-ins and tabs moved on the drawing."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING

import deeds
import pytest
from tests.soak import some

if TYPE_CHECKING:
    from playwright.sync_api import Locator, Page
    from serving import Open


def expect_picked(page: Page, *ids: str) -> None:
    """Wait until the address says that just these contours are picked."""
    from playwright.sync_api import expect

    expect(page).to_have_url(re.compile("/" + "(%2C|,)".join(ids) + "$"))


def centre(grip: Locator) -> tuple[float, float]:
    box = grip.bounding_box()
    assert box is not None
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def pull(page: Page, grip: Locator, dx: float, dy: float, *, drop: bool = True) -> None:
    # The grips follow the drawing, which is drawn at the next frame.
    page.evaluate("new Promise(r => requestAnimationFrame(() => requestAnimationFrame(r)))")
    x, y = centre(grip)
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + dx / 2, y + dy / 2)
    page.mouse.move(x + dx, y + dy)
    page.locator(".tip").wait_for()
    if drop:
        page.mouse.up()


@pytest.fixture
def sample(address: str, visit: Open) -> Page:
    page = visit(address)
    deeds.open_sample(page)
    return page


def open_bore(page: Page) -> None:
    """Pick the bore in the middle of the wheel and bring it near."""
    page.get_by_role("button", name=re.compile("^H7 opening")).click()
    page.get_by_role("region", name="Contour H7").wait_for()
    zoom = page.get_by_role("button", name="Zoom in")
    for _ in range(6):
        zoom.click()


def test_several_contours_are_asked_something_at_once(sample: Page) -> None:
    from playwright.sync_api import expect

    page = sample
    page.get_by_role("button", name=re.compile("^H3 opening")).click()
    page.get_by_role("button", name="same size as H3").click()
    card = page.get_by_role("region", name="Selection")
    expect(card).to_contain_text("6 contours")
    expect_picked(page, "H1", "H2", "H3", "H4", "H5", "H6")
    before = deeds.price(page)
    card.get_by_label("Finish").fill("Ra 3.2 µm")
    card.get_by_label("Finish").press("Enter")
    expect(deeds.line(page, "Contours H1, H2, H3, H4, H5, H6")).to_contain_text("Ra 3.2 µm")
    # Only one of them asks more: the others keep what they ask, and the card says that they differ.
    card.get_by_label("Tolerance").fill("±.001")
    card.get_by_label("Tolerance").press("Enter")
    expect(card.get_by_role("alert")).to_contain_text("has no unit")
    card.get_by_label("Tolerance").fill("±20 µm")
    card.get_by_label("Tolerance").press("Enter")
    expect(page.locator(".moved")).to_contain_text("less a piece")
    assert deeds.price(page) < before
    deeds.picture(page, "selection")
    page.get_by_role("button", name=re.compile("^H2 opening")).click()
    alone = page.get_by_role("region", name="Contour H2")
    expect(alone.get_by_label("Tolerance")).to_have_value("±20 µm")
    alone.get_by_label("Finish").fill("N4")
    alone.get_by_label("Finish").press("Enter")
    expect(deeds.line(page, "Contour H2")).to_contain_text("tolerance=±20 µm, finish=N4")
    page.reload()
    expect(page.get_by_role("region", name="Contour H2").get_by_label("Finish")).to_have_value("N4")


def test_contours_are_picked_by_click_box_checkbox_and_key(sample: Page) -> None:
    from playwright.sync_api import expect

    page = sample
    page.get_by_role("checkbox", name="Pick H1").check()
    page.get_by_role("checkbox", name="Pick H4").check()
    expect_picked(page, "H1", "H4")
    page.get_by_role("button", name=re.compile("^H6 opening")).click(modifiers=["Control"])
    expect_picked(page, "H1", "H4", "H6")
    drawing = page.get_by_role("application")
    box = drawing.bounding_box()
    assert box is not None

    def bore() -> tuple[float, float]:
        """Return where the middle of the wheel is on the drawing: a card pushes it aside."""
        x, y = page.evaluate("kerfwrightView.camera.toScreen(0, 0)")
        return x, y

    x, y = bore()
    drawing.click(position={"x": x + 1, "y": y + 1}, modifiers=["Shift"])
    expect_picked(page, "H1", "H4", "H6", "H7")
    # A box around the bore alone, pulled with Shift.
    page.keyboard.press("Escape")
    drawing.focus()
    drawing.press("Escape")
    page.get_by_role("region", name="Selection").wait_for(state="detached")
    x, y = box["x"] + bore()[0], box["y"] + bore()[1]
    page.keyboard.down("Shift")
    page.mouse.move(x - 70, y - 70)
    page.mouse.down()
    page.mouse.move(x + 70, y + 70, steps=4)
    page.mouse.up()
    page.keyboard.up("Shift")
    expect_picked(page, "H7")
    # The same with the button, for hands without a Shift key: the whole drawing.
    page.get_by_role("button", name="Box", exact=True).click()
    page.mouse.move(box["x"] + 4, box["y"] + box["height"] - 4)
    page.mouse.down()
    page.mouse.move(box["x"] + box["width"] - 60, box["y"] + 4, steps=4)
    page.mouse.up()
    expect_picked(page, "P1", *(f"H{n}" for n in range(1, 8)))
    drawing.press("Escape")
    drawing.press("Control+a")
    expect(page.get_by_role("region", name="Selection")).to_contain_text("8 contours")


def test_a_role_is_a_persons_word_and_what_follows_is_said(sample: Page) -> None:
    from playwright.sync_api import expect

    page = sample
    page.get_by_role("button", name=re.compile("^H7 opening")).click()
    card = page.get_by_role("region", name="Contour H7")
    expect(card.get_by_label("Role")).to_have_value("")
    card.get_by_label("Role").select_option("not-cut")
    expect(card).to_contain_text("your word")
    expect(page.get_by_role("row").filter(has_text="H7")).to_contain_text("not to be cut")
    expect(deeds.line(page, "Role of H7")).to_contain_text("not cut, but a wall")
    # Less work is no saving: what is left out is said, and nothing is praised.
    expect(page.locator(".moved:not(.less)")).to_contain_text("H7 no longer in the price")
    deeds.picture(page, "left-out")
    page.get_by_role("button", name="Undo").click()
    expect(card.get_by_label("Role")).to_have_value("")
    # What lies in a reference line follows; the line itself stays in reach.
    page.get_by_role("button", name=re.compile("^P1 outline")).click()
    page.get_by_role("region", name="Contour P1").get_by_label("Role").select_option("reference")
    expect(page.get_by_role("button", name=re.compile("^H3 outline"))).to_be_visible()
    deeds.picture(page, "roles")
    page.get_by_role("region", name="Contour P1").get_by_label("Role").select_option("")
    expect(page.get_by_role("button", name=re.compile("^H3 opening"))).to_be_visible()


def test_a_start_hole_is_pulled_kept_and_put_back(sample: Page) -> None:
    from playwright.sync_api import expect

    page = sample
    open_bore(page)
    card = page.get_by_role("region", name="Contour H7")
    first = card.get_by_label("Start hole").input_value()
    grip = page.get_by_role("button", name=re.compile("^Start hole of H7"))
    pull(page, grip, -12, -10, drop=False)
    expect(page.locator(".tip")).to_contain_text("may stand here")
    deeds.picture(page, "pulling-a-start")
    page.mouse.up()
    expect(card).to_contain_text("your choice")
    kept = card.get_by_label("Start hole").input_value()
    assert kept != first
    expect(deeds.line(page, "Start of H7")).to_be_visible()
    page.get_by_text("Proved against the drawing.").wait_for()
    page.reload()
    expect(card.get_by_label("Start hole")).to_have_value(kept)
    card.get_by_role("button", name="Back to the planner’s").click()
    expect(card.get_by_label("Start hole")).to_have_value(first)
    expect(card).not_to_contain_text("your choice")


def test_a_refused_place_is_named_at_the_pointer_and_the_old_one_stays(sample: Page) -> None:
    from playwright.sync_api import expect

    page = sample
    open_bore(page)
    card = page.get_by_role("region", name="Contour H7")
    first = card.get_by_label("Start hole").input_value()
    grip = page.get_by_role("button", name=re.compile("^Start hole of H7"))
    pull(page, grip, 0, -320, drop=False)
    expect(page.locator(".tip.refusal")).to_contain_text("not in the waste")
    deeds.picture(page, "refused-place")
    page.mouse.up()
    expect(page.locator(".kept")).to_contain_text("Start hole stays where it was: not in the waste")
    expect(card.get_by_label("Start hole")).to_have_value(first)
    expect(card).not_to_contain_text("your choice")


def test_lead_in_and_tab_follow_each_other_until_both_are_placed(sample: Page) -> None:
    from playwright.sync_api import expect

    page = sample
    open_bore(page)
    card = page.get_by_role("region", name="Contour H7")
    lead, tab = (card.get_by_label(name, exact=True) for name in ("Lead-in", "Tab"))
    before = lead.input_value(), tab.input_value()
    pull(page, page.get_by_role("button", name=re.compile("^Lead-in of H7")), -260, 120, drop=False)
    # What is moved is said, not the start hole that stays.
    expect(page.locator(".tip")).to_contain_text(re.compile(r"lead-in \d+\.\d{3} mm long"))
    expect(page.locator(".tip")).not_to_contain_text("Ø")
    page.mouse.up()
    expect(deeds.line(page, "Lead-in of H7")).to_be_visible()
    expect(lead).not_to_have_value(before[0])
    # Far off the wall with the hand, it slid along it: the bore's radius stays.
    found = re.findall(r"-?\d+\.\d+", before[0]), re.findall(r"-?\d+\.\d+", lead.input_value())
    radii = [math.hypot(*map(float, one)) for one in found]
    assert radii[1] == pytest.approx(radii[0], abs=0.003)
    expect(tab).not_to_have_value(before[1])
    kept = lead.input_value()
    # The lead-in is placed: the tab goes alone, and each keeps its line.
    x, y = (float(v) for v in re.findall(r"-?\d+\.\d+", kept))
    tab.fill(f"{-x} mm, {-y} mm")
    tab.press("Enter")
    expect(deeds.line(page, "Tab of H7")).to_be_visible()
    expect(deeds.line(page, "Lead-in of H7")).to_be_visible()
    expect(lead).to_have_value(kept)
    page.get_by_text("Proved against the drawing.").wait_for()
    pull(page, page.get_by_role("button", name=re.compile("^Tab of H7,")), 12, 12, drop=False)
    expect(page.locator(".tip.good, .tip.warning")).to_be_visible()
    expect(page.locator(".tip")).not_to_contain_text("Ø")
    deeds.picture(page, "tab-apart")
    page.mouse.up()
    expect(lead).to_have_value(kept)
    page.get_by_text("Proved against the drawing.").wait_for()
    # Onto the lead-in it cannot go, and that is said at the place.
    tab.fill(kept)
    tab.press("Enter")
    expect(card.get_by_role("alert")).to_contain_text("lead-in to the end of the tab")
    expect(lead).to_have_value(kept)


def test_a_tab_is_made_wider_by_its_end_and_by_its_field(sample: Page) -> None:
    from playwright.sync_api import expect

    page = sample
    open_bore(page)
    card = page.get_by_role("region", name="Contour H7")
    width = card.get_by_label("Tab width")
    first = float(width.input_value().split()[0])
    grip = page.get_by_role("button", name=re.compile("^Tab width of H7"))
    pull(page, grip, 8, 8, drop=False)
    expect(page.locator(".tip")).to_contain_text(re.compile("wide|usual"))
    deeds.picture(page, "tab-width")
    page.mouse.up()
    expect(deeds.line(page, "Tab width of H7")).to_be_visible()
    assert float(width.input_value().split()[0]) != first
    width.fill("0.001 mm")
    width.press("Enter")
    expect(card.get_by_role("alert")).to_contain_text("tab strength")
    width.fill("0.06 in")
    width.press("Enter")
    expect(width).to_have_value("1.524 mm")
    page.get_by_text("Proved against the drawing.").wait_for()
    page.reload()
    expect(width).to_have_value("1.524 mm")


def test_a_card_leaves_the_whole_drawing_in_sight(sample: Page) -> None:
    page = sample
    page.get_by_role("button", name=re.compile("^H7 opening")).click()
    card = page.get_by_role("region", name="Contour H7").bounding_box()
    box = page.get_by_role("application").bounding_box()
    assert card is not None
    assert box is not None
    # The wheel's left and right teeth, 32 mm from its middle.
    left, right = (
        box["x"] + page.evaluate(f"kerfwrightView.camera.toScreen({x}, 0)[0]") for x in (-32, 32)
    )
    assert left > card["x"] + card["width"]
    assert right < box["x"] + box["width"]


def test_places_move_by_arrow_keys_and_are_typed_in_either_unit(sample: Page) -> None:
    from playwright.sync_api import expect

    page = sample
    open_bore(page)
    card = page.get_by_role("region", name="Contour H7")
    field = card.get_by_label("Start hole")
    x, y = (float(v) for v in re.findall(r"-?\d+\.\d+", field.input_value()))
    grip = page.get_by_role("button", name=re.compile("^Start hole of H7"))
    grip.focus()
    grip.press("ArrowLeft")
    grip.press("ArrowLeft")
    grip.press("ArrowUp")
    expect(field).to_have_value(f"{x - 0.2:.3f} mm, {y + 0.1:.3f} mm")
    grip.press("Shift+ArrowLeft")
    expect(field).to_have_value(f"{x - 1.2:.3f} mm, {y + 0.1:.3f} mm")
    # On the wall, steps aside from it do not add up: each is brought back onto it.
    lead = page.get_by_role("button", name=re.compile("^Lead-in of H7,"))
    before = card.get_by_label("Lead-in").input_value()
    lead.focus()
    for _ in range(2):
        lead.press("Shift+ArrowLeft")
        page.locator(".tip.good, .tip.warning").wait_for()
    expect(card.get_by_label("Lead-in")).not_to_have_value(before)
    expect(page.locator(".kept")).to_have_count(0)
    deeds.line(page, "Lead-in of H7").wait_for()
    page.get_by_role("button", name="Undo").click()
    expect(card.get_by_label("Lead-in")).to_have_value(before)
    field.fill("0.02in -0.03in")
    field.press("Enter")
    expect(field).to_have_value("0.508 mm, -0.762 mm")
    field.fill("1, 2")
    field.press("Enter")
    expect(card.get_by_role("alert")).to_contain_text("no unit")
    field.fill("50 mm, 2 mm")
    field.press("Enter")
    expect(card.get_by_role("alert")).to_contain_text("not in the waste")
    expect(deeds.line(page, "Start of H7")).to_contain_text("0.508 mm, -0.762 mm")


def test_the_limits_follow_the_hand(sample: Page) -> None:
    page = sample
    open_bore(page)
    job = re.search(r"#/job/([^/]+)", page.url)
    assert job is not None
    took = page.evaluate(
        """async id => {
          const times = [];
          for (let k = 0; k < 20; k++) {
            const begin = performance.now();
            await fetch(`/api/jobs/${id}/places`, {method: 'POST',
              headers: {'Content-Type': 'application/json'},
              body: JSON.stringify({contour: 'H7', what: 'start', x_mm: k / 20, y_mm: 0})});
            times.push(performance.now() - begin);
          }
          return times.slice(2).sort((a, b) => a - b);
        }""",
        job.group(1),
    )
    # The bound only catches a place for which everything is planned anew.
    assert took[9] < 300


def test_a_change_shows_its_price(sample: Page) -> None:
    from playwright.sync_api import expect

    page = sample
    page.get_by_text("Proved against the drawing.").wait_for()
    number = page.get_by_label("Price", exact=True).locator(".each .number")
    prices = []
    # By turns coarser and finer than before, so that each moves the price.
    for text in ("±15 µm", "±4 µm", "±16 µm", "±6 µm", "±14 µm"):
        before = number.inner_text()
        deeds.line(page, "Tolerance").get_by_role("button", name="Tolerance").first.click()
        page.get_by_label("Tolerance", exact=True).fill(text)
        page.get_by_label("Tolerance", exact=True).press("Enter")
        expect(number).not_to_have_text(before, use_inner_text=True)
        prices.append(deeds.price(page))
        page.locator(".text", has_text=text).wait_for()
    # A finer wall costs more.
    assert max(prices[0::2]) < min(prices[1::2])


def test_a_tablet_picks_zooms_and_pulls_by_touch(address: str, visit: Open) -> None:
    from playwright.sync_api import expect

    page = visit(address, viewport={"width": 820, "height": 1180}, has_touch=True, is_mobile=True)
    deeds.open_sample(page)
    page.get_by_text("Proved against the drawing.").wait_for()
    drawing = page.get_by_role("application")
    box = drawing.bounding_box()
    assert box is not None
    page.evaluate("new Promise(r => requestAnimationFrame(() => requestAnimationFrame(r)))")
    x, y = page.evaluate("kerfwrightView.camera.toScreen(0, 0)")
    page.touchscreen.tap(box["x"] + x + 1, box["y"] + y + 1)
    card = page.get_by_role("region", name="Contour H7")
    expect(card).to_be_visible()
    # The lines that cut there wait folded: nothing lies over what was touched.
    lines = page.get_by_role("region", name="Lines that cut this place").locator(".fold")
    expect(lines).to_have_attribute("aria-expanded", "false")
    for _ in range(5):
        page.get_by_role("button", name="Zoom in").tap()
    first = card.get_by_label("Start hole").input_value()
    grip = page.get_by_role("button", name=re.compile("^Start hole of H7"))
    page.evaluate("new Promise(r => requestAnimationFrame(() => requestAnimationFrame(r)))")
    x, y = centre(grip)
    size = grip.bounding_box()
    assert size is not None
    assert min(size["width"], size["height"]) >= 44
    session = page.context.new_cdp_session(page)

    def touch(kind: str, *at: tuple[float, float]) -> None:
        points = [{"x": a, "y": b} for a, b in at]
        session.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    touch("touchStart", (x, y))
    for k in range(1, 5):
        touch("touchMove", (x - 3 * k, y - 2 * k))
    page.locator(".tip.good").wait_for()
    touch("touchEnd")
    expect(card).to_contain_text("your choice")
    expect(card.get_by_label("Start hole")).not_to_have_value(first)
    deeds.picture(page, "tablet")
    # Two fingers zoom the drawing.
    scale = "kerfwrightView.camera.scale"
    before = page.evaluate(scale)
    cx, cy = box["x"] + box["width"] * 0.75, box["y"] + box["height"] * 0.75
    touch("touchStart", (cx - 20, cy), (cx + 20, cy))
    touch("touchMove", (cx - 50, cy), (cx + 50, cy))
    touch("touchEnd")
    assert page.evaluate(scale) > 1.5 * before


@pytest.mark.parametrize("theme", some(["dark", "light"], 2))
def test_cards_and_grips_break_no_rule_of_access(address: str, visit: Open, theme: str) -> None:
    from test_access import violations

    page = visit(address, color_scheme=theme)
    deeds.open_sample(page)
    open_bore(page)
    grip = page.get_by_role("button", name=re.compile("^Start hole of H7"))
    pull(page, grip, 0, -320)
    page.locator(".kept").wait_for()
    assert violations(page) == []
    page.get_by_role("button", name="all openings").click()
    page.get_by_role("region", name="Selection").wait_for()
    assert violations(page) == []
