"""The spread of the factor of open nozzles, in times and prices."""

from __future__ import annotations

import dataclasses
import math

import pytest
from tests.unit.costing.test_estimate import RATES, cut, moves, plan

from kerfwright.costing.cut_spread import CUTTING
from kerfwright.costing.estimate import running_loadings
from kerfwright.costing.times import job_times
from kerfwright.costing.uncertainty import total
from kerfwright.motion.moves import CutKind, Purpose, WirePath
from kerfwright.planning.flushing_state import CLOSED_NOZZLES
from kerfwright.process.technology import Flushing

CAUSE = "nozzles both-open"
SIGMA = 0.2
OPEN = dataclasses.replace(
    CLOSED_NOZZLES,
    nozzles=Flushing.BOTH_OPEN,
    along_factor=0.4,
    beside_factor=0.4,
    along_loadings=((CAUSE, SIGMA),),
    beside_loadings=((CAUSE, SIGMA),),
)
PATH = WirePath(
    cuts=(
        cut(CutKind.ROUGH, 1, moves((80.0, Purpose.WALL, 0.8))),
        cut(CutKind.SKIM, 2, moves((80.0, Purpose.WALL, 8.0))),
    )
)


def lines(state):
    made = plan()
    contours = tuple(dataclasses.replace(c, flushing=state) for c in made.contours)
    made = dataclasses.replace(made, contours=contours)
    return {line.line.operation: line for line in job_times(made, PATH, rates=RATES).running}


def test_closed_nozzles_leave_every_line_to_the_cutting_rate():
    for line in lines(CLOSED_NOZZLES).values():
        assert line.loadings == ()


def test_a_rough_pass_under_open_nozzles_has_their_spread_besides_and_a_skim_has_not():
    found = lines(OPEN)
    rough, skim = found["rough pass"], found["skim pass 2"]
    assert dict(rough.loadings) == pytest.approx({CUTTING: 0.35, CAUSE: SIGMA})
    assert rough.line.minutes.high / rough.minutes == pytest.approx(
        math.exp(1.2815516 * math.hypot(0.35, SIGMA))
    )
    assert (skim.loadings, skim.sigma_log) == ((), 0.25)


def test_a_part_of_the_rough_cut_beside_the_edge_counts_by_its_time():
    beside = dataclasses.replace(
        CLOSED_NOZZLES, edge_share=0.25, beside_factor=0.4, beside_loadings=((CAUSE, SIGMA),)
    )
    # A quarter of the way at 0.4 of the feed takes 0.25/0.4 of 0.75 + 0.25/0.4.
    time = 0.625 / 1.375
    rough = lines(beside)["rough pass"]
    assert dict(rough.loadings)[CAUSE] == pytest.approx(SIGMA * time)


def test_the_sum_of_the_passes_shares_the_rate_and_not_the_nozzles():
    found = tuple(lines(OPEN).values())
    t = [line.minutes for line in found]
    share = [one / sum(t) for one in t]
    assert dict(running_loadings(found)) == pytest.approx(
        {CUTTING: share[0] * 0.35 + share[1] * 0.25, CAUSE: share[0] * SIGMA}
    )
    wider, before = (
        total(line.amount() for line in lines(s).values()) for s in (OPEN, CLOSED_NOZZLES)
    )
    assert wider.high > before.high
    assert wider.likely == before.likely
