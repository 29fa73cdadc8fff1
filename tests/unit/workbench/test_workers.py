"""Tasks run apart, tell how far they are, are refused in words and can be stopped."""

from __future__ import annotations

import asyncio
import os
import sys
import time
from collections.abc import Callable

import pytest

from kerfwright.foundation.errors import InputError, KerfwrightError
from kerfwright.workbench.workers import WorkerLostError, Workers

Report = Callable[[str, float], None]


def counted(upto: int, progress: Report) -> tuple[int, int]:
    for k in range(upto):
        progress("counting", k / upto)
    return upto, os.getpid()


def parent_and_loaded(progress: Report) -> tuple[int, bool]:
    return os.getppid(), "kerfwright.planning.plan" in sys.modules


def refused(progress: Report) -> None:
    raise InputError("no unit", code="unit-missing", where="line 1", remedy="Write one.")


def endless(progress: Report) -> None:
    while True:
        progress("turning", 0.5)
        time.sleep(0.01)


def deaf(progress: Report) -> None:
    progress("deaf", 0.1)
    time.sleep(3600)


def greedy(progress: Report) -> int:
    return len(bytearray(8 * 1024**3))


def lost(progress: Report) -> None:
    os._exit(3)


def test_the_life_of_tasks() -> None:
    async def story() -> None:
        workers = Workers(1)
        try:
            steps: list[float] = []
            answer = await workers.run(counted, 3, report=lambda _s, share: steps.append(share))
            assert answer[0] == 3
            assert answer[1] != os.getpid()
            assert steps == [0, 1 / 3, 2 / 3]
            parent, is_loaded = await workers.run(parent_and_loaded)
            assert is_loaded
            # A fork of what has loaded it all, where the system allows that.
            assert (parent == os.getpid()) == (sys.platform != "linux")
            with pytest.raises(KerfwrightError) as caught:
                await workers.run(refused)
            assert (caught.value.code, caught.value.where) == ("unit-missing", "line 1")
            for task in (endless, deaf):
                running = asyncio.ensure_future(workers.run(task))
                await asyncio.sleep(0.3)
                running.cancel()
                with pytest.raises(asyncio.CancelledError):
                    await running
                # The line goes on behind a task that was stopped, whether it heard or not.
                assert (await workers.run(counted, 1))[0] == 1
            with pytest.raises(WorkerLostError):
                await workers.run(lost)
            assert (await workers.run(counted, 2))[0] == 2
        finally:
            workers.close()

    asyncio.run(story())


def test_a_stop_that_came_too_late_for_a_task_does_not_stop_the_next() -> None:
    async def story() -> None:
        workers = Workers(1)
        try:
            await workers.run(counted, 1)
            (worker,) = workers._all
            worker.ask_to_stop()
            assert (await workers.run(counted, 3))[0] == 3
        finally:
            workers.close()

    asyncio.run(story())


@pytest.mark.skipif(sys.platform != "linux", reason="the limit of memory is that of Linux")
def test_a_task_that_wants_all_memory_is_refused_and_its_worker_goes_on() -> None:
    async def story() -> None:
        workers = Workers(1)
        try:
            with pytest.raises(KerfwrightError) as caught:
                await workers.run(greedy)
            assert caught.value.code == "memory-limit"
            assert (await workers.run(counted, 2))[0] == 2
        finally:
            workers.close()

    asyncio.run(story())


def test_a_task_that_says_nothing_for_too_long_is_ended(monkeypatch: pytest.MonkeyPatch) -> None:
    async def story() -> None:
        workers = Workers(1)
        try:
            assert (await workers.run(counted, 1))[0] == 1
            monkeypatch.setattr("kerfwright.workbench.workers._SILENT_S", 0.5)
            with pytest.raises(WorkerLostError) as caught:
                await workers.run(deaf)
            assert caught.value.code == "worker-silent"
            monkeypatch.setattr("kerfwright.workbench.workers._SILENT_S", 60.0)
            assert (await workers.run(counted, 1))[0] == 1
        finally:
            workers.close()

    asyncio.run(story())
