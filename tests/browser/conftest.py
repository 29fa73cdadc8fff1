"""A real server on a free port and a real browser that may go nowhere else."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from serving import CHROMIUM, PATIENCE_MS, Served, missing

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page
    from serving import Open


UNWANTED = (
    *("WebUIOmniboxPopup", "WebUIOmniboxAimPopup", "WebUIOmniboxFullPopup"),
    # The driver's own list would be lost: of two the last holds.
    *("AimEnabled", "AvoidUnnecessaryBeforeUnloadCheckSync", "DestroyProfileOnBrowserClose"),
    *("HttpsFirstBalancedModeAutoEnable", "HttpsUpgrades", "LensOverlay", "MediaRouter"),
    *("NetworkTimeServiceQuerying", "OptimizationHints", "PaintHolding", "PreconnectToSearch"),
    "ThirdPartyStoragePartitioning",
)
"""Parts of the browser's own window: its address bar alone is a page of hundreds of scripts, read
anew for every test."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    here = Path(__file__).parent
    why = missing()
    for item in items:
        if here in item.path.parents:
            item.add_marker(pytest.mark.browser)
            if why:
                item.add_marker(pytest.mark.skip(reason=why))


@pytest.fixture(scope="session")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    # One for all: a start costs more than most tests, and plans of before are found again.
    server = Served(tmp_path_factory.mktemp("jobs"))
    yield server
    server.end()


@pytest.fixture(scope="module")
def address(served: Served) -> str:
    """Give the address of a server that holds no job of another module."""
    served.clear()
    return served.address


@pytest.fixture
def empty_desk(served: Served) -> str:
    """Give the address of a server without any job."""
    served.clear()
    return served.address


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    # For a module only: while it lives, nothing else in the process may run an event loop.
    from playwright.sync_api import expect, sync_playwright

    expect.set_options(timeout=PATIENCE_MS)
    with sync_playwright() as play:
        browser = play.chromium.launch(
            executable_path=CHROMIUM,
            args=[
                *("--no-sandbox", "--disable-gpu", "--enable-unsafe-swiftshader"),
                f"--disable-features={','.join(UNWANTED)}",
            ],
        )
        yield browser
        browser.close()


@pytest.fixture
def visit(chromium: Browser, served: Served) -> Iterator[Open]:
    """Open the page in a fresh profile; anything asked of another place fails the test."""
    # A test that ended the server and failed takes no other with it.
    served.begin_again()
    contexts = []
    strays: list[str] = []
    faults: list[str] = []

    def go(at: str, path: str = "/", **options: Any) -> Page:
        settings: dict[str, Any] = {"viewport": {"width": 1366, "height": 768}}
        context = chromium.new_context(base_url=at, **(settings | options))
        contexts.append(context)

        def judge(route: Any) -> None:
            if route.request.url.startswith(at):
                route.continue_()
            else:
                strays.append(route.request.url)
                route.abort()

        context.route("**/*", judge)
        page = context.new_page()
        page.set_default_timeout(PATIENCE_MS)
        page.on("pageerror", lambda fault: faults.append(str(fault)))
        page.on("console", lambda m: faults.append(m.text) if is_fault(m) else None)
        page.goto(path)
        return page

    yield go
    for context in contexts:
        context.close()
    assert not strays, strays
    assert not faults, faults


def is_fault(message: Any) -> bool:
    """Return whether a message of the console is a fault of the page.

    An answer of 4xx is what the tests ask for, and a server that was ended is away.
    """
    wanted = ("Failed to load resource", "WebSocket connection to")
    return message.type == "error" and not message.text.startswith(wanted)
