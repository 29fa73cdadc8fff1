"""Nothing is open to others by mistake: log-in, TLS, names and proxies."""

from __future__ import annotations

from pathlib import Path

import pytest
from starlette.testclient import TestClient

from kerfwright.foundation.errors import FileError, InputError
from kerfwright.workbench.app import Settings, create_app
from kerfwright.workbench.reach import Reach, expect_owner
from seated import PASSWORD, give_seats, seated_app
from tls_files import certificate_of


def refused(reach: Reach) -> str:
    with pytest.raises((InputError, FileError)) as caught:
        reach.check()
    code: str = caught.value.code
    return code


def test_beyond_this_machine_nothing_is_listened_at_without_tls() -> None:
    assert refused(Reach(host="192.168.1.5")) == "tls-missing"
    assert refused(Reach(host="0.0.0.0", names=("shop.example",))) == "tls-missing"  # noqa: S104 refused
    assert refused(Reach(host="::")) == "tls-missing"
    Reach().check()
    Reach(host="::1").check()
    Reach(host="127.0.0.2").check()


def test_beyond_this_machine_an_owner_must_have_a_seat(tmp_path: Path) -> None:
    with pytest.raises(InputError) as caught:
        expect_owner(tmp_path, None)
    assert caught.value.code == "seats-none"
    assert list(tmp_path.iterdir()) == []
    give_seats(tmp_path)
    expect_owner(tmp_path, None)


def test_a_certificate_is_looked_at_before_anything_listens(tmp_path: Path) -> None:
    certificate, key = certificate_of(tmp_path)
    assert refused(Reach(certificate=certificate)) == "tls-half"
    assert refused(Reach(certificate=key, key=certificate)) == "tls-unusable"
    other = tmp_path / "other"
    other.mkdir()
    assert refused(Reach(certificate=certificate, key=certificate_of(other)[1])) == "tls-unusable"
    locked = certificate_of(other, passphrase=b"x")[1]
    assert refused(Reach(certificate=certificate, key=locked)) == "tls-unusable"
    Reach(host="192.168.1.5", certificate=certificate, key=key).check()


def test_a_server_for_every_address_says_its_name() -> None:
    assert refused(Reach(host="127.0.0.1", proxy="127.0.0.1")) == "name-missing"
    assert refused(Reach(host="shop.example")) == "host-unreadable"
    assert refused(Reach(proxy="a proxy", names=("a",))) == "host-unreadable"
    hosts = Reach(host="10.0.0.1", proxy="10.0.0.2", names=("shop.example",)).hosts
    assert hosts == ("10.0.0.1", "shop.example")


def test_log_in_is_asked_beyond_this_machine_though_the_list_of_seats_is_gone(
    tmp_path: Path,
) -> None:
    app = create_app(Settings(jobs=tmp_path, always_asks=True))
    with TestClient(app, base_url="http://127.0.0.1") as client:
        assert client.get("/api/jobs").status_code == 401
        body = {"name": "owner", "password": PASSWORD}
        assert client.post("/api/session", json=body).status_code == 401


SAID = {"X-Forwarded-For": "8.8.8.8, 203.0.113.9", "X-Forwarded-Proto": "https"}


@pytest.mark.parametrize(
    ("peer", "headers", "status"),
    [
        ("10.0.0.2", SAID, 401),
        ("10.0.0.3", SAID, 403),
        ("testclient", SAID, 403),
        ("10.0.0.2", {}, 403),
        ("10.0.0.2", SAID | {"X-Forwarded-Proto": "http"}, 403),
    ],
)
def test_behind_a_proxy_nobody_else_is_answered(
    tmp_path: Path, peer: str, headers: dict[str, str], status: int
) -> None:
    app = create_app(
        Settings(jobs=tmp_path, always_asks=True, proxy="10.0.0.2", hosts=("shop.example",))
    )
    with TestClient(app, base_url="http://shop.example", client=(peer, 1)) as client:
        assert client.get("/api/jobs", headers=headers).status_code == status


def test_what_is_written_down_is_the_address_that_the_proxy_saw(tmp_path: Path) -> None:
    app = seated_app(tmp_path, proxy="10.0.0.2", hosts=("shop.example",), is_secure=True)
    with TestClient(app, base_url="https://shop.example", client=("10.0.0.2", 1)) as client:
        body = {"name": "owner", "password": PASSWORD}
        assert client.post("/api/session", json=body, headers=SAID).status_code == 201
        (deed,) = client.get("/api/audit", headers=SAID).json()["deeds"]
        assert deed["address"] == "203.0.113.9"


def test_without_a_proxy_nobody_is_believed_where_he_comes_from(tmp_path: Path) -> None:
    app = seated_app(tmp_path)
    with TestClient(app, base_url="http://127.0.0.1", client=("10.0.0.9", 1)) as client:
        body = {"name": "owner", "password": PASSWORD}
        client.post("/api/session", json=body, headers=SAID)
        (deed,) = client.get("/api/audit", headers=SAID).json()["deeds"]
        assert deed["address"] == "10.0.0.9"
