"""Marks of a job: kept in its folder, never lost, refused where they are damaged."""

from __future__ import annotations

from datetime import datetime
from multiprocessing.pool import ThreadPool
from pathlib import Path

import pytest

from kerfwright.adapters.marks_file import MARKS, add_mark, read_marks, take_mark_back
from kerfwright.app.marks import MarkKind
from kerfwright.foundation.errors import InputError, UnknownNameError

NOON = datetime.fromisoformat("2026-03-02 12:00")


def broke(folder: Path, why: str = "flushing") -> str:
    mark = add_mark(folder, kind=MarkKind.BREAK, at=NOON, machine="M1", why=why, stood_min=12.5)
    return mark.id


def test_marks_come_back_as_they_were_made(tmp_path: Path) -> None:
    assert read_marks(tmp_path) == ()
    first, second = broke(tmp_path), broke(tmp_path, "wire, of spool 3")
    found = read_marks(tmp_path)
    assert [m.id for m in found] == [first, second]
    assert (found[1].why, found[1].at, found[1].stood_min) == ("wire, of spool 3", NOON, 12.5)


def test_a_mark_taken_back_stands_no_more_and_stays_in_the_file(tmp_path: Path) -> None:
    first, second = broke(tmp_path, "one"), broke(tmp_path, "two")
    take_mark_back(tmp_path, first, when=NOON)
    assert [m.id for m in read_marks(tmp_path)] == [second]
    assert '"one"' in (tmp_path / MARKS).read_text(encoding="utf-8")
    with pytest.raises(UnknownNameError):
        take_mark_back(tmp_path, first, when=NOON)


def test_hands_at_once_lose_no_mark(tmp_path: Path) -> None:
    with ThreadPool(8) as hands:
        names = hands.map(lambda k: broke(tmp_path, f"break {k}"), range(24))
    assert {m.id for m in read_marks(tmp_path)} == set(names)


@pytest.mark.parametrize(
    "text",
    ["", "[]", "{}", '{"format": "kerfwright-marks", "version": 2, "marks": []}',
     '{"format": "kerfwright-marks", "version": 1, "marks": [{"kind": "done"}]}',
     ('{"format": "kerfwright-marks", "version": 1, "marks": [{"id": "a", "kind": "break", '
      '"at": "2026-03-02 12:00", "machine": "M1", "why": "x", "more": 1}]}')],
)  # fmt: skip
def test_a_damaged_file_is_refused_and_left_as_it_is(tmp_path: Path, text: str) -> None:
    (tmp_path / MARKS).write_text(text, encoding="utf-8")
    for call in (read_marks, broke):
        with pytest.raises(InputError) as refused:
            call(tmp_path)
        assert refused.value.code == "marks-broken"
    assert (tmp_path / MARKS).read_text(encoding="utf-8") == text
