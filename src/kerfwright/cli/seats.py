"""``kerfwright seats``: who may log in to the page, as what, and what was done there."""

from __future__ import annotations

import getpass
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from kerfwright.app.seats import MAY, Right, Role, checked_seat
from kerfwright.cli.store_options import store_options, usual_jobs
from kerfwright.foundation.errors import InputError

if TYPE_CHECKING:
    from kerfwright.adapters.seats.store import SeatStore

_json = click.option("--json", "as_json", is_flag=True, help="Print one JSON document only.")
_ROLES = click.Choice([role.value for role in Role])
_customer = click.option(
    "--customer", default="", help="Firm of a guest, as the line Customer of its jobs has it."
)
_from_stdin = click.option(
    "--password-stdin", is_flag=True, help="Read the password from the first line of the input."
)


@click.group("seats")
def command() -> None:
    """Say who may log in to the page, and as what; read who did what.

    From the first seat on the page asks for log-in, on this machine too.
    """


def _seats(jobs: Path | None, index_url: str | None) -> SeatStore:
    from kerfwright.adapters.seats.store import open_seats

    store = open_seats(usual_jobs() if jobs is None else jobs, url=index_url)
    click.get_current_context().call_on_close(store.database.close)
    return store


def _write(store: SeatStore, deed: str, detail: str) -> None:
    """Write down what is done here, and by which user of this machine."""
    from kerfwright.adapters.seats.audit import Audit, Deed

    who = getpass.getuser()
    Audit(database=store.database).add(
        Deed(seat=who, address="command line", kind="change", deed=deed, detail=detail)
    )


def _password(*, from_stdin: bool) -> str:
    if from_stdin:
        return sys.stdin.readline().rstrip("\r\n")
    found: str = click.prompt("Password", hide_input=True, confirmation_prompt="Once more")
    return found


@command.command("add")
@click.argument("name")
@click.option("--role", type=_ROLES, required=True)
@_customer
@_from_stdin
@store_options
def add(
    name: str,
    role: str,
    customer: str,
    password_stdin: bool,  # noqa: FBT001 a flag of the command line
    jobs: Path | None,
    index_url: str | None,
) -> int:
    """Let NAME log in; the first is an owner.  Asks for a password."""
    seat = checked_seat(name, Role(role), customer)
    store = _seats(jobs, index_url)
    was_asked = store.is_asked
    store.add(seat, _password(from_stdin=password_stdin))
    _write(store, "seats add", f"{seat.name} {seat.role.value}")
    click.echo(f"{seat.name} may log in as {seat.role.value}")
    if not was_asked:
        click.echo("From now on the page asks for log-in.")
    return 0


@command.command("list")
@store_options
@_json
def listing(jobs: Path | None, index_url: str | None, as_json: bool) -> int:  # noqa: FBT001
    """List who may log in, and what each role may do."""
    found = _seats(jobs, index_url).seats()
    if as_json:
        from kerfwright.cli.output import put_json

        shown = [
            {"name": s.name, "role": s.role.value, "customer": s.customer, "added": s.added}
            for s in found
        ]
        put_json({"format": "kerfwright-seats", "version": 1, "seats": shown})
        return 0
    from kerfwright.cli.output import Page

    page = Page()
    page.heading("Seats")
    page.table(
        ("name", "role", "customer", "added"),
        [(s.name, s.role.value, s.customer, s.added[:10]) for s in found],
        left=(0, 1, 2, 3),
        whole=(0,),
    )
    if not found:
        page.line("none: the page asks for no log-in", indent=2)
    page.heading("What each role may")
    page.table(
        ("", *(role.value for role in Role)),
        [(right.value, *("x" if right in MAY[r] else "" for r in Role)) for right in Right],
        left=(0,),
    )
    return 0


@command.command("role")
@click.argument("name")
@click.argument("role", type=_ROLES)
@_customer
@store_options
def role_(name: str, role: str, customer: str, jobs: Path | None, index_url: str | None) -> int:
    """Let NAME be something else; his sessions end."""
    seat = checked_seat(name, Role(role), customer)
    store = _expect_asked(_seats(jobs, index_url))
    store.change_role(seat)
    _write(store, "seats role", f"{seat.name} {seat.role.value}")
    click.echo(f"{seat.name} is {seat.role.value} now, and has to log in again")
    return 0


@command.command("password")
@click.argument("name")
@_from_stdin
@store_options
def password(
    name: str,
    password_stdin: bool,  # noqa: FBT001 a flag of the command line
    jobs: Path | None,
    index_url: str | None,
) -> int:
    """Give NAME another password; his sessions end."""
    store = _expect_asked(_seats(jobs, index_url))
    plain = name.strip().casefold()
    store.change_password(plain, _password(from_stdin=password_stdin))
    _write(store, "seats password", plain)
    click.echo(f"{plain} has another password, and has to log in again")
    return 0


@command.command("remove")
@click.argument("name")
@store_options
def remove(name: str, jobs: Path | None, index_url: str | None) -> int:
    """Let NAME log in no more; what he did stays written."""
    store = _expect_asked(_seats(jobs, index_url))
    plain = name.strip().casefold()
    store.remove(plain)
    _write(store, "seats remove", plain)
    click.echo(f"{plain} may log in no more")
    if not store.is_asked:
        click.echo("Nobody has a seat: a server that is started now asks for no log-in.")
    return 0


@command.command("audit")
@click.option("--job", default="", help="Only what was done with this job.")
@click.option("--most", type=click.IntRange(1, 1000), default=50, show_default=True)
@click.option("--csv", "as_csv", is_flag=True, help="Every line as CSV, the first first.")
@click.option("--check", is_flag=True, help="Hold every line to its hash and that before it.")
@store_options
def audit(
    job: str,
    most: int,
    as_csv: bool,  # noqa: FBT001 a flag of the command line
    check: bool,  # noqa: FBT001
    jobs: Path | None,
    index_url: str | None,
) -> int:
    """List who did what, the newest first; nothing of what drawings hold is in it."""
    from kerfwright.adapters.seats.audit import Audit

    found = Audit(database=_expect_asked(_seats(jobs, index_url)).database)
    if check:
        wrong = found.check()
        if wrong is not None:
            raise InputError(
                f"line {wrong} is not as it was written, or is missing",
                code="audit-changed",
                where=found.database.where,
                remedy="Compare it with an export of before: somebody wrote past kerfwright.",
            )
        click.echo("every line is as it was written")
        return 0
    if as_csv:
        for row in found.csv_rows():
            click.echo(row, nl=False)
        return 0
    from kerfwright.cli.output import Page

    page = Page()
    page.heading("Who did what")
    page.table(
        ("when (UTC)", "who", "from", "kind", "what", "job", "file"),
        [
            (
                one.at.replace("T", " ")[:19],
                one.deed.seat,
                one.deed.address,
                one.deed.kind,
                one.deed.deed,
                one.deed.job,
                one.deed.detail,
            )
            for one in found.lines(most=most, job=job)
        ],
        left=(0, 1, 2, 3, 4, 5, 6),
    )
    return 0


def _expect_asked(store: SeatStore) -> SeatStore:
    if not store.is_asked:
        raise InputError(
            "nobody has a seat at these jobs",
            code="log-in-off",
            where=str(store.database.folder),
            remedy="kerfwright seats add NAME --role owner begins it; --jobs names other jobs.",
        )
    return store
