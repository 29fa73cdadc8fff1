"""Nests on the page: laid in a worker, moved by hand, made jobs that ask what parts ask."""

from __future__ import annotations

import time
from collections.abc import Iterator
from typing import Any

import pytest
from starlette.testclient import TestClient

from described_client import DescribedClient
from kerfwright.workbench.app import Settings, create_app
from page_client import CLICK, changed, dropped, waited

SHEET = {"sheets": ["120x80mm"], "material": "C270", "thickness": "2.5 mm", "seconds": 1}


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    app = create_app(Settings(jobs=tmp_path_factory.mktemp("jobs")))
    with DescribedClient(app, base_url="http://127.0.0.1") as found:
        yield found


def job(client: TestClient, **lines: str) -> str:
    name: str = dropped(client)["job"]["id"]
    revision = client.get(f"/api/jobs/{name}").json()["revision"]
    assert changed(client, name, revision, **lines).status_code == 200
    return name


def laid(client: TestClient, wanted: dict[str, Any]) -> tuple[str, dict[str, Any]]:
    answer = client.post("/api/nests", json=wanted)
    assert answer.status_code == 202, answer.text
    number = answer.json()["id"]
    found = client.get(f"/api/nests/{number}").json()
    while found["work"]:
        time.sleep(0.1)
        found = client.get(f"/api/nests/{number}").json()
    return number, found


def part(job: str, quantity: int, **more: str) -> dict[str, Any]:
    return {"job": job, "quantity": quantity, **more}


def test_parts_of_two_jobs_are_laid_moved_and_made_a_job(client: TestClient) -> None:
    fine = job(client, material="C270", height="2.5 mm", tolerance="±4 µm")
    coarse = job(client, material="C270", height="2.5 mm", finish="Ra 1.6 µm")
    number, found = laid(client, SHEET | {"parts": [part(fine, 2), part(coarse, 1)]})
    assert found["fault"] is None
    nest = found["laid"]
    assert nest["holds"]
    assert {k["job"]: (k["quantity"], k["placed"]) for k in nest["kinds"]} == {
        fine: (2, 2),
        coarse: (1, 1),
    }
    at = f"/api/nests/{number}"
    one, other = nest["placements"][:2]
    # Laid on its neighbour it does not hold, tried or done.
    onto = one | {name: other[name] for name in ("x_mm", "y_mm", "turn_deg")}
    tried = client.post(f"{at}/tried", json={"moved": [onto]}).json()
    assert not tried["holds"]
    assert client.get(at).json()["laid"]["placements"] == nest["placements"]
    moved = client.put(f"{at}/placements", json={"moved": [onto]}).json()["laid"]
    assert not moved["holds"]
    assert "by hand" in moved["method"]
    refused = client.post(f"{at}/jobs")
    assert (refused.status_code, refused.json()["code"]) == (409, "nest-refused")
    back = client.put(f"{at}/placements", json={"moved": [one]}).json()["laid"]
    assert back["holds"]
    made = client.post(f"{at}/jobs").json()["jobs"]
    assert [m["left"] for m in made] == [[]]
    sheet = waited(client, made[0]["id"], "draft")
    asked = sheet["asked"]
    assert asked["material"] == "brass-c270"
    assert asked["height"] == "2.5 mm"
    assert "tolerance" not in asked
    assert sheet["draft"]["stock_is_drawn"]
    fine_layers = {f"PART-{fine}-1", f"PART-{fine}-2"}
    for contour in sheet["draft"]["contours"]:
        own = asked.get(f"contour {contour['id']}", "")
        assert own == ("tolerance=±4 µm" if contour["layer"] in fine_layers else "finish=Ra 1.6 µm")


def test_what_all_parts_ask_is_a_line_of_the_job_and_what_does_not_go_along_is_said(
    client: TestClient,
) -> None:
    name = job(client, material="C270", height="2.5 mm", tolerance="±4 µm")
    revision = client.get(f"/api/jobs/{name}").json()["revision"]
    contour = waited(client, name, "draft")["draft"]["contours"][0]["id"]
    assert changed(client, name, revision, **{f"contour {contour}": "tolerance=±2 µm"}).is_success
    number, _ = laid(client, SHEET | {"parts": [part(name, 2)]})
    made = client.post(f"/api/nests/{number}/jobs").json()["jobs"][0]
    assert made["left"] == [f"{name}: contour {contour}"]
    asked = client.get(f"/api/jobs/{made['id']}").json()["asked"]
    assert asked["tolerance"] == "±4 µm"


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"sheets": ["120"]}, "nest-sheet-text"),
        ({"thickness": "2.5"}, "unit-missing"),
        ({"clamps": ["1mm,2mm"]}, "clamp-text"),
        ({"material": "moon cheese"}, "material-unknown"),
        ({"web": "-3 mm"}, ""),
    ],
)
def test_what_cannot_be_read_is_refused_before_anything_is_laid(
    client: TestClient, change: dict[str, Any], code: str
) -> None:
    name = job(client, material="C270", height="2.5 mm")
    answer = client.post("/api/nests", json=SHEET | {"parts": [part(name, 1)]} | change)
    assert 400 <= answer.status_code < 500
    assert answer.json()["code"]
    if code:
        assert answer.json()["code"] == code


def test_a_job_named_twice_or_not_there_is_refused(client: TestClient) -> None:
    name = job(client, material="C270", height="2.5 mm")
    for parts, code in (
        ([part(name, 1), part(name, 2)], "nest-part-twice"),
        ([part("gone", 1)], "job-unknown"),
    ):
        answer = client.post("/api/nests", json=SHEET | {"parts": parts})
        assert answer.json()["code"] == code


def test_parts_that_find_no_room_are_named_and_no_nest_is_kept_beyond_the_server(
    client: TestClient,
) -> None:
    name = job(client, material="C270", height="2.5 mm")
    _, found = laid(client, SHEET | {"sheets": ["60x40mm=1"], "parts": [part(name, 40)]})
    codes = {f["code"] for f in found["laid"]["findings"]}
    assert "nest-left-over" in codes
    gone = client.get("/api/nests/none")
    assert (gone.status_code, gone.json()["code"]) == (404, "nest-unknown")


def test_the_search_ends_when_somebody_takes_what_there_is(client: TestClient) -> None:
    name = job(client, material="C270", height="2.5 mm")
    wanted = SHEET | {"parts": [part(name, 6)], "seconds": 300}
    number = client.post("/api/nests", json=wanted).json()["id"]
    begun = time.monotonic()
    while client.get(f"/api/nests/{number}").json()["work"]["share"] < 0.01:
        time.sleep(0.1)
    client.delete(f"/api/nests/{number}/running")
    while client.get(f"/api/nests/{number}").json()["work"]:
        assert time.monotonic() - begun < 120
        time.sleep(0.1)
    assert client.get(f"/api/nests/{number}").json()["laid"]["placements"]


def test_the_drawing_that_is_nested_is_that_of_the_job(client: TestClient) -> None:
    name = job(client, material="C270", height="2.5 mm")
    number, found = laid(client, SHEET | {"parts": [part(name, 1, turns="none")]})
    assert found["fault"] is None
    kind = found["laid"]["kinds"][0]
    assert CLICK.stem in name
    assert kind["angles_deg"] == [0.0]
    text = client.get(f"/api/nests/{number}/files/nest.dxf").text
    assert f"PART-{name}-1" in text
