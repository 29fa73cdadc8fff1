"""What the journal said is on the disc stands, whatever ended the program."""

from __future__ import annotations

from pathlib import Path

import pytest

from kerfwright.adapters.batch.journal import FileJournal
from kerfwright.app.batch.course import Entry
from kerfwright.app.batch.records import Outcome, State
from kerfwright.foundation.errors import FileError, InputError


def entry(key: str, price: str = "12.30") -> Entry:
    outcome = Outcome(state=State.PRICED, price=price, codes={"thin-web": 2}, machine_min=1.5)
    return Entry(key=key, name="wheel.dxf", outcome=outcome, limit_s=300, seconds=0.5, job="j")


@pytest.fixture
def place(tmp_path: Path) -> Path:
    with FileJournal(tmp_path / "out" / "batch.journal") as journal:
        for key in "abc":
            journal.add(entry(key))
    return tmp_path / "out" / "batch.journal"


def test_entries_come_back_as_they_were_and_the_later_counts(place: Path) -> None:
    with FileJournal(place) as journal:
        assert journal.find("b") == entry("b")
        assert journal.find("z") is None
        journal.add(entry("b", price="9.00"))
    with FileJournal(place) as journal:
        found = journal.find("b")
        assert found is not None
        assert found.outcome.price == "9.00"


def test_a_file_cut_anywhere_gives_the_entries_that_are_whole(place: Path) -> None:
    whole = place.read_bytes()
    ends = [n + 1 for n, byte in enumerate(whole) if byte == 0x0A]
    for cut in range(ends[0], len(whole) + 1, 7):
        place.write_bytes(whole[:cut])
        with FileJournal(place) as journal:
            known = [key for key in "abc" if journal.find(key) is not None]
            journal.add(entry("d"))
        # A line without its line break is whole as well if all of its bytes are there.
        assert known == list("abc"[: sum(cut >= end - 1 for end in ends[1:])])
        with FileJournal(place) as journal:
            assert [k for k in "abcd" if journal.find(k) is not None] == [*known, "d"]


def test_a_line_whose_bytes_changed_does_not_count(place: Path) -> None:
    place.write_bytes(place.read_bytes().replace(b"12.30", b"02.30", 2))
    with FileJournal(place) as journal:
        assert [key for key in "abc" if journal.find(key)] == ["c"]
        assert journal.spoilt == 2


def test_anew_counts_nothing_from_before_and_outlives_a_stop(place: Path) -> None:
    with FileJournal(place, anew=True) as journal:
        journal.add(entry("c"))
    with FileJournal(place) as journal:
        assert [key for key in "abc" if journal.find(key)] == ["c"]


def test_two_batches_do_not_write_at_once(place: Path) -> None:
    with FileJournal(place), pytest.raises(FileError) as refused:
        FileJournal(place)
    assert refused.value.code == "batch-held"
    FileJournal(place).__exit__(None, None, None)


def test_a_file_that_is_no_journal_is_left_alone(tmp_path: Path) -> None:
    other = tmp_path / "batch.journal"
    other.write_text("Tuesday: two wheels\n", encoding="utf-8")
    with pytest.raises(InputError, match="no journal"):
        FileJournal(other)
    assert other.read_text(encoding="utf-8") == "Tuesday: two wheels\n"
