"""What each address of the server needs: the one table by which everybody is let through or not.

An address that is not named here is refused to everybody who has to log in; a test walks all
addresses of the server's description with every role.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from starlette.routing import compile_path

from kerfwright.app.seats import Right


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """What an address needs.

    Attributes
    ----------
    right : Right
    kind : str
        As what it is written down: ``view``, ``change``, ``download``; empty for not at all.
    is_upload : bool
    """

    right: Right
    kind: str
    is_upload: bool = False


def _see(right: Right = Right.SEE) -> Need:
    return Need(right=right, kind="view")


def _do(right: Right, *, is_upload: bool = False) -> Need:
    return Need(right=right, kind="change", is_upload=is_upload)


def _take(right: Right) -> Need:
    return Need(right=right, kind="download")


_JOB: Final = "/api/jobs/{job}"
_SILENT: Final = Need(right=Right.OWN_SEAT, kind="")

NEEDS: Final[dict[tuple[str, str], Need]] = {
    ("GET", "/api/openapi.json"): Need(right=Right.SEE, kind=""),
    ("WEBSOCKET", "/api/events"): _SILENT,
    ("GET", "/api/session"): _SILENT,
    # Written down where it is done: who it was is known there.
    ("POST", "/api/session"): Need(right=Right.LOG_IN, kind=""),
    ("DELETE", "/api/session"): _do(Right.OWN_SEAT),
    ("PUT", "/api/session/password"): _do(Right.OWN_SEAT),
    ("GET", "/api/quotes"): _see(Right.OWN_QUOTES),
    ("GET", "/api/quotes/{job}/quote.pdf"): _take(Right.OWN_QUOTES),
    ("GET", "/api/seats"): _see(Right.SEATS),
    ("POST", "/api/seats"): _do(Right.SEATS),
    ("PATCH", "/api/seats/{seat}"): _do(Right.SEATS),
    ("DELETE", "/api/seats/{seat}"): _do(Right.SEATS),
    ("GET", "/api/audit"): _see(Right.AUDIT),
    ("GET", "/api/audit.csv"): _take(Right.AUDIT),
    ("GET", "/api/about"): _see(),
    ("GET", "/api/moved"): _see(),
    ("DELETE", "/api/moved"): _do(Right.ASK),
    ("GET", "/api/names"): _see(),
    ("GET", "/api/jobs"): _see(),
    ("POST", "/api/jobs"): _do(Right.ASK, is_upload=True),
    ("POST", "/api/jobs/sample"): _do(Right.ASK),
    ("GET", _JOB): _see(),
    ("PATCH", _JOB): _do(Right.ASK),
    ("DELETE", _JOB): _do(Right.REMOVE),
    ("POST", f"{_JOB}/undo"): _do(Right.ASK),
    ("POST", f"{_JOB}/redo"): _do(Right.ASK),
    ("POST", f"{_JOB}/savings"): _do(Right.ASK),
    ("POST", f"{_JOB}/stacks"): _do(Right.ASK),
    ("POST", f"{_JOB}/draft"): _do(Right.ASK),
    ("POST", f"{_JOB}/proof"): _do(Right.ASK),
    ("DELETE", f"{_JOB}/running/{{what}}"): _do(Right.ASK),
    ("POST", f"{_JOB}/places"): _see(Right.ASK),
    ("GET", f"{_JOB}/reasons"): _see(),
    ("GET", f"{_JOB}/geometry"): _see(),
    ("GET", f"{_JOB}/wire"): _see(),
    ("GET", f"{_JOB}/cut/path"): _see(),
    ("GET", f"{_JOB}/cut/pieces"): _see(),
    ("GET", f"{_JOB}/cut/deviations"): _see(),
    ("GET", f"{_JOB}/cut/space"): _see(),
    ("GET", f"{_JOB}/cut/walls"): _see(),
    ("GET", f"{_JOB}/files/{{name}}"): _take(Right.PROGRAM),
    ("GET", f"{_JOB}/pinned"): _see(),
    ("PUT", f"{_JOB}/pinned"): _do(Right.ASK, is_upload=True),
    ("DELETE", f"{_JOB}/pinned"): _do(Right.ASK),
    ("GET", f"{_JOB}/pinned/pages/{{number}}"): _see(),
    ("GET", f"{_JOB}/papers"): _see(Right.PAPERS),
    ("PATCH", f"{_JOB}/papers"): _do(Right.PAPERS),
    ("POST", f"{_JOB}/papers"): _do(Right.PAPERS),
    ("GET", f"{_JOB}/papers/{{name}}"): _take(Right.PAPERS),
    ("GET", f"{_JOB}/papers/{{name}}/pages/{{number}}"): _see(Right.PAPERS),
    ("GET", f"{_JOB}/measured"): _see(),
    ("POST", f"{_JOB}/measured"): _do(Right.CUTS),
    ("DELETE", f"{_JOB}/measured/{{batch}}"): _do(Right.CUTS),
    ("POST", f"{_JOB}/measured/{{pass_number}}/confirm"): _do(Right.CUTS),
    ("POST", f"{_JOB}/measured/{{pass_number}}/mended"): _do(Right.CUTS),
    ("POST", f"{_JOB}/measured/offset-set"): _do(Right.CUTS),
    ("GET", f"{_JOB}/versions"): _see(),
    ("GET", f"{_JOB}/versions/{{number}}"): _see(),
    ("GET", f"{_JOB}/versions/{{number}}/reasons"): _see(),
    ("GET", f"{_JOB}/versions/{{number}}/against/{{other}}"): _see(),
    # Programs and papers of before lie in one closed file.
    ("GET", f"{_JOB}/versions/{{number}}/files/{{name}}"): _take(Right.PROGRAM),
    ("POST", f"{_JOB}/versions/{{number}}/take-back"): _do(Right.ASK),
    ("GET", "/api/removed"): _see(),
    ("POST", "/api/removed/{name}/bring-back"): _do(Right.REMOVE),
    ("DELETE", "/api/removed/{name}"): _do(Right.DELETE),
    ("POST", "/api/nests"): _do(Right.ASK),
    ("GET", "/api/nests/{nest}"): _see(),
    ("DELETE", "/api/nests/{nest}/running"): _do(Right.ASK),
    ("POST", "/api/nests/{nest}/tried"): _see(Right.ASK),
    ("PUT", "/api/nests/{nest}/placements"): _do(Right.ASK),
    ("POST", "/api/nests/{nest}/jobs"): _do(Right.ASK),
    ("GET", "/api/nests/{nest}/files/{name}"): _take(Right.PROGRAM),
    ("GET", "/api/week"): _see(),
    ("POST", "/api/week"): _do(Right.ASK),
    ("DELETE", "/api/week/running"): _do(Right.ASK),
    ("DELETE", "/api/week/tried"): _do(Right.ASK),
    ("POST", "/api/week/keep"): _do(Right.ASK),
    ("GET", "/api/week/calendar.ics"): _take(Right.SEE),
    ("GET", "/api/park"): _see(),
    ("PUT", "/api/park"): _do(Right.TABLES),
    ("POST", "/api/park/downs"): _do(Right.MARK),
    ("POST", f"{_JOB}/marks"): _do(Right.MARK),
    ("DELETE", f"{_JOB}/marks/{{mark}}"): _do(Right.MARK),
    ("GET", "/api/numbers"): _see(Right.NUMBERS),
    ("GET", "/api/numbers.csv"): _take(Right.NUMBERS),
    ("GET", "/api/tables"): _see(),
    ("GET", "/api/tables/{name}"): _see(),
    ("PUT", "/api/tables/{name}/values/{key:path}"): _do(Right.TABLES),
    ("DELETE", "/api/tables/{name}/values/{key:path}"): _do(Right.TABLES),
    ("POST", "/api/tables/{name}/rows"): _do(Right.TABLES),
    ("DELETE", "/api/tables/{name}/rows/{row:path}"): _do(Right.TABLES),
}
"""By method and form of the address."""

_FORMS: Final = [
    (method, compile_path(path)[0], path, need) for (method, path), need in NEEDS.items()
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What a request needs.

    Attributes
    ----------
    needs : tuple of Need
        All of them: where an address has two forms, whichever the server means is among them.
    form : str
        Form of the address.
    names : dict of str to str
        What stands in its places.
    """

    needs: tuple[Need, ...]
    form: str
    names: dict[str, str]

    @property
    def kind(self) -> str:
        """As what it is written down."""
        return self.needs[-1].kind


def asked_by(method: str, path: str) -> Asked | None:
    """Return what a request needs; None where no address here is meant.

    Parameters
    ----------
    method : str
    path : str
        Decoded, as the server's own routes see it.

    Examples
    --------
    >>> asked_by("GET", "/api/jobs/wheel").names, asked_by("PUT", "/api/jobs/wheel")
    ({'job': 'wheel'}, None)
    """
    wanted = "GET" if method == "HEAD" else method
    found = [
        (need, form, match.groupdict())
        for kind, pattern, form, need in _FORMS
        if kind == wanted and (match := pattern.match(path))
    ]
    if not found:
        return None
    # The form with the fewest places is the most exact, and tells what is written down.
    found.sort(key=lambda one: one[1].count("{"), reverse=True)
    return Asked(needs=tuple(one[0] for one in found), form=found[-1][1], names=found[-1][2])
