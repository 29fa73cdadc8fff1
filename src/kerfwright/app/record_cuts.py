"""Record measured cuts: keep them, learn from all there are, say what moved."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from kerfwright.app.cut_store import CutStore
from kerfwright.app.doubted_cuts import doubts
from kerfwright.app.recorded_words import aside_findings, noted_findings, refused_findings
from kerfwright.foundation.errors import InputError, RangeError
from kerfwright.foundation.findings import Finding
from kerfwright.learning.batch import CutBatch, KeptCuts
from kerfwright.learning.far import far_values
from kerfwright.learning.learn import learn, sizes_beyond, sizes_in_question
from kerfwright.learning.moved import Moved, moved_and_along, offsets_of
from kerfwright.learning.posterior import Posterior
from kerfwright.learning.records import LearningRules, MeasuredCut
from kerfwright.learning.tables_hash import tables_sha256
from kerfwright.process.offset_advice import advised
from kerfwright.process.technology import Technology
from kerfwright.trade.catalogue import Catalogue

JobAndPass = tuple[str, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class LearningTables:
    """What cuts are weighed against.

    Attributes
    ----------
    technology : Technology
        The tables; experience in it is left out.
    catalogue : Catalogue
    rules : LearningRules
    """

    technology: Technology
    catalogue: Catalogue
    rules: LearningRules

    @property
    def sha256(self) -> str:
        """Hash of the figures that experience moves."""
        return tables_sha256(self.technology, self.catalogue)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Recorded:
    """What recording a batch, or taking one back, did.

    Attributes
    ----------
    batch : CutBatch
        As it was read; its cuts, if it was taken back.
    name : str
        Hash of the batch as it is kept; empty where nothing new was taken.
    new : int
        Cuts that were not kept before.
    total : int
        Cuts of the shop that count.
    before : Posterior or None
    after : Posterior or None
        None where nothing was ever learned.
    moved : tuple of Moved
        Passes of the batch.
    along : tuple of Moved
        Other passes of the same machines, materials, wires and heights, that moved with them.
    findings : tuple of Finding
        Refused rows, and what else a person should know.
    """

    batch: CutBatch
    name: str
    new: int
    total: int
    before: Posterior | None
    after: Posterior | None
    moved: tuple[Moved, ...]
    along: tuple[Moved, ...]
    findings: tuple[Finding, ...]


def record_cuts(batch: CutBatch, *, store: CutStore, tables: LearningTables) -> Recorded:
    """Keep a batch of measured cuts and learn from all cuts of the shop.

    A cut that is kept already counts once, so that a table that grows can be recorded again.

    Parameters
    ----------
    batch : CutBatch
    store : CutStore
    tables : LearningTables

    Returns
    -------
    Recorded
        With findings ``cuts-recorded-before``, ``cuts-resemble``, ``cuts-none-taken``,
        ``cuts-set-aside``, ``sheet-in-question``, ``cut-far-off``, ``few-jobs-moved``,
        ``variances-unsettled``, ``offset-to-set``, ``offset-set-in-between`` and one for each
        reason that rows are refused for.

    Raises
    ------
    RangeError
        If a cut has a pass that the tables have not; nothing is kept then.
    """
    _check(batch, tables.technology)
    with store.one_writer():
        before = known_by(store, tables)
        added = store.add(batch)
        findings = [*refused_findings(batch), *batch.notes]
        findings += noted_findings(batch, added)
        kept = _usable(store.cuts(), tables.technology)
        findings += aside_findings(kept)
        after = before
        # Also where an earlier process kept cuts and was stopped before it had learned from them.
        if kept.cuts and (before is None or before.basis_sha256 != store.basis()):
            after = _learn(store, kept, tables, before=before)
    moved, along = _moved(batch.cuts, batch.cuts, kept, tables, before=before, after=after)
    far = far_values(
        added.cuts,
        technology=tables.technology,
        catalogue=tables.catalogue,
        before=before,
        after=after,
        rules=tables.rules,
    )
    findings += doubts(
        far,
        moved if added.cuts else (),
        batch=added.name,
        rules=tables.rules,
        after=after,
    )
    findings += advised(list(offsets_of(moved)))
    return Recorded(
        batch=batch,
        name=added.name,
        new=len(added.cuts),
        total=len(kept.cuts),
        before=before,
        after=after,
        moved=moved,
        along=along,
        findings=tuple(findings),
    )


def withdraw_cuts(*names: str, reason: str, store: CutStore, tables: LearningTables) -> Recorded:
    """Take batches back and learn from the cuts that are left; the batches stay on file.

    Parameters
    ----------
    *names : str
        Hash of each batch, or of what was said of an offset, or the beginning of it.
    reason : str
        Kept beside each.
    store : CutStore
    tables : LearningTables

    Raises
    ------
    InputError
        Code ``batch-unknown``; nothing is taken back then.
    """
    with store.one_writer():
        before = known_by(store, tables)
        gone = store.withdraw(*names, reason=reason)
        kept = _usable(store.cuts(), tables.technology)
        after = _learn(store, kept, tables, before=before)
    moved, along = _moved(gone, kept.cuts, kept, tables, before=before, after=after)
    return Recorded(
        batch=CutBatch(cuts=gone),
        name=", ".join(names),
        new=0,
        total=len(kept.cuts),
        before=before,
        after=after,
        moved=moved,
        along=along,
        findings=tuple(aside_findings(kept)),
    )


def confirm_sizes(
    named: Sequence[JobAndPass], *, reason: str, store: CutStore, tables: LearningTables
) -> Recorded:
    """Let the sizes of passes that are in question count, as somebody says that they are right.

    Those whose cause was said to be gone count again too.

    Parameters
    ----------
    named : sequence of (str, int)
    reason : str
    store : CutStore
    tables : LearningTables

    Raises
    ------
    InputError
        Code ``size-not-in-question``; nothing is kept then.
    """
    with store.one_writer():
        before = known_by(store, tables)
        kept = _usable(store.cuts(), tables.technology)
        asked = sizes_in_question(kept.cuts, technology=tables.technology, rules=tables.rules)
        asked += tuple(cut for cut in kept.cuts if cut.is_size_mended)
        for job, pass_number in _none_of(named, asked):
            raise InputError(
                f"no size of pass {pass_number} of job {job!r} is in question",
                code="size-not-in-question",
                remedy=f"In question: {_names(asked) or 'none'}.",
            )
        found = [one for one in asked if (one.job, one.pass_number) in named]
        store.confirm_sizes(found, reason)
        return answered(found, store, tables, before)


def _none_of(named: Sequence[JobAndPass], cuts: Sequence[MeasuredCut]) -> list[JobAndPass]:
    there = {(one.job, one.pass_number) for one in cuts}
    return [one for one in named if one not in there]


def _names(cuts: Sequence[MeasuredCut]) -> str:
    return ", ".join(dict.fromkeys(f"{one.job}:{one.pass_number}" for one in cuts))


def confirm_sheets(*names: str, reason: str, store: CutStore, tables: LearningTables) -> Recorded:
    """Let the rows of batches vouch for each other, as somebody looked them up.

    Parameters
    ----------
    *names : str
        Hash of each batch or the beginning of it.
    reason : str
    store : CutStore
    tables : LearningTables

    Raises
    ------
    InputError
        Code ``batch-unknown``; nothing is kept then.
    """
    with store.one_writer():
        before = known_by(store, tables)
        return answered(store.confirm_sheets(*names, reason=reason), store, tables, before)


def mend_sizes(
    named: Sequence[JobAndPass], *, reason: str, store: CutStore, tables: LearningTables
) -> Recorded:
    """Let the sizes of passes count no more that were right and whose cause is gone since.

    These are its sizes beyond what the pass holds by the tables, in question or not: one within
    has no cause to mend.  Taking their batch back undoes it, and confirming them.

    Parameters
    ----------
    named : sequence of (str, int)
    reason : str
        What was mended; kept beside the answer.
    store : CutStore
    tables : LearningTables

    Raises
    ------
    InputError
        Code ``reason-missing``, or ``size-not-off`` where the pass has no such size.
    """
    if not reason.strip():
        raise InputError(
            "nothing says what was mended",
            code="reason-missing",
            remedy='Say it in a few words, such as "offset set on the machine".',
        )
    with store.one_writer():
        before = known_by(store, tables)
        kept = _usable(store.cuts(), tables.technology)
        far = sizes_beyond(kept.cuts, technology=tables.technology)
        for job, pass_number in _none_of(named, far):
            raise InputError(
                f"no size of pass {pass_number} of job {job!r} that counts or is in question is "
                "beyond what the pass holds by the tables",
                code="size-not-off",
                remedy=f"Beyond it: {_names(far) or 'none'}.",
            )
        found = [one for one in far if (one.job, one.pass_number) in named]
        store.confirm_sizes(found, reason.strip(), is_mended=True)
        return answered(found, store, tables, before)


def answered(
    found: Sequence[MeasuredCut],
    store: CutStore,
    tables: LearningTables,
    before: Posterior | None,
    *,
    name: str = "",
) -> Recorded:
    """Learn anew once somebody answered for sizes or sheets, or said that an offset was set."""
    kept = _usable(store.cuts(), tables.technology)
    after = _learn(store, kept, tables, before=before)
    moved, along = _moved(found, found, kept, tables, before=before, after=after)
    return Recorded(
        batch=CutBatch(cuts=tuple(found)),
        name=name,
        new=0,
        total=len(kept.cuts),
        before=before,
        after=after,
        moved=moved,
        along=along,
        findings=(),
    )


def questions_of(
    job: str | None, *, store: CutStore, tables: LearningTables
) -> tuple[MeasuredCut, ...]:
    """Return the cuts of a job whose size is in question; None for those of all jobs.

    Parameters
    ----------
    job : str or None
    store : CutStore
    tables : LearningTables
    """
    kept = _usable(store.cuts(), tables.technology)
    asked = sizes_in_question(kept.cuts, technology=tables.technology, rules=tables.rules)
    return tuple(one for one in asked if job in {one.job, None})


def known_by(store: CutStore, tables: LearningTables) -> Posterior | None:
    """Return what was learned last, if it was against these tables.

    Against others its factors are on other figures; the cuts count again from the start.
    """
    known = store.current()
    return known if known is not None and known.tables_sha256 == tables.sha256 else None


def _learn(
    store: CutStore, kept: KeptCuts, tables: LearningTables, *, before: Posterior | None
) -> Posterior:
    return store.save(
        learn(
            kept.cuts,
            technology=tables.technology,
            catalogue=tables.catalogue,
            rules=tables.rules,
            previous=before.sha256 if before is not None else "",
            basis_sha256=store.basis(),
        )
    )


def _moved(
    cuts: Sequence[MeasuredCut],
    measured: Sequence[MeasuredCut],
    kept: KeptCuts,
    tables: LearningTables,
    *,
    before: Posterior | None,
    after: Posterior | None,
) -> tuple[tuple[Moved, ...], tuple[Moved, ...]]:
    """Return the passes of some cuts before and after, and those that moved with them."""
    if after is None:
        return (), ()
    moved, along = moved_and_along(
        cuts,
        measured=measured,
        every=kept.cuts,
        technology=tables.technology,
        before=before,
        after=after,
        rules=tables.rules,
    )
    return moved, () if before is not None and before.sha256 == after.sha256 else along


def _usable(kept: KeptCuts, technology: Technology) -> KeptCuts:
    """Set cuts aside whose pass the tables have no more."""
    most = len(technology.passes)
    return replace(
        kept,
        cuts=tuple(cut for cut in kept.cuts if cut.pass_number <= most),
        too_late=sum(cut.pass_number > most for cut in kept.cuts),
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
    *, store: CutStore, tables: LearningTables, sha256: str | None = None
) -> Technology:
    """Return the tables moved by what a shop has learned.

    Where the tables, the rules or the batches that count are not those it was learned from, the
    shop's cuts are weighed anew.

    Parameters
    ----------
    store : CutStore
    tables : LearningTables
    sha256 : str or None
        Hash of what was known at some time, empty for nothing; None for what is known now.

    Raises
    ------
    InputError
        Code ``experience-of-other-tables`` if that of the hash was learned against other figures.
    """
    technology = tables.technology
    if sha256 is not None:
        if not sha256:
            return technology
        posterior = store.posterior(sha256)
        if posterior.tables_sha256 != tables.sha256:
            raise InputError(
                f"the experience {posterior.sha256[:12]} was learned against other tables",
                code="experience-of-other-tables",
                remedy="Give the tables of that time (--tables JOB/tables.json), or plan the "
                "drawing again.",
            )
        return replace(technology, experience=posterior)
    known = store.current()
    basis = store.basis()
    if known is None and not any(not one.withdrawn for one in store.batches()):
        return technology
    if known is None or (known.tables_sha256, known.basis_sha256) != (tables.sha256, basis):
        with store.one_writer():
            kept = _usable(store.cuts(), technology)
            known = _learn(store, kept, tables, before=None)
    return replace(technology, experience=known)
