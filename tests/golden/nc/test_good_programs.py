"""Programs written by hand; the first comment gives moves and length worked out on paper."""

from __future__ import annotations

import dataclasses
import re
from pathlib import Path

import numpy as np
import pytest

from kerfwright.adapters.machines import load_machine
from kerfwright.motion.moves import Moves
from kerfwright.nc.reader import read_program
from kerfwright.nc.timeline import Timeline
from kerfwright.trade.machine import ArcForm, Machine

_FILES = sorted((Path(__file__).parent / "good").glob("*.nc"))
_EXPECT = re.compile(r"\(GOOD MOVES (\d+) FEED LENGTH ([0-9.]+) MM\)")


def _machine(stem: str) -> Machine:
    machine = load_machine("generic-inch" if "inch" in stem else "generic-mm")
    if "radius" in stem:
        dialect = dataclasses.replace(machine.dialect, arc_form=ArcForm.RADIUS)
        return dataclasses.replace(machine, dialect=dialect)
    return machine


def _feed_length_mm(line: Timeline) -> float:
    total = 0.0
    for i in np.flatnonzero(line.is_rapid == 0):
        one = Moves(
            start_mm=line.start_mm[i],
            end_mm=line.end_mm[i : i + 1],
            centre_mm=line.centre_mm[i : i + 1],
            turn=line.turn[i : i + 1],
            purpose=np.zeros(1, dtype=np.int8),
            feed_mm_per_min=line.feed_mm_per_min[i : i + 1],
        )
        total += float(one.lengths_mm().sum())
    return total


@pytest.mark.parametrize("file", _FILES, ids=lambda f: f.stem)
def test_a_good_program_has_the_moves_and_the_length_worked_out_by_hand(file: Path) -> None:
    text = file.read_text(encoding="ascii")
    expected = _EXPECT.match(text)
    assert expected is not None
    line = read_program(text, machine=_machine(file.stem))
    assert len(line) == int(expected[1])
    assert _feed_length_mm(line) == pytest.approx(float(expected[2]), abs=6e-5)
    # One chain: each move begins where the one before ended.
    np.testing.assert_array_equal(line.start_mm[1:], line.end_mm[:-1])
