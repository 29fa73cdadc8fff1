"""The course of a batch: what is known is passed over, the rest is planned and kept as it comes."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Protocol

from kerfwright.app.batch.outcome import outcome_of_fault
from kerfwright.app.batch.records import BROKEN, Answer, Item, Outcome, State, Task
from kerfwright.foundation.errors import FileError, KerfwrightError

Stop = Callable[[], bool]
Engine = Callable[[Iterator[Task], Stop], Iterator[tuple[Task, Answer]]]
"""Plans tasks in any order, and only takes a task when it has room for it.

It ends early where it is asked to stop; what it had not done it says nothing of.
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One line of the journal.

    Attributes
    ----------
    key, name : str
        As of :class:`Task`.
    outcome : Outcome
    limit_s : float
        It was given.
    seconds : float
        It took.
    job : str
        Folder of the job that was kept; empty for none.
    """

    key: str
    name: str
    outcome: Outcome
    limit_s: float
    seconds: float = 0.0
    job: str = ""


class Journal(Protocol):
    """What was done, kept so that it outlives whatever ends the program."""

    def find(self, key: str) -> Entry | None:
        """Return the last entry of a key."""

    def add(self, entry: Entry) -> None:
        """Keep an entry; when this returns it is on the disc."""


@dataclass(slots=True, kw_only=True)
class Course:
    """A batch while it runs, and after.

    Attributes
    ----------
    items : sequence of Item
    prepare : callable
        Returns the task of an item, or why there is none; may raise what is wrong with its file.
    journal : Journal
    engine : Engine
    keep : callable
        Writes the job folder of an answer and returns its name, empty where none is kept.
    has_kept : callable
        Whether the job folder that an item asks for is there by an entry.
    redo_broken : bool
        Do again what timed out or broke off.
    places : list of str, Outcome or None
        For each item the key of its entry, or its outcome where it never was a task; None before
        its turn came.
    planned, known : int
        Entries made now, and items that an earlier entry answered.
    """

    items: Sequence[Item]
    prepare: Callable[[Item], Task | Outcome]
    journal: Journal
    engine: Engine
    keep: Callable[[Task, Answer], str]
    has_kept: Callable[[Item, Entry], bool]
    redo_broken: bool = False
    places: list[str | Outcome | None] = field(default_factory=list)
    planned: int = 0
    known: int = 0

    def run(self, *, tell: Callable[[str, float], None], stop: Stop) -> None:
        """Go through the items.

        Parameters
        ----------
        tell : callable
            Told words and the share done.
        stop : callable
            Asked often; what has not come back by then is left for the next call.
        """
        self.places = [None] * len(self.items)
        begin = time.monotonic()
        for task, answer in self.engine(self._tasks(stop), stop):
            self.journal.add(self._kept(task, answer))
            self.planned += 1
            tell(self._said(task.name, time.monotonic() - begin), self._share())

    def _kept(self, task: Task, answer: Answer) -> Entry:
        """Write the job folder, if it is wanted, and return the entry; the folder comes first."""
        outcome, job = answer.outcome, ""
        try:
            job = self.keep(task, answer)
        except FileError as fault:
            place = f" ({fault.where})" if fault.where else ""
            said = f"the job folder is not written: {fault.message}{place}"
            outcome = replace(outcome, reason=f"{outcome.reason}; {said}".removeprefix("; "))
        return Entry(
            key=task.key,
            name=task.name,
            outcome=outcome,
            limit_s=task.limit_s,
            seconds=round(answer.seconds, 2),
            job=job,
        )

    def outcomes(self) -> Iterator[tuple[Item, Outcome, Entry | None]]:
        """Yield what came out, in the order of the items."""
        for item, place in zip(self.items, self.places, strict=True):
            if isinstance(place, Outcome):
                yield item, place, None
                continue
            entry = None if place is None else self.journal.find(place)
            if entry is None:
                yield item, Outcome(state=State.NOT_DONE), None
            else:
                yield item, entry.outcome, entry

    def _tasks(self, stop: Stop) -> Iterator[Task]:
        """Yield what is to be planned, each once, reading each drawing when its turn comes."""
        begun: set[tuple[str, str]] = set()
        for number, item in enumerate(self.items):
            if stop():
                return
            made = self._made(item)
            if isinstance(made, Outcome):
                self.places[number] = made
                continue
            self.places[number] = made.key
            entry = self.journal.find(made.key)
            if entry is not None and self._stands(item, entry, made):
                self.known += 1
            elif (made.key, item.job) not in begun:
                begun.add((made.key, item.job))
                yield made

    def _made(self, item: Item) -> Task | Outcome:
        if item.refused is not None:
            return item.refused
        try:
            return self.prepare(item)
        except KerfwrightError as fault:
            outcome = outcome_of_fault(fault)
            if item.line is None:
                return outcome
            return replace(outcome, reason=f"line {item.line}: {outcome.reason}")

    def _stands(self, item: Item, entry: Entry, task: Task) -> bool:
        """Return whether an earlier entry answers an item."""
        state = entry.outcome.state
        if state is State.LOST or (self.redo_broken and state in BROKEN):
            return False
        if state is State.TIMED_OUT and entry.limit_s < task.limit_s:
            return False
        return state in BROKEN or self.has_kept(item, entry)

    def _share(self) -> float:
        asked = sum(place is not None for place in self.places)
        return min(asked / max(len(self.items), 1), 0.999)

    def _said(self, name: str, seconds: float) -> str:
        rate = self.planned / seconds if seconds else 0.0
        return f"{self.planned} planned, {self.known} known, {rate:.2g} a second; {name}"
