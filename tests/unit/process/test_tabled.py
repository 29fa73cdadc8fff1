"""The bare figures of a pass, and those that a plan shows with their reasons."""

from __future__ import annotations

import pytest

from kerfwright.adapters.machines import load_machine
from kerfwright.adapters.tables import load_tables
from kerfwright.foundation.errors import RangeError
from kerfwright.process.passes import passes_for
from kerfwright.process.tabled import tabled_pass

TABLES = load_tables()
MACHINE = load_machine()
FIGURES = (
    "is_rough",
    "feed_mm_per_min",
    "feed_sigma_log",
    "ra_um",
    "tolerance_um",
    "fine_spark_sigma_log",
)


@pytest.mark.parametrize("height_mm", [3.0, 40.0, 180.0])
@pytest.mark.parametrize(
    "wire", TABLES.catalogue.wires, ids=lambda wire: f"{wire.name} {wire.diameter_mm:g}"
)
def test_cuts_are_held_against_the_very_figures_that_a_plan_shows(wire, height_mm):
    scene = {
        "height_mm": height_mm,
        "wire": wire,
        "machine": MACHINE,
        "technology": TABLES.technology,
    }
    for material in TABLES.catalogue.materials:
        shown = passes_for(len(TABLES.technology.passes), material=material, **scene)
        for one in shown:
            bare = tabled_pass(one.number, material=material, **scene)
            for name in FIGURES:
                assert getattr(bare, name) == getattr(one, name), (material.name, one.number, name)


@pytest.mark.parametrize(
    ("number", "height_mm", "code"),
    [
        (0, 40.0, "pass-count-out-of-range"),
        (1, 0.0, "rate-out-of-range"),
        (2, 0.0, "rate-out-of-range"),
    ],
)
def test_a_pass_or_height_that_is_none_is_refused(number, height_mm, code):
    with pytest.raises(RangeError) as refused:
        tabled_pass(
            number,
            material=TABLES.catalogue.materials[0],
            height_mm=height_mm,
            wire=TABLES.catalogue.wires[0],
            machine=MACHINE,
            technology=TABLES.technology,
        )
    assert refused.value.code == code
