"""Which rows of a batch are planned again, and what all of them come to."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest

from kerfwright.adapters.tables import Tables
from kerfwright.app.batch.course import Course, Entry, Stop
from kerfwright.app.batch.records import Answer, Item, Outcome, State, Task
from kerfwright.app.batch.summary import summary_of
from kerfwright.foundation.errors import FileError
from kerfwright.wiring.batch import BatchRequest, _Asked

TASK = Task(
    key="", name="a.dxf", content=b"", given={}, figures=b"", figures_sha256="", limit_s=60,
    with_proof=True, version="0",
)  # fmt: skip


class Memory(dict[str, Entry]):
    """A journal without a file."""

    def find(self, key: str) -> Entry | None:
        return self.get(key)

    def add(self, entry: Entry) -> None:
        self[entry.key] = entry


def course_of(journal: Memory, names: str, *, redo_broken: bool = False) -> Course:
    def plan(tasks: Iterator[Task], stop: Stop) -> Iterator[tuple[Task, Answer]]:
        for task in tasks:
            if not stop():
                yield task, Answer(outcome=Outcome(state=State.PRICED, price="1.00"))

    def prepare(item: Item) -> Task:
        if item.name == "x":
            raise FileError("there is no such file", code="drawing-not-found")
        return replace(TASK, key=item.name, name=item.name)

    def keep(task: Task, _answer: Answer) -> str:
        if task.name == "k":
            raise FileError("is full", code="job-folder-unwritable", where="there")
        return ""

    return Course(
        items=[Item(name=name, path=Path(name), given={}, line=n) for n, name in enumerate(names)],
        prepare=prepare,
        journal=journal,
        engine=plan,
        keep=keep,
        has_kept=lambda _item, _entry: True,
        redo_broken=redo_broken,
    )


def known(state: State, *, limit_s: float = 60) -> Memory:
    entry = Entry(key="a", name="a", outcome=Outcome(state=state), limit_s=limit_s)
    return Memory(a=entry)


@pytest.mark.parametrize(
    ("state", "limit_s", "redo_broken", "planned"),
    [
        (State.PRICED, 60, True, 0),
        (State.REFUSED, 60, True, 0),
        (State.TIMED_OUT, 60, False, 0),
        (State.TIMED_OUT, 30, False, 1),
        (State.TIMED_OUT, 60, True, 1),
        (State.FAILED, 30, False, 0),
        (State.FAILED, 60, True, 1),
        (State.LOST, 60, False, 1),
    ],
)
def test_a_row_is_planned_again_where_that_may_help(
    state: State, limit_s: float, redo_broken: bool, planned: int
) -> None:
    course = course_of(known(state, limit_s=limit_s), "a", redo_broken=redo_broken)
    course.run(tell=lambda _words, _share: None, stop=lambda: False)
    assert (course.planned, course.known) == (planned, 1 - planned)


def test_a_missing_file_or_a_full_disc_for_one_job_stops_no_other() -> None:
    course = course_of(Memory(), "axkab")
    course.run(tell=lambda _words, _share: None, stop=lambda: False)
    found = [(item.name, outcome.state, outcome.reason) for item, outcome, _ in course.outcomes()]
    assert found == [
        ("a", State.PRICED, ""),
        ("x", State.WRONG_ROW, "line 1: there is no such file"),
        ("k", State.PRICED, "the job folder is not written: is full (there)"),
        ("a", State.PRICED, ""),
        ("b", State.PRICED, ""),
    ]
    # The same row twice was planned once.
    assert course.planned == 3


def test_the_summary_keeps_currencies_and_prices_in_part_apart() -> None:
    priced = Outcome(state=State.PRICED, price="10.50", currency="EUR", machine_min=30.0,
                     codes={"thin-web": 2}, said={"thin-web": "P1 is thin"})  # fmt: skip
    summary = summary_of(
        [
            priced,
            replace(priced, state=State.IN_PART, price="4.00"),
            replace(priced, price="7.00", currency="USD", codes={}),
            Outcome(state=State.REFUSED, code="no-closed-contour", reason="open"),
            Outcome(state=State.NOT_DONE),
        ]
    )
    assert summary.totals == {
        "EUR": (Decimal("10.50"), Decimal("4.00")),
        "USD": (Decimal("7.00"), Decimal(0)),
    }
    assert summary.machine_min == 90.0
    (why,) = summary.reasons
    assert (why.code, why.drawings, why.example) == ("no-closed-contour", 1, "open")
    (common,) = summary.common
    assert (common.drawings, common.times, common.example) == (2, 4, "P1 is thin")


def test_the_key_hangs_on_drawing_asked_figures_and_proof(tmp_path: Path, tables: Tables) -> None:
    drawing = tmp_path / "a.dxf"
    drawing.write_bytes(b"one")
    own = tmp_path / "tables"
    own.mkdir()
    common = {"material": tables.catalogue.materials[0].id, "height": "5mm", "tables": own}

    def key(*, with_proof: bool = True, **given: str) -> str:
        asked = {**common, **given}
        item = Item(name="a.dxf", path=drawing, given=asked)
        request = BatchRequest(items=(item,), common=asked, out=tmp_path, with_proof=with_proof)
        return _Asked(request).task(item).key

    first = key()
    assert key() == first
    keys = [first, key(height="6mm"), key(machine="generic-inch"), key(with_proof=False)]
    (own / "rates.toml").write_text("[hour]\nbench = 91\n", encoding="utf-8")
    keys.append(key())
    drawing.write_bytes(b"two")
    keys.append(key())
    assert len(set(keys)) == len(keys)
