"""Servers of the page for tests, and why there may be no browser."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
import urllib.request
from collections.abc import Callable
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING

from tests.soak import SOAK

from kerfwright.adapters.enquiry_folder import OUR_CUTS, OUR_TABLES

if TYPE_CHECKING:
    from playwright.sync_api import Page

    Open = Callable[..., Page]
ROOT = Path(__file__).parents[2]
ARTEFACTS = ROOT / ".cache" / "browser"
"""Pictures of the page, for people; no part of the repository."""
CHROMIUM = next(
    filter(None, map(shutil.which, ("chromium-headless-shell", "chromium", "chromium-browser"))),
    None,
)
"""The one without a window first: a page opens for two thirds of the work."""
BUILT = ROOT / "src" / "kerfwright" / "workbench" / "static" / "index.html"
PATIENCE_MS = 60_000
DRAWS_PICTURES = SOAK or bool(os.environ.get("KERFWRIGHT_PICTURES"))
"""Whether pictures are taken: painting them costs what a test costs, and no check looks at them."""


def missing() -> str:
    """Return why the browser cannot be driven here; empty where it can."""
    if CHROMIUM is None:
        return "there is no Chromium here (Debian package chromium)"
    if not BUILT.exists():
        return "the page is not built (make test builds it)"
    if find_spec("playwright") is None:
        return "playwright is not installed"
    return ""


def started(jobs: Path, port: int = 0) -> tuple[subprocess.Popen[str], str]:
    """Start a server and return it with its address."""
    environment = {k: v for k, v in os.environ.items() if k != "PYTEST_CURRENT_TEST"}
    server = subprocess.Popen(  # noqa: S603 our own program
        [
            *(sys.executable, "-m", "kerfwright", "serve", "--no-browser"),
            *("--port", str(port), "--jobs", str(jobs)),
        ],
        stdout=subprocess.PIPE,
        text=True,
        env=environment,
    )
    assert server.stdout is not None
    line = server.stdout.readline()
    found = re.search(r"http://127\.0\.0\.1:\d+", line)
    assert found, line
    return server, found.group()


class Served:
    """One server for many tests: started once, emptied between them, ended and started again.

    Parameters
    ----------
    jobs : Path
        Folder of its jobs.
    """

    def __init__(self, jobs: Path) -> None:
        self.jobs = jobs
        self._server, self.address = started(jobs)

    def end(self) -> None:
        """End it; twice is as good as once."""
        if self._server.poll() is None:
            ended(self._server)

    def begin_again(self) -> None:
        """Start it anew where it was, if it was ended."""
        if self._server.poll() is not None:
            port = int(self.address.rpartition(":")[2])
            self._server, self.address = started(self.jobs, port=port)

    def clear(self) -> None:
        """Take every job off the list, and what the shop wrote into its tables and cuts."""
        self.begin_again()
        for one in json.loads(self._asked("/api/jobs"))["jobs"]:
            self._asked(f"/api/jobs/{one['id']}", "DELETE")
        for own in (OUR_CUTS, OUR_TABLES):
            shutil.rmtree(self.jobs / own, ignore_errors=True)

    def _asked(self, path: str, method: str = "GET") -> bytes:
        asked = urllib.request.Request(self.address + path, method=method)  # noqa: S310 our own
        with urllib.request.urlopen(asked, timeout=60) as answer:  # noqa: S310 our own server
            content: bytes = answer.read()
        return content


def ended(server: subprocess.Popen[str]) -> None:
    """End a server of ours."""
    server.terminate()
    server.wait(30)
    if server.stdout is not None:
        server.stdout.close()
