"""A PDF or picture of the drawing beside it: pinned, moved, hidden and taken away."""

from __future__ import annotations

import base64
import re
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING

import deeds
import pytest

if TYPE_CHECKING:
    from serving import Open

DRAWING = Path(str(resources.files("kerfwright") / "data" / "samples" / "escape_wheel.dxf"))
DROP = """files => {
    const held = new DataTransfer();
    for (const [name, text] of files) {
        const bytes = Uint8Array.from(atob(text), one => one.charCodeAt(0));
        held.items.add(new File([bytes], name));
    }
    const event = new DragEvent("drop", { dataTransfer: held, bubbles: true, cancelable: true });
    document.body.dispatchEvent(event);
}"""
"""Lets go of files over the window, as a person does."""
plt = pytest.importorskip("matplotlib.pyplot")


@pytest.fixture
def sheet(tmp_path: Path) -> Path:
    """Return a PDF of two pages, made by a public plotting library."""
    from matplotlib.backends.backend_pdf import PdfPages

    path = tmp_path / "customer sheet.pdf"
    with PdfPages(path) as book:
        for number in (1, 2):
            figure, axes = plt.subplots(figsize=(8.3, 5.8))
            axes.add_patch(plt.Circle((0.5, 0.5), 0.3, fill=False))
            axes.set_aspect("equal")
            axes.text(0.05, 0.92, f"ESCAPE WHEEL, SHEET {number} OF 2")
            axes.text(0.05, 0.04, "C270 BRASS   ALL WALLS ±0.005   Ra 0.8")
            book.savefig(figure)
            plt.close(figure)
    return path


def test_a_pdf_is_pinned_beside_the_drawing(address: str, visit: Open, sheet: Path) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    deeds.open_sample(page)
    page.get_by_label("PDF or picture to pin").set_input_files(sheet)
    beside = page.get_by_role("region", name="Pinned drawing")
    picture = beside.get_by_role("img")
    expect(picture).to_have_attribute("alt", "customer sheet.pdf, page 1")
    expect(beside.get_by_role("status")).to_have_count(0)
    assert picture.evaluate("one => one.naturalWidth") > 2000
    beside.get_by_role("button", name="page ›").click()
    expect(picture).to_have_attribute("alt", "customer sheet.pdf, page 2")
    beside.get_by_role("button", name="‹ page").click()
    expect(picture).to_have_attribute("alt", "customer sheet.pdf, page 1")
    for way, scale in (("Zoom in on the pinned drawing", r"1\.4"), ("Zoom out of the pinned", "1")):
        beside.get_by_role("button", name=way).click()
        expect(picture).to_have_attribute("style", re.compile(rf"scale\({scale}\)"))
    frame = page.get_by_role("application", name=re.compile("^Pinned drawing"))
    frame.press("+")
    expect(picture).to_have_attribute("style", re.compile(r"scale\(1\.25\)"))
    frame.press("0")
    expect(picture).to_have_attribute("style", re.compile(r"scale\(1\)"))
    box = frame.bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + 100, box["y"] + 100)
    page.mouse.wheel(0, -300)
    expect(picture).to_have_attribute("style", re.compile(r"scale\(1\.6"))
    page.mouse.down()
    page.mouse.move(box["x"] + 140, box["y"] + 130)
    page.mouse.up()
    beside.get_by_role("button", name="Whole").click()
    deeds.picture(page, "pinned")
    # It stays over a reload, is hidden and shown again, and is taken away.
    page.reload()
    expect(beside).to_be_visible()
    beside.get_by_role("button", name="Hide").click()
    expect(beside).to_have_count(0)
    page.get_by_role("button", name="PDF or picture beside").click()
    # It goes for good, so that is asked first.
    beside.get_by_role("button", name="Take away…").click()
    beside.get_by_role("button", name="Keep it").click()
    beside.get_by_role("button", name="Take away…").click()
    expect(picture).to_be_visible()
    beside.get_by_role("button", name="Take customer sheet.pdf away for good").click()
    expect(beside).to_have_count(0)
    page.reload()
    page.locator(".each .number").wait_for()
    expect(beside).to_have_count(0)


def test_a_picked_contour_leaves_the_drawing_its_room_beside_a_pinned_sheet(
    address: str, visit: Open, sheet: Path
) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    deeds.open_sample(page)
    page.get_by_label("PDF or picture to pin").set_input_files(sheet)
    beside = page.get_by_role("region", name="Pinned drawing")
    expect(beside).to_be_visible()
    page.get_by_role("application", name=re.compile("^Drawing")).press(".")
    card = page.get_by_role("region", name=re.compile("^Contour "))
    expect(card).to_be_visible()
    drawing = page.get_by_role("region", name="Drawing", exact=True)
    room, over, pinned = (one.bounding_box() for one in (drawing, card, beside))
    assert room is not None
    assert over is not None
    assert pinned is not None
    assert over["x"] + over["width"] <= room["x"]
    assert pinned["y"] + pinned["height"] <= over["y"] + 1
    assert room["width"] > 500
    # Hidden, the card lies where it always does.
    beside.get_by_role("button", name="Hide").click()
    over = card.bounding_box()
    assert over is not None
    room = drawing.bounding_box()
    assert room is not None
    assert over["x"] > room["x"]


def test_what_is_no_drawing_is_refused_with_the_reason(
    address: str, visit: Open, tmp_path: Path
) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    deeds.open_sample(page)
    odd = tmp_path / "notes.pdf"
    odd.write_text("<script>alert(1)</script>", encoding="utf-8")
    page.get_by_label("PDF or picture to pin").set_input_files(odd)
    expect(page.get_by_role("alert")).to_contain_text("no PDF, PNG or JPEG")
    page.get_by_role("alert").get_by_role("button", name="Understood").click()
    expect(page.get_by_role("alert")).to_have_count(0)


def test_a_dropped_sheet_is_pinned_and_takes_no_place_unasked(
    address: str, visit: Open, sheet: Path, tmp_path: Path
) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    deeds.open_sample(page)
    photo = tmp_path / "photo.png"
    plt.imsave(photo, [[0.0, 1.0], [1.0, 0.0]])
    beside = page.get_by_role("region", name="Pinned drawing")
    picture, alert = beside.get_by_role("img"), page.get_by_role("alert")

    def drop(*files: Path) -> None:
        sent = [[one.name, base64.b64encode(one.read_bytes()).decode()] for one in files]
        page.evaluate(DROP, sent)

    drop(sheet)
    expect(picture).to_have_attribute("alt", "customer sheet.pdf, page 1")
    drop(photo)
    alert.get_by_role("button", name="Keep customer sheet.pdf").click()
    expect(alert).to_have_count(0)
    drop(sheet, photo)
    expect(alert).to_contain_text("2 files were dropped")
    drop(photo, DRAWING)
    expect(alert).to_contain_text(f"{DRAWING.name} is a drawing to cut")
    expect(alert).to_contain_text("list of jobs")
    expect(picture).to_have_attribute("alt", "customer sheet.pdf, page 1")
    drop(photo)
    alert.get_by_role("button", name="Pin photo.png").click()
    expect(picture).to_have_attribute("alt", "photo.png, page 1")
    expect(alert).to_have_count(0)
