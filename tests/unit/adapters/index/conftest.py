"""A store on each kind of database."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from tests.postgres_server import fresh_database

from kerfwright.adapters.enquiry_store import EnquiryStore, open_store


@pytest.fixture(params=["sqlite", "postgresql"])
def store(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[EnquiryStore]:
    url = None
    if request.param == "postgresql":
        url = fresh_database(request.getfixturevalue("postgres_server"))
    found = open_store(tmp_path / "jobs", url=url)
    found.ready()
    yield found
    found.index.close()
