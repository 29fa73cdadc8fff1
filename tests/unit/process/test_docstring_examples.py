from __future__ import annotations

import doctest
import importlib

import pytest


@pytest.mark.parametrize(
    "name",
    [
        "foundation.units",
        "foundation.answers",
        "foundation.spread",
        "trade.roughness",
        "process.crater",
        "process.misses",
        "process.technology",
        "cli.reasons",
        "costing.uncertainty",
    ],
)
def test_the_examples_in_the_docstrings_hold(name):
    result = doctest.testmod(importlib.import_module(f"kerfwright.{name}"))
    assert result.attempted > 0
    assert result.failed == 0
