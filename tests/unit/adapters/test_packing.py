"""The packing engine in its own process: it answers, ends on time, and fails by name."""

from __future__ import annotations

import sys
import time

import numpy as np
import pytest
from tests.nest_samples import ROOM, mixed, sheet

from kerfwright.adapters.packing import engine
from kerfwright.foundation.errors import KerfwrightError, MissingPackageError
from kerfwright.nesting.check import check
from kerfwright.nesting.records import Instance, Item, Packing, Problem
from kerfwright.nesting.solve import nest

needs_engine = pytest.mark.skipif(not engine.has_engine(), reason="the packing engine is absent")
SQUARE = np.array([(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)])


def problem(budget_s: float = 1.0, side: float = 1.0) -> Problem:
    item = Item(id="a", points=SQUARE * side, demand=6, angles_deg=(0.0, 90.0))
    return Problem(items=(item,), width_mm=26.5, between_mm=2.0, budget_s=budget_s, seed=1)


def quiet(_what: str, _share: float) -> None:
    pass


@needs_engine
def test_the_engine_packs_squares_nearly_as_tight_as_arithmetic_allows() -> None:
    # Two across, three along: 3 squares and 4 gaps.
    found = engine.pack(problem(), quiet, lambda: False)
    assert found.bands[-1].length_mm == pytest.approx(3 * 10 + 4 * 2, rel=0.02)
    assert len(found.bands[-1].spots) == 6


@needs_engine
def test_a_nest_of_the_engine_holds_and_is_the_same_again() -> None:
    instance = Instance(kinds=mixed(), sheets=(sheet(180, 120),), room=ROOM)
    # Counted in steps: by the clock, a busy machine would get less far.
    one, two = (nest(instance, packer=engine.pack, budget_s=60, steps=60, seed=4) for _ in range(2))
    assert check(instance, one).holds
    assert not one.unplaced
    assert not one.stopped
    assert one == two


@needs_engine
def test_stopping_ends_the_engine_at_once_with_what_it_found() -> None:
    begin = time.monotonic()
    found = engine.pack(problem(budget_s=60), quiet, lambda: time.monotonic() > begin + 2.0)
    assert found.stopped
    assert time.monotonic() - begin < 8.0


@needs_engine
def test_an_engine_that_fails_is_an_error_with_its_words() -> None:
    with pytest.raises(engine.PackingError) as fault:
        engine.pack(problem(side=10.0), quiet, lambda: False)
    assert fault.value.code == "packing-failed"


def test_an_engine_that_ends_without_a_word_is_an_error(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(engine, "has_engine", lambda: True)
    monkeypatch.setattr(sys, "executable", "/bin/false")
    with pytest.raises(KerfwrightError) as fault:
        engine.pack(problem(), quiet, lambda: False)
    assert fault.value.code == "packing-failed"


def test_without_the_engine_the_call_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(engine, "has_engine", lambda: False)
    with pytest.raises(MissingPackageError, match=r"kerfwright\[nest\]"):
        engine.pack(problem(), quiet, lambda: False)


def test_an_engine_that_overruns_its_time_is_ended(monkeypatch: pytest.MonkeyPatch) -> None:
    # A worker that never answers stands for one that is lost in a long outline.
    monkeypatch.setattr(engine, "has_engine", lambda: True)
    monkeypatch.setattr(engine, "_GRACE_S", 0.0)
    monkeypatch.setattr(engine, "_COMMAND", ("-c", "import time; time.sleep(60)"))
    begin = time.monotonic()
    assert engine.pack(problem(), quiet, lambda: False) == Packing(bands=(), stopped=True)
    assert time.monotonic() - begin < 10.0
