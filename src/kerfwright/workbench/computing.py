"""What is computed for the jobs: begun, reported, stopped, and kept where it still stands."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import Awaitable, Callable
from dataclasses import replace
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Final

from kerfwright.adapters.enquiry_folder import EnquiryFolder
from kerfwright.app.enquiries import Enquiry
from kerfwright.foundation.errors import KerfwrightError
from kerfwright.workbench.bench import Bench
from kerfwright.workbench.computed import Drafted
from kerfwright.workbench.events import Hub
from kerfwright.workbench.outcome import draft_offered, outcome_of
from kerfwright.workbench.shapes import What
from kerfwright.workbench.solids_read import SolidsRead
from kerfwright.workbench.workers import LONG_GRACE_S, Workers

if TYPE_CHECKING:
    from kerfwright.adapters.papers.wanted import Wanted
    from kerfwright.app.records import JobRequest

_PAUSE_S: Final = 0.7
"""A program is written when nobody has edited for so long: a proof is not begun at each key."""


class Computing:
    """The workers, and what they compute.

    Parameters
    ----------
    folder : EnquiryFolder
    hub : Hub
    request : callable
        Returns the request of a job; None while it is incomplete.
    heavy : int
        Proofs that may run at a time.
    """

    def __init__(
        self,
        folder: EnquiryFolder,
        hub: Hub,
        *,
        request: Callable[[Enquiry], JobRequest | None],
        heavy: int,
    ) -> None:
        self._folder, self._hub, self._request = folder, hub, request
        # Drafts have a worker of their own: an edit never waits for a proof.
        self.quick, self.heavy = Workers(1), Workers(heavy)
        self._placing: Workers | None = None
        self._solids = SolidsRead(self.heavy)

    @property
    def placing(self) -> Workers:
        """The worker that holds places to their limits, there when the first is asked about.

        One of its own: the limits follow the hand whatever is being computed.
        """
        if self._placing is None:
            self._placing = Workers(1)
        return self._placing

    def close(self) -> None:
        """End the workers."""
        for workers in (self.quick, self.heavy, self._placing):
            if workers is not None:
                workers.close()

    def drawn(self, enquiry: Enquiry) -> tuple[JobRequest | None, dict[str, str], Path, str]:
        """Return what a draft is made from."""
        drawing = self._folder.drawing_of(enquiry)
        return self._request(enquiry), dict(enquiry.asked), drawing, enquiry.drawing_sha256

    def begin(
        self, enquiry: Enquiry, bench: Bench, what: What, work: Callable[[], Awaitable[None]]
    ) -> None:
        """Run one computation and tell the pages when it ends."""

        async def watched() -> None:
            try:
                await work()
            except KerfwrightError as fault:
                bench.faults[what] = fault

        def ended(task: asyncio.Task[None]) -> None:
            # Another of its kind may have taken its place meanwhile.
            if bench.running.get(what) is task:
                bench.running.pop(what)
                bench.work.pop(what, None)
            self.tell(enquiry.id, bench.revision)

        bench.faults.pop(what, None)
        bench.stopped.discard(what)
        task = asyncio.ensure_future(watched())
        task.add_done_callback(ended)
        bench.running[what] = task
        bench.work[what] = ("waiting", 0.0)

    def _reporter(self, enquiry_id: str, bench: Bench, what: What) -> Callable[[str, float], None]:
        def report(step: str, share: float) -> None:
            bench.work[what] = (step, share)
            self._hub.publish(
                {"type": "work", "job": enquiry_id, "what": what, "step": step, "share": share}
            )

        return report

    def tell(self, enquiry_id: str, revision: int) -> None:
        """Tell the pages that a job is another now."""
        self._hub.publish({"type": "job", "job": enquiry_id, "revision": revision})

    def begin_draft(self, enquiry: Enquiry, bench: Bench) -> None:
        """Begin to compute the numbers of a job."""
        self.begin(enquiry, bench, "draft", partial(self.draft, enquiry, bench))

    async def draft(self, enquiry: Enquiry, bench: Bench) -> None:
        """Compute the numbers of a job, and begin to prove its program."""
        request = self._request(enquiry)
        try:
            if enquiry.is_solid:
                await self._solids.read(enquiry, self._folder.drawing_of(enquiry), bench)
            bench.drafted = await self.quick.run(
                "draft",
                *self.drawn(enquiry),
                report=self._reporter(enquiry.id, bench, "draft"),
            )
        except KerfwrightError as fault:
            bench.drafted = await self._sketch(enquiry)
            self.keep(enquiry.id, bench, {"unusable": fault.message, "unusable_code": fault.code})
            raise
        self.keep(enquiry.id, bench, outcome_of(enquiry, bench.drafted.draft))
        if request is not None and bench.drafted.draft["contours"]:
            self.begin(
                enquiry, bench, "proof", partial(self.prove, enquiry, bench, pause_s=_PAUSE_S)
            )

    async def _sketch(self, enquiry: Enquiry) -> Drafted:
        """Return what can be shown of a drawing that cannot be used as it is."""
        _, asked, drawing, sha256 = self.drawn(enquiry)
        try:
            found: Drafted = await self.quick.run(
                "kerfwright.workbench.sketches.sketch", asked, drawing, sha256
            )
        except KerfwrightError:
            from kerfwright.workbench.sketches import blank

            return blank(asked, is_solid=enquiry.is_solid)
        return found

    async def prove(self, enquiry: Enquiry, bench: Bench, *, pause_s: float) -> None:
        """Write and prove the program after a pause."""
        await asyncio.sleep(pause_s)
        request = self._request(enquiry)
        if request is None:
            return
        bench.proved = await self.heavy.run(
            "prove",
            request,
            self._folder.place_of(enquiry.id),
            enquiry.drawing_sha256,
            dict(enquiry.asked),
            report=self._reporter(enquiry.id, bench, "proof"),
        )
        verdict = bench.proved.verdict
        # A price that was shown while the program was on its way is taken back where that failed.
        outcome = (
            {}
            if verdict["is_proved"] or bench.drafted is None
            else outcome_of(enquiry, draft_offered(bench.drafted.draft, verdict))
        )
        self.keep(enquiry.id, bench, outcome, proved=verdict["is_proved"])

    async def savings(self, enquiry: Enquiry, bench: Bench, request: JobRequest) -> None:
        """Price what each demand costs."""
        found = await self.heavy.run(
            "savings",
            request,
            enquiry.drawing_sha256,
            report=self._reporter(enquiry.id, bench, "savings"),
            grace_s=LONG_GRACE_S,
        )
        bench.savings, bench.savings_reasons = found

    async def stacks(
        self, enquiry: Enquiry, bench: Bench, request: JobRequest, quantity: int
    ) -> None:
        """Price a piece by how many sheets are cut at once."""
        found = await self.heavy.run(
            "kerfwright.workbench.stack_tasks.curve",
            request,
            enquiry.drawing_sha256,
            quantity,
            report=self._reporter(enquiry.id, bench, "stacks"),
        )
        if found is not None:
            bench.stacks, bench.stack_reasons = found

    async def papers(
        self, enquiry: Enquiry, bench: Bench, request: JobRequest, wanted: Wanted
    ) -> None:
        """Make the papers, after the proof if that runs."""
        proof = bench.running.get("proof")
        if proof is not None:
            # Both write into the folder of the job: one after the other.
            await asyncio.wait({proof})
        bench.papers = await self.heavy.run(
            "papers",
            request,
            self._folder.place_of(enquiry.id),
            enquiry.drawing_sha256,
            wanted,
            datetime.now(UTC).astimezone().date(),
            dict(enquiry.asked),
            report=self._reporter(enquiry.id, bench, "papers"),
        )
        self.keep(enquiry.id, bench, {}, proved=True)
        from kerfwright.adapters.papers.wanted import save_wanted

        made = replace(wanted, made_for=bench.revision)
        save_wanted(self._folder.place_of(enquiry.id), made)

    def keep(
        self, enquiry_id: str, bench: Bench, outcome: dict[str, str], *, proved: bool | None = None
    ) -> None:
        """Write what came out into the enquiry, if that still asks for it."""
        by = {"figures": bench.figures} if outcome else {}
        was: list[Enquiry] = []

        def edit(now: Enquiry) -> Enquiry:
            was.append(now)
            if now.revision != bench.revision:
                return now
            after = replace(now, outcome={**outcome, **by} if outcome else now.outcome)
            if proved is not None:
                proved_at = now.revision if proved else 0
                after = replace(after, proved_revision=proved_at, figures=bench.figures)
            return now if after == now else after

        # The job may be off the list by now.
        with contextlib.suppress(LookupError):
            if self._folder.change(enquiry_id, edit) is not was[-1]:
                self._hub.publish({"type": "jobs"})
