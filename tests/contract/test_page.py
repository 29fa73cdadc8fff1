"""The page's own description of the server is the server's."""

from __future__ import annotations

import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]


def test_the_page_was_made_for_the_server_as_it_is() -> None:
    sys.path.insert(0, str(ROOT / "tools"))
    try:
        import write_page_api
    finally:
        sys.path.pop(0)
    kept = (ROOT / "frontend" / "openapi.json").read_text(encoding="utf-8")
    assert kept == write_page_api.text(), "run: python tools/write_page_api.py"


def test_the_page_asks_for_no_type_checker_that_its_tools_cannot_use() -> None:
    text = (ROOT / "frontend" / "package.json").read_text(encoding="utf-8")
    assert '"typescript": "~5.9' in text


def test_no_part_of_the_page_grows_beyond_450_lines() -> None:
    long = {
        p.name: count
        for p in (ROOT / "frontend" / "src").rglob("*.*")
        if p.name != "api-types.ts"
        and (count := len(p.read_text(encoding="utf-8").splitlines())) > 450
    }
    assert not long
