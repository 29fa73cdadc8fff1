"""The cut on the page: kerf, loose pieces, deviations; places and lines that find each other."""

from __future__ import annotations

import itertools
import re
from typing import TYPE_CHECKING

import deeds
import pytest
from test_access import SIZES, looks, violations

if TYPE_CHECKING:
    from playwright.sync_api import Locator, Page
    from serving import Open


def opened(visit: Open, address: str, **options: object) -> Page:
    """Open the sample and wait until its program was read back."""
    page = visit(address, **options)
    deeds.open_sample(page)
    page.get_by_text("Proved against the drawing.").wait_for()
    page.get_by_role("button", name="Deviations", exact=True).wait_for()
    page.get_by_role("region", name="Pieces that come free").wait_for()
    return page


def minute(page: Page) -> int:
    slider = page.get_by_role("slider", name="Minute of the job")
    return int(slider.get_attribute("aria-valuenow") or -1)


def ink(page: Page, sheet: int) -> int:
    """Return how many points of a layer of the drawing are painted, once it paints no more."""
    painted: int = page.evaluate(
        """async sheet => {
        const frame = () => new Promise(r => requestAnimationFrame(r));
        const count = () => { const canvas = window.kerfwrightView.sheets[sheet].canvas;
          const d = canvas.getContext('2d').getImageData(0, 0, canvas.width, canvas.height).data;
          let n = 0; for (let i = 3; i < d.length; i += 4) if (d[i]) n++; return n; };
        let n = -1;
        for (let same = 0; same < 4; ) {
          for (let k = 0; k < 4; k++) await frame();
          const now = count(); same = now === n ? same + 1 : 0; n = now;
        }
        return n; }""",
        sheet,
    )
    return painted


def pieces(page: Page) -> Locator:
    return page.get_by_role("region", name="Pieces that come free")


def chosen_line(page: Page) -> Locator:
    listing = page.get_by_role("listbox", name="Lines of the program")
    return listing.get_by_role("option", selected=True)


def test_the_kerf_grows_with_the_minute_and_shrinks_when_pulled_back(
    address: str, visit: Open
) -> None:
    page = opened(visit, address)
    slider = page.get_by_role("slider", name="Minute of the job")
    assert ink(page, 0) == 0
    slider.press("End")
    whole = ink(page, 0)
    for _ in range(120):
        slider.press("ArrowLeft")
    part = ink(page, 0)
    assert 0 < part < whole
    slider.press("Home")
    assert ink(page, 0) == 0


def test_a_piece_is_loose_from_its_minute_on(address: str, visit: Open) -> None:
    from playwright.sync_api import expect

    page = opened(visit, address)
    rows = pieces(page).get_by_role("row")
    # The sample has seven openings and the wheel itself.
    expect(rows).to_have_count(9)
    expect(rows.nth(1)).to_contain_text("yes")
    page.get_by_role("button", name=re.compile("^H1 show")).click()
    at = minute(page)
    assert at > 100
    loose = ink(page, 0)
    # Each is taken out at the stop after it came free: no skim runs round a loose slug.
    begins = page.evaluate(
        """() => {
        const {pieces, stretches} = window.kerfwrightView.sheets[0].layer;
        const layer = window.kerfwrightView.sheets[0].layer;
        return pieces.filter(p => p.contour_id !== 'P1').map(p => [layer.outAt(p), Math.min(
          ...stretches.filter(s => s.kind === 'skim' && s.contour_id === p.contour_id
            && s.begin_min > p.minute).map(s => s.begin_min))]);
        }"""
    )
    assert len(begins) == 7
    assert all(at < out <= skim + 1e-6 for out, skim in begins)
    slider = page.get_by_role("slider", name="Minute of the job")
    slider.press("ArrowLeft")
    assert ink(page, 0) < loose
    deeds.picture(page, "loose")
    page.get_by_role("button", name="in", exact=True).click()
    expect(rows.nth(1)).to_contain_text(" oz")


def test_a_place_on_the_drawing_finds_its_lines_and_a_line_its_place(
    address: str, visit: Open
) -> None:
    from playwright.sync_api import expect

    page = opened(visit, address)
    drawing = page.get_by_role("application")
    box = drawing.bounding_box()
    assert box is not None
    # To the left flank of opening H7 in the middle of the wheel, near enough to tell passes apart.
    page.evaluate("window.kerfwrightView.goTo(-4, 0)")
    drawing.click(position={"x": box["width"] / 2 + 2, "y": box["height"] / 2})
    card = page.get_by_role("region", name="Lines that cut this place")
    expect(card.get_by_role("button", name=re.compile("^H7 rough, line"))).to_be_visible()
    expect(card.get_by_role("button", name=re.compile("^H7 skim"))).to_have_count(3)
    skim = card.get_by_role("button", name=re.compile("^H7 skim 3"))
    said = re.search(r"line (\d+), at", skim.inner_text())
    assert said
    # The program's text may arrive after the places of its lines.
    expect(skim.locator("code")).not_to_be_empty()
    code = skim.locator("code").inner_text()
    skim.click()
    chosen = chosen_line(page)
    expect(chosen).to_contain_text(code)
    assert chosen.get_attribute("aria-posinset") == said.group(1)
    late = minute(page)
    # The line is the program's own.
    with page.expect_download() as download:
        page.get_by_role("link", name="Download program").click()
    program = download.value.path().read_text(encoding="utf-8").splitlines()
    assert program[int(said.group(1)) - 1] == code
    # And the other way: a line of the first cut brings the wire back to its minute.
    listing = page.get_by_role("listbox", name="Lines of the program")
    listing.press("Home")
    for _ in range(18):
        listing.press("ArrowDown")
    expect(chosen_line(page)).to_contain_text(program[18])
    assert minute(page) < late
    expect(listing.locator(".now")).to_contain_text(program[18])
    deeds.picture(page, "lines")


def test_only_the_lines_in_sight_are_on_the_page(address: str, visit: Open) -> None:
    from playwright.sync_api import expect

    page = opened(visit, address)
    page.get_by_role("button", name="show the program").click()
    listing = page.get_by_role("listbox", name="Lines of the program")
    assert listing.get_by_role("option").count() < 40
    listing.press("End")
    last = chosen_line(page)
    expect(last).to_have_attribute("aria-posinset", last.get_attribute("aria-setsize") or "")
    assert listing.get_by_role("option").count() < 40


def test_lines_are_found_by_keyboard_alone(address: str, visit: Open) -> None:
    from playwright.sync_api import expect

    page = opened(visit, address)
    page.get_by_role("button", name="Deviations", exact=True).focus()
    page.keyboard.press("Enter")
    page.get_by_role("button", name="Next worst place").focus()
    page.keyboard.press("Enter")
    expect(page.get_by_text(re.compile(r"^1 of \d+: "))).to_be_visible()
    page.get_by_role("application").focus()
    page.keyboard.press("l")
    card = page.get_by_role("region", name="Lines that cut this place")
    expect(card).to_be_visible()
    card.get_by_role("button").nth(1).focus()
    page.keyboard.press("Enter")
    expect(chosen_line(page)).to_be_visible()


def test_the_deviations_have_a_scale_in_the_unit_shown(address: str, visit: Open) -> None:
    from playwright.sync_api import expect

    page = opened(visit, address)
    assert ink(page, 1) == 0
    page.get_by_role("button", name="Deviations", exact=True).click()
    card = page.get_by_role("region", name="Deviations from the drawing")
    expect(card.get_by_role("img", name="Scale in µm")).to_be_visible()
    expect(card.get_by_label("Scale to")).to_have_value("asked")
    card.get_by_label("Scale to").select_option("worst")
    whole = ink(page, 1)
    assert whole > 0
    # On the scale of what is asked the ribbon of a good program is thin.
    card.get_by_label("Scale to").select_option("asked")
    assert ink(page, 1) < whole
    card.get_by_label("Scale to").select_option("passes")
    expect(card).to_contain_text("the bracket")
    deeds.picture(page, "deviations")
    page.get_by_role("button", name="in", exact=True).click()
    expect(card.get_by_role("img", name="Scale in tenths")).to_be_visible()
    page.get_by_role("button", name="Deviations", exact=True).click()
    assert ink(page, 1) == 0


def test_no_two_ticks_of_the_scale_read_alike_and_a_good_cut_alarms_nobody(
    address: str, visit: Open
) -> None:
    page = opened(visit, address)
    page.get_by_role("button", name="Deviations", exact=True).click()
    card = page.get_by_role("region", name="Deviations from the drawing")
    for unit in ("mm", "in"):
        page.get_by_role("button", name=unit, exact=True).click()
        for scale in ("worst", "passes", "asked"):
            card.get_by_label("Scale to").select_option(scale)
            ticks = card.locator("svg text:not(.start):not(.end)").all_text_contents()[:5]
            assert len(set(ticks)) == 5, (unit, scale, ticks)
            assert [float(t.replace("−", "-")) for t in ticks] == sorted(
                float(t.replace("−", "-")) for t in ticks
            )
    # On the scale of the worst place, far below what is asked, the whole scale is pale.
    card.get_by_label("Scale to").select_option("worst")
    wide = card.locator("svg rect").evaluate_all(
        "boxes => boxes.map(b => [b.getAttribute('class').split(' ')[0], b.width.baseVal.value])"
    )
    assert max(wide, key=lambda box: box[1])[0] == "off-3", wide


def test_the_worst_place_listed_first_is_the_worst_of_the_verdict(
    address: str, visit: Open
) -> None:
    page = opened(visit, address)
    job = page.url.rpartition("/")[2]
    verdict = page.evaluate(f"fetch('/api/jobs/{job}').then(r => r.json()).then(j => j.verdict)")
    worst = verdict["worst"][0]
    shown = max(verdict["gouge_um"], verdict["leftover_um"])
    assert abs(worst["deviation_um"]) == pytest.approx(shown, abs=0.01)
    page.get_by_role("button", name="Deviations", exact=True).click()
    first = page.get_by_role("region", name="Deviations from the drawing").locator("li").first
    assert worst["contour_id"] in first.inner_text()
    assert f"line {worst['line']}" in first.inner_text()


def test_a_changed_job_takes_its_old_proof_away(address: str, visit: Open) -> None:
    from playwright.sync_api import expect

    page = opened(visit, address)
    page.get_by_role("button", name="show the program").click()
    page.get_by_role("listbox", name="Lines of the program").wait_for()
    deeds.write(page, "Height", "7 mm")
    expect(pieces(page)).to_have_count(0)
    expect(page.get_by_role("listbox", name="Lines of the program")).to_have_count(0)
    expect(pieces(page)).to_be_visible()
    expect(page.get_by_role("listbox", name="Lines of the program")).to_be_visible()


@pytest.mark.parametrize(("theme", "size"), looks(("light", "wide")))
def test_the_cut_breaks_no_rule_of_access(address: str, visit: Open, theme: str, size: str) -> None:
    page = opened(visit, address, viewport=SIZES[size], color_scheme=theme)
    page.get_by_role("slider", name="Minute of the job").press("End")
    page.get_by_role("button", name="show the program").click()
    page.get_by_role("listbox", name="Lines of the program").wait_for()
    page.get_by_role("button", name="Deviations", exact=True).click()
    page.get_by_role("button", name="Next worst place").click()
    page.get_by_role("application").press("l")
    page.get_by_role("region", name="Lines that cut this place").wait_for()
    # A row that was scrolled half under the head of the price counts as too small a target.
    page.locator("aside").evaluate("aside => { aside.scrollTop = 0; }")
    assert violations(page) == []
    assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0
    deeds.picture(page, f"cut-{size}-{theme}")


def test_the_cut_up_to_a_minute_is_shown_together_with_the_deviations(
    address: str, visit: Open
) -> None:
    page = opened(visit, address)
    page.get_by_role("button", name="Deviations", exact=True).click()
    page.get_by_role("region", name="Deviations from the drawing").wait_for()
    assert ink(page, 0) == 0
    slider = page.get_by_role("slider", name="Minute of the job")
    slider.press("End")
    assert ink(page, 0) > 0
    assert page.evaluate("window.kerfwrightView.scene.minute") > 0
    assert ink(page, 1) > 0
    deeds.picture(page, "deviations-with-the-cut")


def test_the_deviations_of_a_good_cut_are_told_apart_without_colour(
    address: str, visit: Open
) -> None:
    page = opened(visit, address)
    page.get_by_role("button", name="Deviations", exact=True).click()
    card = page.get_by_role("region", name="Deviations from the drawing")
    card.get_by_label("Scale to").select_option("passes")
    across = card.locator("svg path.across").get_attribute("d") or ""
    at = sorted(float(x) for x in re.findall(r"M(-?[\d.]+) ", across))
    apart = [b - a for a, b in itertools.pairwise(at)]
    middle = [k for k, (a, b) in enumerate(itertools.pairwise(at)) if a < 126 < b]
    # None where the wall is as drawn, and the closer the further off, on either side.
    (gap,) = middle
    assert apart[gap] > 2 * apart[gap + 1] > 2 * min(apart)
    assert apart[gap] > 2 * apart[gap - 1]
    deeds.picture(page, "deviations-apart")


def test_no_deviation_is_a_nought_with_a_sign(address: str, visit: Open) -> None:
    page = opened(visit, address)
    page.get_by_role("button", name="in", exact=True).click()
    page.get_by_role("button", name="Deviations", exact=True).click()
    rows = page.get_by_role("region", name="Deviations from the drawing").locator("ol li")
    rows.first.wait_for()
    for said in rows.all_inner_texts():
        assert not re.search(r"[−-]0(?:\.0+)?(?!\d|\.)", said), said
        assert not ("too deep" in said and re.search(r"\s0\s", said)), said


def test_a_mass_on_the_strip_is_that_of_the_card_in_the_unit_shown(
    address: str, visit: Open
) -> None:
    page = opened(visit, address)
    page.get_by_role("button", name="in", exact=True).click()
    job = page.url.split("/")[-1]
    stretches = page.context.request.get(f"/api/jobs/{job}").json()["draft"]["strip"]["stretches"]
    one = next(s for s in stretches if re.search(r"\([\d.]+ K?G\)", s["instruction"] or ""))
    page.locator(f"[data-line], tr, li, button:has-text('{one['contour_id']} ')").first.wait_for()
    slider = page.get_by_role("slider", name="Minute of the job")
    slider.press("Home")
    begin = one["begin_min"]
    for _ in range(200):
        if minute(page) > begin:
            break
        slider.press("ArrowRight")
    strip = page.get_by_text(re.compile(r"(secure|support) (part|slug) ", re.IGNORECASE)).first
    said = strip.inner_text()
    assert not re.search(r"\bk?g\b", said), said
    (mass,) = re.findall(r"\(([\d.]+ (?:oz|lb))\)", said)
    table = pieces(page).inner_text()
    assert mass in table, (mass, table)


def test_the_range_of_what_a_pass_holds_holds_its_value_in_inches(
    address: str, visit: Open
) -> None:
    page = opened(visit, address)
    page.get_by_role("button", name="in", exact=True).click()
    cells = page.locator("td:has(.spread)").filter(has_text=re.compile(r"^0\.000"))
    found = 0
    for said in cells.all_inner_texts():
        value, low, high = (float(x) for x in re.findall(r"\d+\.\d+", said)[:3])
        assert low <= value <= high, said
        found += 1
    assert found
