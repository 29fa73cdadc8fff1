"""A server that asks for log-in, with a seat of every role, and somebody who talks to it."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from starlette.testclient import TestClient

from described_client import DescribedClient
from kerfwright.adapters.enquiry_store import open_store
from kerfwright.adapters.job_folder import write_job
from kerfwright.adapters.seats.store import open_seats
from kerfwright.app.enquiries import Stage
from kerfwright.app.seats import Role, checked_seat
from kerfwright.workbench.app import Settings, create_app
from kerfwright.workbench.described import Described
from kerfwright.workbench.gate import CHANGE_TOKEN
from page_client import CLICK

PASSWORD = "kettle brisk lantern oak"  # noqa: S105 of nobody
FIRM = "Tower clock workshop"
OTHER_FIRM = "Observatory drives"
NAMES = {role: role.value for role in Role}
OTHER_GUEST = "stranger"


def give_seats(jobs: Path) -> None:
    """Give each role a seat that bears its name, and a second firm a guest."""
    seats = open_seats(jobs)
    for role, name in NAMES.items():
        customer = FIRM if role is Role.GUEST else ""
        seats.add(checked_seat(name, role, customer), PASSWORD)
    seats.add(checked_seat(OTHER_GUEST, Role.GUEST, OTHER_FIRM), PASSWORD)
    seats.database.close()


def seated_app(jobs: Path, **more: Any) -> Described:
    give_seats(jobs)
    return create_app(Settings(jobs=jobs, **more))


def log_in(client: TestClient, name: str, password: str = PASSWORD) -> Any:
    """Log in, and let every change of this client carry its token."""
    client.cookies.clear()
    client.headers.pop(CHANGE_TOKEN, None)
    answer = client.post("/api/session", json={"name": name, "password": password})
    if answer.status_code == 201:
        client.headers[CHANGE_TOKEN] = answer.json()["change_token"]
    return answer


def quoted(jobs: Path, name: str, customer: str, *, stage: Stage = Stage.QUOTED) -> str:
    """Keep a job that was quoted to a firm, with a paper that says so."""
    store = open_store(jobs)
    one = store.add(name, CLICK.read_bytes(), added=datetime.now(UTC))
    one = store.change(
        one.id, lambda now: replace(now.with_lines({"customer": customer}), stage=stage)
    )
    write_job(
        store.place_of(one.id),
        {"plan.json": "{}", "quote.pdf": f"%PDF- for {customer}"},
        asked=dict(one.asked),
    )
    store.index.close()
    return one.id


class Somebody(DescribedClient):
    """A client of its own for somebody, on a server that others talk to as well."""

    def __init__(self, app: Described, name: str) -> None:
        super().__init__(app, base_url="http://127.0.0.1", raise_server_exceptions=False)
        assert log_in(self, name).status_code == 201
