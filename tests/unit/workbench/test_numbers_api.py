"""The shop's numbers over HTTP and on the command line, from jobs that were planned and marked."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from described_client import DescribedClient
from kerfwright.cli.run import run
from kerfwright.workbench.app import Settings, create_app
from page_client import dropped, settled, waited


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Make a shop with an ordered job of two pieces, marked through, and one that was declined."""
    place = tmp_path_factory.mktemp("shop")
    with client_of(place) as client:
        for name, customer, stage in (
            ("click.dxf", "Mill & Sons", "ordered"),
            ("lost.dxf", "=cmd()", "declined"),
        ):
            job = dropped(client, name)["job"]["id"]
            lines = {
                "material": "C270", "height": "2 mm", "quantity": "2, 10", "customer": customer,
            }  # fmt: skip
            change(client, job, {"lines": lines})
            waited(client, job, "verdict")
            change(client, job, {"stage": stage})
            settled(client, f"/api/jobs/{job}", lambda one: not one["work"])
        mark(client, kind="ordered", quantity=10)
    return place


def client_of(place: Path) -> TestClient:
    return DescribedClient(create_app(Settings(jobs=place)), base_url="http://127.0.0.1")


def change(client: TestClient, job: str, body: dict[str, Any]) -> None:
    match = {"If-Match": str(client.get(f"/api/jobs/{job}").json()["revision"])}
    assert client.patch(f"/api/jobs/{job}", json=body, headers=match).status_code == 200


def mark(client: TestClient, **said: Any) -> None:
    assert client.post("/api/jobs/click/marks", json=said).status_code == 201


@pytest.fixture
def client(shop: Path) -> Iterator[TestClient]:
    with client_of(shop) as found:
        yield found


def stage(number: int, at: str, **more: Any) -> dict[str, Any]:
    """Return a mark of a job that has three stages, two of them attended."""
    place = {"machine": "M1", "stage": number, "stages": 3, "moments": 2, "name": "x"}
    return {"kind": "done", "at": f"2027-03-01 {at}", **place, **more}


def test_quoted_hours_are_those_of_the_pieces_ordered(client: TestClient) -> None:
    (job,) = client.get("/api/numbers").json()["jobs"]
    estimate = client.get("/api/jobs/click/files/estimate.json").json()
    price = next(p for p in estimate["prices"] if p["quantity"] == 10)
    assert (job["quantity"], job["price"]) == (10, price["likely"])
    # The hours on the machine that stand with the price, told apart by who is there.
    minutes = job["attended_quoted_min"][1] + job["alone_quoted_min"][1]
    assert minutes == pytest.approx(60 * price["hours"]["likely"], abs=0.1)
    assert job["price_at_marked"] is None
    wire = next(c for c in estimate["consumption"] if c["item"] == "wire")
    assert job["wire_quoted_kg"][1] == pytest.approx(10 * wire["amount"]["likely"], abs=1e-3)


def test_marked_hours_stand_beside_them_and_move_the_price(client: TestClient) -> None:
    mark(client, **stage(0, "08:00", took_min=60))
    mark(client, kind="break", machine="M1", why="flushing", at="2027-03-01 09:00")
    (part,) = client.get("/api/numbers").json()["jobs"]
    assert part["attended"] == {"minutes": 60, "count": 1, "of": 2, "whole": False}
    mark(client, **stage(2, "15:00", took_min=30, ran_min=330, wire_kg=0.4))
    period = {"begin": "2027-03-01 00:00", "end": "2027-03-02 00:00"}
    found = client.get("/api/numbers", params=period).json()
    (job,) = found["jobs"]
    assert job["attended"]["minutes"] == 90
    assert job["alone"] == {"minutes": 330, "count": 1, "of": 1, "whole": True}
    assert (job["wire_used_kg"], job["breaks"]) == (0.4, 1)
    rates = client.get("/api/tables/rates").json()
    assert rates
    # Hours that were marked at the rates by which the price was made.
    estimate = client.get("/api/jobs/click/files/estimate.json").json()
    lines = {line["item"]: line for line in estimate["prices"][-1]["lines"]}
    set_up = next(t for t in estimate["times"] if t["operation"] == "set-up")
    per_h = float(lines["set-up"]["likely"]) / set_up["minutes"]["likely"] * 60
    more = (90 - job["attended_quoted_min"][1]) / 60 * per_h
    rough = next(t for t in estimate["times"] if t["operation"] == "rough pass")
    alone_per_h = float(lines["rough pass"]["likely"]) / (10 * rough["minutes"]["likely"]) * 60
    more += (330 - job["alone_quoted_min"][1]) / 60 * alone_per_h
    expected = float(job["price"]) + more
    assert float(job["price_at_marked"]) == pytest.approx(expected, abs=0.5)
    # From an hour before the first mark to the last.
    (used,) = found["machines"]
    assert (used["hours"], used["of_hours"], used["jobs"]) == (8, 24, ["click"])


def test_quotes_won_are_counted_with_their_interval(client: TestClient) -> None:
    won = client.get("/api/numbers").json()["won"]
    (every,) = [one for one in won if one["way"] == "all"]
    assert (every["won"], every["lost"]) == (["click"], ["lost"])
    assert every["share"]["low"] == pytest.approx(0.0945, abs=1e-4)
    assert every["share"]["high"] == pytest.approx(0.9055, abs=1e-4)


@pytest.mark.parametrize("table", ["jobs", "machines", "won"])
def test_each_table_opens_in_a_spreadsheet(client: TestClient, table: str) -> None:
    period = {"begin": "2027-03-01 00:00", "end": "2027-03-02 00:00"}
    answer = client.get("/api/numbers.csv", params={"table": table} | period)
    assert answer.headers["content-disposition"] == f'attachment; filename="{table}.csv"'
    rows = list(csv.DictReader(io.StringIO(answer.content.decode("utf-8-sig"), newline="")))
    assert rows
    if table == "won":
        # A customer's name is no formula.
        assert "'=cmd()" in [row["group"] for row in rows]
        assert {row["jobs_won"] for row in rows if row["way"] == "all"} == {"click"}


def test_the_command_says_the_same(
    shop: Path, client: TestClient, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    period = ["--from", "2027-03-01", "--to", "2027-03-02"]
    assert run(["numbers", "--jobs", str(shop), "--json", "--csv", str(tmp_path), *period]) == 0
    said = json.loads(capsys.readouterr().out)
    params = {"begin": "2027-03-01 00:00", "end": "2027-03-02 00:00"}
    assert said == client.get("/api/numbers", params=params).json()
    assert {p.name for p in tmp_path.iterdir()} == {"jobs.csv", "machines.csv", "won.csv"}
    assert run(["numbers", "--jobs", str(shop)]) == 0
    assert "1 of 2 (9 to 91 %)" in capsys.readouterr().out


def test_a_job_that_cannot_be_read_counts_by_its_stage_and_is_named(
    client: TestClient, shop: Path
) -> None:
    place = shop / "click" / "marks.json"
    kept = place.read_text(encoding="utf-8")
    place.write_text("{", encoding="utf-8")
    try:
        found = client.get("/api/numbers").json()
        assert [f["code"] for f in found["findings"]] == ["numbers-unread"]
        assert "click" in found["findings"][0]["message"]
        assert found["jobs"][0]["price"] is None
        assert found["won"][0]["won"] == ["click"]
    finally:
        place.write_text(kept, encoding="utf-8")
