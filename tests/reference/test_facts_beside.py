"""The figures carried over are those of the folder they were retyped into."""

from __future__ import annotations

import pytest
from tests.reference.facts_beside import FACTS, FOLDER, OF_FOLDER, read, rows


def test_every_file_of_facts_says_whose_its_figures_are():
    assert {path.name for path in FACTS.iterdir()} == set(OF_FOLDER)
    for name in OF_FOLDER:
        head = (FACTS / name).read_text("utf-8").splitlines()[0]
        assert head.startswith("# Source: "), name


@pytest.mark.parametrize("name", OF_FOLDER)
def test_the_figures_are_those_of_the_folder_of_references(name: str):
    theirs, columns = OF_FOLDER[name]
    path = FOLDER / theirs
    if not path.is_file():
        pytest.skip(f"{theirs} is not beside this checkout")
    wanted = [{ours: row[column] for ours, column in columns.items()} for row in read(path)]
    assert rows(name) == wanted
