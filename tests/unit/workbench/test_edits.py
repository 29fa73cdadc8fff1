"""Edits that follow each other fast, computations that are stopped or fail, and a second window."""

from __future__ import annotations

import asyncio
import threading
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any, ClassVar

import pytest

from described_client import DescribedClient
from kerfwright.foundation.errors import InputError
from kerfwright.workbench import computing
from kerfwright.workbench.app import Settings, create_app
from kerfwright.workbench.sketches import blank
from page_client import changed, dropped, settled

NAMED = "kerfwright.workbench.held_lines.check_named"
TASKS = ("draft", "savings", "check_placed", "prove", NAMED)


class SlowWorkers:
    """Workers whose tasks wait until they are let go, and remember who gave up on them."""

    open: ClassVar[dict[str, threading.Event]] = {}
    given_up: ClassVar[list[dict[str, str]]] = []
    done: ClassVar[list[dict[str, str]]] = []
    begun: ClassVar[list[str]] = []

    def __init__(self, count: int) -> None:
        assert count

    @classmethod
    def forget(cls) -> None:
        cls.open = {n: threading.Event() for n in TASKS}
        cls.open[NAMED].set()
        cls.given_up, cls.done, cls.begun = [], [], []

    async def run(self, task: str, *arguments: Any, **_report: Any) -> Any:
        self.begun.append(task)
        try:
            while not self.open[task].is_set():
                await asyncio.sleep(0.005)
        except asyncio.CancelledError:
            self.given_up.append(arguments[1] if task == "draft" else {})
            raise
        if task == "draft":
            self.done.append(arguments[1])
            return blank(arguments[1], is_solid=False)
        if task == "savings":
            raise InputError("no wire of the table is thick enough", code="wire-none")
        return None

    def close(self) -> None:
        for one in self.open.values():
            one.set()


@pytest.fixture
def client(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[DescribedClient]:
    SlowWorkers.forget()
    monkeypatch.setattr(computing, "Workers", SlowWorkers)
    app = create_app(Settings(jobs=tmp_path))
    with DescribedClient(app, base_url="http://127.0.0.1") as found:
        yield found


def begun(task: str) -> None:
    end = time.monotonic() + 10
    while task not in SlowWorkers.begun:
        assert time.monotonic() < end, f"{task} never began"
        time.sleep(0.005)


def test_a_later_edit_takes_the_place_of_an_earlier_one_that_is_being_priced(
    client: DescribedClient,
) -> None:
    job = dropped(client)["job"]["id"]
    edits = [{"height": f"{mm} mm"} for mm in (5, 6, 7)]
    with ThreadPoolExecutor(3) as windows:
        waiting = []
        for i, lines in enumerate(edits):
            waiting.append(windows.submit(changed, client, job, 1 + i, **lines))
            settled(client, "/api/jobs", lambda seen, i=i: seen["jobs"][0]["revision"] == 2 + i)
        # The two before are answered though nothing was priced, and with no number of before.
        for one in waiting[:2]:
            answer = one.result(timeout=10).json()
            assert answer["draft"] is None
            assert answer["asked"]["height"] in {"6 mm", "7 mm"}
            assert [w["what"] for w in answer["work"]] == ["draft"]
        SlowWorkers.open["draft"].set()
        last = waiting[2].result(timeout=10).json()
    assert last["revision"] == 4
    assert last["draft"] is not None
    assert SlowWorkers.done == [{"height": "7 mm"}]
    assert SlowWorkers.given_up == [{}, {"height": "5 mm"}, {"height": "6 mm"}]
    # Each edit is kept, in order.
    for mm in (6, 5):
        revision = client.get(f"/api/jobs/{job}").json()["revision"]
        undone = client.post(f"/api/jobs/{job}/undo", headers={"If-Match": str(revision)})
        assert undone.json()["asked"]["height"] == f"{mm} mm"


def test_another_window_that_is_quicker_while_places_are_checked_is_not_overwritten(
    client: DescribedClient,
) -> None:
    SlowWorkers.open["draft"].set()
    SlowWorkers.open["prove"].set()
    job = dropped(client)["job"]["id"]
    assert changed(client, job, 1, material="C270 brass", height="6 mm").status_code == 200
    with ThreadPoolExecutor(1) as windows:
        slow = windows.submit(changed, client, job, 2, **{"start H7": "1 mm, 0 mm"})
        begun("check_placed")
        assert changed(client, job, 2, finish="Ra 0.8 µm").status_code == 200
        SlowWorkers.open["check_placed"].set()
        late = slow.result(timeout=10)
    assert (late.status_code, late.json()["code"]) == (409, "changed-elsewhere")
    now = client.get(f"/api/jobs/{job}").json()
    assert now["revision"] == 3
    assert now["asked"]["finish"] == "Ra 0.8 µm"
    assert "start H7" not in now["asked"]


def test_a_fault_of_the_savings_is_none_of_the_job(client: DescribedClient) -> None:
    for name in ("draft", "savings", "prove"):
        SlowWorkers.open[name].set()
    job = dropped(client)["job"]["id"]
    at = f"/api/jobs/{job}"
    changed(client, job, 1, material="C270 brass", height="6 mm")
    assert client.post(f"{at}/savings").status_code == 202
    found = settled(client, at, lambda seen: seen["savings_fault"] is not None)
    assert found["savings_fault"]["code"] == "wire-none"
    assert found["fault"] is None
    assert found["draft"] is not None
    assert "thick" not in str(client.get("/api/jobs").json()["jobs"][0]["attention"])
    # Asked again, it is priced again.
    SlowWorkers.open["savings"].clear()
    client.post(f"{at}/savings")
    again = client.get(at).json()
    assert again["savings_fault"] is None
    assert [w["what"] for w in again["work"]] == ["savings"]


def test_a_draft_that_was_stopped_can_be_begun_again(client: DescribedClient) -> None:
    job = dropped(client)["job"]["id"]
    at = f"/api/jobs/{job}"
    assert client.delete(f"{at}/running/draft").status_code == 204
    stopped = settled(client, at, lambda seen: not seen["work"])
    assert (stopped["draft"], stopped["stopped"]) == (None, ["draft"])
    assert client.get("/api/jobs").json()["jobs"][0]["attention"][-1] == "stopped: not computed"
    SlowWorkers.open["draft"].set()
    assert client.post(f"{at}/draft").json()["work"][0]["what"] == "draft"
    found = settled(client, at, lambda seen: seen["draft"] is not None)
    assert found["stopped"] == []


def test_a_price_of_other_figures_is_marked_in_the_list(
    client: DescribedClient, tmp_path: Path
) -> None:
    import json

    SlowWorkers.open["draft"].set()
    SlowWorkers.open["prove"].set()
    job = dropped(client)["job"]["id"]
    changed(client, job, 1, material="C270 brass", height="6 mm")

    def card() -> dict[str, Any]:
        (found,) = client.get("/api/jobs").json()["jobs"]
        return dict(found)

    place = tmp_path / job / "enquiry.json"
    kept = json.loads(place.read_text(encoding="utf-8"))
    assert kept["outcome"]["figures"]
    kept["outcome"] |= {"each": "12.00", "currency": "USD", "quantity": "1"}
    place.write_text(json.dumps(kept), encoding="utf-8")
    assert (card()["each"], card()["is_of_before"]) == ("12.00", False)
    # By an editor, not on the page: nobody tells the server.
    (tmp_path / "our-tables").mkdir()
    (tmp_path / "our-tables" / "rates.toml").write_text("", encoding="utf-8")
    assert card()["is_of_before"]
    # An order keeps what it was ordered at.
    kept["stage"] = "ordered"
    place.write_text(json.dumps(kept), encoding="utf-8")
    assert not card()["is_of_before"]
