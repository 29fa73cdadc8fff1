"""A child that hangs or dies hits nobody else, and leaves nothing behind."""

from __future__ import annotations

import os
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from kerfwright.adapters.batch.keeper import Broke, Keeper, Said, Stopped, TimedOut
from kerfwright.adapters.batch.replies import answer_of
from kerfwright.app.batch.records import State, Task
from kerfwright.foundation.version import __version__
from kerfwright.wiring.batch_work import CHILD

LONG_S = 120.0

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="signals of POSIX")


@pytest.fixture
def keeper(monkeypatch: pytest.MonkeyPatch) -> Iterator[Keeper]:
    folder = str(Path(__file__).parents[2])
    monkeypatch.setenv("PYTHONPATH", os.pathsep.join((folder, os.environ.get("PYTHONPATH", ""))))
    one = Keeper("batch_children")
    yield one
    one.close()


def pid(keeper: Keeper) -> int:
    assert keeper._child is not None
    return keeper._child.pid


def test_one_child_answers_task_after_task(keeper: Keeper) -> None:
    first = keeper.ask("wheel", limit_s=LONG_S)
    assert first == Said(text=f"wheel {pid(keeper)}")
    assert keeper.ask("click", limit_s=LONG_S) == Said(text=f"click {pid(keeper)}")


def test_a_child_that_hangs_is_ended_and_another_answers(keeper: Keeper) -> None:
    keeper.ask("wheel", limit_s=LONG_S)
    before = pid(keeper)
    assert keeper.ask("hang", limit_s=0.2) == TimedOut()
    # It is gone, and was waited for.
    with pytest.raises(ProcessLookupError):
        os.kill(before, 0)
    assert keeper.ask("wheel", limit_s=LONG_S) == Said(text=f"wheel {pid(keeper)}")


@pytest.mark.parametrize(
    ("word", "said"),
    [("killed", "memory runs out"), ("segfault", "SIGSEGV"), ("leave", "code 3")],
)
def test_a_child_that_dies_says_how_and_another_answers(
    keeper: Keeper, word: str, said: str
) -> None:
    reply = keeper.ask(word, limit_s=LONG_S)
    assert isinstance(reply, Broke)
    assert said in reply.words
    assert isinstance(keeper.ask("wheel", limit_s=LONG_S), Said)


def test_a_call_that_waits_comes_back_when_the_keeper_ends(keeper: Keeper) -> None:
    keeper.ask("wheel", limit_s=LONG_S)
    threading.Timer(0.2, keeper.end).start()
    assert keeper.ask("hang", limit_s=LONG_S) == Stopped()
    assert keeper.ask("wheel", limit_s=LONG_S) == Stopped()


def test_a_child_that_cannot_start_is_a_reason_and_no_hang() -> None:
    keeper = Keeper("no_such_module_of_ours")
    reply = keeper.ask("wheel", limit_s=LONG_S)
    keeper.close()
    assert isinstance(reply, Broke)
    assert "could not start" in reply.words


def test_a_fault_of_ours_is_a_row_without_a_traceback() -> None:
    # A field that no request has: a TypeError deep in the real child.
    task = Task(
        key="k", name="a.dxf", content=b"", given={"no_such_field": 1}, figures=b"",
        figures_sha256="f", limit_s=LONG_S, with_proof=False, version=__version__,
    )  # fmt: skip
    keeper = Keeper(CHILD)
    try:
        outcome = answer_of(keeper.ask(task, limit_s=LONG_S), task).outcome
    finally:
        keeper.close()
    assert outcome.state is State.FAILED
    assert outcome.reason.startswith("a fault of ours, ")
    assert "Traceback" not in outcome.reason
    assert ".py, line" in outcome.reason
