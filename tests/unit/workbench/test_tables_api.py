"""The shop's tables over HTTP: look, override, copy, take back; open jobs follow."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from described_client import DescribedClient
from kerfwright.workbench.app import Settings, create_app
from page_client import changed, dropped, settled, waited

HOUR = "/api/tables/rates/values/hour/machine_unattended_per_h"


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    app = create_app(Settings(jobs=tmp_path))
    with DescribedClient(app, base_url="http://127.0.0.1") as found:
        yield found


def values(client: TestClient, table: str) -> dict[str, Any]:
    rows = client.get(f"/api/tables/{table}").json()["rows"]
    return {value["key"]: value for row in rows for value in row["values"]}


def test_a_rate_of_the_shop_prices_open_jobs_anew_and_can_be_taken_back(
    client: TestClient, tmp_path: Path
) -> None:
    job = dropped(client)["job"]["id"]
    changed(client, job, 1, material="C270 brass", height="6 mm")
    waited(client, job, "verdict")
    before = client.get(f"/api/jobs/{job}").json()["card"]["each"]
    done = dropped(client, "declined.dxf")["job"]["id"]
    changed(client, done, 1, material="C270 brass", height="6 mm")
    waited(client, done, "verdict")
    client.patch(f"/api/jobs/{done}", json={"stage": "declined"}, headers={"If-Match": "2"})
    row = client.put(HOUR, json={"text": "70", "source": "our books"}).json()
    assert row["values"][0]["source"] == "shop's own: our books"
    assert (tmp_path / "our-tables" / "rates.toml").is_file()
    moved = settled(client, "/api/moved", lambda m: m["count"] and not m["left"])
    assert [(one["id"], one["before"]) for one in moved["jobs"]] == [(job, before)]
    assert float(moved["jobs"][0]["after"]) > float(before)
    (rates,) = [c for c in client.get("/api/tables").json() if c["name"] == "rates"]
    assert rates["own"] == 1
    assert client.delete(HOUR).status_code == 200
    moved = settled(client, "/api/moved", lambda m: m["count"] and not m["left"])
    assert moved["jobs"][0]["after"] == before


def priced(client: TestClient, name: str) -> tuple[str, str]:
    """Add a job and wait for its program; returns its name and price."""
    job = dropped(client, name)["job"]["id"]
    changed(client, job, 1, material="C270 brass", height="6 mm")
    waited(client, job, "verdict")
    return job, client.get(f"/api/jobs/{job}").json()["card"]["each"]


def staged(client: TestClient, job: str, stage: str) -> None:
    revision = client.get(f"/api/jobs/{job}").json()["revision"]
    answer = client.patch(
        f"/api/jobs/{job}", json={"stage": stage}, headers={"If-Match": str(revision)}
    )
    assert answer.status_code == 200


def dearer(before: str) -> Any:
    def is_dearer(found: Any) -> bool:
        each = found["card"]["each"]
        return bool(each) and float(each) > float(before) and found["verdict"] is not None

    return is_dearer


def test_a_quoted_job_is_priced_anew_and_an_ordered_one_when_it_is_opened_again(
    client: TestClient,
) -> None:
    quoted, each = priced(client, "quoted.dxf")
    ordered, _ = priced(client, "ordered.dxf")
    staged(client, quoted, "quoted")
    staged(client, ordered, "ordered")
    assert client.put(HOUR, json={"text": "70", "source": ""}).status_code == 200
    settled(client, f"/api/jobs/{quoted}", dearer(each))
    kept = client.get(f"/api/jobs/{ordered}").json()
    assert kept["card"]["each"] == each
    assert kept["card"]["is_proved"]
    staged(client, ordered, "open")
    assert not client.get(f"/api/jobs/{ordered}").json()["card"]["is_proved"]
    settled(client, f"/api/jobs/{ordered}", dearer(each))


def test_figures_changed_beside_the_page_take_price_and_program_back(tmp_path: Path) -> None:
    settings, own = Settings(jobs=tmp_path), tmp_path / "our-tables"
    rate = "[hour]\nmachine_unattended_per_h = {}\n"
    with DescribedClient(create_app(settings), base_url="http://127.0.0.1") as client:
        job, each = priced(client, "wheel.dxf")
        own.mkdir()
        (own / "rates.toml").write_text(rate.format(70), encoding="utf-8")
        refused = client.get(f"/api/jobs/{job}/files/program.nc")
        assert refused.json()["code"] == "not-proved"
        settled(client, f"/api/jobs/{job}", dearer(each))
        now = settled(client, f"/api/jobs/{job}", lambda found: found["card"]["is_proved"])
    # Nothing changed while the server was away: the program of before is still good.
    with DescribedClient(create_app(settings), base_url="http://127.0.0.1") as client:
        assert client.get(f"/api/jobs/{job}/files/program.nc").status_code == 200
    (own / "rates.toml").write_text(rate.format(90), encoding="utf-8")
    with DescribedClient(create_app(settings), base_url="http://127.0.0.1") as client:
        refused = client.get(f"/api/jobs/{job}/files/program.nc")
        assert refused.json()["code"] == "not-proved"
        settled(client, f"/api/jobs/{job}", dearer(now["card"]["each"]))


def test_a_bad_value_is_refused_with_its_limit_and_nothing_is_written(
    client: TestClient, tmp_path: Path
) -> None:
    refused = client.put(HOUR, json={"text": "-3", "source": ""})
    assert refused.status_code == 422
    # By the words on the page, not by the names in the file.
    said = refused.json()["message"]
    assert said.startswith(
        "rates of an hour, machine unattended is -3; expected a number not below 0"
    )
    assert "the limit highest believed, rate of an hour" in said
    refused = client.put(HOUR, json={"text": "USD 40", "source": ""})
    said = refused.json()["message"]
    assert said == "machine unattended 'USD 40' is in USD, and this table is in EUR"
    assert not (tmp_path / "our-tables" / "rates.toml").exists()
    for path in ("/api/tables/secrets", "/api/tables/rates/values/x"):
        assert client.get("/api/tables/secrets").status_code == 404
        assert client.put(path, json={"text": "1"}).status_code in {404, 405}


def test_a_material_and_a_machine_of_the_shop_can_be_asked_for(client: TestClient) -> None:
    for table, like, own, title in (
        ("materials", "material/tool-steel-d2", "our-d2", "Yard D2"),
        ("machines", "generic-mm", "old-lady", "Old lady"),
    ):
        body = {"like": like, "id": own, "title": title}
        assert client.post(f"/api/tables/{table}/rows", json=body).status_code == 201
        assert client.post(f"/api/tables/{table}/rows", json=body).json()["code"] == "row-there"
    key = "material/our-d2/rate_factor"
    assert (
        client.put(f"/api/tables/materials/values/{key}", json={"text": "0.9"}).status_code == 200
    )
    assert values(client, "materials")[key]["is_own"]
    names = client.get("/api/names").json()
    assert "Yard D2" in names["material"]
    assert "Old lady" in names["machine"]
    job = dropped(client)["job"]["id"]
    asked = changed(client, job, 1, material="Yard D2", height="6 mm", machine="old-lady")
    assert asked.status_code == 200, asked.text
    assert waited(client, job, "verdict")["verdict"]["is_proved"]
    assert client.delete("/api/tables/materials/rows/material/our-d2").status_code == 200
    assert client.delete("/api/tables/materials/rows/material/our-d2").status_code == 404


def test_pricing_anew_can_be_stopped_and_a_price_of_before_is_no_proved_one(
    client: TestClient,
) -> None:
    job = dropped(client)["job"]["id"]
    changed(client, job, 1, material="C270 brass", height="6 mm")
    waited(client, job, "verdict")
    before = client.get(f"/api/jobs/{job}").json()["card"]
    assert before["is_proved"]
    assert client.put(HOUR, json={"text": "70", "source": "our books"}).status_code == 200
    assert client.delete("/api/moved").status_code == 204
    stopped = client.get("/api/moved").json()
    assert (stopped["is_stopped"], stopped["left"], stopped["jobs"]) == (True, 1, [])
    card = client.get("/api/jobs").json()["jobs"][0]
    assert not card["is_proved"]
    # A value can be written meanwhile, and pricing begins again with it.
    assert client.put(HOUR, json={"text": "71", "source": "our books"}).status_code == 200
    moved = settled(client, "/api/moved", lambda m: m["count"] and not m["left"])
    assert not moved["is_stopped"]
    waited(client, job, "verdict")
    after = client.get(f"/api/jobs/{job}").json()["card"]
    assert after["is_proved"]
    assert float(after["each"]) > float(before["each"])
