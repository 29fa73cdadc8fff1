"""Record measured cuts: keep them, learn from all there are, say what moved."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Protocol

from kerfwright.foundation.errors import InputError, RangeError
from kerfwright.foundation.findings import Finding, Severity
from kerfwright.learning.batch import CutBatch
from kerfwright.learning.learn import learn, tables_sha256
from kerfwright.learning.moved import Moved, what_moved
from kerfwright.learning.posterior import Posterior
from kerfwright.learning.records import LearningRules, MeasuredCut
from kerfwright.process.technology import Technology
from kerfwright.trade.catalogue import Catalogue


class CutStore(Protocol):
    """Where a shop keeps its measured cuts and what it learned; files first, SQL another time."""

    def add(self, batch: CutBatch) -> bool:
        """Keep a batch with its refused rows; return False if just these cuts are there."""
        ...

    def cuts(self) -> tuple[MeasuredCut, ...]:
        """Return every cut kept."""
        ...

    def save(self, posterior: Posterior) -> Posterior:
        """Keep a posterior for good, make it the current one and return it with its hash."""
        ...

    def current(self) -> Posterior | None:
        """Return what was learned last."""
        ...

    def posterior(self, sha256: str) -> Posterior:
        """Return what was learned at some time, by its hash."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Recorded:
    """What recording a batch did.

    Attributes
    ----------
    batch : CutBatch
    total : int
        Cuts that the shop now has.
    before : Posterior or None
    after : Posterior or None
        None where nothing could be taken.
    moved : tuple of Moved
    findings : tuple of Finding
        Refused rows, and whether the batch was recorded before.
    """

    batch: CutBatch
    total: int
    before: Posterior | None
    after: Posterior | None
    moved: tuple[Moved, ...]
    findings: tuple[Finding, ...]


def record_cuts(
    batch: CutBatch,
    *,
    store: CutStore,
    technology: Technology,
    catalogue: Catalogue,
    rules: LearningRules,
) -> Recorded:
    """Keep a batch of measured cuts and learn from all cuts of the shop.

    Parameters
    ----------
    batch : CutBatch
    store : CutStore
    technology : Technology
        The tables.
    catalogue : Catalogue
    rules : LearningRules

    Returns
    -------
    Recorded
        With findings ``cuts-recorded-before``, ``cuts-none-taken`` and one for each refused row.

    Raises
    ------
    RangeError
        If a cut has a pass that the tables have not; nothing is kept then.
    """
    before = store.current()
    if before is not None and before.tables_sha256 != tables_sha256(technology, catalogue):
        # Its factors are on other figures; the cuts themselves count again from the start.
        before = None
    findings = [row.finding for row in batch.refused]
    _check(batch, technology)
    new = store.add(batch)
    if not batch.cuts:
        findings.append(
            Finding(
                code="cuts-none-taken",
                severity=Severity.REFUSAL,
                message="No row could be taken; nothing was learned.",
                remedy="Correct the rows named and record them again.",
            )
        )
        total = len(store.cuts())
        return Recorded(
            batch=batch,
            total=total,
            before=before,
            after=before,
            moved=(),
            findings=tuple(findings),
        )
    if not new:
        findings.append(
            Finding(
                code="cuts-recorded-before",
                severity=Severity.NOTE,
                message="These cuts were recorded before; they count once.",
            )
        )
    every = store.cuts()
    if before is not None and not new:
        after = before
    else:
        previous = before.sha256 if before is not None else ""
        after = store.save(
            learn(every, technology=technology, catalogue=catalogue, rules=rules, previous=previous)
        )
    moved = what_moved(
        batch.cuts,
        technology=technology,
        before=before,
        after=after,
        ra_sigma_log=rules.ra_sigma_log,
        wire_sigma_log=rules.wire_sigma_log,
    )
    return Recorded(
        batch=batch,
        total=len(every),
        before=before,
        after=after,
        moved=moved,
        findings=tuple(findings),
    )


def _check(batch: CutBatch, technology: Technology) -> None:
    """Refuse what nothing could be learned from before it is kept and stands in the way."""
    for cut in batch.cuts:
        if cut.pass_number > len(technology.passes):
            raise RangeError(
                f"pass {cut.pass_number} was measured, the tables have 1 to "
                f"{len(technology.passes)}",
                code="pass-count-out-of-range",
                where=cut.place,
            )


def with_experience(
    technology: Technology,
    *,
    store: CutStore,
    catalogue: Catalogue,
    rules: LearningRules,
    sha256: str | None = None,
) -> Technology:
    """Return the tables moved by what a shop has learned.

    Where the tables changed since, the shop's cuts are weighed anew against them.

    Parameters
    ----------
    technology : Technology
    store : CutStore
    catalogue : Catalogue
    rules : LearningRules
    sha256 : str or None
        Hash of what was known at some time, empty for nothing; None for what is known now.

    Raises
    ------
    InputError
        Code ``experience-of-other-tables`` if that of the hash was learned against other figures.
    """
    if not sha256 and sha256 is not None:
        return technology
    tables = tables_sha256(technology, catalogue)
    if sha256 is not None:
        posterior = store.posterior(sha256)
        if posterior.tables_sha256 != tables:
            raise InputError(
                f"the experience {posterior.sha256[:12]} was learned against other tables",
                code="experience-of-other-tables",
                remedy="Give the tables of that time (--tables JOB/tables.json), or plan the "
                "drawing again.",
            )
        return replace(technology, experience=posterior)
    known = store.current()
    if known is None:
        return technology
    if known.tables_sha256 != tables:
        known = store.save(
            learn(store.cuts(), technology=technology, catalogue=catalogue, rules=rules)
        )
    return replace(technology, experience=known)
