"""Servers of the page for tests, and why there may be no browser."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from collections.abc import Callable
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from playwright.sync_api import Page

    Open = Callable[..., Page]
ROOT = Path(__file__).parents[2]
ARTEFACTS = ROOT / ".cache" / "browser"
"""Pictures of the page, for people; no part of the repository."""
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
BUILT = ROOT / "src" / "kerfwright" / "workbench" / "static" / "index.html"
PATIENCE_MS = 60_000


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


def ended(server: subprocess.Popen[str]) -> None:
    """End a server of ours."""
    server.terminate()
    server.wait(30)
    if server.stdout is not None:
        server.stdout.close()
