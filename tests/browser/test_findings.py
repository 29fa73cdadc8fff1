"""What can be done at a finding, with pieces that are no contour, and long texts."""

from __future__ import annotations

import itertools
import json
import re
import time
import urllib.request
from pathlib import Path
from typing import TYPE_CHECKING

import deeds
import ezdxf
import pytest
from serving import PATIENCE_MS

if TYPE_CHECKING:
    from playwright.sync_api import Locator, Page, Route
    from serving import Open

CENTRE_MM = (30.0, 20.0)
ARM_MM = 6.0
STEP_S = 0.15
LINE_PX = 18
"""A line of text is as high as this at least."""
FINGER_PX = 44
SIGN_PX = 8
"""Half a sign, which stands to the left of its number."""


def lined_plate(path: Path) -> Path:
    """Draw a plate with a bore whose centre lines meet on the layer of its contours."""
    document = ezdxf.new()
    document.units = ezdxf.units.MM
    space = document.modelspace()
    space.add_lwpolyline([(0, 0), (60, 0), (60, 40), (0, 40)], close=True)
    space.add_circle(CENTRE_MM, 12)
    x, y = CENTRE_MM
    for dx, dy in ((1, 0), (0, 1), (-1, 0), (0, -1)):
        space.add_line(CENTRE_MM, (x + dx * ARM_MM, y + dy * ARM_MM))
    document.saveas(path)
    return path


def two_bores(path: Path) -> Path:
    """Draw a plate with a bore of 24 mm, H1, and one of 20 mm, H2."""
    document = ezdxf.new()
    document.units = ezdxf.units.MM
    space = document.modelspace()
    space.add_lwpolyline([(0, 0), (80, 0), (80, 40), (0, 40)], close=True)
    space.add_circle((20, 20), 12)
    space.add_circle((60, 20), 10)
    document.saveas(path)
    return path


def asked(address: str, page: Page) -> dict[str, str]:
    job = page.url.partition("#/job/")[2].partition("/")[0]
    with urllib.request.urlopen(f"{address}/api/jobs/{job}") as answer:  # noqa: S310 our own
        return dict(json.load(answer)["asked"])


@pytest.fixture
def plate(tmp_path: Path, address: str, visit: Open) -> Page:
    page = visit(address)
    page.get_by_label("Drawings to add").set_input_files(lined_plate(tmp_path / "lined.dxf"))
    page.get_by_text("Reading the drawing").wait_for(state="detached")
    return page


def working(route: Route) -> None:
    """Answer as if the price was being computed."""
    answer = route.fetch()
    found = answer.json()
    if route.request.method == "GET":
        found["work"] = [{"what": "draft", "step": "planning", "share": 0.5}]
    route.fulfill(response=answer, json=found)


def findings(page: Page) -> Locator:
    return page.get_by_role("region", name="Findings")


def open_finding(page: Page, words: str) -> Locator:
    """Step to the finding that has the words, once there is one."""
    card = findings(page)
    card.wait_for()
    end = time.monotonic() + PATIENCE_MS / 1000
    while words not in card.inner_text():
        assert time.monotonic() < end, card.inner_text()
        # The list may be renewed, and folded, at any moment.
        page.evaluate(
            """() => document.querySelector(
                 '[aria-label="Findings"] :is(.tally, [aria-label="Next finding"])')?.click()"""
        )
        time.sleep(STEP_S)
    return card


def test_centre_lines_on_the_layer_of_the_contour_are_left_out_alone(
    plate: Page, address: str
) -> None:
    from playwright.sync_api import expect

    card = open_finding(plate, "4 pieces meet")
    expect(card).to_contain_text("Ways that end in nothing are left out, below.")
    deeds.picture(plate, "pieces-refused")
    card.get_by_role("button", name="Leave the 4 pieces that end in nothing out").click()
    card = open_finding(plate, "a person says that it is no contour")
    expect(findings(plate)).not_to_contain_text("4 pieces meet")
    said = {name: use for name, use in asked(address, plate).items() if name.startswith("role ")}
    assert len(said) == 4
    assert set(said.values()) == {"reference"}
    # Nothing else left the job, and what a person said stands in the ledger.
    assert plate.get_by_role("button", name=re.compile("^(P1 outline|H1 opening)")).count() == 2
    expect(plate.locator("section[aria-labelledby=ledger]")).to_contain_text("reference")
    deeds.picture(plate, "pieces-left-out")
    card.locator("summary").click()
    one = card.get_by_role("button", name=re.compile(r"^Take LINE-\w+ in again$")).first
    one.click()
    open_finding(plate, "3 LINE")
    assert len([n for n in asked(address, plate) if n.startswith("role ")]) == 3
    # Undone step by step, the refusal stands as at first.
    plate.get_by_role("button", name="Undo").click()
    open_finding(plate, "4 LINE")
    plate.get_by_role("button", name="Undo").click()
    open_finding(plate, "4 pieces meet")
    assert not [n for n in asked(address, plate) if n.startswith("role ")]


def test_what_is_refused_apart_from_contours_is_said_at_the_price(plate: Page) -> None:
    from playwright.sync_api import expect

    deeds.write(plate, "Material", "D2")
    deeds.write(plate, "Height", "10 mm")
    head = plate.get_by_label("Price", exact=True)
    said = "One place of the drawing is refused and not in the price"
    expect(head).to_contain_text(said)
    open_finding(plate, "4 pieces meet").get_by_role(
        "button", name="Leave the 4 pieces that end in nothing out"
    ).click()
    expect(head).not_to_contain_text(said)
    expect(head.locator(".each")).to_contain_text("each")


def test_a_line_that_is_refused_opens_what_was_found_of_it(plate: Page) -> None:
    from playwright.sync_api import expect

    deeds.write(plate, "Material", "D2")
    deeds.write(plate, "Height", "400 mm")
    deeds.line(plate, "Height").get_by_role(
        "button", name=re.compile("open the finding of Height")
    ).click()
    expect(findings(plate)).to_contain_text("400")
    expect(findings(plate)).to_contain_text("Generic wire machine")


def test_one_piece_is_shown_and_left_out(plate: Page, address: str) -> None:
    card = open_finding(plate, "4 pieces meet")
    card.locator("summary").click()
    view = "[window.kerfwrightView.camera.cx, window.kerfwrightView.camera.cy]"
    before = plate.evaluate(view)
    card.get_by_role("button", name=re.compile("^show LINE-")).first.click()
    plate.wait_for_function(f"before => String({view}) !== String(before)", arg=before)
    card.get_by_role("button", name=re.compile(r"^Leave LINE-\w+ out$")).first.click()
    # Three still meet in one point.
    open_finding(plate, "3 pieces meet")
    assert len([n for n in asked(address, plate) if n.startswith("role ")]) == 1


def test_a_long_finding_is_folded_and_can_be_read_whole(
    tmp_path: Path, address: str, visit: Open
) -> None:
    from playwright.sync_api import expect

    page = visit(address, viewport={"width": 390, "height": 780})
    page.get_by_label("Drawings to add").set_input_files(lined_plate(tmp_path / "lined.dxf"))
    card = open_finding(page, "4 pieces meet")
    text = card.locator(".clamped").nth(1)
    folded = text.bounding_box()
    assert folded is not None
    assert folded["height"] > LINE_PX
    # Folded, and what can be done stays in sight.
    expect(card.get_by_role("button", name="Leave the 4 pieces")).to_be_in_viewport()
    more = card.get_by_role("button", name="Read all of it").last
    more.click()
    whole = text.bounding_box()
    assert whole is not None
    assert whole["height"] > folded["height"]
    card.get_by_role("button", name="Show less").click()
    again = text.bounding_box()
    assert again is not None
    assert again["height"] == folded["height"]


@pytest.mark.parametrize(
    ("press", "lines"),
    [
        ("Meant is the drawn size: ask 24 H7 of H1", {"contour H1": "tolerance=24 H7"}),
        ("Meant is H2: ask 20 H7 there", {"contour H2": "tolerance=20 H7"}),
        ("Ask no fit of H1", {}),
    ],
)
def test_a_fit_of_another_size_is_given_to_the_size_it_is_meant_for(
    tmp_path: Path, address: str, visit: Open, press: str, lines: dict[str, str]
) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    page.get_by_label("Drawings to add").set_input_files(two_bores(tmp_path / "bores.dxf"))
    deeds.write(page, "Material", "D2")
    deeds.write(page, "Height", "10 mm")
    page.locator(".each .number").wait_for()
    page.get_by_role("button", name=re.compile("^H1 opening")).click()
    field = page.get_by_role("region", name="Contour H1").get_by_label("Tolerance")
    field.fill("20 H7")
    field.press("Enter")
    card = open_finding(page, "is a fit of 20 mm")
    deeds.picture(page, "fit-of-another-size")
    card.get_by_role("button", name=press).click()
    expect(card.get_by_role("button", name=press)).to_have_count(0)

    def own() -> dict[str, str]:
        found = asked(address, page)
        return {n: text for n, text in found.items() if n.startswith("contour ")}

    assert own() == lines
    page.locator("section[aria-label=Price][aria-busy=false] .each .number").wait_for()
    expect(findings(page)).not_to_contain_text("is a fit of 20 mm")
    # One step takes it back, wherever it went.
    page.get_by_role("button", name="Undo").click()
    open_finding(page, "is a fit of 20 mm")
    assert own() == {"contour H1": "tolerance=20 H7"}


def test_what_is_pressed_at_a_finding_and_a_contour_is_high_enough_for_a_finger(
    tmp_path: Path, address: str, visit: Open
) -> None:
    page = visit(address, viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True)
    page.get_by_label("Drawings to add").set_input_files(lined_plate(tmp_path / "lined.dxf"))
    card = open_finding(page, "4 pieces meet")
    card.locator("summary").click()
    # Opened, nothing is squeezed: the sentence has its lines.
    for text in card.locator(".clamped").all():
        box = text.bounding_box()
        assert box is not None
        assert box["height"] > LINE_PX
    pressed = "button:not(.inline), summary, select, input:not([type=checkbox]):not(.unseen)"
    low = [
        (one.inner_text(), box["height"])
        for one in page.locator(pressed).all()
        if (box := one.bounding_box()) and box["height"] < FINGER_PX
    ]
    assert low == []
    # While something is computed, its Stop is as high.
    deeds.write(page, "Material", "D2")
    page.route(re.compile(r"/api/jobs/[\w-]+$"), working)
    page.reload()
    stop = page.get_by_label("Price", exact=True).get_by_role("button", name="Stop")
    box = stop.bounding_box()
    assert box is not None
    assert min(box["width"], box["height"]) >= FINGER_PX


def test_the_card_of_a_contour_can_be_closed_on_a_narrow_page(address: str, visit: Open) -> None:
    from playwright.sync_api import expect

    page = visit(address, viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True)
    deeds.open_sample(page)
    page.get_by_role("button", name="Deviations", exact=True).wait_for()
    page.get_by_role("button", name=re.compile("^H7 opening")).click()
    card = page.get_by_role("region", name="Contour H7")
    # Fields have room for what is written in them.
    for field in card.get_by_role("textbox").all():
        assert field.evaluate("e => e.scrollWidth <= e.clientWidth + 1")
    card.get_by_role("button", name="Let go of H7").click()
    expect(card).to_have_count(0)


def test_a_drawing_that_is_no_part_yet_is_drawn_and_what_would_mend_it_is_marked(
    address: str, visit: Open, tmp_path: Path
) -> None:
    from playwright.sync_api import expect
    from test_access import violations

    document = ezdxf.new("R2010", units=0)
    space = document.modelspace()
    corners = [(0, 0), (40, 0), (40, 20), (0, 20), (0, 1)]
    for begin, end in itertools.pairwise(corners):
        space.add_line(begin, end)
    document.saveas(tmp_path / "open.dxf")
    page = visit(address)
    page.get_by_label("Drawings to add").set_input_files(tmp_path / "open.dxf")
    either = page.get_by_role("button", name="Read it in millimetres")
    either.wait_for()
    chains = "window.kerfwrightView.scene.geometry?.count"
    settled = "new Promise(r => requestAnimationFrame(() => requestAnimationFrame(r)))"
    page.wait_for_function(f"() => {chains} === 4")
    assert violations(page) == []
    deeds.picture(page, "unit_in_doubt")
    either.click()
    card = page.get_by_role("region", name="Findings")
    card.locator(".tally").click()
    expect(card).to_contain_text("1.0000 mm apart")
    page.wait_for_function(f"() => {chains} === 4")
    page.wait_for_function("() => window.kerfwrightView.scene.marks.length === 1")
    assert violations(page) == []
    card.get_by_role("button", name="Close findings").click()
    # A line that bounds nothing leads to the finding that names it.
    page.get_by_role("button", name="Fit", exact=True).click()
    page.evaluate(settled)
    x, y = page.evaluate("window.kerfwrightView.camera.toScreen(20, 0)")
    page.get_by_role("application").click(position={"x": x, "y": y})
    expect(card).to_contain_text("1.0000 mm apart")
    deeds.picture(page, "open_pieces")


def test_a_demand_of_the_drawing_that_is_not_asked_leads_to_its_line_and_leaves_no_layer_out(
    tmp_path: Path, address: str, visit: Open
) -> None:
    from playwright.sync_api import expect

    document = ezdxf.new("R2010", units=1)
    space = document.modelspace()
    space.add_lwpolyline([(0, 0), (2, 0), (2, 1), (0, 1)], close=True)
    space.add_text("Ra 16", height=0.1, dxfattribs={"insert": (0, -0.3)})
    document.saveas(tmp_path / "plate.dxf")
    page = visit(address)
    page.get_by_label("Drawings to add").set_input_files(tmp_path / "plate.dxf")
    page.get_by_text("Reading the drawing").wait_for(state="detached")
    for title, text in (("Material", "D2"), ("Height", "20 mm"), ("Tolerance", "±10 µm")):
        deeds.write(page, title, text)
    card = open_finding(page, "The drawing asks “Ra 16”")
    expect(card.get_by_role("button", name=re.compile("^Leave"))).to_have_count(0)
    deeds.picture(page, "finding-of-the-drawing")
    card.get_by_role("button", name="Ask finish: Ra16uin").click()
    expect(deeds.line(page, "Finish")).to_contain_text("16")
    assert asked(address, page)["finish"] == "Ra16uin"


def test_what_the_drawing_writes_otherwise_is_asked_for_at_its_finding(
    tmp_path: Path, address: str, visit: Open
) -> None:
    from playwright.sync_api import expect

    document = ezdxf.new("R2010", units=4)
    space = document.modelspace()
    space.add_lwpolyline([(0, 0), (40, 0), (40, 20), (0, 20)], close=True)
    for row, text in enumerate(("MATERIAL: D2", "THK 12", "4 REQ'D")):
        space.add_text(text, height=2, dxfattribs={"insert": (0, -4 - 4 * row)})
    document.saveas(tmp_path / "noted.dxf")
    page = visit(address)
    page.get_by_label("Drawings to add").set_input_files(tmp_path / "noted.dxf")
    page.get_by_text("Reading the drawing").wait_for(state="detached")
    for title, text in (("Material", "304"), ("Height", "20 mm"), ("Quantity", "10")):
        deeds.write(page, title, text)
    for words, lines in (
        ("writes the material as", {"material": "D2"}),
        ("writes the thickness as", {"height": "12mm"}),
        ("writes “4 REQ'D”", {"quantity": "4"}),
    ):
        card = open_finding(page, words)
        ((name, value),) = lines.items()
        card.get_by_role("button", name=f"Ask {name}: {value}").click()
        expect(findings(page)).not_to_contain_text(words)
        assert asked(address, page)[name] == value


WRITTEN = """
() => {
  window.written = [];
  const write = CanvasRenderingContext2D.prototype.fillText;
  CanvasRenderingContext2D.prototype.fillText = function (text, x, y) {
    window.written.push([text, x, y, this.measureText(text).width]);
    return write.call(this, text, x, y);
  };
}
"""


def test_signs_of_findings_and_their_numbers_do_not_lie_on_each_other(
    tmp_path: Path, address: str, visit: Open
) -> None:
    from playwright.sync_api import expect

    document = ezdxf.new("R2010", units=4)
    space = document.modelspace()
    space.add_lwpolyline([(0, 0), (260, 0), (260, 60), (0, 60)], close=True)
    for i in range(24):
        x = 10 + 10 * i
        for y in (20, 21):
            space.add_lwpolyline([(x, y), (x + 3, y), (x + 3, y + 0.1), (x, y + 0.1)], close=True)
    document.saveas(tmp_path / "slits.dxf")
    page = visit(address)
    page.get_by_label("Drawings to add").set_input_files(tmp_path / "slits.dxf")
    for title, text in (("Material", "D2"), ("Height", "10 mm")):
        deeds.write(page, title, text)
    # The page's policy forbids waiting by evaluated text.
    while page.evaluate("() => window.kerfwrightView?.scene.marks.length ?? 0") < 48:
        page.wait_for_timeout(20)
    page.get_by_role("button", name="Zoom in", exact=True).click()
    page.get_by_role("button", name="Fit", exact=True).click()
    page.wait_for_timeout(300)
    written = written_on(page)
    # How many a sign stands for, in a frame; no number of a finding, which would be a contour's.
    assert [text for text, *_ in written if re.fullmatch(r"[\d +]+", text)] == []
    boxes = sorted(
        (x - wide / 2, x + wide / 2, y)
        for text, x, y, wide in written
        if re.fullmatch(r"×\d+", text)
    )
    assert len(boxes) > 3
    signs = list(itertools.pairwise(boxes))
    assert all(a[1] + 2 * SIGN_PX < b[0] or abs(a[2] - b[2]) > LINE_PX for a, b in signs), boxes
    deeds.picture(page, "signs")
    # What says the same is one finding of the card, with its places.
    findings(page).wait_for()
    # What is stepped through as one is counted as one.
    assert max(int(n) for n in re.findall(r"\d+", findings(page).inner_text())) < 48
    card = open_finding(page, "place 1 of 48")
    expect(card).to_contain_text("the same at H1, H2, H3")
    card.get_by_role("button", name="Next place").click()
    expect(card).to_contain_text("place 2 of 48")
    expect(card).to_contain_text("at H2")
    card.get_by_role("button", name="Place before").click()
    expect(card).to_contain_text("place 1 of 48")


def written_on(page: Page) -> list[tuple[str, float, float, float]]:
    """Return what is written on the drawing, drawn once more: text, middle and width."""
    page.evaluate(WRITTEN)
    page.evaluate(
        """() => new Promise(done => { window.kerfwrightView.show({});
             requestAnimationFrame(() => requestAnimationFrame(done)); })"""
    )
    # Two frames at rest write the same.
    return sorted({tuple(one) for one in page.evaluate("window.written")})


def test_a_hundred_small_openings_all_carry_their_number(
    tmp_path: Path, address: str, visit: Open
) -> None:
    document = ezdxf.new("R2010", units=1)
    space = document.modelspace()
    space.add_lwpolyline([(0, 0), (12, 0), (12, 12), (0, 12)], close=True)
    for i, j in itertools.product(range(10), repeat=2):
        x, y = 0.7 + 1.1 * i, 0.7 + 1.1 * j
        corners = [(x, y), (x + 0.2, y), (x + 0.2, y + 0.2), (x, y + 0.2)]
        space.add_lwpolyline(corners, close=True)
    document.saveas(tmp_path / "hundred.dxf")
    page = visit(address)
    page.get_by_label("Drawings to add").set_input_files(tmp_path / "hundred.dxf")
    page.get_by_role("button", name="H100 opening").wait_for()
    page.get_by_role("button", name="Fit", exact=True).click()
    page.mouse.move(5, 5)
    page.wait_for_timeout(300)
    ids = [one for one in written_on(page) if re.fullmatch(r"H\d+", one[0])]
    assert {text for text, *_ in ids} == {f"H{n}" for n in range(1, 101)}
    # No halo lies on an opening.
    assert (
        page.evaluate(
            """texts => { const {camera, scene} = window.kerfwrightView;
          return texts.filter(([, x, y, wide]) => scene.contours.some(one => {
            if (one.role !== "opening") return false;
            const [l, b] = camera.toScreen(one.bounds_mm[0], one.bounds_mm[1]);
            const [r, t] = camera.toScreen(one.bounds_mm[2], one.bounds_mm[3]);
            return x - wide / 2 - 1 < r && x + wide / 2 + 1 > l && y - 4 < b && y + 4 > t;
          })); }""",
            ids,
        )
        == []
    )
    deeds.picture(page, "hundred-numbers")


def test_a_finding_stands_beside_the_open_contour(address: str, visit: Open) -> None:
    page = visit(address)
    deeds.open_sample(page)
    page.get_by_role("button", name=re.compile("^H7 opening")).click()
    page.get_by_role("region", name="Findings").locator(".tally").click()
    contour = page.get_by_role("region", name="Contour H7").bounding_box()
    finding = page.get_by_role("region", name="Findings").bounding_box()
    assert contour is not None
    assert finding is not None
    assert finding["x"] >= contour["x"] + contour["width"]
    assert finding["x"] + finding["width"] < page.locator(".zoom").bounding_box()["x"]  # type: ignore[index]


def test_the_count_opens_what_is_refused_and_limits_off_the_line_name_no_layer_to_leave_out(
    tmp_path: Path, address: str, visit: Open
) -> None:
    from playwright.sync_api import expect

    document = ezdxf.new("R2010", setup=True, units=4)
    space = document.modelspace()
    space.add_lwpolyline([(0, 0), (80, 0), (80, 40), (0, 40)], close=True)
    space.add_circle((20, 20), 6)
    space.add_lwpolyline([(50, 20), (70, 20), (70, 20.1), (50, 20.1)], close=True)
    space.add_diameter_dim(center=(20, 20), radius=6, angle=45, text="%%c12 +0.02/0").render()
    scaled = space.add_linear_dim(
        base=(0, 50), p1=(0, 40), p2=(80, 40), override={"dimlfac": 100.0}
    )
    scaled.render()
    document.saveas(tmp_path / "bore.dxf")
    page = visit(address)
    page.get_by_label("Drawings to add").set_input_files(tmp_path / "bore.dxf")
    deeds.write(page, "Material", "D2")
    deeds.write(page, "Height", "10 mm")
    page.locator(".each .number").wait_for()
    # A doubt of the size stands before what is refused.
    page.locator(".tally").click()
    expect(findings(page)).to_contain_text("2 of ")
    expect(findings(page)).to_contain_text("Refused")
    page.locator("[data-line=tolerance]").click()
    page.get_by_label("Tolerance", exact=True).fill("±2.5 µm")
    page.get_by_label("Tolerance", exact=True).press("Enter")
    card = open_finding(page, "The middle of these limits is 10 µm")
    expect(card.get_by_role("button", name="Open H1")).to_be_visible()
    expect(card.get_by_role("button", name=re.compile("^(Leave|Ask) "))).to_have_count(0)
