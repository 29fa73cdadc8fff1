"""Composition of a batch: items, journal, engine, job folders and table."""

from __future__ import annotations

import json
import time
import zlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import Any, Final

from kerfwright.adapters.batch.cluster import plan_on_cluster, require_cluster
from kerfwright.adapters.batch.drawings import JOURNAL, content_of
from kerfwright.adapters.batch.here import plan_here
from kerfwright.adapters.batch.journal import FileJournal
from kerfwright.adapters.batch.table import require_parquet, write_tables
from kerfwright.adapters.fit_tables import load_fits
from kerfwright.adapters.job_folder import PROGRAM, write_job
from kerfwright.adapters.job_result import kept_tables_of
from kerfwright.adapters.json_shapes import plain
from kerfwright.adapters.machines import load_machine
from kerfwright.adapters.owned_files import digest
from kerfwright.adapters.tables import load_tables
from kerfwright.app.asked_stacks import covers_asked, pieces_asked
from kerfwright.app.batch.columns import fault_of
from kerfwright.app.batch.course import Course, Engine, Entry, Stop
from kerfwright.app.batch.outcome import outcome_of_fault
from kerfwright.app.batch.records import Answer, Item, Kept, State, Task
from kerfwright.app.batch.summary import Summary, summary_of
from kerfwright.app.records import JobRequest
from kerfwright.app.requirements import read_requirement
from kerfwright.app.set_up import rules_of
from kerfwright.foundation.errors import InputError, KerfwrightError
from kerfwright.foundation.version import __version__
from kerfwright.wiring import shop_of, technology_of
from kerfwright.wiring.batch_work import CHILD, planned

JOBS: Final = "jobs"
"""Folder of the job folders, beside the table."""
_TABLE_EVERY_S: Final = 10.0
_TABLE_SHARE: Final = 0.05
"""Of the time at most goes into writing the table in between."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchRequest:
    """A batch as a person asks for it.

    Attributes
    ----------
    items : sequence of Item
    common : mapping of str to Any
        What every item asks that does not say otherwise, by the fields of a request; the items
        have it already.
    out : Path
        Folder for journal, table and jobs.
    jobs : int
        Processes on this machine.
    limit_s : float
        Time for one drawing.
    with_proof : bool
        Write and prove the program too.
    parquet, keep_jobs, anew, redo_broken : bool
    cluster : str or None
        Address of a Dask scheduler in place of this machine.
    """

    items: Sequence[Item]
    common: Mapping[str, Any]
    out: Path
    jobs: int = 1
    limit_s: float = 300.0
    with_proof: bool = True
    parquet: bool = False
    keep_jobs: bool = False
    anew: bool = False
    redo_broken: bool = False
    cluster: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchDone:
    """What a batch did.

    Attributes
    ----------
    summary : Summary
    planned, known : int
        Planned now, and known from before.
    seconds : float
    files : tuple of str
    spoilt : int
        Lines of the journal that were torn.
    fault : KerfwrightError or None
        What ended it early; what was done is kept.
    is_stopped : bool
    """

    summary: Summary
    planned: int
    known: int
    seconds: float
    files: tuple[str, ...]
    spoilt: int
    fault: KerfwrightError | None
    is_stopped: bool


def batch(
    request: BatchRequest,
    *,
    tell: Callable[[str, float], None] = lambda _words, _share: None,
    stop: Stop = lambda: False,
) -> BatchDone:
    """Plan and price many drawings, going on from where an earlier call was stopped.

    Parameters
    ----------
    request : BatchRequest
    tell : callable, optional
        Told words and the share done.
    stop : callable, optional
        Asked often; True ends the batch with what is done.

    Raises
    ------
    KerfwrightError
        If what is common to all cannot be used, a package is missing, or the folder cannot be
        written.  A cluster that went away is told in :attr:`BatchDone.fault`.
    """
    _check(request)
    asked = _Asked(request)
    begin = time.monotonic()
    with FileJournal(request.out / JOURNAL, anew=request.anew) as journal:
        course = Course(
            items=[asked.checked(item) for item in request.items],
            prepare=asked.task,
            journal=journal,
            engine=_engine(request),
            keep=_keep,
            has_kept=asked.has_kept,
            redo_broken=request.redo_broken,
        )
        write = partial(write_tables, request.out, course.outcomes, parquet=request.parquet)
        course.places = [None] * len(course.items)
        # Before any work: a table that somebody edited is not to be found out at the end.
        write()
        fault = None
        try:
            course.run(tell=_writing(write, tell), stop=stop)
        except KerfwrightError as error:
            fault = error
        files = write()
        tell("", 1.0)
        return BatchDone(
            summary=summary_of(outcome for _, outcome, _ in course.outcomes()),
            planned=course.planned,
            known=course.known,
            seconds=time.monotonic() - begin,
            files=files,
            spoilt=journal.spoilt,
            fault=fault,
            is_stopped=stop(),
        )


def _check(request: BatchRequest) -> None:
    """Refuse what would end every row alike."""
    if request.parquet:
        require_parquet()
    if request.cluster is not None:
        require_cluster()
        if request.common.get("shop") is not None:
            raise InputError(
                "a shop's measured cuts are not sent to a cluster",
                code="cluster-without-shop",
                remedy="Leave --shop or --cluster out.",
            )
    found = fault_of(request.common, usual=_usual(request.common), read=_read)
    if found is not None:
        raise found[1]


def _engine(request: BatchRequest) -> Engine:
    if request.cluster is not None:
        return partial(plan_on_cluster, address=request.cluster, work=planned)
    return partial(plan_here, jobs=request.jobs, module=CHILD)


def _usual(common: Mapping[str, Any]) -> dict[str, Any]:
    materials = load_tables(common.get("tables")).catalogue.materials
    return {"material": materials[0].id, "height": "10 mm", "tables": common.get("tables")}


def _read(given: Mapping[str, Any]) -> None:
    """Read all that is asked of a job as planning would, without the drawing."""
    request = JobRequest(drawing=Path(), **given)
    tables = load_tables(request.tables)
    machine = load_machine(request.machine)
    read_requirement(request, catalogue=tables.catalogue, machine=machine, fits=load_fits())
    rules_of(request, tables.rules, law=technology_of(request).flushing)
    if request.stack is not None:
        pieces_asked(request.stack)
    covers_asked(request.covers)


def _keep(task: Task, answer: Answer) -> str:
    """Write the job folder of an answer; return its path, empty where there is none."""
    if task.kept is None or answer.files is None:
        return ""
    folder = task.kept.folder
    write_job(folder, answer.files, refused=PROGRAM not in answer.files)
    return str(folder)


def _writing(
    write: Callable[[], object], tell: Callable[[str, float], None]
) -> Callable[[str, float], None]:
    """Return a reporter that also writes the table now and then."""
    due = time.monotonic() + _TABLE_EVERY_S

    def told(words: str, share: float) -> None:
        nonlocal due
        tell(words, share)
        now = time.monotonic()
        if now >= due:
            write()
            took = time.monotonic() - now
            due = time.monotonic() + max(_TABLE_EVERY_S, took / _TABLE_SHARE)

    return told


@dataclass(slots=True)
class _Asked:
    """Turns items into tasks."""

    request: BatchRequest
    _figures: dict[str | None, tuple[str, bytes]] = field(default_factory=dict)
    _experience: str | None = None

    def __post_init__(self) -> None:
        shop = self.request.common.get("shop")
        if shop is not None:
            # What the shop knows at the beginning holds for all of the batch.
            tables = self.request.common.get("tables")
            self._experience = shop_of(shop, tables).current_sha256()

    def checked(self, item: Item) -> Item:
        """Return an item that is refused where what it asks cannot be used."""
        if item.refused is not None or item.given == self.request.common:
            return item
        found = fault_of(item.given, usual=_usual(item.given), read=_read)
        if found is None:
            return item
        name, fault = found
        outcome = replace(outcome_of_fault(fault), state=State.WRONG_ROW)
        column = item.columns.get(name, "")
        place = f"line {item.line}" + (f", column {column}" if column else "")
        return replace(item, refused=replace(outcome, reason=f"{place}: {outcome.reason}"))

    def task(self, item: Item) -> Task:
        """Return the task of an item.

        Raises
        ------
        FileError
            If its drawing cannot be read.
        """
        content = content_of(item.path)
        given = dict(item.given)
        if self._experience is not None:
            given["experience"] = self._experience
        sha256, figures = self._figures_of(given.get("machine"))
        key = {
            "kerfwright": __version__,
            "name": item.path.name,
            "drawing": digest(content),
            "figures": sha256,
            "proof": self.request.with_proof,
            "given": {n: v for n, v in given.items() if n not in {"tables", "shop"}},
        }
        return Task(
            key=digest(json.dumps(plain(key), sort_keys=True)),
            name=item.path.name,
            content=content,
            given=given,
            figures=figures,
            figures_sha256=sha256,
            limit_s=self.request.limit_s,
            with_proof=self.request.with_proof,
            version=__version__,
            kept=self._kept(item),
        )

    def has_kept(self, item: Item, entry: Entry) -> bool:
        """Return whether the job folder that an item asks for is there by an entry."""
        kept = self._kept(item)
        if kept is None or entry.outcome.contours is None:
            return True
        return entry.job == str(kept.folder) and kept.folder.is_dir()

    def _kept(self, item: Item) -> Kept | None:
        if not self.request.keep_jobs:
            return None
        folder = (self.request.out / JOBS / item.job).resolve()
        return Kept(folder=folder, drawing=item.path.resolve())

    def _figures_of(self, machine: str | None) -> tuple[str, bytes]:
        """Return hash and compressed text of the figures; each is made once."""
        found = self._figures.get(machine)
        if found is None:
            tables = self.request.common.get("tables")
            text = kept_tables_of(
                JobRequest(drawing=Path(), material="", height="", machine=machine, tables=tables)
            )
            found = self._figures[machine] = digest(text), zlib.compress(text.encode())
        return found
