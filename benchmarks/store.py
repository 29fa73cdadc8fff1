"""The list of jobs, of 50 and of 5 000: over HTTP, as the page asks, and its index built anew.

The peer of a list of 5 000 is the same list of 50, so that a ratio near 1 keeps the goal; that of
the index is reading every folder, as a list did before there was one.
"""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from importlib.util import find_spec
from pathlib import Path
from statistics import median

from kerfwright.adapters.enquiry_folder import ENQUIRY, enquiry_text
from kerfwright.adapters.owned_files import digest
from kerfwright.app.enquiries import Enquiry, Stage

FEW, MANY, PART = 50, 5000, 50
_TRIES = 40


def shop(folder: Path, count: int) -> Path:
    """Make a shop with so many jobs, each of its own drawing, without the waits of a safe disk."""
    for number in range(count):
        place = folder / f"part-{number}"
        place.mkdir(parents=True)
        drawing = f"drawing {number}".encode()
        (place / "part.dxf").write_bytes(drawing)
        one = Enquiry(
            id=place.name,
            title=f"part-{number}.dxf",
            drawing="part.dxf",
            drawing_sha256=digest(drawing),
            added=(datetime(2026, 1, 1, tzinfo=UTC) + timedelta(minutes=number)).isoformat(),
            stage=list(Stage)[number % len(Stage)],
        ).with_lines({"customer": f"customer {number % 97}", "material": "D2", "height": "20 mm"})
        priced = {"each": f"{number % 500}.50", "currency": "EUR", "quantity": "1"}
        (place / ENQUIRY).write_bytes(enquiry_text(replace(one, outcome=priced)))
    return folder


def rows() -> Iterator[dict[str, object]]:
    """Yield the rows."""
    if find_spec("fastapi") is None or find_spec("sqlalchemy") is None:
        print("store: needs the workbench's libraries; not measured")
        return
    with tempfile.TemporaryDirectory() as scratch:
        few, many = (shop(Path(scratch) / str(count), count) for count in (FEW, MANY))
        yield from _lists(few, many)
        yield _rebuilt(many)


def _lists(few: Path, many: Path) -> Iterator[dict[str, object]]:
    from starlette.testclient import TestClient

    from kerfwright.workbench.app import Settings, create_app

    clients = {
        folder: TestClient(create_app(Settings(jobs=folder)), base_url="http://127.0.0.1")
        for folder in (few, many)
    }
    asked = {
        f"the newest {PART}": {"most": PART},
        f"a search, {PART} by date": {"most": PART, "search": "customer 4", "by": "due"},
    }
    with clients[few] as of_few, clients[many] as of_many:
        for one in (of_few, of_many):
            one.get("/api/jobs", params={"most": 1})
        # The files are too young for their times until then.
        time.sleep(2.5)
        for what, params in asked.items():
            times = {
                client: _times(lambda c=client, p=params: c.get("/api/jobs", params=p))  # type: ignore[misc]
                for client in (of_few, of_many)
            }
            ours, peer = median(times[of_many]), median(times[of_few])
            yield {
                "name": f"store: {what} of {MANY}, beside {FEW}",
                "ours_s": ours,
                "peer_s": peer,
                "ratio": peer / ours,
                "note": f"worst {max(times[of_many]) * 1000:.0f} ms, with a look at the folders",
            }
        whole = _times(lambda: of_many.get("/api/jobs"), tries=5)
        yield {
            "name": f"store: all {MANY} at once, beside {FEW}",
            "ours_s": median(whole),
            "peer_s": peer,
            "ratio": peer / median(whole),
            "note": "what the page asks where it names no part",
        }


def _times(do: Callable[[], object], *, tries: int = _TRIES) -> list[float]:
    found = []
    for _ in range(tries):
        begun = time.perf_counter()
        do()
        found.append(time.perf_counter() - begun)
    return found


def _rebuilt(folder: Path) -> dict[str, object]:
    from kerfwright.adapters.enquiry_store import open_store

    store = open_store(folder)
    begun = time.perf_counter()
    store.index.rebuild()
    rebuilt_s = time.perf_counter() - begun
    begun = time.perf_counter()
    assert sum(1 for _ in store.all()) == MANY
    read_s = time.perf_counter() - begun
    store.index.close()
    return {
        "name": f"store: index of {MANY} jobs built anew, beside reading all",
        "ours_s": rebuilt_s,
        "peer_s": read_s,
        "ratio": read_s / rebuilt_s,
        "note": "",
    }
