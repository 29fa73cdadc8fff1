"""Log-in as people meet it: a wrong password, a guest's wall, an owner's lists, and log-out."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from serving import ARTEFACTS, DRAWS_PICTURES, ended, started
from test_access import AXE, violations

from seated import FIRM, OTHER_FIRM, PASSWORD, give_seats, quoted

if TYPE_CHECKING:
    from playwright.sync_api import Page
    from serving import Open


@pytest.fixture(scope="module")
def seated(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    jobs = tmp_path_factory.mktemp("seated")
    give_seats(jobs)
    quoted(jobs, "ours.dxf", FIRM)
    quoted(jobs, "theirs.dxf", OTHER_FIRM)
    server, address = started(jobs)
    yield address
    ended(server)


def enter(page: Page, name: str, password: str = PASSWORD) -> None:
    page.get_by_label("Name").fill(name)
    page.get_by_label("Password").fill(password)
    page.get_by_role("button", name="Log in").click()


def pictured(page: Page, name: str) -> None:
    if DRAWS_PICTURES:
        Path(ARTEFACTS).mkdir(parents=True, exist_ok=True)
        page.screenshot(path=ARTEFACTS / f"{name}.png")


def keep_access(page: Page) -> None:
    if AXE.exists():
        assert violations(page) == []


def test_a_wrong_password_shows_nothing_and_the_right_one_the_jobs(
    seated: str, visit: Open
) -> None:
    page = visit(seated, path="/#/job/ours")
    page.get_by_role("heading", name="Log in").wait_for()
    keep_access(page)
    pictured(page, "log-in")
    enter(page, "estimator", "not the password")
    page.get_by_role("alert").get_by_text("not the name and the password").wait_for()
    assert "ours" not in page.content()
    keep_access(page)
    enter(page, "estimator")
    page.get_by_text("ours.dxf").first.wait_for()
    page.get_by_role("navigation", name="Your seat").get_by_text("estimator").first.wait_for()
    assert page.get_by_role("link", name="Seats").count() == 0
    page.reload()
    page.get_by_text("ours.dxf").first.wait_for()
    # What keeps the session is not for scripts, nor is it kept where they look.
    assert page.evaluate("document.cookie + JSON.stringify(localStorage)") == "{}"


def test_logging_out_empties_the_page_and_the_way_back(seated: str, visit: Open) -> None:
    page = visit(seated)
    enter(page, "programmer")
    page.get_by_role("link", name="theirs.dxf").first.click()
    page.get_by_role("heading", name="theirs.dxf").first.wait_for()
    page.get_by_role("button", name="Log out").click()
    page.get_by_role("heading", name="Log in").wait_for()
    page.go_back()
    page.get_by_role("heading", name="Log in").wait_for()
    assert "theirs" not in page.content()


def test_a_page_left_open_asks_again_when_its_session_is_ended_elsewhere(
    seated: str, visit: Open
) -> None:
    page = visit(seated)
    enter(page, "attendant")
    page.get_by_role("table").wait_for()
    ended_elsewhere = """fetch('/api/session').then(r => r.json()).then(s => fetch('/api/session',
        {method: 'DELETE', headers: {'X-Kerfwright-Change': s.change_token}}))"""
    page.evaluate(ended_elsewhere)
    page.get_by_role("heading", name="Log in").wait_for()
    assert "theirs" not in page.content()


def test_a_guest_sees_his_own_quotes_whatever_address_he_types(seated: str, visit: Open) -> None:
    page = visit(seated)
    enter(page, "guest")
    page.get_by_role("heading", name=f"Quotes for {FIRM}").wait_for()
    page.get_by_role("row").filter(has_text="ours.dxf").wait_for()
    keep_access(page)
    pictured(page, "quotes")
    with page.expect_download() as taken:
        page.get_by_role("link", name="Quote of ours.dxf").click()
    assert taken.value.suggested_filename == "ours-quote.pdf"
    for at in ("#/job/theirs", "#/seats", "#/tables", "#/papers/theirs"):
        page.goto(f"/{at}")
        page.get_by_role("heading", name="Quotes for").wait_for()
        assert "theirs.dxf" not in page.content()
    statuses = page.evaluate(
        """Promise.all(['/api/quotes/theirs/quote.pdf', '/api/quotes/none/quote.pdf',
          '/api/jobs/theirs', '/api/jobs'].map(at => fetch(at).then(r => r.status)))"""
    )
    assert statuses == [404, 404, 403, 403]


def test_an_owner_gives_a_seat_and_reads_who_did_what(seated: str, visit: Open) -> None:
    page = visit(seated)
    enter(page, "owner")
    page.get_by_role("link", name="Seats").click()
    form = page.get_by_role("form", name="A new seat")
    form.get_by_label("Name").fill("nora")
    form.get_by_label("Role").select_option("guest")
    form.get_by_label("Customer").fill(FIRM)
    form.get_by_label("First password").fill("short")
    form.get_by_role("button").click()
    page.get_by_role("alert").get_by_text("at least 12 letters").wait_for()
    form.get_by_label("First password").fill(PASSWORD)
    form.get_by_role("button").click()
    page.get_by_role("row").filter(has_text="nora").filter(has_text=FIRM).first.wait_for()
    page.get_by_role("button", name="Change nora").click()
    change = page.get_by_role("form", name="Change nora")
    change.get_by_label("Role").select_option("attendant")
    change.get_by_role("button").click()
    page.get_by_role("row").filter(has_text="nora").filter(has_text="attendant").first.wait_for()
    page.get_by_role("cell", name="POST /api/seats").first.wait_for()
    keep_access(page)
    pictured(page, "seats")
    with page.expect_download() as taken:
        page.get_by_role("link", name="All of it as CSV").click()
    text = Path(taken.value.path()).read_text(encoding="utf-8")
    assert "nora" in text
    assert PASSWORD not in text
    page.get_by_role("button", name="Take away nora").click()
    page.get_by_role("button", name="Take away nora").wait_for(state="detached")
    wide = "document.documentElement.scrollWidth - innerWidth"
    page.set_viewport_size({"width": 390, "height": 844})
    assert page.evaluate(wide) <= 0
    pictured(page, "seats-narrow")
    page.set_viewport_size({"width": 1366, "height": 768})
    page.emulate_media(color_scheme="dark")
    keep_access(page)
    pictured(page, "seats-dark")
