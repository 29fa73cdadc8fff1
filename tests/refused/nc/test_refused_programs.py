"""One fault a file; the first comment says machine, code, line and column."""

from __future__ import annotations

import dataclasses
import re
from pathlib import Path

import pytest

from kerfwright.adapters.machines import load_machine
from kerfwright.foundation.errors import ProgramError
from kerfwright.nc.reader import read_program
from kerfwright.trade.machine import ArcForm, Machine

_FILES = sorted(Path(__file__).parent.glob("*.nc"))
_EXPECT = re.compile(r"\(MACHINE (\S+) EXPECT (\S+) LINE (\d+) COLUMN (\d+)\)")


def _machine(kind: str) -> Machine:
    if kind == "inch":
        return load_machine("generic-inch")
    metric = load_machine("generic-mm")
    form = {
        "mm": ArcForm.INCREMENTAL_IJ,
        "radius": ArcForm.RADIUS,
        "absolute": ArcForm.ABSOLUTE_IJ,
    }[kind]
    return dataclasses.replace(metric, dialect=dataclasses.replace(metric.dialect, arc_form=form))


@pytest.mark.parametrize("file", _FILES, ids=lambda f: f.stem)
def test_a_program_with_a_fault_is_refused_at_its_place(file: Path) -> None:
    text = file.read_text(encoding="utf-8")
    expected = _EXPECT.match(text)
    assert expected is not None
    kind, code, line, column = expected.groups()
    with pytest.raises(ProgramError) as caught:
        read_program(text, machine=_machine(kind))
    error = caught.value
    assert (error.code, error.line, error.column) == (code, int(line), int(column)), str(error)


def test_there_are_enough_faults() -> None:
    assert len(_FILES) > 60
