"""The week over HTTP: ordered jobs on machines, marks, and a plan anew from what is done."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from described_client import DescribedClient
from kerfwright.workbench.app import Settings, create_app
from page_client import PATIENCE_S, dropped, settled, waited

PARK = """
format = "kerfwright-park"
version = 1
[attendant]
mon = ["07:00-16:00"]
tue = ["07:00-16:00"]
wed = ["07:00-16:00"]
thu = ["07:00-16:00"]
fri = ["07:00-16:00"]
# A remark of the shop.
[[machine]]
id = "M1"
wire = "0.25 mm"
[[machine]]
id = "M2"
wire = "0.25 mm"
"""
MONDAY = "2027-03-01 07:00"
STAGE_KEYS = ("machine", "stage", "stages", "moments", "name")


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Make a shop with two proved jobs: one is ordered, one is quoted."""
    place = tmp_path_factory.mktemp("shop")
    with client_of(place) as client:
        for name, stage in (("click.dxf", "ordered"), ("pawl.dxf", "quoted")):
            job = dropped(client, name)["job"]["id"]
            lines = {
                "material": "C270", "height": "2 mm", "quantity": "1, 10", "due": "2027-03-02",
            }  # fmt: skip
            client.patch(f"/api/jobs/{job}", json={"lines": lines}, headers=match(client, job))
            assert waited(client, job, "verdict")["verdict"]["is_proved"]
            client.patch(f"/api/jobs/{job}", json={"stage": stage}, headers=match(client, job))
            settled(client, f"/api/jobs/{job}", lambda one: not one["work"])
    return place


@pytest.fixture
def client(shop: Path, tmp_path: Path) -> Iterator[TestClient]:
    place = tmp_path / "jobs"
    shutil.copytree(shop, place)
    with client_of(place) as found:
        yield found


def client_of(place: Path) -> TestClient:
    return DescribedClient(create_app(Settings(jobs=place)), base_url="http://127.0.0.1")


def match(client: TestClient, job: str) -> dict[str, str]:
    return {"If-Match": str(client.get(f"/api/jobs/{job}").json()["revision"])}


def with_park(client: TestClient) -> None:
    answer = client.put("/api/park", json={"text": PARK, "instead_of": None})
    assert answer.status_code == 200, answer.text


def planned(client: TestClient, **wanted: Any) -> Any:
    body = {"begin": MONDAY, "seconds": 1} | wanted
    assert client.post("/api/week", json=body).status_code == 202
    found = settled(client, "/api/week", lambda w: w["work"] is None)
    assert found["fault"] is None, found["fault"]
    return found["tried"]


def test_ordered_jobs_become_a_week_that_is_kept(client: TestClient) -> None:
    with_park(client)
    week = planned(client)
    assert week["holds"]
    assert [b["job"] for b in week["bookings"]] == ["click"]
    # Due dates are those of the job, less the bench.
    assert week["bookings"][0]["due"].startswith("2027-03-02")
    assert {m["id"] for m in week["machines"]} == {"M1", "M2"}
    assert week["there"][0] == [MONDAY, "2027-03-01 16:00"]
    assert client.get("/api/week").json()["kept"] is None
    kept = client.post("/api/week/keep").json()
    assert kept["kept"] == week
    assert kept["tried"] is None
    assert client.post("/api/week/keep").status_code == 409
    # Another server of the same folder, or this one later, has the same.
    assert client.get("/api/week").json()["kept"] == week


def test_a_plan_anew_starts_from_what_is_marked(client: TestClient) -> None:
    with_park(client)
    first = planned(client)
    client.post("/api/week/keep")
    touch = first["touches"][0]
    said = {name: touch[name] for name in STAGE_KEYS}
    done = datetime.fromisoformat(touch["when"]) + timedelta(minutes=touch["minutes"] + 30)
    body = {"kind": "done", "at": f"{done:%Y-%m-%d %H:%M}", "took_min": 55, **said}
    mark = client.post("/api/jobs/click/marks", json=body)
    assert mark.status_code == 201
    (job,) = client.get("/api/week").json()["jobs"]
    assert job["marks"] == [mark.json()]
    later = f"{done + timedelta(minutes=10):%Y-%m-%d %H:%M}"
    again = planned(client, begin=later)
    (booking,) = again["bookings"]
    assert booking["machine"] == touch["machine"]
    assert booking["running"]
    assert booking["first_stage"] == 1
    assert again["touches"][0]["stage"] == first["touches"][1]["stage"]
    # Ten minutes of the stretch are behind us, though it was told to have begun 40 min ago.
    (before,) = first["bookings"]
    whole, rest = before["stages"][1], booking["stages"][0]
    assert length(whole) - length(rest) == pytest.approx(10, abs=1)
    # Taken back, nothing has begun.
    gone = client.delete(f"/api/jobs/click/marks/{mark.json()['id']}")
    assert gone.status_code == 204
    assert not planned(client, begin=later)["bookings"][0]["running"]
    assert client.delete(f"/api/jobs/click/marks/{mark.json()['id']}").status_code == 404


def length(stage: Any) -> float:
    begin, end = (datetime.fromisoformat(stage[name]) for name in ("begin", "end"))
    return (end - begin).total_seconds() / 60


def test_what_nobody_marked_is_not_done(client: TestClient) -> None:
    with_park(client)
    planned(client)
    client.post("/api/week/keep")
    again = planned(client, begin="2027-03-03 09:00")
    assert again["bookings"][0]["first_stage"] == 0
    assert again["bookings"][0]["stages"][0]["begin"] >= "2027-03-03 09:00"


def test_so_many_pieces_as_are_ordered_are_planned(client: TestClient) -> None:
    with_park(client)
    one = len(planned(client)["bookings"][0]["stages"])
    client.post("/api/jobs/click/marks", json={"kind": "ordered", "quantity": 10})
    assert len(planned(client)["bookings"][0]["stages"]) > one


def test_an_enquiry_is_tried_on_the_week_and_leaves_it_as_it_is(client: TestClient) -> None:
    with_park(client)
    planned(client)
    kept = client.post("/api/week/keep").json()["kept"]
    tried = planned(client, quote="pawl")
    assert tried["promise"]["job"] == "pawl"
    assert tried["promise"]["day"] >= "2027-03-01"
    assert tried["promise"]["held_share"] >= 0.9
    assert client.get("/api/week").json()["tried_for"] == "pawl"
    assert client.get("/api/week").json()["kept"] == kept
    assert client.delete("/api/week/tried").status_code == 204
    assert client.get("/api/week").json()["tried"] is None
    assert client.post("/api/week", json={"quote": "nobody"}).status_code == 404


def test_a_search_is_ended_with_what_it_has(client: TestClient) -> None:
    with_park(client)
    planned(client)
    # The exact search of one job is proved at once; the worth of ending shows in the answer.
    client.post("/api/week", json={"begin": MONDAY, "seconds": 600})
    began = datetime.now()  # noqa: DTZ005
    assert client.delete("/api/week/running").status_code == 204
    found = settled(client, "/api/week", lambda w: w["work"] is None)
    assert found["tried"]["holds"]
    assert (datetime.now() - began).total_seconds() < PATIENCE_S  # noqa: DTZ005


def test_the_server_answers_while_a_week_is_searched_for(client: TestClient) -> None:
    with_park(client)
    client.post("/api/week", json={"begin": MONDAY, "seconds": 5})
    began = datetime.now()  # noqa: DTZ005
    assert client.get("/api/about").status_code == 200
    assert (datetime.now() - began).total_seconds() < 1  # noqa: DTZ005
    client.delete("/api/week/running")


def test_a_machine_that_stands_is_noted_beside_what_the_shop_wrote(client: TestClient) -> None:
    with_park(client)
    said = {
        "machine": "M1", "begin": "2027-03-01 06:00", "end": "2027-03-05 16:00", "why": "spindle",
    }  # fmt: skip
    text = client.post("/api/park/downs", json=said).json()["text"]
    assert "# A remark of the shop." in text
    assert planned(client)["bookings"][0]["machine"] == "M2"
    for odd in ({"machine": "M7"}, {"begin": "2027-03-06 06:00"}):
        assert client.post("/api/park/downs", json=said | odd).status_code == 422


def test_a_park_that_cannot_be_used_is_refused_whole(client: TestClient) -> None:
    with_park(client)
    for text in ("", "[[machine]]", PARK.replace('"07:00-16:00"', '"16:00-07:00"', 1)):
        answer = client.put("/api/park", json={"text": text, "instead_of": PARK})
        assert answer.status_code == 422, text
    assert client.get("/api/park").json()["text"] == PARK
    late = client.put("/api/park", json={"text": PARK, "instead_of": "as it was"})
    assert late.status_code == 409
    assert late.json()["code"] == "park-changed"


def test_the_sample_of_a_park_can_be_kept_as_it_stands(client: TestClient) -> None:
    sample = client.get("/api/park").json()["sample"]
    assert client.put("/api/park", json={"text": sample, "instead_of": None}).status_code == 200


def test_without_a_park_it_is_said_what_to_do(client: TestClient) -> None:
    client.post("/api/week", json={"begin": MONDAY})
    found = settled(client, "/api/week", lambda w: w["work"] is None)
    assert found["fault"]["code"] == "park-missing"


def test_a_job_changed_since_its_proof_is_left_out_and_named(client: TestClient) -> None:
    with_park(client)
    # A line that moves every number, and the proof of it not yet there.
    place = Path(client.get("/api/about").json()["jobs_folder"]) / "click" / "enquiry.json"
    text = place.read_text(encoding="utf-8")
    place.write_text(text.replace('"proved_revision": ', '"proved_revision": 9'), encoding="utf-8")
    week = planned(client)
    assert not week["bookings"]
    assert any("click" in f["message"] and "proved" in f["message"] for f in week["findings"])


def test_the_list_is_a_calendar(client: TestClient) -> None:
    icalendar = pytest.importorskip("icalendar")
    assert client.get("/api/week/calendar.ics").status_code == 404
    with_park(client)
    planned(client)
    week = client.post("/api/week/keep").json()["kept"]
    answer = client.get("/api/week/calendar.ics")
    assert answer.headers["content-type"].startswith("text/calendar")
    events = icalendar.Calendar.from_ical(answer.content).walk("VEVENT")
    # RFC 5545, 3.6.1: an event has an identifier and a stamp; 3.8.7.2: the stamp is in UTC.
    assert [f"{e.decoded('dtstart'):%Y-%m-%d %H:%M}" for e in events] == [
        t["when"] for t in week["touches"]
    ]
    assert all(e.decoded("dtstamp").utcoffset() == timedelta(0) for e in events)
    assert len({str(e["uid"]) for e in events}) == len(events)
    # RFC 5545, 3.1: lines end with CR LF and have 75 octets at most.
    lines = answer.content.split(b"\r\n")
    assert lines[-1] == b""
    assert all(len(line) <= 75 for line in lines)
    assert b"\n" not in answer.content.replace(b"\r\n", b"")


def test_marks_that_cannot_be_meant_are_refused(client: TestClient) -> None:
    at = "/api/jobs/click/marks"
    for body in (
        {"kind": "done", "machine": "M1"},
        {"kind": "break", "machine": "M1"},
        {"kind": "break", "machine": "M1", "why": "x", "at": "2027-02-30 08:00"},
        {"kind": "break", "machine": "M1", "why": "x", "at": "2027-02-03T08:00Z"},
        {"kind": "ordered"},
    ):
        assert client.post(at, json=body).status_code == 422, body
    assert client.post("/api/jobs/none/marks", json={"kind": "ordered"}).status_code == 404


def test_damaged_marks_are_said_and_stop_no_other_job(client: TestClient) -> None:
    with_park(client)
    place = Path(client.get("/api/about").json()["jobs_folder"]) / "click" / "marks.json"
    place.write_text("no JSON", encoding="utf-8")
    (job,) = client.get("/api/week").json()["jobs"]
    assert "JSON" in job["marks_fault"]
    week = planned(client)
    assert not week["bookings"]
    assert any("click is left out" in f["message"] for f in week["findings"])
