"""What each demand costs: told once, each dot named, and the hours beside it add up."""

from __future__ import annotations

import json
import math
import re
from itertools import combinations, pairwise
from typing import TYPE_CHECKING, Any

import deeds

if TYPE_CHECKING:
    from playwright.sync_api import APIResponse, Locator, Page, Route
    from serving import Open

TARGET_PX = 24
"""WCAG 2.2, success criterion 2.5.8: circles of this width about two targets do not meet."""


def minutes(text: str) -> int:
    """Return the minutes of ``8 h 18 min``."""
    found = re.search(r"(?:(\d+) h )?(\d+) min", text)
    assert found, text
    return 60 * int(found[1] or 0) + int(found[2])


def priced(page: Page) -> Locator:
    """Open the sample, have each of its demands priced, and return where the prices come."""
    deeds.open_sample(page)
    part = page.locator("section[aria-labelledby=savings]")
    part.get_by_role("button", name="Price each demand").click()
    return part


def test_near_equal_savings_stand_behind_the_best_of_them_and_dots_say_what_they_are(
    address: str, visit: Open
) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    part = priced(page)
    dots = part.locator("figure g[role=button]")
    dots.first.wait_for()
    job = page.url.partition("#/job/")[2].partition("/")[0]
    found = json.loads(page.evaluate(f"fetch('/api/jobs/{job}').then(r => r.text())"))
    savings = found["savings"]
    near = float(savings["as_asked"]["each"]) / 100
    kept: list[tuple[str, float]] = []
    for one in savings["alternatives"]:
        saved = float(one["saved_each"])
        if not any(d == one["demand"] and s - saved < near for d, s in kept):
            kept.append((one["demand"], saved))
    alike = len(savings["alternatives"]) - len(kept)
    assert alike > 0
    expect(part.locator(".answer > ul > li")).to_have_count(len(kept))
    expect(part.locator("summary")).to_contain_text(f"{alike} more of the same kind")
    # None is lost: they are one press away.
    part.locator("summary").click()
    expect(part.locator("details li")).to_have_count(alike)
    offer = savings["front"][1]
    # 24 px: WCAG 2.2, criterion 2.5.8.
    spots = dots.locator("circle.reach").evaluate_all(
        "all => all.map(one => { const b = one.getBoundingClientRect();"
        " return [b.x + b.width / 2, b.y + b.height / 2, b.width]; })"
    )
    assert all(wide >= 24 for _, _, wide in spots)
    assert all(math.dist(a[:2], b[:2]) >= 24 for a, b in combinations(spots, 2))
    page.get_by_role("button", name="in", exact=True).first.click()
    inches = f"{offer['wire_mm'] / 25.4:.4f} in {offer['wire_name']} wire"
    assert inches in (dots.nth(1).locator("title").text_content() or "")
    page.get_by_role("button", name="mm", exact=True).first.click()
    dots.nth(1).hover()
    caption = part.locator("figcaption")
    expect(caption).to_contain_text(f"{offer['wire_mm']} mm {offer['wire_name']} wire")
    expect(caption).to_contain_text(f"{offer['passes']} passes")
    expect(caption).to_contain_text(offer["each"])
    assert offer["each"] in (dots.nth(1).locator("title").text_content() or "")


def test_an_answer_that_comes_late_takes_no_later_one_back(address: str, visit: Open) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    deeds.open_sample(page)
    # Of no other test: what was worked out once for a job is answered at once.
    deeds.write(page, "Height", "7.3 mm")
    page.get_by_text("Proved against the drawing.").wait_for()
    held: list[Route] = []
    answers: list[APIResponse] = []

    def hold(route: Route) -> None:
        if held:
            route.continue_()
        else:
            held.append(route)
            answers.append(route.fetch())

    page.route(re.compile(r"/api/jobs/[\w-]+$"), hold)
    part = page.locator("section[aria-labelledby=savings]")
    part.get_by_role("button", name="Price each demand").click()
    rows = part.locator("li")
    rows.first.wait_for()
    count = rows.count()
    assert answers[0].json()["savings"] is None
    with page.expect_response(lambda said: said.url == held[0].request.url):
        held[0].fulfill(response=answers[0])
    page.evaluate("() => new Promise(done => setTimeout(done, 100))")
    expect(rows).to_have_count(count)


def test_the_hours_of_the_machine_are_those_of_the_strip_and_its_wire_breaks(
    address: str, visit: Open
) -> None:
    page = visit(address)
    deeds.open_sample(page)
    # The machine's hours hold the wire breaks to be expected, which no strip can place.
    for height in ("6 mm", "25 mm", "60 mm"):
        deeds.write(page, "Height", height)
        page.locator("section[aria-label=Price][aria-busy=false] .each .number").wait_for()
        machine = minutes(page.locator("section[aria-label=Price] .facts span").first.inner_text())
        total = page.locator(".total").inner_text()
        strip = minutes(total)
        breaks = re.search(r"and (\d+) min\b", total)
        assert machine == strip + int(breaks[1] if breaks else 0), (height, total)


def test_a_demand_that_costs_more_is_asked_for_and_one_that_saves_is_applied(
    address: str, visit: Open
) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    part = priced(page)
    rows = part.locator("li")
    rows.first.wait_for()
    job = page.url.partition("#/job/")[2].partition("/")[0]
    found = page.context.request.get(f"/api/jobs/{job}").json()["savings"]["alternatives"]
    part.locator("details").evaluate_all("all => all.forEach(d => { d.open = true; })")
    words = {True: 0, False: 0}
    for one in found:
        row = rows.filter(has_text=one["sentence"]).first
        is_saving = float(one["saved_each"]) > 0
        if one["asks"]:
            expect(row.get_by_role("button").last).to_have_text(
                "Apply" if is_saving else "Ask for it"
            )
            words[is_saving] += 1
        else:
            expect(
                row.get_by_role("button", name=re.compile("^(Apply|Ask for it)$"))
            ).to_have_count(0)
    assert words[True] > 0
    assert words[False] > 0
    # Asked for, the line says it and the price rises.
    before = deeds.price(page)
    dearer = next(one for one in found if one["asks"] and float(one["saved_each"]) <= -1)
    rows.filter(has_text=dearer["sentence"]).first.get_by_role("button").last.click()
    page.locator(".moved").filter(has_text="more a piece").wait_for()
    assert deeds.price(page) > before
    asked = page.context.request.get(f"/api/jobs/{job}").json()["asked"]
    for name, text in dearer["asks"].items():
        assert asked.get(name, "") == text


def test_after_an_edit_the_answer_of_before_stays_and_is_priced_again_unasked(
    address: str, visit: Open
) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    part = priced(page)
    rows = part.locator(".answer > ul > li")
    rows.first.wait_for()
    asked: list[str] = []
    page.on("request", lambda one: asked.append(one.url) if one.url.endswith("savings") else None)
    rows.get_by_role("button", name="Apply").last.click()
    note = part.get_by_text("Of before your last change.")
    note.wait_for()
    assert rows.count() > 0
    expect(
        rows.get_by_role("button", name=re.compile("^(Apply|Ask)"), disabled=False)
    ).to_have_count(0)
    # Of before, they have no reason that could be opened.
    expect(rows.locator("[data-why]")).to_have_count(0)
    # A line is written meanwhile, and asks for no price by itself before the hand rests.
    deeds.write(page, "Height", "7 mm")
    page.locator("section[aria-label=Price][aria-busy=false] .each .number").wait_for()
    assert not asked
    expect(note).to_be_visible()
    expect(note).to_have_count(0)
    assert len(asked) == 1
    assert rows.locator("[data-why]").count() > 0
    expect(rows.get_by_role("button", name="Apply").last).to_be_enabled()
    # Who does not want to wait asks at once.
    deeds.write(page, "Height", "8 mm")
    part.get_by_role("button", name="Price again now").click()
    expect(note).to_have_count(0)
    assert len(asked) == 2


def test_the_hours_of_many_pieces_say_of_how_many_they_are(address: str, visit: Open) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    deeds.open_sample(page)
    job = page.url.partition("#/job/")[2].partition("/")[0]
    draft = page.context.request.get(f"/api/jobs/{job}").json()["draft"]
    facts = page.locator("section[aria-label=Price] .facts > span")
    one, many = draft["prices"][0], draft["prices"][-1]
    assert (one["quantity"], many["quantity"]) == (1, 25)
    machine, there = facts.nth(0), facts.nth(1)
    # Of a single piece both times are of that piece.
    expect(machine).not_to_contain_text("for all")
    expect(there).to_have_text(re.compile(r"^\s*somebody there"))
    first = minutes(machine.inner_text())
    page.get_by_role("button", name=str(many["quantity"]), exact=True).click()
    expect(machine).to_contain_text("for all 25")
    assert abs(minutes(machine.inner_text()) - 60 * many["hours"]["likely"]) <= 1
    assert minutes(machine.inner_text()) > 10 * first
    # Beside the time of all pieces, that of somebody there is said to be of the first alone.
    words = there.inner_text()
    expect(there).to_contain_text("the first")
    expect(there).to_contain_text("of which somebody there")
    whole, attended = (minutes(text) for text in words.split("of which"))
    assert abs(whole - draft["strip"]["total_min"]) <= 1
    assert abs(attended - draft["strip"]["attended_min"]) <= 1


def test_the_line_of_the_front_never_falls_back_and_other_dots_say_what_they_also_hold(
    address: str, visit: Open
) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    deeds.open_sample(page)
    # With recast limited, ways differ in more than the tolerance along the axis.
    deeds.write(page, "Recast layer", "5 µm")
    page.locator("section[aria-label=Price][aria-busy=false] .each .number").wait_for()
    part = page.locator("section[aria-labelledby=savings]")
    part.get_by_role("button", name="Price each demand").click()
    figure = part.locator("figure")
    dots = figure.locator("g[role=button]")
    dots.first.wait_for()
    job = page.url.partition("#/job/")[2].partition("/")[0]
    offers = page.context.request.get(f"/api/jobs/{job}").json()["savings"]["front"]

    def place(offer: dict[str, Any]) -> tuple[float, float]:
        asked = offer["asked"]["tolerance_um"]
        return offer["tolerance_um"] if asked is None else asked, float(offer["each"])

    places = [place(one) for one in offers]
    beaten = [
        any(a <= zone and b <= each and (a, b) != (zone, each) for a, b in places)
        for zone, each in places
    ]
    assert True in beaten, "nothing stands off the line here: the test would say nothing"
    points = figure.locator("polyline").get_attribute("points") or ""
    joined = [tuple(map(float, pair.split(","))) for pair in points.split()]
    # To the right is tighter, and upward (less y) dearer: each step goes right and up.
    assert all(a[0] < b[0] and a[1] > b[1] for a, b in pairwise(joined))
    assert len(joined) == beaten.count(False)
    drawn = [
        tuple(float(dot.get_attribute(name) or "") for name in ("cx", "cy"))
        for dot in dots.locator("circle.dot").all()
    ]
    assert min(math.dist(a, b) for a, b in combinations(drawn, 2)) > TARGET_PX
    for number, (at, is_off) in enumerate(zip(drawn, beaten, strict=True)):
        assert (at in joined) is not is_off
        words = re.compile("dearer than the line because it also holds (Ra|recast) ")
        if is_off:
            expect(dots.nth(number)).to_have_attribute("aria-label", words)
        else:
            expect(dots.nth(number)).not_to_have_attribute("aria-label", words)
    expect(figure.locator("figcaption")).to_contain_text(
        "The line joins the cheapest way to each tolerance; a dot in a dashed ring, off the line,"
    )
    deeds.picture(page, "front-with-dots-off-the-line")


def test_in_inches_the_sentences_name_no_millimetre(address: str, visit: Open) -> None:
    page = visit(address)
    part = priced(page)
    first = part.locator("li").first
    first.wait_for()
    # Both units in one sentence, as it stands in millimetres.
    assert "µm" in part.inner_text()
    page.get_by_role("button", name="in", exact=True).click()
    said = " ".join(part.locator("li").all_inner_texts())
    assert " in" in said
    assert re.findall(r"[\d.]+ (?:mm|µm)\b", said) == []


def test_a_tighter_limit_that_only_inspection_pays_for_says_so(address: str, visit: Open) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    deeds.open_sample(page)
    deeds.write(page, "Tolerance", "±9 µm")
    expect(deeds.line(page, "Tolerance")).to_contain_text("read as ±9 µm")
    deeds.write(page, "Tolerance", "±6 µm")
    # The same passes and hours, and longer to measure.
    expect(page.locator(".moved")).to_contain_text("more a piece, off the machine only: inspection")
    deeds.write(page, "Height", "9 mm")
    expect(page.locator(".moved")).to_contain_text("longer")
    expect(page.locator(".moved")).not_to_contain_text("off the machine")
