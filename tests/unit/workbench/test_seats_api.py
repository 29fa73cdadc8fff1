"""Log-in, roles, walls between firms, and what is written down, over HTTP."""

from __future__ import annotations

import asyncio
import csv
import json
import statistics
import time
from collections.abc import Iterator
from importlib import resources
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient
from starlette.websockets import WebSocketDisconnect

from described_client import DescribedClient
from kerfwright.adapters.enquiry_folder import EnquiryFolder
from kerfwright.app.enquiries import Stage
from kerfwright.app.seats import MAY, Right, Role
from kerfwright.workbench import events
from kerfwright.workbench.app import Settings, create_app
from kerfwright.workbench.described import Described
from kerfwright.workbench.gate import CHANGE_TOKEN
from kerfwright.workbench.limits import MOST_WAIT_S
from kerfwright.workbench.rights import NEEDS
from page_client import CLICK, changed, dropped
from seated import (
    FIRM,
    NAMES,
    OTHER_FIRM,
    OTHER_GUEST,
    PASSWORD,
    Somebody,
    log_in,
    quoted,
    seated_app,
)

pytestmark = pytest.mark.usefixtures("cheap_passwords")
SOCKET = "ws://127.0.0.1/api/events"
FILLED = {
    "job": "click",
    "name": "rates",
    "number": "1",
    "other": "2",
    "what": "draft",
    "batch": "none",
    "pass_number": "1",
    "key": "a/b",
    "row": "a/b",
    "seat": "nobody",
}


@pytest.fixture(scope="module")
def jobs(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("jobs")


@pytest.fixture(scope="module")
def app(jobs: Path) -> Described:
    return seated_app(jobs)


@pytest.fixture(scope="module")
def client(app: Described) -> Iterator[DescribedClient]:
    with DescribedClient(app, base_url="http://127.0.0.1", raise_server_exceptions=False) as found:
        yield found


@pytest.fixture(scope="module")
def somebody(client: DescribedClient, app: Described) -> dict[str, Somebody]:
    """Give a client for each seat; the one that is called ``client`` keeps the server up."""
    people = {name: Somebody(app, name) for name in (*NAMES.values(), OTHER_GUEST)}
    for one in people.values():
        # All share the event loop of the client that began the server.
        one.portal = client.portal
    return people


def filled(path: str) -> str:
    for name, value in FILLED.items():
        path = path.replace(f"{{{name}}}", value)
    return path


def operations(document: dict[str, Any]) -> list[tuple[str, str]]:
    return [(m.upper(), path) for path, methods in document["paths"].items() for m in methods]


def test_every_address_of_the_server_has_a_line_in_the_table(client: DescribedClient) -> None:
    described = {
        (method, path.replace("{key}", "{key:path}").replace("{row}", "{row:path}"))
        for method, path in operations(client.document)
    }
    beside = {("GET", "/api/openapi.json"), ("WEBSOCKET", "/api/events")}
    assert set(NEEDS) == described | beside
    assert {one.right for one in NEEDS.values()} == set(Right)


@pytest.mark.parametrize("role", Role)
def test_each_role_is_let_to_each_address_as_the_table_says_and_to_no_other(
    client: DescribedClient, somebody: dict[str, Somebody], role: Role
) -> None:
    person = somebody[NAMES[role]]
    for (method, path), need in NEEDS.items():
        if method == "WEBSOCKET" or path.startswith("/api/session"):
            continue
        # Nothing that is asked here can be done: what is looked at is who is turned away before.
        body = {"content": b"{", "headers": {"Content-Type": "application/json"}}
        more = body if method in {"POST", "PUT", "PATCH"} else {}
        at = filled(path.replace(":path", ""))
        if (method, path) == ("POST", "/api/jobs/sample"):
            continue
        answer = TestClient.request(person, method, at, **more)
        is_turned_away = answer.status_code == 403
        assert is_turned_away != (need.right in MAY[role]), (method, path, answer.text[:200])
        if is_turned_away:
            assert answer.json()["code"] == "not-for-this-role"


def test_an_address_without_a_line_is_refused_to_an_owner_too(
    client: DescribedClient, somebody: dict[str, Somebody], monkeypatch: pytest.MonkeyPatch
) -> None:
    from kerfwright.workbench import rights

    left = [one for one in rights._FORMS if one[2] != "/api/names"]
    monkeypatch.setattr(rights, "_FORMS", left)
    assert TestClient.request(somebody["owner"], "GET", "/api/names").status_code == 404


def test_whoever_is_not_logged_in_reads_and_changes_nothing(client: DescribedClient) -> None:
    client.cookies.clear()
    for method, path in operations(client.document):
        if (method, path) == ("POST", "/api/session"):
            continue
        answer = client.request(method, filled(path), headers={"If-Match": "1"})
        assert answer.status_code == 401, (method, path)
        assert answer.json()["code"] == "log-in-needed"
    for path in ("/api/openapi.json", "/api/nothing", "/api/jobs/"):
        answer = TestClient.request(client, "GET", path, follow_redirects=False)
        assert answer.status_code == 401, path
    with pytest.raises(WebSocketDisconnect) as closed, client.websocket_connect(SOCKET):
        pass
    assert closed.value.code == 4401


@pytest.mark.parametrize("token", ["", "x", "é", "a" * 5000, '"', "kerfwright=x; y"])
def test_a_token_that_is_none_lets_nobody_in(client: DescribedClient, token: str) -> None:
    client.cookies.clear()
    headers = {"Cookie": f"kerfwright={token}".encode("latin-1")}
    assert client.get("/api/jobs", headers=headers).status_code == 401


def test_a_wrong_name_and_a_wrong_password_are_told_alike(client: DescribedClient) -> None:
    answers = [
        log_in(client, name, password)
        for name, password in (("owner", PASSWORD + "!"), ("nobody", PASSWORD))
    ]
    assert [one.status_code for one in answers] == [401, 401]
    assert answers[0].json() == answers[1].json()
    assert answers[0].json()["code"] == "log-in-wrong"


def test_the_cookie_is_kept_from_scripts_and_from_other_sites(client: DescribedClient) -> None:
    said = log_in(client, "owner").headers["set-cookie"].lower()
    assert "httponly" in said
    assert "samesite=strict" in said
    assert "path=/;" in f"{said};"
    assert "domain" not in said


def test_under_tls_the_cookie_is_sent_by_tls_only(tmp_path: Path) -> None:
    app = seated_app(tmp_path, is_secure=True)
    with TestClient(app, base_url="https://127.0.0.1") as client:
        said = log_in(client, "owner").headers["set-cookie"]
        assert said.startswith("__Host-kerfwright=")
        assert "secure" in said.lower()
        assert client.get("/api/jobs").status_code == 200


def test_a_change_without_its_token_is_refused(
    client: DescribedClient, somebody: dict[str, Somebody]
) -> None:
    owner = somebody["owner"]
    for token in ("", "x", somebody["programmer"].headers[CHANGE_TOKEN]):
        answer = owner.post("/api/jobs/sample", headers={CHANGE_TOKEN: token})
        assert (answer.status_code, answer.json()["code"]) == (403, "change-token")
    elsewhere = owner.post("/api/jobs/sample", headers={"Origin": "https://evil.example"})
    assert (elsewhere.status_code, elsewhere.json()["code"]) == (403, "not-from-here")


def test_logging_out_ends_the_session_and_the_open_socket(
    client: DescribedClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(events, "LOOKS_EVERY_S", 0.05)
    log_in(client, "attendant")
    cookie = {"Cookie": f"kerfwright={client.cookies['kerfwright']}"}
    with client.websocket_connect(SOCKET) as socket:
        assert client.get("/api/jobs").status_code == 200
        assert client.delete("/api/session").status_code == 204
        with pytest.raises(WebSocketDisconnect):
            socket.receive_text()
    assert "kerfwright" not in client.cookies
    # Nor does the token of before let anybody in.
    assert client.get("/api/jobs", headers=cookie).status_code == 401


def test_another_password_ends_every_session_of_the_seat(app: Described, jobs: Path) -> None:
    with DescribedClient(app, base_url="http://127.0.0.1") as one:
        log_in(one, "programmer")
        two = Somebody(app, "programmer")
        fresh = f"{PASSWORD} tree"
        wrong = one.put("/api/session/password", json={"now": "not mine", "next": fresh})
        assert (wrong.status_code, wrong.json()["code"]) == (422, "password-wrong")
        weak = one.put("/api/session/password", json={"now": PASSWORD, "next": "weak"})
        assert (weak.status_code, weak.json()["code"]) == (422, "password-weak")
        body = {"now": PASSWORD, "next": fresh}
        assert one.put("/api/session/password", json=body).status_code == 204
        assert one.get("/api/jobs").status_code == 401
        assert two.get("/api/jobs").status_code == 401
        assert log_in(one, "programmer").status_code == 401
        assert log_in(one, "programmer", fresh).status_code == 201
        assert (
            one.put("/api/session/password", json={"now": fresh, "next": PASSWORD}).status_code
            == 204
        )


class Clock:
    now_s = 1000.0

    def __call__(self) -> float:
        return self.now_s


@pytest.fixture
def slow(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Iterator[tuple[DescribedClient, Clock]]:
    # What is looked at is who has to wait; the hash itself is tested with the store.
    monkeypatch.setattr("kerfwright.adapters.seats.store.is_right", lambda _k, p: p == PASSWORD)
    app = seated_app(tmp_path)
    clock = Clock()
    app.state.door.waits.now_s = clock
    with DescribedClient(app, base_url="http://127.0.0.1") as client:
        yield client, clock


def test_each_further_wrong_password_waits_longer_but_never_for_good(
    slow: tuple[DescribedClient, Clock],
) -> None:
    client, clock = slow
    for _ in range(5):
        assert log_in(client, "owner", "wrong").status_code == 401
    early = log_in(client, "owner")
    assert (early.status_code, early.json()["code"]) == (429, "log-in-wait")
    assert early.headers["Retry-After"] == "1"
    clock.now_s += 1.1
    for _ in range(20):
        assert log_in(client, "owner", "wrong").status_code == 401
        clock.now_s += MOST_WAIT_S
    assert log_in(client, "owner").status_code == 201
    assert log_in(client, "owner", "wrong").status_code == 401


def test_a_stranger_who_guesses_keeps_no_owner_out(slow: tuple[DescribedClient, Clock]) -> None:
    client, clock = slow
    app = client.app
    assert log_in(client, "owner").status_code == 201
    with TestClient(app, base_url="http://127.0.0.1", client=("10.0.0.66", 1)) as stranger:
        for _ in range(40):
            log_in(stranger, "owner", "wrong")
        assert log_in(stranger, "owner", "wrong").status_code == 429
        # From where the owner came before, nothing is to be waited for.
        assert log_in(client, "owner").status_code == 201
        assert clock.now_s == 1000.0


def test_one_address_that_tries_many_names_waits(slow: tuple[DescribedClient, Clock]) -> None:
    client, _ = slow
    statuses = [log_in(client, f"name{n}", "wrong").status_code for n in range(8)]
    assert statuses == [401] * 5 + [429] * 3


def test_uploads_are_counted_for_each_seat(slow: tuple[DescribedClient, Clock]) -> None:
    client, _ = slow
    client.app.state.door.uploads.most = 2  # type: ignore[attr-defined]
    log_in(client, "estimator")
    files = [("files", ("a.dxf", b"0"))]
    statuses = [client.post("/api/jobs", files=files).status_code for _ in range(3)]
    assert statuses == [201, 201, 429]
    pinned = client.put("/api/jobs/a/pinned", files={"file": ("a.png", b"x")})
    assert (pinned.status_code, pinned.json()["code"]) == (429, "uploads-wait")
    log_in(client, "programmer")
    client.app.state.door.uploads.most_bytes = 100  # type: ignore[attr-defined]
    big = client.post("/api/jobs", files=[("files", ("a.dxf", b"0" * 200))])
    assert big.status_code == 429


def test_who_has_a_seat_names_machines_of_the_shop_and_learns_nothing_of_other_files(
    tmp_path: Path,
) -> None:
    shipped = resources.files("kerfwright") / "data" / "machines" / "generic-mm.toml"
    (tmp_path / "mine.toml").write_bytes(shipped.read_bytes())
    (tmp_path / "notes").write_text("the safe: 4711", "utf-8")
    wanted = {"like": "generic-mm", "id": "old-lady", "title": "Old lady"}
    told = set()
    with DescribedClient(seated_app(tmp_path / "jobs"), base_url="http://127.0.0.1") as client:
        log_in(client, Role.OWNER.value)
        assert client.post("/api/tables/machines/rows", json=wanted).is_success
        log_in(client, Role.ESTIMATOR.value)
        job = dropped(client)["job"]["id"]
        assert changed(client, job, 1, machine="Old lady").status_code == 200
        assert changed(client, job, 2, machine="generic-inch").status_code == 200
        for path in ("mine.toml", "notes", "none.toml", "none"):
            answer = changed(client, job, 3, machine=str(tmp_path / path))
            assert (answer.status_code, answer.json()["code"]) == (422, "machine-unknown")
            told.add(answer.text.replace(str(tmp_path / path), ""))
    # Of a file that is there and of one that is not the same is said.
    assert len(told) == 1
    # On this machine alone its owner may name his file.
    alone = create_app(Settings(jobs=tmp_path / "alone"))
    with DescribedClient(alone, base_url="http://127.0.0.1") as client:
        job = dropped(client)["job"]["id"]
        assert changed(client, job, 1, machine=str(tmp_path / "mine.toml")).status_code == 200


@pytest.fixture(scope="module")
def two_firms(jobs: Path, client: DescribedClient) -> tuple[str, str, str]:
    return (
        quoted(jobs, "ours.dxf", FIRM.upper()),
        quoted(jobs, "theirs.dxf", OTHER_FIRM),
        quoted(jobs, "not yet.dxf", FIRM, stage=Stage.OPEN),
    )


def test_a_guest_sees_the_quotes_of_his_firm_and_no_other(
    somebody: dict[str, Somebody], two_firms: tuple[str, str, str]
) -> None:
    ours, theirs, still_open = two_firms
    guest, stranger = somebody["guest"], somebody[OTHER_GUEST]
    assert [one["job"] for one in guest.get("/api/quotes").json()["quotes"]] == [ours]
    assert [one["job"] for one in stranger.get("/api/quotes").json()["quotes"]] == [theirs]
    mine = guest.get(f"/api/quotes/{ours}/quote.pdf")
    assert mine.content.startswith(b"%PDF- for TOWER")
    others = [
        guest.get(f"/api/quotes/{job}/quote.pdf") for job in (theirs, still_open, "nothing-here")
    ]
    assert {one.status_code for one in others} == {404}
    assert len({one.text for one in others}) == 1
    keep = {"content-length", "content-type", "cache-control"}
    assert len({json.dumps({k: one.headers.get(k) for k in keep}) for one in others}) == 1


def test_what_is_opened_for_a_guest_does_not_depend_on_the_job_he_names(
    somebody: dict[str, Somebody],
    two_firms: tuple[str, str, str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    _, theirs, _ = two_firms
    guest = somebody["guest"]
    seen: list[str] = []
    place_of = EnquiryFolder.place_of

    def noted(self: EnquiryFolder, job: str) -> Path:
        seen.append(job)
        return place_of(self, job)

    monkeypatch.setattr(EnquiryFolder, "place_of", noted)
    opened = []
    for job in (theirs, "nobodys", theirs):
        seen.clear()
        guest.get(f"/api/quotes/{job}/quote.pdf")
        opened.append(list(seen))
    # The list itself may look over the folders; the job that is named is no part of it.
    assert opened[0] == opened[1] == opened[2]


def test_time_does_not_tell_a_job_of_another_firm_from_none(
    somebody: dict[str, Somebody], two_firms: tuple[str, str, str]
) -> None:
    _, theirs, _ = two_firms
    guest = somebody["guest"]
    took: dict[str, list[float]] = {theirs: [], "nobodys": []}
    for _ in range(60):
        for job, times in took.items():
            begun = time.perf_counter()
            guest.get(f"/api/quotes/{job}/quote.pdf")
            times.append(time.perf_counter() - begun)
    one, other = (statistics.median(times) for times in took.values())
    assert 0.6 < one / other < 1 / 0.6, took


def test_a_guest_learns_nothing_from_other_addresses_or_from_events(
    client: DescribedClient, somebody: dict[str, Somebody], two_firms: tuple[str, str, str]
) -> None:
    guest = somebody["guest"]
    answers = [guest.get(f"/api/jobs/{job}") for job in (*two_firms, "nothing-here")]
    assert {one.status_code for one in answers} == {403}
    assert len({one.text for one in answers}) == 1
    log_in(client, "guest")
    hub = client.app.state.desk._hub  # type: ignore[attr-defined]
    before = len(hub._queues)
    with client.websocket_connect(SOCKET):
        assert len(hub._queues) == before
    log_in(client, "attendant")
    with client.websocket_connect(SOCKET):
        assert len(hub._queues) == before + 1


def deeds(somebody: dict[str, Somebody], **wanted: Any) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = somebody["owner"].get("/api/audit", params=wanted).json()["deeds"]
    return found


def test_views_changes_downloads_and_refusals_are_written_down(
    somebody: dict[str, Somebody], two_firms: tuple[str, str, str]
) -> None:
    ours, theirs, _ = two_firms
    attendant = somebody["attendant"]
    for _ in range(3):
        attendant.get(f"/api/jobs/{ours}/versions")
    attendant.get(f"/api/jobs/{ours}/versions/1/files/plan.json")
    attendant.delete(f"/api/jobs/{ours}")
    somebody["guest"].get(f"/api/quotes/{theirs}/quote.pdf")
    found = [
        (one["kind"], one["deed"], one["detail"], one["status"])
        for one in deeds(somebody, job=ours)
        if one["seat"] == "attendant"
    ]
    form = "/api/jobs/{job}"
    assert found[:3] == [
        ("refused", f"DELETE {form}", "not-for-this-role", 403),
        ("download", f"GET {form}/versions/{{number}}/files/{{name}}", "1 plan.json", 200),
        ("view", f"GET {form}/versions", "", 200),
    ]
    assert [one[1] for one in found].count(f"GET {form}/versions") == 1
    (tried, *_) = deeds(somebody, job=theirs)
    assert (tried["seat"], tried["kind"], tried["status"]) == ("guest", "refused", 404)
    assert all(one["address"] == "testclient" and one["at"] for one in deeds(somebody))


def test_log_ins_are_written_down_and_no_password_is(
    client: DescribedClient, somebody: dict[str, Somebody], jobs: Path
) -> None:
    log_in(client, "estimator", "this was a typo of it")
    log_in(client, "estimator")
    found = [one for one in deeds(somebody) if one["deed"] == "log in"][:2]
    assert [(one["kind"], one["seat"]) for one in found] == [
        ("log-in", "estimator"),
        ("refused", "estimator"),
    ]
    files = b"".join(p.read_bytes() for p in jobs.glob(".kerfwright-seats.sqlite*"))
    assert b"this was a typo of it" not in files
    assert PASSWORD.encode() not in files


def test_an_owner_exports_every_line_and_nobody_changes_one(
    client: DescribedClient, somebody: dict[str, Somebody]
) -> None:
    text = somebody["owner"].get("/api/audit.csv").text
    rows = list(csv.DictReader(text.splitlines()))
    assert [int(one["number"]) for one in rows] == list(range(1, len(rows) + 1))
    assert client.app.state.door.audit.check() is None  # type: ignore[attr-defined]
    assert not [
        path for method, path in NEEDS if "audit" in path[1] and method not in {"GET", "HEAD"}
    ]


def test_no_content_of_a_drawing_is_written_down(somebody: dict[str, Somebody], jobs: Path) -> None:
    estimator = somebody["estimator"]
    secret = "Zweiundzwanzig-A"  # noqa: S105 of a customer, and none of log-in
    (added,) = estimator.post(
        "/api/jobs", files=[("files", ("part.dxf", CLICK.read_bytes()))]
    ).json()
    estimator.patch(
        f"/api/jobs/{added['job']['id']}",
        json={"lines": {"reference": secret}},
        headers={"If-Match": "1"},
    )
    text = somebody["owner"].get("/api/audit.csv").text
    assert f"PATCH /api/jobs/{{job}},{added['job']['id']}" in text
    assert f"POST /api/jobs,,{added['job']['id']}," in text
    assert secret not in text


def test_where_nothing_can_be_written_down_nothing_is_shown(
    somebody: dict[str, Somebody], monkeypatch: pytest.MonkeyPatch, two_firms: tuple[str, str, str]
) -> None:
    from kerfwright.adapters.seats.audit import Audit
    from kerfwright.foundation.errors import FileError

    def full(_self: Audit, _deed: Any) -> None:
        raise FileError("the disk is full", code="seats-unreachable")

    monkeypatch.setattr(Audit, "add", full)
    answer = somebody["owner"].get(f"/api/jobs/{two_firms[0]}/versions/1/files/plan.json")
    assert answer.status_code == 500
    assert set(answer.json()) == {"code", "message", "where", "remedy", "line"}


def test_where_the_seats_cannot_be_asked_nobody_is_let_in(
    somebody: dict[str, Somebody], monkeypatch: pytest.MonkeyPatch
) -> None:
    from kerfwright.adapters.seats.store import SeatStore
    from kerfwright.foundation.errors import FileError

    def away(_self: SeatStore, _token: str) -> None:
        raise FileError("no answer", code="seats-unreachable")

    monkeypatch.setattr(SeatStore, "session", away)
    assert somebody["owner"].get("/api/jobs").status_code == 500


def test_an_owner_gives_changes_and_takes_seats(somebody: dict[str, Somebody]) -> None:
    owner = somebody["owner"]
    body = {"name": "Nora", "role": "attendant", "password": PASSWORD}
    assert owner.post("/api/seats", json=body).json()["name"] == "nora"
    assert owner.post("/api/seats", json=body).status_code == 409
    assert owner.post("/api/seats", json=body | {"role": "guest"}).status_code == 422
    nora = Somebody(owner.app, "nora")  # type: ignore[arg-type]
    assert nora.get("/api/jobs").status_code == 200
    change = {"role": "guest", "customer": FIRM}
    assert owner.patch("/api/seats/nora", json=change).status_code == 204
    assert nora.get("/api/quotes").status_code == 401
    log_in(nora, "nora")
    assert nora.get("/api/quotes").status_code == 200
    assert nora.get("/api/session").json()["may"] == ["LOG_IN", "OWN_QUOTES", "OWN_SEAT"]
    listed = {one["name"]: one for one in owner.get("/api/seats").json()["seats"]}
    assert listed["nora"]["customer"] == FIRM
    assert owner.delete("/api/seats/nora").status_code == 204
    assert owner.delete("/api/seats/nora").status_code == 404
    done = [one["detail"] for one in deeds(somebody) if "/seats" in one["deed"]]
    assert f"nora guest {FIRM}" in done
    assert "nora attendant" in done
    last = owner.patch("/api/seats/owner", json={"role": "attendant"})
    assert (last.status_code, last.json()["code"]) == (409, "owner-missing")
    assert owner.delete("/api/seats/owner").status_code == 409


def test_without_seats_everything_is_as_for_one_person_alone(tmp_path: Path) -> None:
    with DescribedClient(
        create_app(Settings(jobs=tmp_path)), base_url="http://127.0.0.1"
    ) as client:
        assert client.get("/api/session").json()["asks"] is False
        assert client.get("/api/jobs").status_code == 200
        off = [
            client.post("/api/session", json={"name": "a", "password": "b"}),
            client.delete("/api/session"),
            client.put("/api/session/password", json={"now": "a", "next": "b"}),
            client.get("/api/seats"),
            client.post("/api/seats", json={"name": "a", "role": "owner", "password": PASSWORD}),
            client.patch("/api/seats/a", json={}),
            client.delete("/api/seats/a"),
            client.get("/api/audit"),
            client.get("/api/audit.csv"),
            client.get("/api/quotes"),
            client.get("/api/quotes/a/quote.pdf"),
        ]
        assert {(one.status_code, one.json()["code"]) for one in off} == {(409, "log-in-off")}
        assert [p.name for p in tmp_path.glob(".kerfwright-*seat*")] == []


def test_a_first_seat_closes_the_page_of_a_server_that_runs(tmp_path: Path) -> None:
    from seated import give_seats

    with TestClient(create_app(Settings(jobs=tmp_path)), base_url="http://127.0.0.1") as client:
        assert client.get("/api/jobs").status_code == 200
        give_seats(tmp_path)
        assert client.get("/api/jobs").status_code == 401
        # And no file that goes missing opens it again.
        (tmp_path / ".kerfwright-log-in").unlink()
        assert client.get("/api/jobs").status_code == 401


def test_two_hashes_at_most_are_computed_at_once(app: Described) -> None:
    assert isinstance(app.state.door._hashing, asyncio.Semaphore)
    assert app.state.door._hashing._value == 2


def test_the_rights_of_the_documents_are_those_of_the_server() -> None:
    text = (Path(__file__).parents[3] / "docs" / "seats.md").read_text(encoding="utf-8")
    rows = {
        cells[0]: cells[1:]
        for line in text.splitlines()
        if line.startswith("| ")
        and len(cells := [one.strip() for one in line.strip("|").split("|")]) == 1 + len(Role)
    }
    order = [Role(one) for one in rows["may"]]
    for right in Right:
        assert rows[right.value] == ["yes" if right in MAY[r] else "" for r in order], right
