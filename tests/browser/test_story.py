"""The whole story on the page: drop a drawing, ask, look, scrub, and take the proved program."""

from __future__ import annotations

import re
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING

import deeds

if TYPE_CHECKING:
    from playwright.sync_api import Route
    from serving import Open, Served

WHEEL = Path(str(files("kerfwright") / "data" / "samples" / "escape_wheel.dxf"))
DIE = Path(str(files("kerfwright") / "data" / "samples" / "hand_die.dxf"))


def test_the_first_visit_teaches_and_offers_the_sample(empty_desk: str, visit: Open) -> None:
    from playwright.sync_api import expect

    page = visit(empty_desk)
    expect(page.get_by_text("Drop drawings here")).to_be_visible()
    deeds.picture(page, "first-visit")
    page.get_by_role("button", name="Open the sample").click()
    page.locator(".each .number").wait_for()
    assert deeds.price(page) > 0
    expect(page.get_by_text("Proved against the drawing.")).to_be_visible()


def test_from_a_dropped_drawing_to_the_downloaded_program(empty_desk: str, visit: Open) -> None:
    from playwright.sync_api import expect

    page = visit(empty_desk)
    page.get_by_label("Drawings to add").set_input_files(WHEEL)
    expect(page.locator("li .nothing").filter(has_text="needed")).to_have_count(2)
    deeds.write(page, "Material", "C270 brass")
    deeds.write(page, "Height", "6 mm")
    page.locator(".each .number").wait_for()
    before = deeds.price(page)
    # A bare number is refused at its line, with the reason; nothing else is lost.
    deeds.write(page, "Tolerance", "5")
    expect(page.get_by_role("alert")).to_contain_text("has no unit")
    page.get_by_label("Tolerance", exact=True).fill("±5 µm")
    page.get_by_label("Tolerance", exact=True).press("Enter")
    expect(page.locator(".moved")).to_contain_text("more a piece")
    assert deeds.price(page) > before
    expect(deeds.line(page, "Tolerance")).to_contain_text("holds ±5 µm after 3 passes")
    # The strip: to the first moment at which somebody stands by while the wire is there.
    slider = page.get_by_role("slider", name="Minute of the job")
    slider.press("End")
    expect(slider).to_have_attribute("aria-valuetext", re.compile("skim|stop|cut off"))
    slider.press("PageUp")
    expect(slider).to_have_attribute("aria-valuetext", re.compile("somebody there"))
    slider.press("Home")
    page.get_by_role("button", name="Play the cut").click()
    page.get_by_role("button", name="Stop playing").click()
    with page.expect_download() as download:
        page.get_by_role("link", name="Download program").click()
    program = download.value.path().read_text(encoding="utf-8")
    assert program.startswith("%")
    assert "PASS 3" in program
    deeds.picture(page, "proved")


def test_undo_redo_and_a_reload_lose_nothing(address: str, visit: Open) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    deeds.open_sample(page)
    deeds.write(page, "Height", "0.5 in")
    expect(deeds.line(page, "Height")).to_contain_text("12.70 mm")
    page.get_by_role("button", name="Undo").click()
    expect(deeds.line(page, "Height")).to_contain_text("6.00 mm")
    page.keyboard.press("Control+y")
    expect(deeds.line(page, "Height")).to_contain_text("12.70 mm")
    page.keyboard.press("Control+z")
    expect(deeds.line(page, "Height")).to_contain_text("6.00 mm")
    page.keyboard.press("Control+Shift+Z")
    expect(deeds.line(page, "Height")).to_contain_text("12.70 mm")
    # Nothing changes behind an open reason.
    page.get_by_role("button", name="Why this price").click()
    expect(page.get_by_role("dialog")).to_be_visible()
    changes: list[str] = []
    page.on("request", lambda one: changes.append(one.url) if one.method == "POST" else None)
    page.keyboard.press("Control+z")
    page.keyboard.press("Escape")
    expect(page.get_by_role("dialog")).to_have_count(0)
    deeds.write(page, "Customer", "Observatory")
    expect(deeds.line(page, "Customer")).to_contain_text("Observatory")
    assert not changes
    expect(deeds.line(page, "Height")).to_contain_text("12.70 mm")
    # Half a line typed is still there after a reload.
    deeds.line(page, "Finish").get_by_role("button", name="Finish").first.click()
    page.get_by_label("Finish", exact=True).press_sequentially("N5")
    page.reload()
    expect(page.get_by_label("Finish", exact=True)).to_have_value("N5")
    expect(deeds.line(page, "Height")).to_contain_text("12.70 mm")


def test_an_address_of_no_job_says_so_and_leads_on(address: str, visit: Open) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    deeds.open_sample(page)
    number = page.locator(".each .number")
    # One that no browser would write is a name as any other.
    page.evaluate("location.hash = '#/job/%E0%A4%A'")
    expect(page.get_by_role("alert")).to_contain_text("%E0%A4%A")
    page.get_by_role("link", name="To the list of jobs").click()
    name = page.context.request.get("/api/jobs").json()["jobs"][0]["id"]
    assert page.context.request.delete(f"/api/jobs/{name}").ok
    page.evaluate("job => { location.hash = `#/job/${job}`; }", name)
    again = page.get_by_role("button", name="Look again")
    again.click()
    expect(number).to_have_count(0)
    for one in page.context.request.get("/api/removed").json()["jobs"]:
        if one["id"] == name:
            page.context.request.post(f"/api/removed/{one['name']}/bring-back")
    again.click()
    expect(number).to_be_visible()


def test_two_windows_do_not_overwrite_each_other(address: str, visit: Open) -> None:
    from playwright.sync_api import expect

    one = visit(address)
    deeds.open_sample(one)
    two = visit(address, one.url.removeprefix(address))
    two.locator(".each .number").wait_for()
    # The second window is kept from hearing what the first does.
    two.evaluate("Object.defineProperty(window, 'deaf', {value: true})")
    two.route("**/api/jobs/*", lambda r: r.abort() if r.request.method == "GET" else r.continue_())
    deeds.write(one, "Height", "7 mm")
    expect(deeds.line(one, "Height")).to_contain_text("7.00 mm")
    two.unroute("**/api/jobs/*")
    deeds.write(two, "Height", "8 mm")
    told = two.get_by_role("status").filter(has_text="another window")
    expect(told).to_contain_text("“7 mm”")
    expect(deeds.line(one, "Height")).to_contain_text("7.00 mm")


def test_a_word_put_in_place_of_another_windows_is_told_in_both(address: str, visit: Open) -> None:
    from playwright.sync_api import expect

    one = visit(address)
    deeds.open_sample(one)
    two = visit(address, one.url.removeprefix(address))
    two.locator(".each .number").wait_for()
    # The second has the line open before the first sends; it sends a moment later.
    deeds.line(two, "Material").get_by_role("button", name="Material").first.click()
    two.get_by_label("Material", exact=True).fill("tungsten carbide")
    deeds.write(one, "Material", "D2")
    expect(deeds.line(two, "Material").get_by_role("status")).to_contain_text("to D2")
    two.get_by_label("Material", exact=True).press("Enter")
    here = two.get_by_role("status").filter(has_text="took the place of “D2”")
    there = one.get_by_role("status").filter(has_text="changed in another window, from “D2” to")
    expect(here).to_be_visible()
    expect(there).to_contain_text("“tungsten carbide”")
    # A way back, which the other hears of too; who only looked on hears nothing.
    there.get_by_role("button", name="Back to D2").click()
    expect(deeds.line(one, "Material")).to_contain_text("D2")
    expect(deeds.line(two, "Material")).to_contain_text("D2")
    expect(
        two.get_by_role("status").filter(has_text="from “tungsten carbide” to “D2”")
    ).to_be_visible()
    deeds.write(one, "Customer", "Observatory")
    expect(deeds.line(two, "Customer")).to_contain_text("Observatory")
    expect(two.get_by_role("status").filter(has_text="Customer")).to_have_count(0)
    # What one emptied and the other filled is emptied again.
    deeds.write(one, "Tolerance", "")
    expect(deeds.line(two, "Tolerance")).not_to_contain_text("±0.005 mm")
    deeds.write(two, "Tolerance", "±0.02 mm")
    told = one.get_by_role("status").filter(has_text="Tolerance was changed in another window")
    told.get_by_role("button", name="Take it out again").click()
    expect(deeds.line(two, "Tolerance")).not_to_contain_text("±0.02 mm")


def test_a_finding_is_read_in_the_unit_that_is_shown(address: str, visit: Open) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    deeds.open_sample(page)
    card = page.get_by_role("region", name="Findings")
    card.get_by_role("button").first.click()
    count = int(card.locator(".bar span").inner_text().split(" of ")[1])
    seen = {"mm": "", "in": ""}
    for _ in range(count):
        for unit in ("mm", "in"):
            page.get_by_role("button", name=unit, exact=True).first.click()
            seen[unit] += card.locator(".body").inner_text() + "\n"
        card.get_by_role("button", name="Next finding").click()
    assert re.search(r"\d (mm|µm)\b", seen["mm"])
    assert not re.search(r"\d (mm|µm)\b", re.sub("“[^”]*”", "", seen["in"]))
    expect(card).to_be_visible()


def test_the_place_of_a_finding_is_not_under_its_card(address: str, visit: Open) -> None:
    page = visit(address)
    deeds.open_sample(page)
    card = page.get_by_role("region", name="Findings")
    card.get_by_role("button").first.click()
    count = int(card.locator(".bar span").inner_text().split(" of ")[1])
    looked = 0
    for number in range(2 * count):
        if number == count:
            # So low that there is room beside the card only.
            page.set_viewport_size({"width": 820, "height": 520})
        page.wait_for_timeout(200)
        at = page.evaluate(
            """() => { const {scene, camera, overlay} = window.kerfwrightView;
            const where = scene.marks[scene.mark]?.where;
            if (where?.x_mm == null) return null;
            const box = overlay.getBoundingClientRect();
            const [x, y] = camera.toScreen(where.x_mm, where.y_mm);
            return [x + box.left, y + box.top]; }"""
        )
        if at is not None:
            box = card.bounding_box()
            assert box is not None
            beside = number >= count and at[0] > box["x"] + box["width"]
            assert at[1] < box["y"] or beside, number
            looked += 1
        card.get_by_role("button", name="Next finding").click()
    assert looked >= 2


def test_the_drawing_and_the_table_point_at_each_other(address: str, visit: Open) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    deeds.open_sample(page)
    page.get_by_role("button", name=re.compile("^H3 opening")).click()
    expect(page.get_by_role("region", name="Contour H3")).to_contain_text("opening in P1")
    assert page.url.endswith("/H3")
    drawing = page.get_by_role("application")
    drawing.press(".")
    expect(page.get_by_role("region", name="Contour H4")).to_be_visible()
    drawing.press("Escape")
    expect(page.get_by_role("region", name="Contour H4")).to_have_count(0)
    # H7 is the bore in the middle of the wheel.
    page.evaluate("new Promise(r => requestAnimationFrame(() => requestAnimationFrame(r)))")
    x, y = page.evaluate("window.kerfwrightView.camera.toScreen(0, 0)")
    drawing.click(position={"x": x + 1, "y": y + 1})
    expect(page.get_by_role("region", name="Contour H7")).to_be_visible()
    deeds.picture(page, "contour")


def test_the_unit_is_one_switch(address: str, visit: Open) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    deeds.open_sample(page)
    page.get_by_role("button", name="in", exact=True).click()
    expect(deeds.line(page, "Height")).to_contain_text("0.2362 in")
    expect(page.get_by_role("columnheader", name="offset in")).to_be_visible()
    says = page.get_by_role("region", name="The drawing says")
    says.locator("summary").click()
    expect(says).to_contain_text("size: 2.51968 in")
    expect(says).not_to_contain_text("mm")
    page.locator('[data-why="plan/passes/1/feed_mm_per_min"]').first.click()
    why = page.get_by_role("dialog")
    expect(why).to_contain_text("0.0098 in hard brass")
    page.keyboard.press("Escape")
    page.reload()
    expect(deeds.line(page, "Height")).to_contain_text("0.2362 in")


def test_any_number_opens_its_reason(address: str, visit: Open) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    deeds.open_sample(page)
    page.get_by_role("button", name="Why this price").click()
    why = page.get_by_role("dialog")
    expect(why).to_contain_text("price for 1 each")
    expect(why).to_contain_text("Source")
    page.keyboard.press("Escape")
    expect(why).to_have_count(0)
    page.get_by_role("button", name="Why this offset").first.click()
    expect(page.get_by_role("dialog")).to_contain_text("pass 1 offset")


def test_findings_can_be_stepped_through(address: str, visit: Open) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    page.get_by_label("Drawings to add").set_input_files(DIE)
    findings = page.get_by_role("region", name="Findings")
    findings.get_by_role("button").first.click()
    expect(findings).to_contain_text("1 of ")
    page.get_by_role("button", name="Next finding").click()
    expect(findings).to_contain_text("2 of ")
    expect(findings).to_contain_text("What would help:")
    # What can be done about it is done there, and undone there.
    way = findings.get_by_role("button", name=re.compile("^Leave .* out$"))
    following = page.get_by_role("button", name="Next finding")
    for _ in range(12):
        if way.count():
            break
        following.click()
    left = way.first.inner_text().removeprefix("Leave ").partition(" and ")[0].removesuffix(" out")
    way.first.click()
    said = "leave out" if left.startswith("layer ") else "not cut, but a wall"
    title = left.capitalize() if left.startswith("layer ") else f"Role of {left}"
    expect(
        page.locator("section[aria-labelledby=ledger] li").filter(has_text=said)
    ).to_contain_text(re.compile(re.escape(title), re.IGNORECASE))


def test_what_it_costs_to_ask_can_be_applied_and_stopped(address: str, visit: Open) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    deeds.open_sample(page)
    # Asked by no other test: what is known already is answered before it can be stopped.
    deeds.write(page, "Height", "5.83 mm")
    page.locator(".moved").filter(has_text="less a piece").wait_for()
    expect(page.get_by_text("Proved against the drawing.")).to_be_visible()
    before = deeds.price(page)
    asked = page.get_by_role("region", name="What it costs to ask for this")
    asked.get_by_role("button", name="Price each demand").click()
    expect(asked.locator(".work")).to_contain_text("pricing")
    asked.get_by_role("button", name="Stop").click()
    asked.get_by_role("button", name="Price each demand").click()
    saving = asked.get_by_role("listitem").filter(has_text="saves").first
    expect(saving).to_be_visible()
    deeds.picture(page, "savings")
    asked.get_by_role("button", name=re.compile("^1 pass with")).first.click()
    asked.get_by_role("button", name="Ask for this").click()
    expect(page.locator(".moved.less")).to_contain_text("less a piece")
    assert deeds.price(page) < before


def test_a_server_that_is_gone_is_said_and_found_again(
    address: str, served: Served, visit: Open
) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    deeds.open_sample(page)
    expect(page.get_by_role("link", name="Download program")).to_be_visible()
    served.end()
    expect(page.get_by_role("alert").first).to_contain_text("does not answer")
    # There is nobody to download it from.
    expect(page.get_by_role("button", name="Download program")).to_be_disabled()
    deeds.write(page, "Height", "7 mm")
    expect(page.get_by_label("Height", exact=True)).to_have_value("7 mm")
    served.begin_again()
    expect(page.locator("p.away[role=alert]")).to_have_count(0)
    page.get_by_label("Height", exact=True).press("Enter")
    expect(deeds.line(page, "Height")).to_contain_text("7.00 mm")


def test_the_same_drawing_twice_is_noticed(empty_desk: str, visit: Open) -> None:
    from playwright.sync_api import expect

    page = visit(empty_desk)
    page.get_by_label("Drawings to add").set_input_files(DIE)
    # A drawing that is new opens its job; one that is there already does not.
    expect(page).to_have_url(re.compile("#/job/"))
    page.goto("/#/")
    expect(page.locator("tbody tr")).to_have_count(1)
    page.get_by_label("Drawings to add").set_input_files(DIE)
    expect(page.get_by_text("is the very same drawing as").first).to_be_visible()
    deeds.picture(page, "list")


def test_a_job_whose_program_is_withheld_says_so_first_and_gives_nothing_out(
    address: str, visit: Open
) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    deeds.open_sample(page)
    page.get_by_text("Proved against the drawing.").wait_for()
    job = re.search(r"#/job/([^/]+)", page.url)
    assert job is not None
    assert page.get_by_text("Program withheld").count() == 0
    # Higher than the machine takes: refused before there is a program.
    deeds.write(page, "Height", "900 mm")
    banner = page.get_by_role("alert").filter(has_text="Program withheld")
    expect(banner).to_contain_text("cannot be cut as asked")
    expect(banner).to_contain_text("Nothing is given out to cut by")
    expect(page.get_by_role("button", name="Program withheld")).to_be_disabled()
    expect(page.get_by_role("link", name="Download program")).to_have_count(0)
    banner.get_by_role("button").click()
    expect(page.get_by_role("region", name="Findings")).to_contain_text("Refused")
    # Beside a withheld program no price may look like an offer.
    expect(page.get_by_label("Price", exact=True)).to_contain_text("No price offered")
    expect(page.locator(".each .number")).to_have_count(0)
    expect(page.get_by_role("button", name="Price each demand")).to_have_count(0)
    deeds.picture(page, "withheld-refused")
    page.get_by_role("link", name="Papers").click()
    expect(page.get_by_text("there is no quote and no other paper")).to_be_visible()
    expect(page.get_by_role("button", name="Make the papers")).to_be_disabled()
    page.go_back()
    answer = page.request.get(f"{address}/api/jobs/{job.group(1)}/files/program.nc")
    assert not answer.ok
    deeds.write(page, "Height", "6 mm")
    expect(page.get_by_role("link", name="Download program")).to_be_visible()
    expect(banner).to_have_count(0)


def test_a_program_that_failed_its_proof_shows_its_deviations_and_no_path(
    address: str, visit: Open
) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    fault = {
        "code": "gouge", "severity": "refusal", "message": "pass 3 cuts 41 µm into the part",
        "where": {"contour_id": "H7", "x_mm": 4.0, "y_mm": 0.0}, "remedy": "plan it again",
        "data": {}, "why": "",
    }  # fmt: skip

    def fail(route: Route) -> None:
        """Answer as a server does whose proof found a fault: ours finds none to show."""
        answer = route.fetch()
        job = answer.json()
        if job.get("verdict"):
            job["card"]["is_proved"] = job["verdict"]["is_proved"] = False
            job["verdict"]["findings"] = [fault]
        route.fulfill(response=answer, json=job)

    page.route(re.compile(r"/api/jobs/[^/]+$"), fail)
    deeds.open_sample(page)
    banner = page.get_by_role("alert").filter(has_text="Program withheld")
    expect(banner).to_contain_text("did not pass its proof: pass 3 cuts 41 µm into the part")
    expect(page.get_by_role("link", name="Download program")).to_have_count(0)
    expect(page.get_by_role("button", name="show the program")).to_be_disabled()
    page.get_by_role("button", name="Deviations").click()
    card = page.get_by_role("region", name="Deviations from the drawing")
    expect(card).to_contain_text("Of the withheld program")
    deeds.picture(page, "withheld-failed")
