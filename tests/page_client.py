"""What a program does with the server of the page, in a line each."""

from __future__ import annotations

import time
from collections.abc import Callable
from importlib.resources import files
from pathlib import Path
from typing import Any

from starlette.testclient import TestClient

_SAMPLES = Path(str(files("kerfwright") / "data" / "samples"))
WHEEL = _SAMPLES / "escape_wheel.dxf"
CLICK = _SAMPLES / "click.dxf"
"""Two contours, planned in half the time of the wheel: for what any part would show."""
PATIENCE_S = 60
Job = dict[str, Any]


def dropped(client: TestClient, name: str = "click.dxf", content: bytes | None = None) -> Job:
    data = CLICK.read_bytes() if content is None else content
    answer = client.post("/api/jobs", files=[("files", (name, data))])
    assert answer.status_code == 201
    (one,) = answer.json()
    found: Job = one
    return found


def changed(client: TestClient, job: str, revision: int, **lines: str) -> Any:
    return client.patch(
        f"/api/jobs/{job}", json={"lines": lines}, headers={"If-Match": f'"{revision}"'}
    )


def waited(client: TestClient, job: str, what: str) -> Job:
    """Return a job once it holds what is waited for."""
    end = time.monotonic() + PATIENCE_S
    while time.monotonic() < end:
        found: Job = client.get(f"/api/jobs/{job}").json()
        if found[what] is not None:
            return found
        time.sleep(0.05)
    raise AssertionError(f"no {what} came")


def settled(client: TestClient, path: str, is_there: Callable[[Any], bool]) -> Any:
    """Return what an address answers once it is as it is waited for."""
    end = time.monotonic() + PATIENCE_S
    while time.monotonic() < end:
        found = client.get(path).json()
        if is_there(found):
            return found
        time.sleep(0.05)
    raise AssertionError(f"{path} never came: {found}")
