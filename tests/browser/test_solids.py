"""A solid dropped on the page: its own height and walls, looked at and proved."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import deeds
import pytest
from test_access import AXE, SIZES, violations
from test_reasons import keys, unexplained, unreasoned

pytest.importorskip("OCP", reason="no Open CASCADE here: pip install 'kerfwright[solids]'")

from solid_samples import box, cut, frustum, moved, written

if TYPE_CHECKING:
    from serving import Open


def test_a_solid_is_dropped_asked_for_and_proved(address: str, visit: Open, tmp_path: Path) -> None:
    from playwright.sync_api import expect

    page = visit(address, viewport=SIZES["laptop"])
    bored = cut(box(40, 30, 12), frustum(6, 5, 12, at=(20, 15, 0)))
    two = written(tmp_path / "drive bush.stp", bored, moved(box(8, 8, 4), (60, 0, 0)))
    page.get_by_label("Drawings to add").set_input_files(two)
    fault = page.get_by_role("alert").first
    expect(fault).to_contain_text("It holds 2 solids")
    page.get_by_role("button", name="Take 1 (40 × 30 × 12 mm)").click()
    expect(deeds.line(page, "Solid")).to_contain_text("1")
    expect(deeds.line(page, "Height")).to_contain_text("12.00 mm")
    expect(deeds.line(page, "Wire along")).to_contain_text("through 12.00 mm")
    expect(page.get_by_role("button", name="+ stack", exact=True)).to_have_count(0)
    deeds.write(page, "Material", "D2")
    page.get_by_text("Proved against the solid.").wait_for()
    page.goto(f"{page.url}/H1")
    card = page.get_by_role("region", name="Contour H1")
    expect(card).to_contain_text("that of the solid")
    expect(card.get_by_label("Taper of H1")).to_have_count(0)
    assert unexplained(page) == []
    assert unreasoned(page, keys(page)) == {}
    if AXE.exists():
        assert violations(page) == []
    deeds.picture(page, "solid-laptop")
    deeds.write(page, "Wire along", "y")
    expect(deeds.line(page, "Height")).to_contain_text("30.00 mm")
