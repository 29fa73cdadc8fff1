"""Take the README's picture of the workbench from the page as it is.

``python -m tools.make_page_picture`` writes docs/images/workbench.png; it needs the page built,
Playwright and a Chromium.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

PLACE = Path(__file__).parents[1] / "docs" / "images" / "workbench.png"
WIDTH, HEIGHT = 1366, 768
_PATIENCE_MS = 60_000
_MINUTE_SHARE = 0.62
"""Where on the strip the wire stands: in the skims, the slugs out."""


def main() -> None:
    """Start a server of its own, open the sample, scrub into the cut and take the picture."""
    from playwright.sync_api import sync_playwright

    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as play:
        server = subprocess.Popen(  # noqa: S603 our own program
            [
                *(sys.executable, "-m", "kerfwright", "serve", "--no-browser"),
                *("--port", "0", "--jobs", folder),
            ],
            stdout=subprocess.PIPE,
            text=True,
        )
        try:
            assert server.stdout is not None
            found = re.search(r"http://127\.0\.0\.1:\d+", server.stdout.readline())
            assert found is not None
            browser = play.chromium.launch(
                executable_path=chromium, args=["--no-sandbox", "--disable-gpu"]
            )
            page = browser.new_page(viewport={"width": WIDTH, "height": HEIGHT})
            page.set_default_timeout(_PATIENCE_MS)
            page.goto(found.group())
            page.get_by_role("button", name="Open the sample").click()
            page.get_by_text("Proved against the drawing.").wait_for()
            strip = page.get_by_role("slider").first
            box = strip.bounding_box()
            assert box is not None
            page.mouse.click(box["x"] + _MINUTE_SHARE * box["width"], box["y"] + box["height"] / 2)
            page.mouse.move(WIDTH / 2, 5)
            page.wait_for_timeout(600)
            page.screenshot(path=PLACE)
            browser.close()
        finally:
            server.terminate()
            server.wait(30)


if __name__ == "__main__":
    main()
