"""A whole rough pass followed by a trailing wire whose lag goes with the feeds of the program."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.conftest import PartMaker

from kerfwright.adapters.tables import Tables
from kerfwright.adapters.wire_physics import load_wire_physics
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.nearest import NearestIndex
from kerfwright.geometry.segments import Segments
from kerfwright.motion.moves import Moves, Purpose
from kerfwright.planning.planner import make_plan
from kerfwright.trade.part import Role
from kerfwright.trade.requirement import Requirement
from kerfwright.wirepath.builder import build_path
from kerfwright.wirepath.trailing import limits_of

PHYSICS = load_wire_physics()
STEP_MM = 0.002
SHARP = [(0, 0), (6, 0), (6, 2), (8, 2), (8, 0), (14, 0), (9, 9), (0, 9)]
ROUNDED = [(0, 0), (5.6, 0, 0.4142), (6, 0.4), (6, 4), (0.2, 4, 0.4142), (0, 3.8)]
FINE = [(0, 0), (4, 0), (4, 0.3), (4.3, 0.3), (4.3, 0.6), (4.6, 0.6), (4.6, 4), (0, 4)]


def segments_of(moves: Moves) -> Segments:
    begin = np.vstack([moves.start_mm[None, :], moves.end_mm[:-1]])
    spoke = np.hypot(*(moves.end_mm - moves.centre_mm).T)
    sweep = np.where(moves.turn == 0, 0.0, moves.lengths_mm() / spoke * moves.turn)
    return Segments.from_ends(begin, moves.end_mm, np.tan(sweep / 4))


def worst_um(moves: Moves, *, full_feed: float, lag_um: float) -> float:
    """Largest distance of the trail from the path, along the wall."""
    path = segments_of(moves)
    ends = np.cumsum(path.length)
    at = np.arange(0, ends[-1], STEP_MM)
    index = np.searchsorted(ends, at, side="right")
    guides = path.points_at(index, 1 - (ends[index] - at) / path.length[index])
    wanted = lag_um / 1000 * np.minimum(1.0, moves.feed_mm_per_min[index] / full_feed)
    # The lag follows the feed no faster than the guides move.
    lag, wire, trail = wanted[0], guides[0] - (guides[1] - guides[0]), []
    for guide, goal in zip(guides[1:], wanted[1:], strict=True):
        lag += min(STEP_MM, max(-STEP_MM, goal - lag))
        back = wire - guide
        wire = guide + back * (lag / np.hypot(*back))
        trail.append(wire)
    on_wall = np.isin(moves.purpose[index[1:]], [Purpose.WALL, Purpose.CORNER])
    # The first lag after the lead-in still hangs in the lead-in's corner, off the wall.
    first = int(np.argmax(on_wall)) + int(5 * lag_um / 1000 / STEP_MM)
    distance, _ = NearestIndex(path).query(np.array(trail)[first:][on_wall[first:]])
    return float(distance.max() * 1000)


@pytest.mark.parametrize("wall", [SHARP, ROUNDED, FINE], ids=["sharp", "rounded", "fine"])
def test_with_the_advised_feeds_the_trail_keeps_the_allowance(
    make_part: PartMaker, requirement: Requirement, tables: Tables, wall: list[tuple[float, ...]]
) -> None:
    plan = make_plan(
        make_part([(Role.OPENING, Contour.from_rows(wall), None)]),
        replace(requirement, height_mm=80.0),
        technology=tables.technology,
        catalogue=tables.catalogue,
        rules=tables.rules,
    )
    limit = limits_of(plan, physics=PHYSICS)[1]
    feed = plan.passes[0].feed_mm_per_min
    plain, made = (build_path(plan, physics=p).cuts[0].moves for p in (None, PHYSICS))
    slack_um = STEP_MM * 1000 / 4
    before = worst_um(plain, full_feed=feed, lag_um=limit.lag_um)
    after = worst_um(made, full_feed=feed, lag_um=limit.lag_um)
    assert before > limit.allowed_um
    assert after <= limit.allowed_um + slack_um
