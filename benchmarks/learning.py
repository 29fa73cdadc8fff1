"""Time of learning from five thousand measured cuts, and of a price with its range after it.

There is no peer for the whole; the other column is the goal.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from importlib import resources
from pathlib import Path
from types import MappingProxyType

import numpy as np

from kerfwright.adapters.dxf import read_drawing
from kerfwright.adapters.learning_rules import load_learning_rules
from kerfwright.adapters.machines import load_machine
from kerfwright.adapters.tables import load_tables
from kerfwright.costing.estimate import estimate
from kerfwright.learning.learn import learn
from kerfwright.learning.records import MeasuredCut
from kerfwright.planning.planner import make_plan
from kerfwright.process.passes import passes_for
from kerfwright.trade.requirement import Requirement
from kerfwright.wirepath.builder import build_path

RECORDS = 5_000
HEIGHTS_MM = (10.0, 15.0, 25.0, 40.0, 60.0, 80.0, 120.0)


def cuts(count: int) -> list[MeasuredCut]:
    """Return records of four machines, twelve materials and four wires, all fields filled."""
    generator = np.random.default_rng(7)
    tables, machine = load_tables(), load_machine()
    machines = [replace(machine, id=f"machine-{n}") for n in range(4)]
    found: list[MeasuredCut] = []
    while len(found) < count:
        on = machines[generator.integers(4)]
        material = tables.catalogue.materials[generator.integers(12)]
        wire = tables.catalogue.wires[generator.integers(4)]
        height = float(generator.choice(HEIGHTS_MM))
        passes = passes_for(
            int(generator.integers(1, 6)),
            material=material,
            height_mm=height,
            wire=wire,
            machine=on,
            technology=tables.technology,
        )
        job = f"job {len(found)}"
        for one in (p for p in passes for _ in range(3)):
            feed, ra, kg = np.exp(0.3 * generator.standard_normal(3))
            found.append(
                MeasuredCut(
                    job=job,
                    machine=on,
                    material=material,
                    wire=wire,
                    height_mm=height,
                    pass_number=one.number,
                    length_mm=100.0,
                    minutes=100 / (one.feed_mm_per_min * feed),
                    ra_um=one.ra_um * ra,
                    size_error_um=float(generator.normal(0, one.tolerance_um / 2)),
                    wire_kg=0.005 * 100 / one.feed_mm_per_min * kg,
                    breaks=int(generator.poisson(0.05)),
                )
            )
    return found[:count]


def _seconds(run: Callable[[], object], *, times: int) -> float:
    best = float("inf")
    for _ in range(times):
        start = time.perf_counter()
        run()
        best = min(best, time.perf_counter() - start)
    return best


def _row(name: str, ours_s: float, goal_s: float) -> dict[str, object]:
    return {
        "name": name,
        "ours_s": ours_s,
        "peer_s": goal_s,
        "ratio": goal_s / ours_s,
        "note": "the peer is the goal",
    }


def rows() -> list[dict[str, object]]:
    """Return the rows of the table."""
    tables, rules = load_tables(), load_learning_rules()
    records = cuts(RECORDS)

    def learned():
        return learn(records, technology=tables.technology, catalogue=tables.catalogue, rules=rules)

    posterior = learned()
    technology = replace(tables.technology, experience=posterior)
    sample = resources.files("kerfwright") / "data" / "samples" / "hand_die.dxf"
    part = read_drawing(Path(str(sample)), unit=None, layer_uses=MappingProxyType({}))
    requirement = Requirement(
        material=records[0].material,
        height_mm=40.0,
        machine=records[0].machine,
        tolerance_um=5.0,
        quantities=(1, 10, 100),
    )
    plan = make_plan(
        part, requirement, technology=technology, catalogue=tables.catalogue, rules=tables.rules
    )
    path = build_path(plan)

    def passes():
        return passes_for(
            6,
            material=requirement.material,
            height_mm=40.0,
            wire=records[0].wire,
            machine=requirement.machine,
            technology=technology,
        )

    return [
        _row(f"learn from {RECORDS} cuts, five measures", _seconds(learned, times=3), 2.0),
        _row("six passes with experience", _seconds(passes, times=10), 0.02),
        _row(
            "times and prices with ranges, three quantities",
            _seconds(lambda: estimate(plan, path, rates=tables.rates), times=5),
            0.05,
        ),
    ]
