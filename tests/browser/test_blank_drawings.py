"""What the drawing shows while there is nothing to cut yet: no unit, or lines still being drawn."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

import deeds
import ezdxf
import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Page, Route
    from serving import Open


def dial(*, insunits: int, count: int = 0) -> bytes:
    """Draw the dial plate of a tower clock, with so many short lines engraved beside its cut."""
    document = ezdxf.new("R2010", setup=True)
    document.header["$INSUNITS"] = insunits
    document.header["$MEASUREMENT"] = 1
    space = document.modelspace()
    space.add_lwpolyline([(0, 0), (60, 0), (60, 40), (0, 40)], close=True)
    space.add_circle((30, 20), 8)
    for k in range(count):
        x, y = divmod(k, 200)
        space.add_line((2 + x / 5, 2 + y / 6), (2.1 + x / 5, 2.05 + y / 6))
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue().encode()


def dropped(page: Page, name: str, content: bytes) -> None:
    page.get_by_label("Drawings to add").set_input_files(
        [{"name": name, "mimeType": "application/dxf", "buffer": content}]
    )


def painted(page: Page) -> int:
    found: int = page.evaluate(
        """() => { const c = document.querySelector('[aria-label=Drawing] canvas');
          const d = c.getContext('2d').getImageData(0, 0, c.width, c.height).data;
          let n = 0; for (let i = 3; i < d.length; i += 4) if (d[i]) n++; return n; }"""
    )
    return found


@pytest.mark.parametrize("insunits", [0, 1])
def test_a_drawing_of_unknown_unit_is_shown_beside_the_question(
    address: str, visit: Open, insunits: int
) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    # Inches in a metric drawing contradict each other.
    dropped(page, f"dial{insunits}.dxf", dial(insunits=insunits))
    expect(page.get_by_role("button", name="Read it in millimetres")).to_be_visible()
    page.wait_for_function("() => window.kerfwrightView?.scene.geometry")
    deeds.picture(page, "no-unit")
    assert painted(page) > 0
    assert page.evaluate("() => window.kerfwrightView.camera.scale") > 1
    page.get_by_role("button", name="Read it in inches").click()
    expect(deeds.line(page, "Drawing is in")).to_contain_text("inches")
    expect(page.get_by_role("button", name="Read it in millimetres")).to_have_count(0)


def test_what_takes_long_to_be_read_and_drawn_says_so_on_the_drawing(
    address: str, visit: Open
) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    held: list[Route] = []
    is_held = True

    def hold(route: Route) -> None:
        if is_held:
            held.append(route)
        else:
            route.continue_()

    page.route("**/api/jobs/*/geometry", hold)
    dropped(page, "engraved.dxf", dial(insunits=4, count=6000))
    drawing = page.get_by_role("region", name="Drawing", exact=True)
    said = drawing.locator(".waits")
    expect(said).to_have_text("The drawing is being read…")
    expect(said).to_have_text("The drawing is being drawn…")
    deeds.picture(page, "being-drawn")
    is_held = False
    for route in held:
        route.continue_()
    expect(said).to_have_count(0)
    assert painted(page) > 0


def test_a_drawing_refused_in_part_asks_for_the_needed_lines_first(
    address: str, visit: Open
) -> None:
    from playwright.sync_api import expect

    document = ezdxf.new("R2010", units=4)
    space = document.modelspace()
    space.add_lwpolyline([(0, 0), (80, 0), (80, 50), (0, 50)], close=True)
    space.add_lwpolyline([(20, 10), (40, 30), (40, 10), (20, 30)], close=True)
    stream = io.StringIO()
    document.write(stream)
    page = visit(address)
    dropped(page, "bow.dxf", stream.getvalue().encode())
    price = page.get_by_label("Price", exact=True)
    expect(price).to_contain_text("Fill in the lines marked needed")
    # With them the rest has a price.
    deeds.write(page, "Material", "D2")
    deeds.write(page, "Height", "10 mm")
    expect(price.locator(".each .number")).to_be_visible()
