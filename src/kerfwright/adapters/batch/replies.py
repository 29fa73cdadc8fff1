"""What a process says about a task, as text between processes and as an answer here."""

from __future__ import annotations

import json
from dataclasses import asdict

from kerfwright.adapters.batch.journal import outcome_from
from kerfwright.adapters.batch.keeper import Broke, Reply, Said, TimedOut
from kerfwright.app.batch.records import Answer, Outcome, State, Task


def text_of(answer: Answer) -> str:
    """Return an answer as one line."""
    files = None if answer.files is None else dict(answer.files)
    return json.dumps(
        {"outcome": asdict(answer.outcome), "files": files, "seconds": answer.seconds},
        allow_nan=False,
    )


def answer_from(text: str) -> Answer:
    """Return the answer of a line."""
    said = json.loads(text)
    return Answer(
        outcome=outcome_from(said["outcome"]), files=said["files"], seconds=said["seconds"]
    )


def answer_of(reply: Reply, task: Task) -> Answer:
    """Return the answer of a reply; of a broken one why there is none, in plain words."""
    match reply:
        case Said(text=text):
            return answer_from(text)
        case TimedOut():
            return Answer(outcome=timed_out(task))
        case Broke(words=words):
            return Answer(outcome=failed(words))
        case _:
            raise AssertionError("a stopped task has no answer")


def timed_out(task: Task) -> Outcome:
    """Return the row of a task that was not done within its limit."""
    return Outcome(
        state=State.TIMED_OUT,
        reason=f"not done within {task.limit_s:g} s",
        code="batch-timed-out",
        remedy="Give it longer with --limit-seconds, or plan it alone.",
    )


def failed(words: str) -> Outcome:
    """Return the row of a task whose computation broke off."""
    return Outcome(
        state=State.FAILED,
        reason=words,
        code="batch-failed",
        remedy="Plan it alone; please report it with the drawing.",
    )
