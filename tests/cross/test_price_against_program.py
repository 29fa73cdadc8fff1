"""The minutes that are billed against those of the program's text, read back."""

from __future__ import annotations

import math

import pytest

import handmade
from kerfwright.adapters.machines import load_machine
from kerfwright.adapters.tables import load_tables
from kerfwright.costing.estimate import estimate
from kerfwright.nc.reader import read_program
from kerfwright.nc.writer import write_program
from kerfwright.planning.planner import make_plan
from kerfwright.trade.requirement import Requirement
from kerfwright.wirepath.builder import build_path

TABLES = load_tables()


def minutes_of(timeline) -> float:
    """Sum length over feed, move by move in plain Python, arcs by their chord and radius."""
    total = 0.0
    for i in range(len(timeline)):
        if timeline.is_rapid[i]:
            continue
        (x0, y0), (x1, y1) = timeline.start_mm[i], timeline.end_mm[i]
        chord = math.hypot(x1 - x0, y1 - y0)
        length = chord
        if timeline.turn[i]:
            cx, cy = timeline.centre_mm[i]
            radius = math.hypot(x0 - cx, y0 - cy)
            cross = (x0 - cx) * (y1 - cy) - (y0 - cy) * (x1 - cx)
            half = math.asin(min(1.0, chord / (2 * radius)))
            angle = 2 * half if cross * timeline.turn[i] >= 0 else 2 * (math.pi - half)
            length = radius * angle
        total += length / timeline.feed_mm_per_min[i]
    return total


def test_the_minutes_billed_are_those_of_the_program_read_back():
    machine = load_machine()
    wanted = Requirement(
        material=TABLES.catalogue.material("brass"),
        height_mm=12.0,
        machine=machine,
        tolerance_um=10.0,
        ra_um=1.6,
    )
    plan = make_plan(
        handmade.wheel(),
        wanted,
        technology=TABLES.technology,
        catalogue=TABLES.catalogue,
        rules=TABLES.rules,
    )
    path = build_path(plan)
    text = write_program(path, machine=machine, title="wheel")
    read = minutes_of(read_program(text, machine=machine))
    found = estimate(plan, path, rates=TABLES.rates)
    cutting = [t for t in found.times if "pass" in t.operation or t.operation == "cut-off"]
    billed = sum(t.minutes.likely for t in cutting)
    assert billed > 100
    # Feeds are written with three decimals: 0.0005 in 6 mm/min.
    assert billed == pytest.approx(read, rel=1e-4)
