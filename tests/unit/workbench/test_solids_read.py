"""The reading of a solid outlives the edits made meanwhile, and no more than those."""

from __future__ import annotations

import asyncio
from pathlib import Path
from typing import Any, cast

import pytest

from kerfwright.app.enquiries import Enquiry
from kerfwright.foundation.errors import DrawingError, FileError, KerfwrightError
from kerfwright.workbench.bench import Bench
from kerfwright.workbench.solids_read import SolidsRead
from kerfwright.workbench.workers import WorkerLostError, Workers

FILE = Path("nozzle.step")


class Slow:
    """Workers that read as long as the test wants."""

    def __init__(self) -> None:
        self.begun = 0
        self.cancelled = 0
        self.fault: KerfwrightError | None = None
        self.done = asyncio.Event()

    async def run(self, *_: Any) -> None:
        self.begun += 1
        try:
            await self.done.wait()
        except asyncio.CancelledError:
            self.cancelled += 1
            raise
        if self.fault is not None:
            raise self.fault


def solid(**asked: str) -> Enquiry:
    return Enquiry(
        id="nozzle", title="nozzle.step", drawing="nozzle.step", drawing_sha256="0", added="",
        asked=asked,
    )  # fmt: skip


def begin(solids: SolidsRead, bench: Bench, **asked: str) -> asyncio.Task[None]:
    return asyncio.ensure_future(solids.read(solid(**asked), FILE, bench))


async def ended(task: asyncio.Task[None]) -> None:
    with pytest.raises(asyncio.CancelledError):
        await task


def test_an_edit_goes_on_with_the_reading_and_a_person_who_stops_it_ends_it() -> None:
    async def story() -> None:
        workers = Slow()
        solids, bench = SolidsRead(cast(Workers, workers)), Bench(revision=1)
        first = begin(solids, bench)
        await asyncio.sleep(0)
        first.cancel()
        await ended(first)
        second = begin(solids, bench, material="D2")
        await asyncio.sleep(0)
        assert (workers.begun, workers.cancelled) == (1, 0)
        bench.stopped.add("draft")
        second.cancel()
        await ended(second)
        await asyncio.sleep(0)
        assert workers.cancelled == 1

    asyncio.run(story())


def test_it_is_read_again_by_another_way_of_the_wire_and_not_for_a_fault_of_the_file() -> None:
    async def story() -> None:
        workers = Slow()
        workers.done.set()
        solids, bench = SolidsRead(cast(Workers, workers)), Bench(revision=1)
        await begin(solids, bench)
        await begin(solids, bench, material="D2")
        assert workers.begun == 1
        await begin(solids, bench, **{"wire-along": "x"})
        assert workers.begun == 2
        workers.fault = DrawingError("damaged", code="drawing-damaged")
        for material in ("", "D2", "A2"):
            with pytest.raises(DrawingError, match="damaged"):
                await begin(solids, bench, solid="2", material=material)
        assert workers.begun == 3
        # Another number of the solid is another reading.
        with pytest.raises(DrawingError):
            await begin(solids, bench, solid="3")
        assert workers.begun == 4

    asyncio.run(story())


@pytest.mark.parametrize(
    "fault",
    [
        WorkerLostError("ended by itself", code="worker-lost"),
        FileError("cannot read", code="file-unreadable"),
        KerfwrightError("takes more memory", code="memory-limit"),
    ],
)
def test_a_fault_of_the_machine_is_not_kept_against_the_file(fault: KerfwrightError) -> None:
    async def story() -> None:
        workers = Slow()
        workers.done.set()
        workers.fault = fault
        solids, bench = SolidsRead(cast(Workers, workers)), Bench(revision=1)
        with pytest.raises(type(fault)):
            await begin(solids, bench)
        workers.fault = None
        await begin(solids, bench)
        assert workers.begun == 2

    asyncio.run(story())


def test_who_asks_while_a_reading_is_being_stopped_gets_one_of_its_own() -> None:
    async def story() -> None:
        workers = Slow()
        solids, bench = SolidsRead(cast(Workers, workers)), Bench(revision=1)
        first = begin(solids, bench)
        await asyncio.sleep(0)
        bench.stopped.add("draft")
        first.cancel()
        await asyncio.sleep(0)
        bench.stopped.clear()
        second = begin(solids, bench)
        await ended(first)
        workers.done.set()
        await second
        assert (workers.begun, workers.cancelled) == (2, 1)

    asyncio.run(story())
