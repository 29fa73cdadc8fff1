"""What changed since a job was planned: figures, experience, and with them the price."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from decimal import Decimal
from pathlib import Path
from typing import Any, Final

from kerfwright.adapters import job_folder
from kerfwright.adapters.kept_tables import MACHINE, differences, document_of
from kerfwright.adapters.machines import machine_tables
from kerfwright.adapters.table_files import every_table
from kerfwright.app.records import JobRequest, JobResult
from kerfwright.costing.records import Estimate
from kerfwright.foundation.errors import InputError, KerfwrightError
from kerfwright.foundation.findings import Finding, Severity
from kerfwright.foundation.version import __version__

_HASH: Final = 12
"""Digits of a hash that are shown."""
_SHOWN: Final = 4
"""Figures named in a message; the others are counted."""
_TODAY: Final = "price --today computes the job with the figures of today"


def not_kept_findings(folder: Path) -> tuple[Finding, ...]:
    """Warn of a job that kept no figures.

    Raises
    ------
    FileError, InputError
        If ``job.toml`` cannot be read.
    """
    if job_folder.read_job_toml(folder).tables_sha256:
        return ()
    return (
        Finding(
            code="figures-not-kept",
            severity=Severity.WARNING,
            message="this job kept no figures; it is computed with those of today",
            remedy="Compare with estimate.json of the job, which holds what was quoted.",
        ),
    )


def figures_findings(request: JobRequest) -> tuple[Finding, ...]:
    """Say which figures of today are not those that a job was planned with.

    Parameters
    ----------
    request : JobRequest
        As read from a job folder that kept its figures.
    """
    assert request.kept_tables is not None
    document = document_of(request.kept_tables)
    try:
        today = {**every_table(request.tables), MACHINE: machine_tables(request.machine)}
    except KerfwrightError as fault:
        return (_moved(f"the figures of today cannot be read ({fault.message})", count=0),)
    kept = {**document["tables"], MACHINE: document[MACHINE]}
    changed = list(differences(kept, today))
    if not changed:
        return ()
    named = [f"{key} {_worded(was)} → {_worded(now)}" for key, was, now in changed[:_SHOWN]]
    if len(changed) > _SHOWN:
        named.append(f"{len(changed) - _SHOWN} more")
    return (_moved("figures changed: " + ", ".join(named), count=len(changed)),)


def _moved(what: str, *, count: int) -> Finding:
    return Finding(
        code="figures-changed-since",
        severity=Severity.NOTE,
        message=f"since this job was planned {what}; this price is with those of its time",
        remedy=_TODAY,
        data={"count": count},
    )


def learned_findings(request: JobRequest, *, current: str) -> tuple[Finding, ...]:
    """Say whether the shop learned since; ``current`` is the hash of what it knows now."""
    if current == (request.experience or ""):
        return ()
    return (
        Finding(
            code="shop-learned-since",
            severity=Severity.NOTE,
            message=f"the shop has learned since (experience {current[:12] or 'none'}); this price "
            f"is with what it knew then ({(request.experience or 'nothing')[:12]})",
            remedy=_TODAY,
        ),
    )


def quote_findings(folder: Path, result: JobResult, *, now: str = "") -> tuple[Finding, ...]:
    """Say where a price computed now is not the one that the job folder holds.

    Parameters
    ----------
    folder : Path
    result : JobResult
    now : str
        Hash of the experience that the result was computed with; empty for none.

    Raises
    ------
    FileError, InputError
        If the job folder cannot be read.
    """
    kept = _quoted(folder)
    if kept is None or result.estimate is None:
        return ()
    moved = [
        f"{quantity} for {price} {result.estimate.currency}, quoted {was} {kept['currency']}"
        for quantity, was, price in _prices(kept, result.estimate)
        if (was, kept["currency"]) != (price, result.estimate.currency)
    ]
    if not moved:
        return ()
    wanted = job_folder.read_job_toml(folder)
    made = wanted.kerfwright or "an earlier version"
    remedy = f"estimate.json holds the quote, made by kerfwright {made}; this is {__version__}."
    if made == __version__:
        # The same release computes otherwise only from something else.
        remedy = f"estimate.json holds the quote; {_cause(wanted, now)}."
    return (
        Finding(
            code="quote-differs",
            severity=Severity.WARNING,
            message="the price is not the one that was quoted: " + "; ".join(moved),
            remedy=remedy,
        ),
    )


def _cause(wanted: job_folder.Wanted, now: str) -> str:
    """Say what else than the release makes the price another one."""
    was = wanted.experience
    if was != now:
        return (
            f"it was made with the experience {was[:_HASH] or 'none'} of the shop, this price is "
            f"with {now[:_HASH] or 'none'}"
        )
    return "experience and release are the same: the figures or the job's files were changed since"


def quoted_each(folder: Path, quantity: int) -> tuple[str, Decimal] | None:
    """Return currency and price of a piece that a job was quoted at; None where it was not.

    Parameters
    ----------
    folder : Path
    quantity : int

    Raises
    ------
    InputError
        Code ``estimate-broken`` if the quote is not as it was written.
    """
    document = _quoted(folder)
    try:
        every = [] if document is None else document["prices"]
        found = [Decimal(one["each"]) for one in every if one["quantity"] == quantity]
        return (str(document["currency"]), found[0]) if document is not None and found else None
    except (KeyError, TypeError, ArithmeticError) as fault:
        raise InputError(
            f"what was quoted lacks or has odd values: {fault!r}",
            code="estimate-broken",
            where=str(folder / job_folder.ESTIMATE),
        ) from fault


def _quoted(folder: Path) -> Mapping[str, Any] | None:
    try:
        document = json.loads((folder / job_folder.ESTIMATE).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        # A job that was refused has no estimate, and a price of its own.
        return None
    return document if isinstance(document, dict) and "prices" in document else None


def _prices(kept: Mapping[str, Any], now: Estimate) -> Iterator[tuple[int, str, str]]:
    quoted = {int(one["quantity"]): str(one["likely"]) for one in kept["prices"]}
    for one in now.prices:
        if one.quantity in quoted:
            yield one.quantity, quoted[one.quantity], str(one.likely)


def _worded(value: object) -> str:
    if value is None:
        return "absent"
    return f"{value:g}" if isinstance(value, float) else str(value)
