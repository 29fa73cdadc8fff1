"""Applying an offer gives the price that it named: every kind of offer, on every kind of job."""

from __future__ import annotations

import re
import time
from collections.abc import Iterator
from typing import Any

import pytest
from starlette.testclient import TestClient
from tests.soak import some

from described_client import DescribedClient
from kerfwright.workbench.app import Settings, create_app
from page_client import CLICK, WHEEL, changed, dropped, settled, waited

JOBS: dict[str, dict[str, str]] = {
    "the job alone": {"tolerance": "±5 µm", "finish": "Ra 0.8 µm", "quantity": "5"},
    "single contours too": {
        "tolerance": "±12 µm",
        "recast": "12 µm",
        "contour H7": "tolerance=±4 µm, finish=Ra 0.6 µm",
    },
    "a fit": {"tolerance": "12 H7"},
    "a stack": {"height": "2 mm", "quantity": "12", "stack": "4", "covers": "2"},
}


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    app = create_app(Settings(jobs=tmp_path_factory.mktemp("jobs")))
    with DescribedClient(app, base_url="http://127.0.0.1") as found:
        yield found


def offers(savings: dict[str, Any]) -> list[tuple[str, dict[str, str], dict[str, Any]]]:
    """Return what each offer is, the lines that ask for it, and what it promises."""
    found = [(a["sentence"], a["asks"], a["offer"]) for a in savings["alternatives"]]
    return [
        *((words, asks, offer) for words, asks, offer in found if asks),
        *((f"front, {o['passes']} passes", o["asks"], o) for o in savings["front"]),
    ]


def price_at(draft: dict[str, Any], quantity: int) -> str:
    (each,) = (p["each"] for p in draft["prices"] if p["quantity"] == quantity)
    return str(each)


@pytest.mark.parametrize("kind", JOBS)
def test_an_offer_that_is_applied_costs_what_it_said(client: TestClient, kind: str) -> None:
    drawing = WHEEL if kind == "single contours too" else CLICK
    job = dropped(client, f"{kind}.dxf", drawing.read_bytes())["job"]["id"]
    lines = {"material": "C270 brass", "height": "6 mm"} | JOBS[kind]
    assert changed(client, job, 1, **lines).status_code == 200
    assert client.post(f"/api/jobs/{job}/savings").status_code == 202
    found = waited(client, job, "savings")
    both = [(a["instead"], a["instead_inch"]) for a in found["savings"]["alternatives"]]
    both += [(r["metric"], r["inch"]) for r in found["savings"]["front_remarks"]]
    for metric, inch in both:
        # One unit each: what the switch of the page shows.
        assert not re.search(r"\d (?:mm|µm)\b", inch), inch
        assert not re.search(r"\d (?:in|µin)\b", metric), metric
    tried = offers(found["savings"])
    assert len(tried) > 3
    if kind == "single contours too":
        assert any(name.startswith("contour ") for _, asks, _ in tried for name in asks)
    for words, asks, offer in some(tried):
        before = client.get(f"/api/jobs/{job}").json()["revision"]
        answer = changed(client, job, before, **asks)
        assert answer.status_code == 200, (words, asks, answer.text)
        after = settled(client, f"/api/jobs/{job}", lambda one: one["draft"] is not None)
        now = next(iter(after["draft"]["prices"]))
        assert abs(float(now["each"]) - float(offer["each"])) <= 0.02, (words, asks)
        if "quantity" in asks:
            assert str(now["quantity"]) == asks["quantity"]
        if after["revision"] != before:
            undone = client.post(
                f"/api/jobs/{job}/undo", headers={"If-Match": str(after["revision"])}
            )
            assert undone.status_code == 200
        time.sleep(0.01)
