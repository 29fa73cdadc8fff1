"""A taper asked at the card of a contour: refused there, drawn, and told apart from upright."""

from __future__ import annotations

from typing import TYPE_CHECKING

import deeds
import pytest
from test_access import AXE, SIZES, violations
from test_reasons import keys, unexplained, unreasoned

if TYPE_CHECKING:
    from serving import Open

EDGES = """new Promise(done => {
  const look = () => {
    const kinds = [...window.kerfwrightView.scene.geometry.kinds];
    if (kinds.includes(6)) done(kinds.filter(kind => kind === 6).length);
    else requestAnimationFrame(look);
  };
  look();
})"""
"""Number of edges of leaning walls on the drawing, once there are any."""


@pytest.mark.skipif(not AXE.exists(), reason="axe-core is not installed (npm ci)")
def test_a_taper_is_asked_at_the_card_and_seen_on_the_drawing(address: str, visit: Open) -> None:
    from playwright.sync_api import expect

    page = visit(address, viewport=SIZES["laptop"])
    deeds.open_sample(page)
    upright = deeds.price(page)
    page.goto(f"{page.url}/H1")
    card = page.get_by_role("region", name="Contour H1")
    field = card.get_by_label("Taper of H1")
    field.fill("1 degree")
    field.press("Enter")
    expect(card.get_by_role("alert")).to_contain_text("does not say whether")
    card.get_by_text("How to write it").click()
    assert violations(page) == []
    field.fill("2° out from top")
    field.press("Enter")
    expect(card).to_contain_text("widens by 2° from the drawn contour at the top.")
    expect(deeds.line(page, "Taper of H1")).to_contain_text("leans by up to 2.00°")
    assert page.evaluate(EDGES) == 1
    assert deeds.price(page) > upright
    assert unexplained(page) == []
    assert unreasoned(page, keys(page)) == {}
    # What is compared in one plane is not shown of a wall that leans.
    page.get_by_text("Proved against the drawing.").wait_for()
    page.get_by_role("button", name="Deviations", exact=True).click()
    shown = page.get_by_role("region", name="Deviations from the drawing")
    expect(shown).to_contain_text("H1 leans: not drawn in this one plane.")
    expect(page.locator("section[aria-labelledby=pieces]")).to_contain_text("one plane of the cut")
    assert violations(page) == []
    deeds.picture(page, "taper-laptop")
    field.fill("59° in from bottom")
    field.press("Enter")
    expect(card).to_contain_text("cannot lean as asked")
    expect(deeds.line(page, "Taper of H1")).to_contain_text("refused")
