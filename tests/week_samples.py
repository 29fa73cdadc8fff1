"""Weeks for tests: random ones of our shop, and the public job-shop instances."""

from __future__ import annotations

import csv
import random
from datetime import datetime, time
from pathlib import Path

import pytest

from kerfwright.app.week import Figures, Park
from kerfwright.foundation.ranges import Range
from kerfwright.foundation.sources import COMMON_PRACTICE
from kerfwright.scheduling.hours import Calendar, Clock
from kerfwright.scheduling.records import Load, Need, ParkMachine, SetUps, Span, Stage, Week

CORPUS = Path(__file__).resolve().parents[2] / "shared" / "corpus" / "scheduling"
MONDAY = datetime.fromisoformat("2026-11-30 07:00")
CLOCK = Clock(begin=MONDAY)
DAYS = 28
SPELLS = ((time(7), time(12)), (time(12, 30), time(16)))
CALENDAR = Calendar(hours=dict.fromkeys(range(5), SPELLS))


def stage(minutes: float, *, attended: bool = False, name: str = "", sigma: float = 0.0,
          breaks: float = 0.0) -> Stage:  # fmt: skip
    spread = Range.lognormal(minutes, sigma_log=sigma) if sigma else Range.exact(minutes)
    said = name or ("set-up" if attended else "rough")
    return Stage(name=said, minutes=spread, is_attended=attended, breaks=breaks)


def week(
    *loads: Load, machines: int | tuple[ParkMachine, ...] = 2, days: int = DAYS, **more: object
) -> Week:
    if isinstance(machines, int):
        machines = tuple(ParkMachine(id=f"M{k + 1}") for k in range(machines))
    return Week(
        loads=loads,
        machines=machines,
        away=CALENDAR.away(CLOCK, days=days),
        horizon_min=days * 24 * 60,
        **more,  # type: ignore[arg-type]
    )


def random_week(seed: int, *, loads: int = 8, machines: int = 3) -> Week:
    """Return a week with everything that may be in one: downs, wires, fixtures, what runs."""
    rng = random.Random(seed)  # noqa: S311
    park = tuple(
        ParkMachine(
            id=f"M{k + 1}",
            max_height_mm=rng.choice((150.0, 250.0)),
            wire_diameters_mm=(0.2, 0.25),
            wire_mm=rng.choice((0.2, 0.25)),
            fixture=rng.choice(("", "vice")),
            downs=(Span(begin_min=(at := rng.randrange(3000)), end_min=at + rng.randint(60, 900)),)
            if rng.random() < 0.4
            else (),
        )
        for k in range(machines)
    )
    every: list[Load] = []
    for k in range(loads):
        stages = [stage(rng.randint(15, 50), attended=True, sigma=0.25)]
        for _ in range(rng.randint(1, 2)):
            stages.append(stage(rng.randint(60, 600), sigma=0.2, breaks=rng.random() / 3))
            if rng.random() < 0.7:
                stages.append(stage(rng.randint(5, 20), attended=True, name="cut-offs", sigma=0.2))
        every.append(
            Load(
                id=f"J{k + 1}",
                stages=tuple(stages),
                due_min=rng.choice((None, rng.randint(500, 8000))),
                ready_min=rng.choice((0, 0, rng.randint(0, 2000))),
                importance=rng.randint(1, 5),
                need=Need(height_mm=rng.choice((20.0, 180.0)) if machines > 1 else 20.0,
                          wire_mm=rng.choice((None, 0.2, 0.25))),
                fixture=rng.choice(("", "vice", "plate")),
                after=(f"J{k}",) if k and rng.random() < 0.2 else (),
                running_on="M1" if k == 0 and rng.random() < 0.5 else "",
            )
        )  # fmt: skip
    return Week(
        machines=park,
        loads=tuple(every),
        away=CALENDAR.away(CLOCK, days=DAYS),
        set_ups=SetUps(wire_change_min=20, same_fixture_saves_min=15, least_min=5),
        quantile=0.7,
        horizon_min=DAYS * 24 * 60,
    )


def job_shop(name: str) -> tuple[Week, int]:
    """Return a public job-shop instance as a week and its optimum; skip where it is not here."""
    if not CORPUS.is_dir():
        pytest.skip("the public job-shop instances are not beside this checkout")
    numbers = list(map(int, (CORPUS / "instances" / f"{name}.txt").read_text("utf-8").split()))
    jobs, machines, rest = numbers[0], numbers[1], numbers[2:]
    loads = []
    for j in range(jobs):
        for o in range(machines):
            at = 2 * (j * machines + o)
            loads.append(
                Load(
                    id=f"{j}.{o}",
                    stages=(stage(rest[at + 1]),),
                    machines=(str(rest[at]),),
                    after=(f"{j}.{o - 1}",) if o else (),
                )
            )
    with (CORPUS / "OPTIMA.csv").open(encoding="utf-8") as stream:
        optimum = next(int(r["optimum"]) for r in csv.DictReader(stream) if r["name"] == name)
    return Week(
        machines=tuple(ParkMachine(id=str(k)) for k in range(machines)),
        loads=tuple(loads),
        horizon_min=sum(rest[1::2]),
    ), optimum


FIGURES = Figures(
    wire_change_min=0,
    same_fixture_saves_min=0,
    least_set_up_min=5,
    least_alone_min=10,
    share_in_time=0.5,
    move_slack_min=60,
    move_costs_min=240,
    promise_share=0.9,
    sources={"wire_change_min": COMMON_PRACTICE},
)


def park_of(week: Week) -> Park:
    return Park(machines=week.machines, calendar=CALENDAR, downs=(), figures=FIGURES)
