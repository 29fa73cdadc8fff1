"""Time of the ranges of a whole plan and price, of all reasons and of a technology table.

The peer of a price is a plain simulation with NumPy of the same model, with as many draws as its
ends need to be as near as ours are: the fit by two moments is within 0.5 % at the high end
(``tests/cross/test_price_range_against_simulation.py``), and so many draws leave half a percent of
chance there.  For the rest the other column is the goal.
"""

from __future__ import annotations

import tempfile
from dataclasses import replace
from pathlib import Path

import numpy as np
from benchmarks.pipeline import WHEEL, die_plate
from benchmarks.spent import Spent, spent

from kerfwright.adapters.tables import load_tables
from kerfwright.app.records import JobRequest, JobResult
from kerfwright.costing.estimate import estimate
from kerfwright.costing.times import Times, job_times
from kerfwright.costing.uncertainty import Amount, total
from kerfwright.process.passes import passes_for
from kerfwright.trade.part import LayerUse
from kerfwright.wiring import answers, plan_job

GOAL_PLAN_S, GOAL_TABLE_S, GOAL_ASKED_S = 0.05, 0.02, 0.3
RUNS = 7
NEAR = 0.005
"""Relative error of the high end: that of our fit."""
DENSITY_90 = 0.17549833193248679
"""Standard normal density at the 90th percentile (tables of the normal distribution)."""


def draws_needed(sigma_log: float) -> int:
    """Draws whose 90th percentile has a standard error of NEAR: sqrt(p q/N) sigma/density."""
    return int(0.09 * (sigma_log / DENSITY_90 / NEAR) ** 2) + 1


def _simulated(amounts: list[Amount], count: int) -> float:
    generator = np.random.default_rng(1)
    normal = {cause: generator.standard_normal(count) for a in amounts for cause in a.by_cause}
    drawn = np.zeros(count)
    for a in amounts:
        drawn += a.likely * np.exp(sum(s * normal[c] for c, s in a.by_cause.items()))
    return float(np.percentile(drawn, 90))


def _row(name: str, ours: Spent, peer_s: float, note: str) -> dict[str, object]:
    return {
        "name": name,
        "ours_s": ours.median_s,
        "peer_s": peer_s,
        "ratio": peer_s / ours.median_s,
        "note": f"{ours.words}; {note}",
    }


def _of_job(name: str, result: JobResult) -> list[dict[str, object]]:
    rates = load_tables().rates
    plan, path = result.plan, result.path
    assert path is not None
    times: Times = job_times(plan, path, rates=rates)
    amounts = [line.amount() for line in times.lines]
    sigma = float(np.log(total(amounts).high / total(amounts).likely)) / 1.2816
    count = draws_needed(sigma)
    return [
        _row(
            f"times and prices with ranges, {name}",
            spent(lambda: estimate(plan, path, rates=rates), times=RUNS),
            GOAL_PLAN_S,
            "the peer is the goal",
        ),
        _row(
            f"range of one sum, {name}",
            spent(lambda: total(amounts), times=RUNS),
            spent(lambda: _simulated(amounts, count), times=RUNS).median_s,
            f"the peer is a simulation of {count} draws",
        ),
        _row(
            f"reasons of every number, {name}",
            spent(lambda: answers(result), times=RUNS),
            GOAL_ASKED_S,
            f"{len(answers(result))} reasons; only when asked; the peer is the goal",
        ),
    ]


def rows() -> list[dict[str, object]]:
    """Return the rows of the table."""
    tables = load_tables()
    with tempfile.TemporaryDirectory() as scratch:
        wheel = plan_job(
            JobRequest(
                drawing=WHEEL,
                material="C270 brass",
                height="6 mm",
                tolerance="±0.005 mm",
                quantities=(1, 5, 25),
            )
        )
        die = plan_job(
            JobRequest(
                drawing=die_plate(Path(scratch)),
                material="D2",
                height="25 mm",
                tolerance="±0.0025 mm",
                quantities=(1, 5, 25),
                layer_uses={"DIE": LayerUse.OPENING, "0": LayerUse.STOCK},
            )
        )
    material, wire = tables.catalogue.material("Ti-6Al-4V"), tables.catalogue.default_wire

    def table() -> object:
        return passes_for(
            len(tables.technology.passes),
            material=material,
            height_mm=40.0,
            wire=wire,
            machine=wheel.requirement.machine,
            technology=tables.technology,
        )

    def seven_heights() -> object:
        # A wire that was not seen before: nothing made for another is kept for it.
        unseen = replace(wire)
        return [
            passes_for(
                len(tables.technology.passes),
                material=material,
                height_mm=height_mm,
                wire=unseen,
                machine=wheel.requirement.machine,
                technology=tables.technology,
            )
            for height_mm in (10.0, 15.0, 25.0, 40.0, 60.0, 80.0, 120.0)
        ]

    return [
        *_of_job("demo", wheel),
        *_of_job("100 openings", die),
        _row(
            "technology table, six passes with ranges and reasons",
            spent(table, times=20),
            GOAL_TABLE_S,
            "the peer is the goal",
        ),
        _row(
            "technology table at seven heights, nothing kept",
            spent(seven_heights, times=20),
            GOAL_TABLE_S,
            "the peer is the goal",
        ),
    ]
