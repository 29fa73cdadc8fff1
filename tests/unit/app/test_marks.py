"""What was marked of a job decides what is left of it, whatever was told."""

from __future__ import annotations

from datetime import datetime, timedelta
from itertools import pairwise

import pytest

from kerfwright.app.marks import Mark, MarkKind, Standing, as_marked, standing_of
from kerfwright.foundation.errors import InputError
from kerfwright.scheduling.hours import Clock
from kerfwright.scheduling.records import Load
from kerfwright.scheduling.replan import rest_of
from week_samples import stage

MONDAY = datetime.fromisoformat("2026-03-02 07:00")
LOAD = Load(
    id="wheel",
    stages=(
        stage(40, attended=True, name="set-up"),
        stage(200, name="rough"),
        stage(20, attended=True, name="slugs and cut-offs"),
        stage(100, name="skim"),
    ),
)


def mark(kind: str, after_min: float, number: int | None = None, **said: object) -> Mark:
    if number is not None:
        said |= {"stage": number, "stages": 4, "name": LOAD.stages[number].name}
    return Mark(
        id="m",
        kind=MarkKind(kind),
        at=MONDAY + timedelta(minutes=after_min),
        machine="M2",
        **said,  # type: ignore[arg-type]
    )


def left(marks: list[Mark], *, now_min: float) -> Load | None:
    """Return what is left of the load at a moment."""
    standing = standing_of(marks)
    assert standing is not None
    clock = Clock(begin=MONDAY + timedelta(minutes=now_min))
    seen, remarks = as_marked(
        {}, [LOAD], {"wheel": standing}, clock=clock, quantile=0.5, is_only=True
    )
    assert not remarks
    machine, spans = seen["wheel"]
    assert all(a < b for a, b in spans)
    assert all(a[1] <= b[0] for a, b in pairwise(spans))
    return rest_of(LOAD, machine=machine, spans=spans)


def minutes(load: Load | None) -> list[int]:
    assert load is not None
    assert load.running_on == "M2"
    return [s.planned_min(0.5) for s in load.stages]


def test_a_stretch_that_runs_is_left_for_what_has_not_run() -> None:
    # Set-up done at 7:45, now 8:35: 50 of 200 min of the rough pass are behind us.
    assert minutes(left([mark("done", 45, 0)], now_min=95)) == [150, 20, 100]


def test_a_break_moves_the_end_by_as_long_as_the_machine_stood() -> None:
    marks = [mark("done", 45, 0), mark("break", 60, why="flushing", stood_min=30)]
    # Of 230 min from 7:45 50 are behind us.
    assert minutes(left(marks, now_min=95)) == [pytest.approx(200 * 180 / 230, abs=1), 20, 100]


def test_a_stretch_whose_minutes_are_over_waits_for_somebody() -> None:
    found = left([mark("done", 45, 0)], now_min=600)
    assert minutes(found) == [20, 100]
    assert found is not None
    assert found.stages[0].name == "slugs and cut-offs"


def test_a_moment_never_ends_by_itself() -> None:
    # Somebody began with the set-up an hour ago, and did not say that it is done.
    assert minutes(left([mark("begun", 0, 0)], now_min=60))[1:] == [200, 20, 100]
    assert minutes(left([mark("begun", 0, 0)], now_min=60))[0] == 1
    # Of 40 min 10 are behind us.
    assert minutes(left([mark("begun", 0, 0)], now_min=10))[0] == 30


def test_a_later_stage_takes_all_before_it_along() -> None:
    assert minutes(left([mark("done", 300, 2)], now_min=350)) == [50]
    assert left([mark("done", 300, 3)], now_min=350) is None


def test_without_marks_a_load_has_not_begun_where_only_marks_count() -> None:
    told = {"wheel": ("M1", ((-200, -160), (-160, 40), (40, 60), (60, 160)))}
    clock = Clock(begin=MONDAY)
    for is_only, found in ((True, {}), (False, told)):
        seen, _ = as_marked(told, [LOAD], {}, clock=clock, quantile=0.5, is_only=is_only)
        assert seen == found


def test_marks_of_another_plan_are_said_and_not_used() -> None:
    standing = standing_of([mark("done", 45, 0)])
    assert standing is not None
    other = Load(id="wheel", stages=LOAD.stages[:3])
    seen, remarks = as_marked(
        {}, [other], {"wheel": standing}, clock=Clock(begin=MONDAY), quantile=0.5, is_only=True
    )
    assert not seen
    assert [f.code for f in remarks] == ["schedule-marks-of-another-plan"]


def test_what_cannot_be_meant_is_refused() -> None:
    for said in (
        {"kind": "done"},
        {"kind": "done", "stage": 7, "stages": 4},
        {"kind": "break"},
        {"kind": "break", "why": "two\nlines"},
        {"kind": "ordered"},
        {"kind": "done", "number": 0, "took_min": float("nan")},
        {"kind": "done", "number": 0, "took_min": -1.0},
        {"kind": "done", "number": 0, "wire_kg": 1e9},
    ):
        kind, number = str(said.pop("kind")), said.pop("number", None)
        with pytest.raises(InputError) as refused:
            mark(kind, 0, number, **said)  # type: ignore[arg-type]
        assert refused.value.code == "mark-odd"


def test_nothing_marked_is_no_standing() -> None:
    assert standing_of([]) is None
    assert standing_of([mark("ordered", 0, quantity=3)]) is None
    assert isinstance(standing_of([mark("begun", 0, 0)]), Standing)
