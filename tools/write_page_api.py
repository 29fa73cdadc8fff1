"""Write what the page may ask the server, as OpenAPI, from which its types are made.

``python tools/write_page_api.py`` writes ``frontend/openapi.json``; a test holds it to the server.
"""

from __future__ import annotations

import json
import tempfile
from pathlib import Path

from kerfwright.workbench.app import Settings, create_app

TARGET = Path(__file__).parents[1] / "frontend" / "openapi.json"


def text() -> str:
    """Return the document."""
    with tempfile.TemporaryDirectory() as folder:
        document = create_app(Settings(jobs=Path(folder))).openapi()
    document["info"]["version"] = "1"
    return json.dumps(document, indent=1, ensure_ascii=False, sort_keys=True) + "\n"


if __name__ == "__main__":
    TARGET.write_text(text(), encoding="utf-8")
