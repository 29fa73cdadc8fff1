"""Applying an offer gives the price that it named: every kind of offer, on every kind of job."""

from __future__ import annotations

import io
import re
import time
from collections.abc import Iterator
from typing import Any

import ezdxf
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


def is_not_offered(job: dict[str, Any]) -> bool:
    return job["draft"] is not None and bool(job["draft"]["not_offered"])


def rail() -> bytes:
    """Return a rail of an observatory's roof, 5 m long: no machine of ours travels so far."""
    drawing = ezdxf.new("R2000", units=4)
    drawing.modelspace().add_lwpolyline(
        [(0, 0), (5000, 0), (5000, 20), (0, 20)], close=True, dxfattribs={"layer": "OUTLINE"}
    )
    text = io.StringIO()
    drawing.write(text)
    return text.getvalue().encode()


REFUSED: dict[str, dict[str, str]] = {
    "higher than the machine takes": {"height": "900 mm"},
    "no process holds it": {"tolerance": "±0.1 µm"},
    "both": {"height": "900 mm", "tolerance": "±0.1 µm"},
}


@pytest.mark.parametrize("kind", REFUSED)
def test_a_refused_job_is_offered_what_lifts_that_with_its_price_and_reason(
    client: TestClient, kind: str
) -> None:
    job = dropped(client, f"{kind}.dxf", CLICK.read_bytes())["job"]["id"]
    at = f"/api/jobs/{job}"
    changed(client, job, 1, **({"material": "C270 brass", "height": "6 mm"} | REFUSED[kind]))
    settled(client, at, is_not_offered)
    client.post(f"{at}/savings")
    found = waited(client, job, "savings")["savings"]
    assert found["is_refused"]
    first = found["alternatives"][0]
    assert set(first["asks"]) == set(REFUSED[kind])
    assert f"{found['currency']} {first['offer']['each']} a piece" in first["sentence"]
    reasons = client.get(f"{at}/reasons").json()
    assert reasons["saving 1 price each so"]["value"] == float(first["offer"]["each"])
    # Nothing is saved from a price that is not there.
    assert [key for key in reasons if key.startswith("saving 1")] == ["saving 1 price each so"]
    changed(client, job, client.get(at).json()["revision"], **first["asks"])
    after = settled(client, at, lambda one: one["draft"] is not None and one["draft"]["prices"])
    assert after["draft"]["prices"][0]["each"] == first["offer"]["each"]
    assert after["savings"] is None


def test_a_refused_job_for_which_nothing_is_offered_says_why(client: TestClient) -> None:
    job = dropped(client, "rail.dxf", rail())["job"]["id"]
    changed(client, job, 1, material="C270 brass", height="6 mm")
    settled(client, f"/api/jobs/{job}", is_not_offered)
    client.post(f"/api/jobs/{job}/savings")
    found = waited(client, job, "savings")["savings"]
    assert (found["as_asked"], found["alternatives"], found["front"]) == (None, [], [])
    (why,) = found["front_remarks"]
    assert why["metric"].startswith("Nothing is offered instead: no other tolerance")
    assert "a larger machine" in why["metric"]
