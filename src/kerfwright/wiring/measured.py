"""Measured cuts of one job, entered by the machine: what is shown, kept, and taken back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from pathlib import Path

from kerfwright.adapters.cut_files import keep_with_job
from kerfwright.adapters.job_folder import read_job_toml, read_plan
from kerfwright.adapters.job_measured import (
    keep_forecast,
    left_by_pass,
    outcomes_of,
    predicted,
    read_job,
)
from kerfwright.adapters.job_result import read_request
from kerfwright.adapters.learning_rules import load_cut_limits
from kerfwright.adapters.measured_cuts import read_typed
from kerfwright.adapters.since_planned import quoted_each
from kerfwright.app.at_machine import AtMachine
from kerfwright.app.plan_job import Extent
from kerfwright.app.record_cuts import Recorded, questions_of
from kerfwright.app.record_cuts import record_cuts as record
from kerfwright.app.records import JobResult
from kerfwright.app.said import Said
from kerfwright.costing.records import Price
from kerfwright.foundation.errors import InputError, KerfwrightError, sentence
from kerfwright.foundation.findings import Finding, Severity
from kerfwright.foundation.units import UM_PER_MM, length_mm
from kerfwright.learning.batch import OffsetSaid
from kerfwright.learning.records import MeasuredCut
from kerfwright.process.consumption import wire_kg
from kerfwright.process.size_records import answered_finding
from kerfwright.wiring import learning_tables_of, plan_job, shop_of, withdraw_cuts


def at_machine(job: Path, *, shop: Path, tables: Path | None = None) -> AtMachine:
    """Return the passes of a job as predicted, and the cuts of it that were measured.

    Parameters
    ----------
    job : Path
        Folder of the job.
    shop : Path
        Folder of the shop's cuts; it may be missing yet.
    tables : Path or None

    Raises
    ------
    KerfwrightError
        If the folder is no planned job, or a file of cuts is damaged.
    """
    store = shop_of(shop, tables)
    name = job.resolve().name
    cuts = store.cuts_of(name)
    asked: tuple[MeasuredCut, ...] = ()
    if any(one.cut.size_error_um is not None for one in cuts):
        asked = questions_of(name, store=store, tables=learning_tables_of(store, tables))
    plan = read_plan(job)
    named = plan["wire"]
    wire = store.catalogue.wire(f"{named['diameter_mm']:g} mm {named['name']}")
    return AtMachine(
        passes=tuple(predicted(job)),
        wire_kg_per_min=wire_kg(1.0, wire=wire),
        cuts=cuts,
        outcomes=outcomes_of(job, catalogue=store.catalogue, known=store.known()),
        in_question=frozenset(
            (one.pass_number, one.size_error_um) for one in asked if one.size_error_um is not None
        ),
        leaves_um=left_by_pass(plan),
    )


def answered_since(result: JobResult) -> tuple[Finding, ...]:
    """Return the findings of a job computed as it was; sizes answered for since are said to be.

    Raises
    ------
    KerfwrightError
        If the shop's cuts cannot be read.
    """
    request, code = result.request, "size-in-question"
    if request.shop is None or not any(one.code == code for one in result.findings):
        return result.findings
    store = shop_of(request.shop, request.tables)
    left = {
        (one.job, one.pass_number, one.size_error_um)
        for one in questions_of(None, store=store, tables=learning_tables_of(store, request.tables))
    }
    asked = {
        (r.job, r.pass_number, r.size_um)
        for one in result.plan.passes
        if one.learned is not None and one.learned.sizes is not None
        for r in one.learned.sizes.questioned
    }
    return tuple(
        answered_finding(one, sorted(asked - left), is_all=not asked & left)
        if one.code == code
        else one
        for one in result.findings
    )


def record_cut(
    said: Mapping[str, str], *, job: Path, shop: Path, tables: Path | None = None
) -> Recorded:
    """Keep one cut that a person typed, in the shop's folder and the job's, and learn from it.

    Parameters
    ----------
    said : mapping of str to str
        Texts with their units by the names of :func:`kerfwright.wiring.record_cuts`.
    job, shop : Path
    tables : Path or None

    Raises
    ------
    InputError
        If a text cannot be read: nothing is kept then.
    KerfwrightError
        If a folder or table cannot be used.
    """
    store = shop_of(shop, tables)
    against = learning_tables_of(store, tables)
    batch = read_typed(
        [said],
        catalogue=store.catalogue,
        passes=len(against.technology.passes),
        job=read_job(job),
        limits=load_cut_limits(tables),
    )
    if batch.refused:
        finding = batch.refused[0].finding
        raise InputError(
            finding.message.partition(": ")[2].rstrip(".") or finding.message,
            code=finding.code,
            remedy=finding.remedy,
        )
    keep_forecast(job)
    keep_with_job(job, batch)
    return record(batch, store=store, tables=against)


@dataclass(frozen=True, slots=True, kw_only=True)
class JobPrices:
    """The price of a job with what its shop knew before a batch of cuts, and with what it knows.

    Attributes
    ----------
    quantity : int
        The first that the job asks for.
    currency : str
    before, after : Price or None
        None where the job cannot be priced.
    why_not : str
        Why, as a sentence; empty where it can.
    quoted : tuple of str and Decimal or None
        Currency and price of a piece that the job's folder holds as quoted.
    refused : str
        Why the job as asked is refused with what the shop knows now, a sentence; empty where it is
        not.
    is_refused_anew : bool
        Whether it was not with what the shop knew before.
    """

    quantity: int
    currency: str = ""
    before: Price | None = None
    after: Price | None = None
    why_not: str = ""
    quoted: tuple[str, Decimal] | None = None
    refused: str = ""
    is_refused_anew: bool = False


def job_prices(
    job: Path, done: Recorded, *, shop: Path, tables: Path | None = None
) -> JobPrices | None:
    """Return what a batch of cuts did to the price of a job; None where it taught nothing new.

    The job as it is asked, with the tables of today, whatever shop it was planned with.

    Parameters
    ----------
    job : Path
    done : Recorded
        What recording the batch did.
    shop : Path
    tables : Path or None
    """
    was, now = (one.sha256 if one else "" for one in (done.before, done.after))
    if was == now:
        return None
    try:
        request = replace(
            read_request(job), shop=shop, tables=tables, kept_tables=None, kept_machine=None
        )
        found = [
            plan_job(replace(request, experience=sha256), extent=Extent.PRICED)
            for sha256 in (was, now)
        ]
        quoted = quoted_each(job, request.quantities[0])
    except KerfwrightError as fault:
        wanted = read_job_toml(job)
        where = f"{fault.where}: " if fault.where else ""
        why_not = sentence(f"{where}{fault.message}")
        return JobPrices(quantity=wanted.quantities[0], why_not=why_not)
    quantity = request.quantities[0]
    if any(one.estimate is None for one in found):
        return JobPrices(quantity=quantity, why_not="it cannot be cut as asked.")
    before, after = (one.estimate.prices[0] for one in found if one.estimate is not None)
    assert found[1].estimate is not None
    refusals = [f.message for f in found[1].findings if f.severity is Severity.REFUSAL]
    return JobPrices(
        quantity=quantity,
        currency=found[1].estimate.currency,
        before=before,
        after=after,
        quoted=quoted,
        refused=sentence(refusals[0]) if refusals else "",
        is_refused_anew=bool(refusals) and not found[0].is_refused,
    )


def take_back(name: str, *, job: Path, shop: Path, tables: Path | None = None) -> Recorded:
    """Take a batch of a job's cuts back, and learn from those that are left.

    Raises
    ------
    InputError
        Code ``batch-unknown``, or ``batch-of-other-jobs`` if cuts of other jobs are in it.
    """
    own = job.resolve().name
    found = [b for b in shop_of(shop, tables).batches() if name and b.name.startswith(name)]
    others = sorted({j for b in found for j in b.jobs} - {own})
    if others or not found:
        raise InputError(
            f"the batch {name} holds cuts of {', '.join(others)} too"
            if others
            else f"no batch of this job is called {name!r}",
            code="batch-of-other-jobs" if others else "batch-unknown",
            remedy="kerfwright record --withdraw takes a whole batch back.",
        )
    return withdraw_cuts(name, shop=shop, reason="taken back on the page", tables=tables)


def confirm_sizes(*said: str, shop: Path, reason: str = "", tables: Path | None = None) -> Recorded:
    """Let sizes or sheets in question count, as somebody says that they are right.

    Parameters
    ----------
    *said : str
        Job and pass each, ``plate-7:3``, or the hash of a batch each.

    Raises
    ------
    KerfwrightError
        If they are neither or of both kinds, none of their sizes is in question, no such batch
        counts, or a folder or table cannot be used.
    """
    from kerfwright.app.record_cuts import confirm_sheets
    from kerfwright.app.record_cuts import confirm_sizes as confirm

    store = shop_of(shop, tables)
    against = learning_tables_of(store, tables)
    if not any(":" in one for one in said):
        return confirm_sheets(*said, reason=reason, store=store, tables=against)
    named = [_job_and_pass(one) for one in said]
    return confirm(named, reason=reason, store=store, tables=against)


def mend_sizes(*said: str, shop: Path, reason: str, tables: Path | None = None) -> Recorded:
    """Let sizes count no more that were right, as somebody says that their cause is gone since.

    Parameters
    ----------
    *said : str
        Job and pass each, ``plate-7:3``.
    shop : Path
    reason : str
        What was mended.
    tables : Path or None

    Raises
    ------
    KerfwrightError
        If one is no job and pass, no reason is given, none of their sizes is beyond what the pass
        holds, or a folder or table cannot be used.
    """
    from kerfwright.app.record_cuts import mend_sizes as mend

    named = [_job_and_pass(one) for one in said]
    store = shop_of(shop, tables)
    return mend(named, reason=reason, store=store, tables=learning_tables_of(store, tables))


def offsets_said(shop: Path) -> tuple[OffsetSaid, ...]:
    """Return the offsets that a shop said it set, also those taken back."""
    return shop_of(shop, None).offsets()


def set_offset(
    of: str,
    by: str,
    *,
    is_larger: bool,
    shop: Path,
    cut_since: Sequence[str] = (),
    is_sure: bool = False,
    reason: str = "",
    tables: Path | None = None,
) -> tuple[Recorded, Said]:
    """Count sizes from before an offset was set as with it; return that, and it in words.

    Parameters
    ----------
    of : str
        Machine, material, wire and pass, as the finding names them.
    by : str
        By how much, with its unit: ``5.4um``.
    is_larger : bool
        Whether it was set larger, not smaller.
    shop : Path
    cut_since : sequence of str
        Jobs that were cut with it already.
    is_sure : bool
        Whether it is taken down too where the measured sizes speak against it.
    reason : str
    tables : Path or None

    Raises
    ------
    KerfwrightError
        If the length cannot be read or is not above 0, no such size was measured, those that
        were speak against it and nobody is sure, or a folder or table cannot be used.
    """
    from kerfwright.app.set_offset import offset_set_words
    from kerfwright.app.set_offset import set_offset as take_down

    um = length_mm(by, what="offset") * UM_PER_MM
    if not um > 0:
        raise InputError(
            f"the offset was set by {by!r}, which is not above 0",
            code="offset-not-set",
            remedy="Say by how much, 5.4um or 0.0002in, and whether smaller or larger.",
        )
    said = OffsetSaid(of=of, smaller_um=-um if is_larger else um, reason=reason.strip())
    store = shop_of(shop, tables)
    against = learning_tables_of(store, tables)
    done = take_down(
        said, cut_since=frozenset(cut_since), is_sure=is_sure, store=store, tables=against
    )
    return done, offset_set_words(done, said)


def _job_and_pass(said: str) -> tuple[str, int]:
    from kerfwright.adapters.measured_units import read_pass

    job, colon, number = said.rpartition(":")
    if not colon or not job:
        raise InputError(
            f"{said!r} is no job and pass",
            code="size-not-in-question",
            remedy="Write the job, a colon and the pass: plate-7:3.",
        )
    return job, read_pass(number)
