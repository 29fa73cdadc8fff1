"""Seats and sessions, on each kind of database."""

from __future__ import annotations

import pytest
import sqlalchemy as sa
from alembic import command
from alembic.autogenerate import compare_metadata
from alembic.config import Config
from alembic.migration import MigrationContext
from tests.unit.adapters.seats.conftest import Clock

from kerfwright.adapters.enquiry_store import open_store
from kerfwright.adapters.index.query import Query
from kerfwright.adapters.seats.schema import HEAD, VERSION_TABLE, metadata
from kerfwright.adapters.seats.store import SeatStore
from kerfwright.app.seats import Role, checked_seat
from kerfwright.foundation.errors import FileError, InputError, UnknownNameError

GOOD = "four words of some kind"
HERE = "10.0.0.7"
pytestmark = pytest.mark.usefixtures("cheap_passwords")


def owner(seats: SeatStore, name: str = "ada") -> None:
    seats.add(checked_seat(name, Role.OWNER), GOOD)


def logged_in(seats: SeatStore, name: str = "ada") -> str:
    found = seats.log_in(name, GOOD, address=HERE)
    assert found is not None
    return found[0]


def test_migrations_leave_the_tables_that_are_asked(seats: SeatStore) -> None:
    owner(seats)
    with seats.database.reading() as connection:
        context = MigrationContext.configure(
            connection,
            opts={
                "version_table": VERSION_TABLE,
                "include_name": lambda name, kind, _parent: (
                    kind != "table" or name in metadata.tables
                ),
            },
        )
        assert context.get_current_revision() == HEAD
        assert compare_metadata(context, metadata) == []


def test_the_migration_can_be_taken_back(seats: SeatStore) -> None:
    owner(seats)
    with seats.database.writing() as connection:
        config = Config()
        config.set_main_option("script_location", "kerfwright.adapters.seats:migrations")
        config.set_main_option("path_separator", "os")
        config.attributes["connection"] = connection
        command.downgrade(config, "base")
        command.upgrade(config, "head")
    assert seats.seats() == ()


def test_the_index_is_built_anew_without_anybody_losing_his_seat(seats: SeatStore) -> None:
    owner(seats)
    store = open_store(seats.database.folder, url=seats.database.url)
    store.ready()
    store.listed(Query())
    store.index.rebuild()
    store.index.close()
    assert [one.name for one in seats.seats()] == ["ada"]
    assert logged_in(seats)


def test_neither_password_nor_token_can_be_read_in_the_database(seats: SeatStore) -> None:
    owner(seats)
    token = logged_in(seats)
    with seats.database.reading() as connection:
        every = repr(
            [
                tuple(row)
                for table in metadata.tables.values()
                for row in connection.execute(sa.select(table))
            ]
        )
    assert "$argon2id$v=19$" in every
    assert GOOD not in every
    assert token not in every


def test_only_the_right_password_of_the_right_seat_begins_a_session(seats: SeatStore) -> None:
    owner(seats)
    seats.add(checked_seat("bob", Role.ATTENDANT), GOOD + "!")
    for name, password in (
        ("ada", GOOD + "!"),
        ("bob", GOOD),
        ("eve", GOOD),
        ("", ""),
        ("ada", ""),
    ):
        assert seats.log_in(name, password, address=HERE) is None
    found = seats.session(logged_in(seats, " ADA "))
    assert found is not None
    assert (found.seat.name, found.seat.role) == ("ada", Role.OWNER)
    assert seats.session("") is None
    assert seats.session(found.key) is None


def test_a_session_ends_idle_and_after_its_longest_time(seats: SeatStore, clock: Clock) -> None:
    owner(seats)
    idle = logged_in(seats)
    clock.now_s += seats.limits.idle_s + 1
    assert seats.session(idle) is None
    busy = logged_in(seats)
    steps = int(seats.limits.most_s / 3600)
    for _ in range(steps):
        clock.now_s += 3600 - 1
        assert seats.session(busy) is not None
    clock.now_s += 3600
    assert seats.session(busy) is None
    # Turning the clock back brings none of them back.
    clock.now_s -= 3600
    assert seats.session(busy) is None


def test_every_session_of_a_seat_ends_with_its_password_role_or_seat(seats: SeatStore) -> None:
    owner(seats)
    owner(seats, "olga")
    hers = logged_in(seats, "olga")
    for change in (
        lambda: seats.change_password("ada", GOOD),
        lambda: seats.change_role(checked_seat("ada", Role.PROGRAMMER)),
        lambda: seats.remove("ada"),
    ):
        two = [logged_in(seats), logged_in(seats)]
        change()
        assert [seats.session(one) for one in two] == [None, None]
    assert seats.session(hers) is not None
    with pytest.raises(UnknownNameError):
        seats.change_password("ada", GOOD)


def test_an_owner_is_always_there(seats: SeatStore) -> None:
    with pytest.raises(InputError, match="no owner"):
        seats.add(checked_seat("bob", Role.ESTIMATOR), GOOD)
    assert not seats.is_asked
    owner(seats)
    seats.add(checked_seat("bob", Role.ESTIMATOR), GOOD)
    for change in (
        lambda: seats.remove("ada"),
        lambda: seats.change_role(checked_seat("ada", Role.ESTIMATOR)),
    ):
        with pytest.raises(InputError, match="no owner"):
            change()
    seats.remove("bob")
    assert seats.is_asked
    seats.remove("ada")
    assert not seats.is_asked
    assert seats.seats() == ()


def test_a_seat_that_is_there_is_not_added_again(seats: SeatStore) -> None:
    owner(seats)
    with pytest.raises(InputError, match="already"):
        owner(seats)


@pytest.mark.parametrize("password", ["", "short", "aaaaaaaaaaaaaaaa", "x" * 1001])
def test_a_password_that_is_easily_guessed_is_refused(seats: SeatStore, password: str) -> None:
    with pytest.raises(InputError) as caught:
        seats.add(checked_seat("ada", Role.OWNER), password)
    assert caught.value.code == "password-weak"
    assert not seats.is_asked


@pytest.mark.parametrize("name", ["", "a b", "-a", "a/b", "é", "x" * 41, "a\n"])
def test_a_name_that_cannot_be_is_refused(name: str) -> None:
    if name == "a\n":
        # Blanks around a name are no part of it.
        assert checked_seat(name, Role.OWNER).name == "a"
        return
    with pytest.raises(InputError, match="name of a seat"):
        checked_seat(name, Role.OWNER)


def test_only_a_guest_has_a_customer(seats: SeatStore) -> None:
    for role, customer in ((Role.GUEST, ""), (Role.GUEST, "  "), (Role.OWNER, "Clocks")):
        with pytest.raises(InputError, match="customer"):
            checked_seat("ada", role, customer)


def test_seats_of_another_folder_are_refused(seats: SeatStore) -> None:
    owner(seats)
    (seats.database.folder / ".kerfwright-shop").write_text("another\n", encoding="utf-8")
    seats.database.close()
    with pytest.raises(FileError) as caught:
        seats.seats()
    assert caught.value.code == "seats-of-others"


def test_the_file_of_the_seats_is_for_its_owner_only(tmp_path, clock: Clock) -> None:  # type: ignore[no-untyped-def]
    from kerfwright.adapters.seats.store import open_seats

    found = open_seats(tmp_path / "jobs")
    owner(found)
    modes = {p.name: p.stat().st_mode & 0o777 for p in (tmp_path / "jobs").glob(".kerfwright-*")}
    found.database.close()
    assert set(modes.values()) == {0o600}
    assert ".kerfwright-seats.sqlite" in modes
