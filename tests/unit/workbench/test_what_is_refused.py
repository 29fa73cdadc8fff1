"""Every refusal that the description of the server names is answered, and no other is."""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from described_client import DescribedClient
from kerfwright.adapters.enquiry_folder import OUR_TABLES
from kerfwright.adapters.job_folder import write_job
from kerfwright.workbench import pinned
from kerfwright.workbench.app import Settings, create_app
from kerfwright.workbench.jobs import our_desk
from kerfwright.workbench.nests import our_nests
from kerfwright.workbench.session import our_door, our_session
from kerfwright.workbench.week import our_week
from page_client import changed, dropped, waited
from seated import PASSWORD, log_in, seated_app

NAMES = {
    "job": "nobodys",
    "name": "nothing",
    "number": "1",
    "what": "draft",
    "batch": "none",
    "pass_number": "1",
    "key": "a/b",
    "row": "a/b",
    "other": "2",
    "seat": "nobody",
    "nest": "none",
    "mark": "none",
}


@pytest.fixture
def client(tmp_path: Path) -> Iterator[DescribedClient]:
    app = create_app(Settings(jobs=tmp_path))
    with DescribedClient(app, base_url="http://127.0.0.1", raise_server_exceptions=False) as found:
        yield found


def operations(client: DescribedClient) -> list[tuple[str, str, dict[str, Any]]]:
    return [
        (method.upper(), path, one)
        for path, methods in client.document["paths"].items()
        for method, one in methods.items()
    ]


def filled(path: str, **names: str) -> str:
    for name, value in (NAMES | names).items():
        path = path.replace(f"{{{name}}}", value)
    return path


def body(operation: dict[str, Any], *, is_torn: bool) -> dict[str, Any]:
    """Return a body that cannot be taken apart, or one that can and says nothing that is meant."""
    (media,) = operation["requestBody"]["content"]
    if media != "application/json":
        return {"content": b"x", "headers": {"Content-Type": media}} if is_torn else {}
    content = b'{"\xff' if is_torn else b'{"nonsense": 1}'
    return {"content": content, "headers": {"Content-Type": media}}


def refuse_everywhere(client: DescribedClient, job: str) -> None:
    """Ask each address for what is not there, by a stranger, with bodies that cannot be."""
    for method, path, one in operations(client):
        at = filled(path)
        match = {"If-Match": "1"}
        stranger = client.request(method, at, headers={"Host": "elsewhere.example"} | match)
        assert stranger.status_code == 403
        if "404" in one["responses"]:
            more = body_that_may_be(one)
            client.request(method, at, headers=match, **more)
        if "requestBody" not in one:
            continue
        for is_torn in (True, False):
            bad = body(one, is_torn=is_torn)
            bad["headers"] = bad.get("headers", {}) | match
            client.request(method, filled(path, job=job, name="rates"), **bad)


def body_that_may_be(operation: dict[str, Any]) -> dict[str, Any]:
    if "requestBody" not in operation:
        return {}
    (media,) = operation["requestBody"]["content"]
    if media != "application/json":
        return {"files": {"file": ("a.png", b"\x89PNG")}}
    name = operation["requestBody"]["content"][media]["schema"]["$ref"].rpartition("/")[2]
    return {"json": EXAMPLES[name]}


EXAMPLES: dict[str, Any] = {
    "Change": {},
    "PaperOrder": {},
    "CutSaid": {"pass_number": 1, "time": "5 min"},
    "MendedSaid": {"reason": "offset set"},
    "OffsetSetSaid": {"of": "m / nothing / none 0.25 mm / pass 1", "by": "5 µm", "way": "smaller"},
    "Written": {"text": "5", "source": "our own"},
    "NewRow": {"like": "material/none", "id": "our-own", "title": "Ours"},
    "StackWanted": {"quantity": 8},
    "NestWanted": {
        "parts": [{"job": "nobodys", "quantity": 1}],
        "sheets": ["300x200mm"],
        "material": "C270",
        "thickness": "2 mm",
    },
    "NestMoved": {
        "moved": [{"kind": "a", "copy_number": 1, "sheet": 0, "turn_deg": 0, "x_mm": 0, "y_mm": 0}]
    },
    "LogIn": {"name": "owner", "password": "wrong"},
    "NewPassword": {"now": "wrong", "next": PASSWORD},
    "NewSeat": {"name": "owner", "role": "owner", "password": PASSWORD},
    "SeatChange": {"role": "owner"},
    "WeekWanted": {"quote": "nobodys"},
    "ParkSaid": {"text": ""},
    "DownSaid": {"machine": "M1", "begin": "2027-03-01 08:00", "end": "2027-03-01 12:00"},
    "MarkSaid": {"kind": "ordered", "quantity": 3},
    "PlaceWanted": {"contour": "H1", "what": "start", "text": "1 mm, 1 mm"},
}


def refuse_by_state(client: DescribedClient, job: str) -> None:
    """Ask for what a job without material has not, and for another revision of it."""
    at = f"/api/jobs/{job}"
    for method in ("undo", "redo"):
        assert client.post(f"{at}/{method}", headers={"If-Match": "1"}).status_code == 409
        assert client.post(f"{at}/{method}").status_code == 428
        assert client.post(f"{at}/{method}", headers={"If-Match": b"\xb2"}).status_code == 422
    assert client.patch(at, json={}).status_code == 428
    assert client.patch(at, json={}, headers={"If-Match": '"7"'}).status_code == 409
    for what in ("savings", "proof", "stacks", "papers", "places", "measured"):
        sent = (
            {}
            if what in {"savings", "proof"}
            else {
                "json": EXAMPLES[
                    {
                        "stacks": "StackWanted",
                        "papers": "PaperOrder",
                        "places": "PlaceWanted",
                        "measured": "CutSaid",
                    }[what]
                ]
            }
        )
        match = {"If-Match": "0"} if what == "papers" else {}
        assert client.post(f"{at}/{what}", **sent, headers=match).status_code == 409, what
    for ask in (client.patch, client.post):
        assert ask(f"{at}/papers", json={}).status_code == 428
        assert ask(f"{at}/papers", json={}, headers={"If-Match": "x"}).status_code == 422
    assert client.patch(f"{at}/papers", json={}, headers={"If-Match": "9"}).status_code == 409
    for what in (
        "files/program.nc",
        "papers/quote.pdf",
        "papers/quote.pdf/pages/1",
        "cut/path",
        "cut/pieces",
        "cut/deviations",
        "cut/space",
        "cut/walls",
    ):
        assert client.get(f"{at}/{what}").status_code == 409, what
    for what in ("papers/quote.pdf/pages/x", "pinned/pages/x"):
        assert client.get(f"{at}/{what}").status_code == 422, what
    assert client.delete(f"{at}/running/everything").status_code == 422
    assert client.post(f"{at}/measured/1/confirm").status_code == 422


def refuse_versions(client: DescribedClient, folder: Path, job: str) -> None:
    """Ask for versions that cannot be, and bring a job back onto one of its name."""
    at = f"/api/jobs/{job}/versions"
    match = {"If-Match": "1"}
    for method, path in (
        ("GET", "0"),
        ("GET", "1/against/x"),
        ("GET", "0/reasons"),
        ("GET", "x/files/a"),
        ("POST", "x/take-back"),
    ):
        assert client.request(method, f"{at}/{path}", headers=match).status_code == 422, path
    outside = folder / job
    write_job(outside, {"plan.json": "{}"}, refused=True)
    assert client.post(f"{at}/1/take-back").status_code == 428
    late = client.post(f"{at}/1/take-back", headers={"If-Match": "7"})
    assert (late.status_code, late.json()["code"]) == (409, "changed-elsewhere")
    unasked = client.post(f"{at}/1/take-back", headers=match)
    assert (unasked.status_code, unasked.json()["code"]) == (409, "version-not-asked")
    other = dropped(client, "twice.dxf")["job"]["id"]
    client.delete(f"/api/jobs/{other}")
    shutil.copytree(folder / ".removed" / other, folder / other)
    there = client.post(f"/api/removed/{other}/bring-back")
    assert (there.status_code, there.json()["code"]) == (409, "job-there")


def refuse_week(client: DescribedClient, folder: Path, job: str) -> None:
    """Ask for a week that nobody planned, with a park and marks that somebody left broken."""
    assert client.post("/api/week/keep").status_code == 409
    down = client.post("/api/park/downs", json=EXAMPLES["DownSaid"])
    assert (down.status_code, down.json()["code"]) == (409, "park-missing")
    late = {"text": BEGINS, "instead_of": "as it was"}
    assert client.put("/api/park", json=late).status_code == 409
    for path in ("/api/numbers", "/api/numbers.csv"):
        assert client.get(path, params={"begin": "2027-02-30 08:00"}).status_code == 422
    (folder / "week.json").write_text("{", encoding="utf-8")
    assert client.get("/api/week").json()["kept_fault"]["code"] == "week-broken"
    assert client.get("/api/week/calendar.ics").status_code == 422
    text = '{"format": "kerfwright-week", "version": 1}'
    (folder / "week.json").write_text(text, encoding="utf-8")
    assert client.get("/api/week").json()["kept_fault"]["code"] == "week-broken"
    (folder / job / "marks.json").write_text("{", encoding="utf-8")
    assert client.delete(f"/api/jobs/{job}/marks/none").status_code == 422


BEGINS = """
format = "kerfwright-park"
version = 1
[attendant]
mon = ["07:00-12:00"]
[[machine]]
id = "M1"
"""


def refuse_nests(client: DescribedClient, job: str) -> None:
    """Ask of a nest that is not laid yet what only one that is laid has."""
    part = {"job": job, "quantity": 2}
    begun = client.post("/api/nests", json=EXAMPLES["NestWanted"] | {"parts": [part]})
    at = f"/api/nests/{begun.json()['id']}"
    for method, path in (("POST", "tried"), ("PUT", "placements")):
        answer = client.request(method, f"{at}/{path}", json=EXAMPLES["NestMoved"])
        assert (answer.status_code, answer.json()["code"]) == (409, "nest-not-laid")
        assert client.request(method, f"{at}/{path}", json={"nonsense": 1}).status_code == 422
    assert client.post(f"{at}/jobs").json()["code"] == "nest-refused"
    assert client.get(f"{at}/files/nest.svg").status_code == 409
    client.delete(f"{at}/running")


def refuse_rows(client: DescribedClient) -> None:
    row = {"like": "material/d2", "id": "our-own", "title": "Ours"}
    like = next(
        r["id"] for r in client.get("/api/tables/materials").json()["rows"] if r["can_copy"]
    )
    row["like"] = like
    assert client.post("/api/tables/materials/rows", json=row).status_code == 201
    assert client.post("/api/tables/materials/rows", json=row).status_code == 409


def refuse_where_log_in_is_off(client: DescribedClient) -> None:
    for method, path, one in operations(client):
        if "409" in one["responses"] and {"seats", "quotes"} & set(one["tags"]):
            answer = client.request(method, filled(path), **body_that_may_be(one))
            assert (answer.status_code, answer.json()["code"]) == (409, "log-in-off")


def refuse_where_log_in_is_on(folder: Path) -> set[tuple[str, str, int]]:
    """Ask each address without being logged in, and as an owner what no owner is given."""
    with DescribedClient(seated_app(folder), base_url="http://127.0.0.1") as client:
        for method, path, one in operations(client):
            more = body_that_may_be(one) if path.startswith("/api/session") else {}
            assert client.request(method, filled(path), **more).status_code == 401, path
        log_in(client, "owner")
        for method, path, one in operations(client):
            if "requestBody" in one and path.startswith(("/api/session", "/api/seats")):
                answer = client.request(method, filled(path), json={"nonsense": 1})
                assert answer.status_code == 422
        assert client.get("/api/audit", params={"before": 0}).status_code == 422
        for method in ("PATCH", "DELETE"):
            body = {"json": EXAMPLES["SeatChange"]} if method == "PATCH" else {}
            assert client.request(method, "/api/seats/nobody", **body).status_code == 404
        assert 429 in _tried(client, "PUT", "/api/session/password", EXAMPLES["NewPassword"])
        client.app.state.door.uploads.most = 0  # type: ignore[attr-defined]
        files = [("files", ("a.dxf", b"0"))]
        assert client.post("/api/jobs", files=files).status_code == 429
        assert client.put("/api/jobs/a/pinned", files={"file": ("a", b"0")}).status_code == 429
        log_in(client, "guest")
        assert client.get("/api/quotes/nothing/quote.pdf").status_code == 404
        assert 429 in _tried(client, "POST", "/api/session", EXAMPLES["LogIn"])
        return client.seen


def _tried(client: DescribedClient, method: str, path: str, body: Any) -> list[int]:
    """Try so often that the wait is longer than a try takes on a busy machine."""
    return [client.request(method, path, json=body).status_code for _ in range(12)]


def refuse_by_files(client: DescribedClient, folder: Path, job: str) -> None:
    """Ask with a table of the shop, then a job, that somebody left broken."""
    at = f"/api/jobs/{job}"
    tables = folder / OUR_TABLES
    for name in ("materials", "rates", "papers", "learning"):
        (tables / f"{name}.toml").write_text("not = [toml", encoding="utf-8")
    for path in (
        "/api/names",
        "/api/tables",
        "/api/tables/rates",
        f"{at}/papers",
        f"{at}/measured",
    ):
        assert client.get(path).status_code == 422, path
    assert client.post("/api/jobs/sample").status_code == 422
    assert client.delete("/api/tables/rates/values/a/b").status_code == 422
    assert client.delete("/api/tables/rates/rows/a/b").status_code == 422
    assert client.delete(f"{at}/measured/none").status_code == 422
    for one in tables.iterdir():
        one.unlink()
    place = folder / job / "enquiry.json"
    kept = json.loads(place.read_text(encoding="utf-8"))
    kept["asked"] = {"material": "C270 brass", "height": "6 mm", "quantity": "many"}
    place.write_text(json.dumps(kept), encoding="utf-8")
    for what in ("savings", "proof"):
        assert client.post(f"{at}/{what}").status_code == 422
    place.write_text("{", encoding="utf-8")
    assert client.get(at).status_code == 500


def test_each_refusal_that_is_described_is_answered_and_no_other(
    client: DescribedClient, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(pinned, "MOST_BYTES", 100)
    monkeypatch.setattr("kerfwright.adapters.pinned.MOST_BYTES", 100)
    job = dropped(client)["job"]["id"]
    waited(client, job, "draft")
    refuse_everywhere(client, job)
    refuse_by_state(client, job)
    pin = f"/api/jobs/{job}/pinned"
    big = client.put(pin, files={"file": ("a.pdf", b"%PDF-" + bytes(100))})
    assert (big.status_code, big.json()["code"]) == (413, "pinned-too-large")
    (tmp_path / job / "pinned sheet.pdf").write_bytes(b"%PDF-")
    assert client.get(pin).status_code == 422
    refuse_versions(client, tmp_path, job)
    assert client.get("/api/jobs", params={"by": "size"}).status_code == 422
    refuse_rows(client)
    refuse_where_log_in_is_off(client)
    refuse_week(client, tmp_path, job)
    refuse_nests(client, job)
    refuse_by_files(client, tmp_path, job)
    client.seen |= refuse_where_log_in_is_on(tmp_path / "seated")

    def broken() -> None:
        raise RuntimeError("as if there were a bug")

    for ours in (our_desk, our_door, our_session, our_week, our_nests):
        client.app.dependency_overrides[ours] = broken  # type: ignore[attr-defined]
    for method, path, one in operations(client):
        more = body_that_may_be(one)
        if path == "/api/jobs" and more:
            more = {"files": [("files", ("a.dxf", b"0"))]}
        client.request(method, filled(path), headers={"If-Match": "1"}, **more)
    described = {
        (method, path, int(status))
        for method, path, one in operations(client)
        for status in one["responses"]
        if int(status) >= 400
    }
    missing = described - client.seen
    assert not missing


def test_what_no_address_takes_is_refused_in_the_same_form(client: DescribedClient) -> None:
    for method, path, status, code in (
        ("GET", "/api/nothing", 404, "address-unknown"),
        ("GET", "/nothing.html", 404, "address-unknown"),
        ("PUT", "/api/jobs", 405, "method-unknown"),
    ):
        answer = TestClient.request(client, method, path)
        assert answer.status_code == status
        assert answer.json()["code"] == code
        assert set(answer.json()) == {"code", "message", "where", "remedy", "line"}


def test_a_revision_is_demanded_where_the_server_demands_it(client: DescribedClient) -> None:
    demanded = {
        (method, path)
        for method, path, one in operations(client)
        for parameter in one.get("parameters", ())
        if parameter["name"].lower() == "if-match" and parameter["required"]
    }
    assert demanded == {
        (method, path) for method, path, one in operations(client) if "428" in one["responses"]
    }
    assert len(demanded) == 6


def test_nothing_is_described_that_no_route_answers(client: DescribedClient) -> None:
    text = json.dumps(client.document)
    assert "HTTPValidationError" not in text
    for method, path, one in operations(client):
        for status, answer in one["responses"].items():
            if int(status) >= 400:
                schema = answer["content"]["application/json"]["schema"]
                assert schema == {"$ref": "#/components/schemas/Fault"}, (method, path, status)


def test_one_of_several_revisions_is_enough_and_a_change_may_wait_for_no_price(
    client: DescribedClient,
) -> None:
    job = dropped(client)["job"]["id"]
    at = f"/api/jobs/{job}"
    body = {"lines": {"material": "C270 brass", "height": "6 mm"}}
    answer = client.patch(at, json=body, headers={"If-Match": '"2", "1"', "Prefer": "wait=0"})
    assert answer.status_code == 200
    assert answer.headers["Preference-Applied"] == "wait=0"
    assert answer.json()["draft"] is None
    assert [one["what"] for one in answer.json()["work"]] == ["draft"]
    assert changed(client, job, 1, height="7 mm").status_code == 409
