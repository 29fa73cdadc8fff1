"""What was done stays written, and a line that was changed is found."""

from __future__ import annotations

import csv
import threading

import pytest
import sqlalchemy as sa

from kerfwright.adapters.seats.audit import Audit, Deed
from kerfwright.adapters.seats.store import SeatStore
from kerfwright.foundation.errors import FileError


@pytest.fixture
def audit(seats: SeatStore) -> Audit:
    return Audit(database=seats.database)


def test_lines_come_back_as_written_the_newest_first(audit: Audit) -> None:
    first = Deed(seat="ada", role="owner", address="::1", kind="view", deed="GET /api/jobs")
    second = Deed(
        kind="download", deed="GET x", job="wheel", detail="program.nc\0\x1b[2J", status=200
    )
    audit.add(first)
    audit.add(second)
    found = audit.lines()
    assert [one.number for one in found] == [2, 1]
    assert found[1].deed == first
    assert found[0].deed.detail == "program.nc  [2J"
    assert [one.number for one in audit.lines(job="wheel")] == [2]
    assert [one.number for one in audit.lines(before=2)] == [1]
    assert audit.check() is None


@pytest.mark.parametrize("statement", ["UPDATE kw_audit SET seat = 'eve'", "DELETE FROM kw_audit"])
def test_the_database_refuses_to_change_a_line(audit: Audit, statement: str) -> None:
    audit.add(Deed(kind="view", deed="a"))
    with pytest.raises(FileError, match="stays written"), audit.database.writing() as connection:
        connection.execute(sa.text(statement))
    assert len(audit.lines()) == 1


@pytest.mark.parametrize("statement", ["UPDATE kw_audit SET seat = 'eve'", "DELETE FROM kw_audit"])
def test_a_line_that_was_changed_past_the_database_is_found(audit: Audit, statement: str) -> None:
    for number in range(5):
        audit.add(Deed(kind="view", deed=str(number)))
    with audit.database.writing() as connection:
        if connection.dialect.name == "postgresql":
            connection.execute(sa.text("DROP TRIGGER kw_audit_no_change ON kw_audit"))
        else:
            for verb in ("UPDATE", "DELETE"):
                connection.execute(sa.text(f"DROP TRIGGER kw_audit_no_{verb}"))
        connection.execute(sa.text(f"{statement} WHERE number = 3"))
    assert audit.check() == 3


def test_lines_of_many_at_once_have_each_a_number_of_its_own(audit: Audit) -> None:
    audit.add(Deed(kind="view", deed="first"))

    def work(name: str) -> None:
        for _ in range(10):
            audit.add(Deed(kind="view", deed=name))

    threads = [threading.Thread(target=work, args=(str(n),)) for n in range(4)]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    assert [one.number for one in audit.every()] == list(range(1, 42))
    assert audit.check() is None


def test_an_export_holds_every_line_and_no_formula(audit: Audit) -> None:
    audit.add(Deed(kind="view", deed="a,b", detail='=HYPERLINK("x")'))
    rows = list(csv.DictReader(audit.csv_rows()))
    assert rows[0]["deed"] == "a,b"
    assert rows[0]["detail"].startswith("'=")
    assert rows[0]["number"] == "1"
