"""What cards leave of the drawing, and what two windows of one job show of a change."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import deeds
import ezdxf
from test_cut import opened

if TYPE_CHECKING:
    from pathlib import Path

    from playwright.sync_api import Page
    from serving import Open

FREE = """() => {
  const host = document.querySelector('[aria-label="Drawing"]').getBoundingClientRect();
  const cards = [...document.querySelectorAll('[aria-label="Drawing"] .card')].map(
    c => c.getBoundingClientRect());
  let free = 0, all = 0;
  for (let x = host.left; x < host.right; x += 5) for (let y = host.top; y < host.bottom; y += 5) {
    all++;
    if (!cards.some(c => x >= c.left && x < c.right && y >= c.top && y < c.bottom)) free++;
  }
  return free / all;
}"""
COVERED = """id => {
  const view = window.kerfwrightView, g = view.scene.geometry;
  const host = document.querySelector('[aria-label="Drawing"]').getBoundingClientRect();
  const b = g.boxOf(view.scene.contours.findIndex(c => c.id === id));
  const [x0, y1] = view.camera.toScreen(b.x0 + g.originX, b.y0 + g.originY);
  const [x1, y0] = view.camera.toScreen(b.x1 + g.originX, b.y1 + g.originY);
  const cards = [...document.querySelectorAll('[aria-label="Drawing"] .card')].map(
    c => c.getBoundingClientRect());
  return x0 < 0 || y0 < 0 || x1 > host.width || y1 > host.height || cards.some(c =>
    c.left - host.left < x1 && x0 < c.right - host.left
    && c.top - host.top < y1 && y0 < c.bottom - host.top);
}"""
ON = """id => { const view = window.kerfwrightView, g = view.scene.geometry;
  const at = view.scene.contours.findIndex(c => c.id === id), b = g.boxOf(at);
  const [x0, y1] = view.camera.toScreen(b.x0 + g.originX, b.y0 + g.originY);
  const [x1, y0] = view.camera.toScreen(b.x1 + g.originX, b.y1 + g.originY);
  for (let y = (y0 + y1) / 2; y < y1; y++) for (let x = x0 - 2; x < x1 + 2; x++)
    if (view.pick([x, y], 1) === at) return {x, y}; }"""


def select(page: Page, contour: str) -> None:
    page.get_by_role("button", name=f"{contour} opening").click()
    page.get_by_role("region", name=f"Contour {contour}").wait_for()


def settle(page: Page) -> None:
    page.evaluate(
        "() => new Promise(r => requestAnimationFrame(() => requestAnimationFrame(() => r(0))))"
    )


def test_cards_leave_half_of_the_drawing_and_what_they_speak_of(address: str, visit: Open) -> None:
    page = opened(visit, address)
    page.get_by_role("button", name="Deviations", exact=True).click()
    page.get_by_role("region", name="Deviations from the drawing").wait_for()
    page.get_by_role("application").click(position=page.evaluate(ON, "H2"))
    page.get_by_role("region", name="Contour H2").wait_for()
    page.get_by_role("region", name="Lines that cut this place").wait_for()
    settle(page)
    deeds.picture(page, "room")
    assert page.evaluate(FREE) > 0.5
    # Without the deviations there is room for the whole list of what cuts.
    switch = page.get_by_role("button", name="Deviations", exact=True)
    switch.click()
    page.get_by_role("button", name="H2 rough, line").wait_for()
    settle(page)
    assert page.evaluate(FREE) > 0.5
    switch.click()
    page.get_by_role("region", name="Deviations from the drawing").wait_for()
    page.get_by_role("button", name="Fit", exact=True).click()
    settle(page)
    for contour in ("H1", "H2", "P1"):
        assert not page.evaluate(COVERED, contour), contour
    # Zoomed in, what is picked comes out from under the cards.
    page.evaluate(
        """() => { const view = window.kerfwrightView, g = view.scene.geometry;
          view.zoom(1.6); const b = g.boxOf(view.scene.contours.findIndex(c => c.id === 'H3'));
          const [x, y] = view.camera.toScreen(b.x0 + g.originX, b.y0 + g.originY);
          view.camera.pan(120 - x, 120 - y); view.refresh(true); }"""
    )
    settle(page)
    assert page.evaluate(COVERED, "H3")
    select(page, "H3")
    settle(page)
    assert not page.evaluate(COVERED, "H3")


STARTS = """() => { const { scene, camera } = window.kerfwrightView;
  return scene.contours.filter(c => c.start).map(c => camera.toScreen(c.start[0], c.start[1]))
    .filter(([x, y]) => Math.min(x, y, camera.width - x, camera.height - y) < 40); }"""
HIDDEN = """() => { const now = document.querySelector('.now');
  return Math.max(now.scrollWidth - now.clientWidth, now.scrollHeight - now.clientHeight); }"""


def test_what_is_picked_keeps_its_size_and_words_and_marks_stand_whole(
    tmp_path: Path, address: str, visit: Open
) -> None:
    from playwright.sync_api import expect

    document = ezdxf.new("R2010", units=4)
    space = document.modelspace()
    space.add_lwpolyline([(0, 0), (100, 0), (100, 75), (0, 75)], close=True)
    for x in (25, 75):
        space.add_circle((x, 25), 6)
    # What is left out is a finding, and so there is a card of findings.
    space.add_line((140, 10), (150, 20))
    document.saveas(tmp_path / "plate.dxf")
    page = visit(address)
    page.get_by_label("Drawings to add").set_input_files(tmp_path / "plate.dxf")
    deeds.write(page, "Material", "D2")
    deeds.write(page, "Height", "25 mm")
    page.get_by_role("button", name="Deviations", exact=True).click()
    page.get_by_role("region", name="Deviations from the drawing").wait_for()
    page.locator(".tally").click()
    page.get_by_role("button", name="Fit", exact=True).click()
    settle(page)
    assert page.evaluate(STARTS) == []
    before = page.evaluate("window.kerfwrightView.camera.scale")
    page.get_by_role("application").click(position=page.evaluate(ON, "H1"))
    page.get_by_role("region", name="Contour H1").wait_for()
    page.get_by_role("region", name="Lines that cut this place").wait_for()
    settle(page)
    # Beside four cards a slit is left: fitted into it, the part had half its size.
    assert page.evaluate("window.kerfwrightView.camera.scale") > 0.8 * before
    slider = page.get_by_role("slider", name="Minute of the job")
    for _ in range(9):
        slider.press("PageDown")
        if "hands out" in page.locator(".now").inner_text():
            break
    expect(page.locator(".now")).to_contain_text("hands out, covers shut, then start")
    assert page.evaluate(HIDDEN) <= 1
    # The word that a line shows is taken.
    page.locator("[data-line=wire]").click()
    for text in ("0.2 mm", "free"):
        page.get_by_label("Wire", exact=True).fill(text)
        page.get_by_label("Wire", exact=True).press("Enter")
        line = deeds.line(page, "Wire").get_by_role("button", name="Wire").first
        expect(line).to_contain_text(text)
        if text != "free":
            line.click()


def test_the_column_of_prices_stays_in_sight_while_the_proof_runs(
    address: str, visit: Open
) -> None:
    from playwright.sync_api import expect

    page = opened(visit, address)
    page.get_by_role("button", name="in", exact=True).click()

    def unproved(route: Any) -> None:
        answer = route.fetch()
        route.fulfill(response=answer, json=answer.json() | {"verdict": None, "work": []})

    page.route("**/api/jobs/*", unproved)
    page.reload()
    table = page.locator("section[aria-labelledby=contours] .rows")
    expect(table).to_contain_text("≈")
    assert table.evaluate("one => one.scrollWidth - one.clientWidth") <= 0


def test_a_move_of_before_goes_when_another_window_changes_the_job(
    address: str, visit: Open
) -> None:
    from playwright.sync_api import expect

    page = opened(visit, address)
    deeds.write(page, "Height", "9 mm")
    expect(page.locator(".moved")).to_contain_text("a piece")
    before = deeds.price(page)
    job = page.url.rpartition("/")[2].partition("?")[0]
    asks = page.context.request
    revision = asks.get(f"/api/jobs/{job}").json()["revision"]
    answer = asks.patch(
        f"/api/jobs/{job}",
        data={"lines": {"height": "14 mm"}},
        headers={"If-Match": f'"{revision}"'},
    )
    assert answer.ok, answer.text()
    expect(page.locator(".each .number")).not_to_contain_text(f"{before:.2f}")
    expect(page.locator("section[aria-label=Price]")).to_have_attribute("aria-busy", "false")
    expect(page.locator(".moved")).not_to_contain_text("a piece")


def test_escape_closes_the_findings_from_anywhere(address: str, visit: Open) -> None:
    from playwright.sync_api import expect

    page = opened(visit, address)
    card = page.get_by_role("region", name="Findings")
    card.get_by_role("button").first.click()
    expect(card.get_by_role("button", name="Close findings")).to_be_visible()
    page.get_by_role("button", name="Fit", exact=True).focus()
    page.keyboard.press("Escape")
    expect(card.get_by_role("button", name="Close findings")).to_have_count(0)


def test_days_that_no_quote_is_valid_for_are_refused_at_their_field(
    address: str, visit: Open
) -> None:
    from playwright.sync_api import expect

    page = opened(visit, address)
    job = page.url.rpartition("/")[2].partition("?")[0]
    page.evaluate("job => { location.hash = `#/papers/${job}`; }", job)
    field = page.get_by_label("Valid for, days")
    field.fill("-3")
    field.blur()
    expect(page.locator("#quote-valid_days-said")).to_contain_text("not valid for -3 days")
    expect(field).to_have_attribute("aria-invalid", "true")
    field.fill("14")
    field.blur()
    expect(page.locator("#quote-valid_days-said")).to_be_empty()
