"""The desk: which jobs there are, what was computed for them, and what is being computed."""

from __future__ import annotations

import asyncio
import contextlib
from collections import OrderedDict
from collections.abc import Callable, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import replace
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from kerfwright.adapters.enquiry_folder import OUR_CUTS, OUR_TABLES
from kerfwright.adapters.enquiry_store import EnquiryStore
from kerfwright.adapters.owned_files import digest
from kerfwright.app.enquiries import (
    DUTY_FREE,
    Enquiry,
    Stage,
    changes_the_job,
    leaves_stacks,
)
from kerfwright.foundation.errors import InputError, KerfwrightError
from kerfwright.workbench.anew import Anew
from kerfwright.workbench.bench import Bench, ChangedElsewhereError
from kerfwright.workbench.computing import Computing
from kerfwright.workbench.events import Hub
from kerfwright.workbench.figures import MOVING, stamp_of
from kerfwright.workbench.outcome import outcome_of
from kerfwright.workbench.shapes import What

if TYPE_CHECKING:
    from kerfwright.adapters.papers.wanted import Wanted
    from kerfwright.adapters.versions import Version
    from kerfwright.app.records import JobRequest

_MOST_DRAFTS: Final = 40
"""Jobs whose drafts stay in memory; others are computed again when they are opened."""


class Desk:
    """Jobs and their computations.

    Parameters
    ----------
    folder : EnquiryStore
    hub : Hub
    tables, shop : Path or None
        As for :class:`kerfwright.app.records.JobRequest`; None for folders beside the jobs, made
        when something is first kept there.
    heavy : int
        Proofs that may run at a time.
    takes_paths : callable
        Whether a line may name a file of this machine: only where who asks is its owner.
    """

    def __init__(
        self,
        folder: EnquiryStore,
        hub: Hub,
        *,
        tables: Path | None = None,
        shop: Path | None = None,
        heavy: int = 1,
        takes_paths: Callable[[], bool] = lambda: True,
    ) -> None:
        self.folder = folder
        self._hub, self._takes_paths = hub, takes_paths
        self.tables_folder = tables or folder.folder / OUR_TABLES
        self.shop_folder = shop or folder.folder / OUR_CUTS
        self.anew = Anew()
        self._computing = Computing(folder, hub, request=self.request, heavy=heavy)
        self._benches: OrderedDict[str, Bench] = OrderedDict()

    @property
    def tables(self) -> Path | None:
        """Folder of the shop's own tables; None where it has none yet."""
        return self.tables_folder if self.tables_folder.is_dir() else None

    @property
    def shop(self) -> Path | None:
        """Folder of the shop's measured cuts; None where it has none yet."""
        return self.shop_folder if self.shop_folder.is_dir() else None

    async def run(self, task: str, *arguments: Any) -> Any:
        """Run a short task in the worker that drafts, and return its answer."""
        return await self._computing.quick.run(task, *arguments)

    @property
    def computing(self) -> Computing:
        """The workers."""
        return self._computing

    async def place(self, task: str, *arguments: Any) -> Any:
        """Run a task about places of a contour, beside the draft, and return its answer."""
        return await self._computing.placing.run(task, *arguments)

    def price_anew(self, why: str) -> None:
        """Price the jobs that are open or quoted anew: the shop's figures changed.

        No program of before is given out; the next is proved when somebody looks at the job.

        Parameters
        ----------
        why : str
            What changed, in a few words.
        """
        self._hub.publish({"type": "tables"})
        every = [e for e in self.folder.all() if isinstance(e, Enquiry)]
        found = [e for e in every if e.stage in MOVING and not e.missing]
        for one in found:
            self.renew(one)
        self.anew.begin(
            why, found, price=self._price, tell=lambda: self._hub.publish({"type": "moved"})
        )

    def renew(self, enquiry: Enquiry) -> Enquiry:
        """Forget what was computed; a page that shows the job asks again, which computes it."""
        fresh = replace(enquiry, proved_revision=0)
        if enquiry.proved_revision:
            fresh = self.folder.change(
                enquiry.id,
                lambda now: replace(now, proved_revision=0) if now.proved_revision else now,
            )
        bench = self._benches.pop(enquiry.id, None)
        if bench is not None:
            bench.stop()
            self._computing.tell(enquiry.id, enquiry.revision)
        return fresh

    def computed_by(self, enquiry_id: str) -> str:
        """Return by which figures of the shop a job that is open was computed; else nothing."""
        bench = self._benches.get(enquiry_id)
        return "" if bench is None else bench.figures

    def figures(self) -> str:
        """Return a name of the shop's figures as they are now."""
        return digest(repr(stamp_of((self.tables, self.shop))).encode())

    async def _price(self, enquiry: Enquiry) -> Enquiry:
        """Price one job, on the quiet where nobody has it open."""
        bench = self._benches.get(enquiry.id)
        with contextlib.suppress(KerfwrightError):
            if bench is not None:
                running = bench.running.get("draft")
                if running is not None:
                    await asyncio.wait({running})
            else:
                bench = Bench(revision=enquiry.revision, figures=self.figures())
                drafted = await self._computing.heavy.run("draft", *self._computing.drawn(enquiry))
                self._computing.keep(enquiry.id, bench, outcome_of(enquiry, drafted.draft))
        with contextlib.suppress(KerfwrightError):
            return self.folder.read(enquiry.id)
        return enquiry

    def close(self) -> None:
        """Stop everything."""
        self.anew.stop()
        for bench in self._benches.values():
            bench.stop()
        self._computing.close()

    def add(self, name: str, content: bytes) -> Enquiry:
        """Keep a drawing as a new job and begin to read it."""
        enquiry = self.folder.add(name, content, added=datetime.now(UTC).astimezone())
        self.bench(enquiry)
        self._hub.publish({"type": "jobs"})
        return enquiry

    def remove(self, enquiry_id: str) -> None:
        """Take a job off the list; its folder is kept aside."""
        self.folder.remove(enquiry_id)
        bench = self._benches.pop(enquiry_id, None)
        if bench is not None:
            bench.stop()
        self._hub.publish({"type": "jobs"})

    async def change(
        self,
        enquiry_id: str,
        *,
        revisions: AbstractSet[int],
        lines: dict[str, str],
        stage: Stage | None,
        own: Sequence[tuple[list[str], dict[str, str]]] = (),
    ) -> Enquiry:
        """Set lines of a job, and what some of its contours ask of their own.

        Parameters
        ----------
        enquiry_id : str
        revisions : set of int
            Of which the job is to have one.
        lines : dict of str to str
        stage : Stage or None
        own : sequence of tuple
            Contours, and what they ask; one after the other.

        Raises
        ------
        ChangedElsewhereError
            If the job is at none of these revisions any more.
        KerfwrightError
            If a text cannot be read.
        """
        # On demand: the page opens before the readers of its lines are loaded.
        from kerfwright.app.asked_stacks import check_stack_lines
        from kerfwright.workbench.asked import check_asked
        from kerfwright.workbench.held_lines import hold_to_drawing

        enquiry = self._expected(enquiry_id, revisions)
        held = partial(check_asked, tables=self.tables, takes_paths=self._takes_paths())
        for name, text in lines.items():
            held(name, text)
        for wish in own:
            from kerfwright.app.enquiry_lines import own_lines

            mine = own_lines({**enquiry.asked, **lines}, *wish)
            # The line of one contour stands for all: each was good before.
            for name, text in list(mine.items())[:1]:
                held(name, text)
            lines = {**lines, **mine}
        after = enquiry.with_lines(lines)
        check_stack_lines(after.asked)
        await hold_to_drawing(self, after, lines)
        # Another window may have been quicker while the drawing was looked at.
        self._expected(enquiry_id, {enquiry.revision})
        return self._saved(enquiry, after.at_stage(stage) if stage else after)

    def step(self, enquiry_id: str, *, revisions: AbstractSet[int], back: bool) -> Enquiry:
        """Undo, or do again."""
        enquiry = self._expected(enquiry_id, revisions)
        return self._saved(enquiry, enquiry.undone() if back else enquiry.redone())

    def take_back(
        self, enquiry_id: str, version: Version, *, revisions: AbstractSet[int]
    ) -> Enquiry:
        """Let a job ask what it asked in an earlier version; it is computed anew.

        Raises
        ------
        ChangedElsewhereError
            If the job is at none of these revisions any more.
        InputError
            Code ``version-not-asked``.
        """
        enquiry = self._expected(enquiry_id, revisions)
        if version.asked is None:
            raise InputError(
                f"version {version.number} was not made for what this page asks",
                code="version-not-asked",
                remedy="Its files can be fetched; kerfwright versions take-back puts them back.",
            )
        return self._saved(enquiry, enquiry.asking(version.asked))

    def bring_back(self, name: str) -> str:
        """Put a job back on the list that was taken off it, and return its name there."""
        enquiry_id = self.folder.bring_back(name)
        self._hub.publish({"type": "jobs"})
        return enquiry_id

    def bench(self, enquiry: Enquiry) -> Bench:
        """Return what is known of a job, and begin to compute what is not."""
        bench = self._benches.get(enquiry.id)
        if bench is not None and bench.revision < enquiry.revision:
            # Another seat changed the job: what is known of it here is of before.
            bench.stop()
            bench = None
        if bench is None:
            bench = Bench(revision=enquiry.revision, figures=self.figures())
            self._computing.begin_draft(enquiry, bench)
            self._benches[enquiry.id] = bench
        self._benches.move_to_end(enquiry.id)
        self._forget_old()
        return bench

    async def settled(self, enquiry: Enquiry, *, within_s: float) -> Bench:
        """Return the bench of a job, waiting a moment for its draft."""
        bench = self.bench(enquiry)
        running = bench.running.get("draft")
        if running is not None:
            await asyncio.wait({running}, timeout=within_s)
        # A later change may have put another in its place meanwhile.
        return self._benches.get(enquiry.id, bench)

    async def reasons(self, enquiry: Enquiry, *, within_s: float) -> dict[str, dict[str, Any]]:
        """Return why every number that is known has its value; worked out when first asked for."""
        bench = await self.settled(enquiry, within_s=within_s)
        if bench.drafted is not None and bench.fault is None and bench.draft_reasons is None:
            bench.draft_reasons = await self._computing.quick.run(
                "reasons", *self._computing.drawn(enquiry)
            )
        return bench.reasons

    def ask_savings(self, enquiry: Enquiry) -> None:
        """Begin to price what each demand costs.

        Raises
        ------
        InputError
            Code ``job-incomplete`` while a needed line is empty.
        """
        request = self._whole(enquiry)
        bench = self.bench(enquiry)
        if bench.savings is not None or "savings" in bench.running:
            return
        self._computing.begin(
            enquiry, bench, "savings", partial(self._computing.savings, enquiry, bench, request)
        )

    def ask_stacks(self, enquiry: Enquiry, quantity: int | None) -> None:
        """Begin to price a piece by how many sheets are cut at once, else as :meth:`ask_savings`.

        Without a quantity of pieces, for the first that is asked.
        """
        request = self._whole(enquiry)
        bench = self.bench(enquiry)
        count = quantity or request.quantities[0]
        is_there = bench.stacks is not None and bench.stacks["quantity"] == count
        if is_there or "stacks" in bench.running:
            return
        self._computing.begin(
            enquiry,
            bench,
            "stacks",
            partial(self._computing.stacks, enquiry, bench, request, count),
        )

    def ask_papers_again(self, enquiry: Enquiry, wanted: Wanted) -> None:
        """Begin to make papers anew that were made for what is asked now, and are lost.

        Papers are kept in memory; a server that was started anew has none.  Once only: a person
        who stops them meant it.
        """
        bench = self.bench(enquiry)
        is_made = wanted.made_for == enquiry.revision == enquiry.proved_revision
        if is_made and bench.papers is None and not bench.papers_asked:
            self.ask_papers(enquiry, wanted)
            bench.papers_again = True

    def ask_papers(self, enquiry: Enquiry, wanted: Wanted) -> None:
        """Begin to make the papers of a job as it is asked now.

        Raises
        ------
        InputError
            Code ``job-incomplete`` while a needed line is empty.
        """
        request = self._whole(enquiry)
        bench = self.bench(enquiry)
        bench.forget_papers()
        bench.papers_asked, bench.papers_again = True, False
        self._computing.begin(
            enquiry,
            bench,
            "papers",
            partial(self._computing.papers, enquiry, bench, request, wanted),
        )

    def stop(self, enquiry_id: str, what: What) -> None:
        """Stop a computation."""
        bench = self._benches.get(enquiry_id)
        if bench is not None and what in bench.running:
            bench.stopped.add(what)
            bench.running[what].cancel()

    def draft_again(self, enquiry: Enquiry) -> None:
        """Begin to compute the numbers of a job, where that was stopped."""
        bench = self.bench(enquiry)
        if bench.drafted is None and "draft" not in bench.running:
            self._computing.begin_draft(enquiry, bench)

    def prove_again(self, enquiry: Enquiry) -> None:
        """Begin to write and prove the program, where it was stopped.

        Raises
        ------
        InputError
            Code ``job-incomplete`` while a needed line is empty.
        """
        self._whole(enquiry)
        bench = self.bench(enquiry)
        if bench.proved is None and "proof" not in bench.running:
            self._computing.begin(
                enquiry, bench, "proof", partial(self._computing.prove, enquiry, bench, pause_s=0.0)
            )

    def fault_of(self, enquiry_id: str) -> KerfwrightError | None:
        """Return why a job could not be computed, where that is known."""
        bench = self._benches.get(enquiry_id)
        return bench.fault if bench is not None else None

    def known_bench(self, enquiry_id: str) -> Bench | None:
        """Return what is held of a job in memory; None where nothing is computed of it."""
        return self._benches.get(enquiry_id)

    def request(self, enquiry: Enquiry) -> JobRequest | None:
        """Return the request of a job; None while it is incomplete."""
        from kerfwright.adapters.own_machines import machine_place
        from kerfwright.app.enquiry_lines import request_of

        found = request_of(
            enquiry, self.folder.drawing_of(enquiry), tables=self.tables, shop=self.shop
        )
        if found is None or found.machine is None:
            return found
        return replace(found, machine=machine_place(found.machine, self.tables))

    def _whole(self, enquiry: Enquiry) -> JobRequest:
        """Return the request of a job that lacks nothing."""
        request = self.request(enquiry)
        if request is None:
            raise InputError(
                f"the job needs {' and '.join(enquiry.missing)} first",
                code="job-incomplete",
                remedy="Fill in the lines of the ledger that are marked.",
            )
        return request

    def _expected(self, enquiry_id: str, revisions: AbstractSet[int]) -> Enquiry:
        return _as_expected(self.folder.read(enquiry_id), revisions)

    def _saved(self, before: Enquiry, after: Enquiry) -> Enquiry:
        if after is before:
            return before
        if not changes_the_job(before.asked, after.asked):
            # Customer, date and stage leave every number as it is.
            if before.proved_revision == before.revision:
                after = replace(after, proved_revision=after.revision)
            self._save(before, after)
            bench = self._benches.get(after.id)
            if bench is not None:
                bench.revision = after.revision
                # They name the customer or the date of before.
                bench.forget_papers()
                self._again(after, bench)
        else:
            old = self._benches.get(after.id)
            self._save(before, after)
            self._restart(after)
            if old is not None and leaves_stacks(before.asked, after.asked):
                self._benches[after.id].take_stacks(old)
        self._computing.tell(after.id, after.revision)
        return after

    def _save(self, before: Enquiry, after: Enquiry) -> None:
        """Write a job, unless another seat wrote to it since it was read."""

        def edit(now: Enquiry) -> Enquiry:
            _as_expected(now, {before.revision})
            return after

        self.folder.change(after.id, edit)

    def _again(self, enquiry: Enquiry, bench: Bench) -> None:
        """Show the changed line in a ledger whose numbers stay."""
        if bench.drafted is None:
            self._restart(enquiry)
            return
        bench.drafted.show_free(enquiry.asked, DUTY_FREE)

    def _restart(self, enquiry: Enquiry) -> None:
        old = self._benches.pop(enquiry.id, None)
        if old is not None:
            old.stop()
        self.bench(enquiry)

    def _forget_old(self) -> None:
        for enquiry_id in list(self._benches):
            if len(self._benches) <= _MOST_DRAFTS:
                return
            if not self._benches[enquiry_id].running:
                del self._benches[enquiry_id]


def _as_expected(enquiry: Enquiry, revisions: AbstractSet[int]) -> Enquiry:
    """Return a job that is at one of these revisions; raise for any other."""
    if enquiry.revision not in revisions:
        raise ChangedElsewhereError(
            "this job was changed in another window meanwhile",
            code="changed-elsewhere",
            remedy="It now shows the latest; make your change again if it is still wanted.",
        )
    return enquiry
