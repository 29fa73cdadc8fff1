"""Measured cuts on the page: entered by touch and by keyboard, asked about, taken back."""

from __future__ import annotations

from typing import TYPE_CHECKING

import deeds

if TYPE_CHECKING:
    from playwright.sync_api import Page
    from serving import Open

LEAST_PX = 48
"""A gloved finger; WCAG 2.2, 2.5.8 asks for 24."""


def at_machine(page: Page) -> None:
    deeds.open_sample(page)
    page.get_by_text("Proved against the drawing.").wait_for()
    page.get_by_role("link", name="At the machine").click()
    page.get_by_role("heading", name="Which pass was cut?").wait_for()


def small_targets(page: Page) -> list[str]:
    """Return the buttons of the question that a glove may miss."""
    found: list[str] = page.evaluate(
        """least => [...document.querySelectorAll("main button, header button, header a")]
            .map(b => [b.innerText, b.getBoundingClientRect()])
            .filter(([, r]) => r.width > 0 && (r.width < least || r.height < least))
            .map(([text, r]) => `${text}: ${r.width} x ${r.height}`)""",
        LEAST_PX,
    )
    return found


def test_a_cut_is_entered_with_gloves_and_stands_beside_its_prediction(
    empty_desk: str, visit: Open
) -> None:
    from playwright.sync_api import expect

    page = visit(empty_desk, viewport={"width": 820, "height": 1180}, has_touch=True)
    at_machine(page)
    assert small_targets(page) == []
    page.get_by_role("button", name="1 rough").tap()
    expect(page.get_by_text("Pass 1: predicted")).to_be_visible()
    page.get_by_role("button", name="hours: empty").tap()
    page.get_by_role("button", name="1", exact=True).tap()
    page.get_by_role("button", name="minutes: empty").tap()
    for key in ("3", "9", "Delete", "5"):
        page.get_by_role("button", name=key, exact=True).tap()
    assert small_targets(page) == []
    page.get_by_role("button", name="Next").tap()
    # A rough pass leaves stock on purpose, and the size is asked from there.
    expect(page.get_by_role("heading", name="where this pass should leave it")).to_be_visible()
    left = page.locator(".from strong").inner_text()
    um = float(left.removesuffix(" µm"))
    page.get_by_role("button", name="5", exact=True).tap()
    # Too deep or metal left: asked, not guessed.
    expect(page.get_by_role("button", name="Next")).to_have_count(0)
    page.get_by_role("button", name="− too deep").tap()
    page.get_by_role("button", name="Back", exact=True).tap()
    expect(page.get_by_text(f"The wall then stands {um - 5:g} µm above")).to_be_visible()
    deeds.picture(page, "size-of-a-rough-pass")
    assert small_targets(page) == []
    page.get_by_role("button", name="Delete").tap()
    # A number typed in one unit is not taken over into the other.
    page.get_by_role("button", name="4", exact=True).tap()
    page.get_by_role("group", name="Unit", exact=True).get_by_role("button", name="in").tap()
    expect(page.get_by_role("button", name="Not measured")).to_be_visible()
    for key in ("Point", "0", "0", "0", "2", "Minus"):
        page.get_by_role("button", name=key, exact=True).tap()
    page.get_by_role("button", name="Next").tap()
    # Half a cut is still there after a reload.
    page.reload()
    expect(page.get_by_role("heading", name="Which finish was measured, Ra?")).to_be_visible()
    page.get_by_role("button", name="3", exact=True).tap()
    page.get_by_role("button", name="Next").tap()
    page.get_by_role("button", name="Not measured").tap()
    page.get_by_role("button", name="Once").tap()
    expect(page.get_by_role("button", name="Change time")).to_contain_text("1 h 35 min")
    expect(page.get_by_role("button", name="Change size off")).to_contain_text("−0.0002 in")
    assert small_targets(page) == []
    page.get_by_role("button", name="Record this cut").tap()
    expect(page.get_by_text("from 1 measured cut we now expect")).to_be_visible()
    expect(page.get_by_text("price moved")).to_be_visible()
    measured = page.get_by_role("region", name="Predicted and measured")
    expect(measured).to_contain_text("1 h 35 min")
    expect(measured).to_contain_text("−5.08")
    page.get_by_role("group", name="Unit shown").get_by_role("button", name="in").tap()
    expect(measured).to_contain_text("−0.0002")


def test_what_was_typed_for_one_pass_stays_with_it(address: str, visit: Open) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    at_machine(page)
    page.get_by_role("button", name="2 skim").press("Enter")
    page.keyboard.type("4,5")
    page.keyboard.press("Enter")
    page.keyboard.type("+85")
    shown = """() => { const [, kept] = Object.entries(sessionStorage)
        .find(([key]) => key.endsWith('/cut'));
        const a = JSON.parse(kept).answers;
        return [a.pass, a.hours + a.minutes + a.seconds, a.size]; }"""
    page.keyboard.press("Enter")
    typed = page.evaluate(shown)
    assert (typed[0], typed[2]) == (2, "+85")
    assert typed[1]
    for _ in range(3):
        page.get_by_role("button", name="Back").click()
    page.get_by_role("button", name="1 rough").click()
    assert page.evaluate(shown) == [1, "", ""]
    # Back at the first pass its answers are there again, over a reload too.
    page.reload()
    page.get_by_role("button", name="Back").click()
    page.get_by_role("button", name="2 skim").click()
    expect(page.locator("#asks")).to_be_visible()
    assert page.evaluate(shown) == typed
    # And where its tab was closed.
    other, place = page.context.new_page(), page.url
    page.close()
    other.goto(place)
    expect(other.locator("#asks")).to_be_visible()
    assert other.evaluate(shown) == typed


def test_an_odd_value_typed_by_keyboard_is_asked_about_and_taken_back(
    address: str, visit: Open
) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    at_machine(page)
    # A time many times off is said while it is typed, and recorded only as one that is right.
    page.get_by_role("button", name="1 rough").press("Enter")
    page.keyboard.type("9")
    expect(page.locator(".outside")).to_contain_text("times shorter than the")
    expect(page.locator(".outside")).to_contain_text("more likely a slip")
    page.keyboard.press("Enter")
    for _ in range(3):
        page.get_by_role("button", name="Not measured").click()
    page.get_by_role("button", name="Nobody counted").click()
    expect(page.get_by_role("alert")).to_contain_text("Is the time right?")
    expect(page.get_by_role("button", name="9 min is right: record this cut")).to_be_visible()
    page.get_by_role("button", name="Change the time").click()
    page.get_by_role("button", name="Back", exact=True).click()
    page.get_by_role("button", name="2 skim").press("Enter")
    page.keyboard.type("4,5")
    page.keyboard.press("Enter")
    page.keyboard.type("+85")
    page.keyboard.press("Enter")
    for _ in range(2):
        page.get_by_role("button", name="Not measured").click()
    page.get_by_role("button", name="Nobody counted").click()
    page.get_by_role("button", name="Record this cut").click()
    expect(page.get_by_text("Is that right?")).to_be_visible()
    # Asked here and, if nobody answers, in the list of cuts.
    listed = page.get_by_role("region", name="Cuts of this job")
    expect(listed).to_contain_text("until you say that it is right")
    asked = page.get_by_role("button", name="It was, and its cause is mended")
    assert asked.count() == 2
    asked.first.click()
    for target in ("button", "textbox"):
        names = {"button": "Not so", "textbox": "What was mended?"}
        box = page.get_by_role(target, name=names[target]).bounding_box()
        assert box is not None
        assert box["height"] >= LEAST_PX
    page.get_by_role("button", name="Not so").click()
    page.get_by_role("button", name="The size is right", exact=True).click()
    expect(page.get_by_role("heading", name="Confirmed")).to_be_visible()
    expect(listed).not_to_contain_text("until you say that it is right")
    # The offset was set since: the size counts no more.
    listed.get_by_role("button", name="The cause of its size is mended").click()
    page.get_by_label("What was mended?").fill("offset set")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="Mended")).to_be_visible()
    expect(page.get_by_text("counts no more, its cause is mended")).to_be_visible()
    expect(listed).to_contain_text("the size counts no more")
    listed.get_by_role("button", name="Take back pass 2").click()
    listed.get_by_role("button", name="Yes, take it back").click()
    expect(page.get_by_role("heading", name="Taken back")).to_be_visible()
    expect(page.get_by_role("region", name="Cuts of this job")).to_contain_text("taken back")
    expect(page.get_by_text("Nothing of this job is measured yet.")).to_be_visible()


def test_the_same_figures_are_one_cut_unless_it_was_another_piece(
    address: str, visit: Open
) -> None:
    from playwright.sync_api import expect

    page = visit(address)
    at_machine(page)
    for _ in range(2):
        page.get_by_role("button", name="1 rough").click()
        page.keyboard.type("90")
        page.keyboard.press("Enter")
        for _ in range(3):
            page.get_by_role("button", name="Not measured").click()
        page.get_by_role("button", name="Not at all").click()
        page.get_by_role("button", name="Record this cut").click()
        page.get_by_role("button", name="ext cut").wait_for()
        if page.get_by_role("button", name="It was another piece").count() == 0:
            page.get_by_role("button", name="ext cut").click()
    page.get_by_role("button", name="It was another piece").click()
    expect(page.get_by_role("region", name="Cuts of this job")).to_contain_text("piece 2")


def test_an_offset_that_was_set_is_said_at_its_finding(empty_desk: str, visit: Open) -> None:
    from playwright.sync_api import expect

    page = visit(empty_desk)
    deeds.open_sample(page)
    page.get_by_text("Proved against the drawing.").wait_for()
    api = page.request
    own = api.get(f"{empty_desk}/api/jobs").json()
    first = str(own["jobs"][0]["id"] if isinstance(own, dict) else own[0]["id"])
    other = str(api.post(f"{empty_desk}/api/jobs/sample").json()["id"])
    while not api.get(f"{empty_desk}/api/jobs/{other}/measured").json()["passes"]:
        page.wait_for_timeout(200)
    last = api.get(f"{empty_desk}/api/jobs/{first}/measured").json()["passes"][-1]
    for job, um in ((other, 4), (first, 5)):
        said = {"pass_number": last["number"], "time": f"{last['minutes']['likely']:.2f} min"}
        at = f"{empty_desk}/api/jobs/{job}/measured"
        assert api.post(at, data=said | {"size_error": f"{um} µm"}).ok
    field = page.get_by_label("Offset set smaller by")
    for _ in range(40):
        if field.count():
            break
        page.evaluate(
            """() => document.querySelector(
                 '[aria-label="Findings"] :is(.tally, [aria-label="Next finding"])')?.click()"""
        )
        page.wait_for_timeout(250)
    expect(field).to_have_value("4 µm")
    field.fill("40 µm")
    page.get_by_role("button", name="It is set").click()
    expect(page.get_by_role("button", name="I am sure")).to_be_enabled()
    expect(page.get_by_role("alert")).to_contain_text("is in doubt")
    field.fill("4 µm")
    page.get_by_role("button", name="It is set").click()
    expect(field).to_have_count(0)
