"""The list of jobs over HTTP: from the index, a part at a time, whoever changed the folders."""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from tests.postgres_server import fresh_database

from described_client import DescribedClient
from kerfwright.adapters.enquiry_folder import ENQUIRY
from kerfwright.adapters.enquiry_store import open_store
from kerfwright.app.enquiries import Stage
from kerfwright.workbench.app import Settings, create_app
from page_client import changed, dropped, waited

NOW = datetime(2025, 1, 31, 7, 0, tzinfo=UTC)


@pytest.fixture(params=["file", "postgresql"])
def client(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[DescribedClient]:
    store = open_store(tmp_path)
    for number, customer in enumerate(("Observatory", "Tower clocks", "Ada", "")):
        one = store.add(f"w{number}.dxf", b"0", added=NOW + timedelta(hours=number))
        store.change(one.id, lambda now, c=customer: now.with_lines({"customer": c}))
    store.change("w1", lambda now: now.at_stage(Stage.ORDERED))
    store.change("w2", lambda now: replace(now, outcome={"each": "5.00", "currency": "EUR"}))
    store.index.close()
    url = None
    if request.param == "postgresql":
        url = fresh_database(request.getfixturevalue("postgres_server"))
    app = create_app(Settings(jobs=tmp_path, index=url))
    with DescribedClient(app, base_url="http://127.0.0.1") as found:
        yield found


def ids(client: DescribedClient, **wanted: Any) -> list[str]:
    return [one["id"] for one in client.get("/api/jobs", params=wanted).json()["jobs"]]


def test_a_part_of_the_list_says_how_many_there_are(client: DescribedClient) -> None:
    found = client.get("/api/jobs", params={"most": 2, "skip": 1}).json()
    assert [one["id"] for one in found["jobs"]] == ["w2", "w1"]
    assert found["total"] == 4
    assert found["by_stage"] == {"open": 3, "ordered": 1}
    assert ids(client) == ["w3", "w2", "w1", "w0"]


def test_the_list_is_sorted_searched_and_filtered(client: DescribedClient) -> None:
    assert ids(client, by="customer", rising=True) == ["w2", "w0", "w1", "w3"]
    assert ids(client, by="each", most=1) == ["w2"]
    assert ids(client, search="TOWER clocks") == ["w1"]
    assert ids(client, stage=["ordered", "done"]) == ["w1"]
    # What needs attention is no part of the index: it moves with the day.
    by_need = [
        (one["id"], len(one["attention"]))
        for one in client.get("/api/jobs", params={"by": "attention"}).json()["jobs"]
    ]
    assert [n for _, n in by_need] == sorted((n for _, n in by_need), reverse=True)
    assert ids(client, by="attention", most=2, skip=1) == [name for name, _ in by_need[1:3]]
    for wrong in ({"by": "size"}, {"most": 0}, {"stage": "lost"}, {"skip": -1}, {"page": 2}):
        assert client.get("/api/jobs", params=wrong).status_code == 422, wrong


def test_what_is_done_on_the_page_is_on_the_list_at_once(client: DescribedClient) -> None:
    name = dropped(client, "new.dxf", b"0")["job"]["id"]
    assert ids(client)[0] == name
    assert changed(client, name, 1, customer="Bell foundry").status_code == 200
    assert ids(client, search="foundry") == [name]
    card = client.get(f"/api/jobs/{name}").json()["card"]
    assert card["same_drawing"] == ["w0", "w1", "w2", "w3"]
    assert client.delete(f"/api/jobs/{name}").status_code == 204
    assert name not in ids(client)
    assert client.post(f"/api/removed/{name}/bring-back").json() == {"id": name}
    assert ids(client, search="foundry") == [name]


def test_what_is_done_to_the_folders_is_on_the_list(
    client: DescribedClient, tmp_path: Path
) -> None:
    shutil.copytree(tmp_path / "w0", tmp_path / "copy")
    file = tmp_path / "copy" / ENQUIRY
    document = json.loads(file.read_text(encoding="utf-8"))
    file.write_text(json.dumps(document | {"id": "copy"}), encoding="utf-8")
    shutil.rmtree(tmp_path / "w3")
    (tmp_path / "w2" / ENQUIRY).write_text("{", encoding="utf-8")
    client.app.state.desk.folder.index.look_again()  # type: ignore[attr-defined]
    found = client.get("/api/jobs").json()
    assert sorted(one["id"] for one in found["jobs"]) == ["copy", "w0", "w1"]
    assert len(found["unreadable"]) == 1


def test_a_job_changed_at_another_seat_is_computed_anew_here(
    client: DescribedClient, tmp_path: Path
) -> None:
    name = dropped(client)["job"]["id"]
    assert changed(client, name, 1, material="C270 brass", height="6 mm").status_code == 200
    seat = open_store(tmp_path)
    seat.change(name, lambda now: now.with_lines({"height": "7 mm"}))
    seat.index.close()
    client.get(f"/api/jobs/{name}")
    found = waited(client, name, "draft")
    (line,) = (one for one in found["draft"]["ledger"] if one["name"] == "height")
    assert line["asked"] == "7 mm"
    late = changed(client, name, 2, height="8 mm")
    assert late.status_code == 409
    assert client.get(f"/api/jobs/{name}").json()["asked"]["height"] == "7 mm"


def test_jobs_are_kept_and_opened_where_the_index_is_away(tmp_path: Path) -> None:
    url = f"postgresql://nobody@/none?host={tmp_path}"
    app = create_app(Settings(jobs=tmp_path / "jobs", index=url))
    with DescribedClient(app, base_url="http://127.0.0.1") as client:
        name = dropped(client, "new.dxf", b"0")["job"]["id"]
        assert client.get(f"/api/jobs/{name}").status_code == 200
        answer = client.get("/api/jobs")
        assert (answer.status_code, answer.json()["code"]) == (500, "index-unreachable")
        assert "no job is lost" in answer.json()["remedy"]


def test_a_version_taken_back_is_asked_and_computed_again(tmp_path: Path) -> None:
    app = create_app(Settings(jobs=tmp_path))
    with DescribedClient(app, base_url="http://127.0.0.1") as client:
        name = dropped(client)["job"]["id"]
        at = f"/api/jobs/{name}"
        for revision, height in enumerate(("6 mm", "7 mm"), start=1):
            changed(client, name, revision, material="C270 brass", height=height)
            waited(client, name, "verdict")
        first, second = client.get(f"{at}/versions").json()["versions"]
        assert (first["asked"]["height"], second["asked"]["height"]) == ("6 mm", "7 mm")
        back = client.post(f"{at}/versions/1/take-back", headers={"If-Match": "3"})
        assert back.status_code == 200
        assert back.json()["asked"] == first["asked"]
        verdict = waited(client, name, "verdict")
        assert verdict["verdict"]["is_proved"]
        kept = client.get(f"{at}/versions/1/files/program.nc")
        assert kept.text == client.get(f"{at}/files/program.nc").text
        each = [price["each"] for price in first["prices"]]
        assert [price["likely"] for price in verdict["draft"]["prices"]] == each
        undone = client.post(f"{at}/undo", headers={"If-Match": "4"})
        assert undone.json()["asked"] == second["asked"]


@pytest.mark.parametrize(
    ("name", "says", "not_says"),
    [("spring.dwg", "Save it as DXF", "PDF"), ("spring.pdf", "a PDF holds no exact", "Save it")],
)
def test_a_file_that_is_no_drawing_to_cut_gets_the_remedy_of_its_kind(
    client: DescribedClient, name: str, says: str, not_says: str
) -> None:
    (one,) = client.post("/api/jobs", files=[("files", (name, b"AC1032"))]).json()
    assert says in one["fault"]["remedy"]
    assert not_says not in one["fault"]["remedy"]
