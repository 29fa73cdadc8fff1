"""Seats on each kind of database, with a clock of their own."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from tests.postgres_server import fresh_database

from kerfwright.adapters.seats.store import SeatStore, open_seats


class Clock:
    def __init__(self) -> None:
        self.now_s = 1_900_000_000.0

    def __call__(self) -> float:
        return self.now_s


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture(params=["sqlite", "postgresql"])
def seats(request: pytest.FixtureRequest, tmp_path: Path, clock: Clock) -> Iterator[SeatStore]:
    url = None
    if request.param == "postgresql":
        url = fresh_database(request.getfixturevalue("postgres_server"))
    found = open_seats(tmp_path / "jobs", url=url)
    found.now_s = clock
    yield found
    found.database.close()
