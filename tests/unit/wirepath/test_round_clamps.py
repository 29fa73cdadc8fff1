"""The heads go round clamps by the shortest way, or somebody is called."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from tests.conftest import PartMaker, box
from tests.part_clamps import BETWEEN, Clamped, clamped

from kerfwright.adapters.tables import Tables
from kerfwright.costing.records import TimeLine
from kerfwright.costing.times import job_times
from kerfwright.foundation.findings import Severity
from kerfwright.trade.requirement import Requirement
from kerfwright.wirepath.round_clamps import clamp_findings


def lines_of(job: Clamped, tables: Tables) -> dict[str, TimeLine]:
    times = job_times(job.plan, job.path, rates=tables.rates)
    return {timed.line.operation: timed.line for timed in times.lines}


def test_without_clamps_the_way_is_straight_and_nobody_is_called(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    job = clamped(make_part, requirement, tables)
    assert all(not cut.way.via_mm and cut.way.stop_before is None for cut in job.path.cuts)
    assert clamp_findings(job.plan, job.path) == ()


def test_ways_go_round_the_near_end_of_a_clamp_and_keep_off_it(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    job = clamped(make_part, requirement, tables, BETWEEN)
    zone = shapely.box(*BETWEEN.bounds_mm)
    led = [
        (before, cut)
        for before, cut in zip(job.path.cuts[:-1], job.path.cuts[1:], strict=True)
        if cut.way.via_mm
    ]
    assert led
    for before, cut in led:
        points = np.array([before.moves.end_mm[-1], *cut.way.via_mm, cut.moves.start_mm])
        assert shapely.LineString(points).distance(zone) >= 8.0 - 1e-3
        # Its low end is the near one: never round the far one at Y80.
        assert points[:, 1].max() < 40


def test_the_way_round_is_the_shortest_that_a_taut_string_takes(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    """Tangents to the quarter circles about two corners and the straight line between them."""
    job = clamped(make_part, requirement, tables, BETWEEN)
    ways = job.path.ways_mm()
    for k, cut in enumerate(job.path.cuts):
        if not cut.way.via_mm:
            continue
        begin, end = job.path.cuts[k - 1].moves.end_mm[-1], cut.moves.start_mm
        taut = _taut_mm(begin, end, [(55.0, 5.0), (65.0, 5.0)], 8.0)
        # A polygon about the circles, a twentieth further out.
        assert taut <= ways[k] <= taut * 1.02


def _taut_mm(
    begin: np.ndarray, end: np.ndarray, corners: list[tuple[float, float]], radius: float
) -> float:
    left, right = sorted((tuple(begin), tuple(end)))

    def tangent(point: tuple[float, float], centre: tuple[float, float], side: int):  # type: ignore[no-untyped-def]
        dx, dy = point[0] - centre[0], point[1] - centre[1]
        far = math.hypot(dx, dy)
        turn = math.acos(radius / far)
        angle = math.atan2(dy, dx) + side * turn
        return math.sqrt(far**2 - radius**2), angle

    length_a, angle_a = tangent(left, corners[0], 1)
    length_b, angle_b = tangent(right, corners[1], -1)
    down = -math.pi / 2
    arcs = abs(_turn(angle_a - down)) + abs(_turn(angle_b - down))
    return length_a + length_b + radius * arcs + corners[1][0] - corners[0][0]


def _turn(angle: float) -> float:
    return (angle + math.pi) % (2 * math.pi) - math.pi


def test_the_time_of_the_way_is_counted_with_its_stops(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    free = clamped(make_part, requirement, tables)
    job = clamped(make_part, requirement, tables, BETWEEN)
    times = {"free": lines_of(free, tables), "clamped": lines_of(job, tables)}
    idle = requirement.machine.idle_speed_mm_per_min
    for name, one in (("free", free), ("clamped", job)):
        way = math.fsum(one.path.ways_mm())
        assert times[name]["positioning"].minutes.likely == pytest.approx(way / idle)
    more = (
        times["clamped"]["attended stops"].minutes.likely
        - times["free"]["attended stops"].minutes.likely
    )
    # Somebody sees that the way to the first start is clear.
    assert more == pytest.approx(tables.rates.minutes.attended_stop)


def test_where_clamps_shut_a_part_in_the_head_is_raised_with_somebody_there(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    # A frame of clamps about the second plate.
    ring = [
        box(60, -20, 64, 70), box(116, -20, 120, 70), box(60, -20, 120, -16), box(60, 66, 120, 70)
    ]  # fmt: skip
    job = clamped(make_part, requirement, tables, *ring)
    over = [cut for cut in job.path.cuts if cut.way.stop_after is not None]
    assert over
    assert all(cut.way.stop_before is not None and not cut.way.via_mm for cut in over)
    said = clamp_findings(job.plan, job.path)
    assert {f.code for f in said} == {"clamp-way-over"}
    assert {f.severity for f in said} == {Severity.WARNING}
    times = lines_of(job, tables)
    stops = sum(len(cut.stops) for cut in job.path.cuts)
    assert times["attended stops"].minutes.likely == pytest.approx(
        stops * tables.rates.minutes.attended_stop
    )
