from __future__ import annotations

from pathlib import Path

import pytest

from kerfwright.adapters.owned_files import MADE, add_files, write_files
from kerfwright.foundation.errors import FileError


def names(folder: Path) -> set[str]:
    return {p.name for p in folder.iterdir()} - {MADE}


def test_files_added_stand_beside_those_of_the_run_and_are_owned_too(tmp_path: Path) -> None:
    write_files(tmp_path, {"plan.json": "{}"})
    add_files(tmp_path, {"quote.pdf": b"%PDF\xff"})
    assert names(tmp_path) == {"plan.json", "quote.pdf"}
    assert (tmp_path / "quote.pdf").read_bytes() == b"%PDF\xff"
    add_files(tmp_path, {"quote.pdf": b"%PDF again"})
    write_files(tmp_path, {"plan.json": "{1}"})


def test_the_next_run_takes_away_what_was_added_from_earlier_results(tmp_path: Path) -> None:
    write_files(tmp_path, {"plan.json": "{}"})
    add_files(tmp_path, {"quote.pdf": b"old"})
    done = write_files(tmp_path, {"plan.json": "{}"})
    assert done.removed == ("quote.pdf",)
    assert names(tmp_path) == {"plan.json"}


def test_files_added_again_replace_a_whole_set(tmp_path: Path) -> None:
    write_files(tmp_path, {"plan.json": "{}"})
    add_files(tmp_path, {"quote.pdf": b"1", "holes.pdf": b"1"})
    every = frozenset({"quote.pdf", "holes.pdf"})
    done = add_files(tmp_path, {"quote.pdf": b"2"}, instead_of=every)
    assert done.removed == ("holes.pdf",)
    assert names(tmp_path) == {"plan.json", "quote.pdf"}


def test_an_added_file_of_somebody_else_is_never_replaced(tmp_path: Path) -> None:
    (tmp_path / "quote.pdf").write_bytes(b"mine")
    with pytest.raises(FileError) as caught:
        add_files(tmp_path, {"quote.pdf": b"ours", "holes.pdf": b"ours"})
    assert caught.value.code == "file-not-ours"
    assert names(tmp_path) == {"quote.pdf"}
    assert (tmp_path / "quote.pdf").read_bytes() == b"mine"
