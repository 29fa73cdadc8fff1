"""Slow zones: the path stays, the feeds change where the wire would trail too far."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.conftest import PartMaker, box
from tests.soak import tries
from tests.unit.wirepath.test_builder import NAMES, parts

import wire_samples
from kerfwright.adapters.tables import Tables
from kerfwright.adapters.wire_physics import load_wire_physics
from kerfwright.geometry.contour import Contour
from kerfwright.motion.moves import Moves, Purpose, WirePath
from kerfwright.nc.reader import read_program
from kerfwright.nc.writer import write_program
from kerfwright.planning.plan import Plan
from kerfwright.planning.planner import make_plan
from kerfwright.process.feed_advice import FeedLimit
from kerfwright.trade.machine import OffsetForm
from kerfwright.trade.part import Role
from kerfwright.trade.requirement import Requirement
from kerfwright.wirepath.builder import build_path
from kerfwright.wirepath.feeds import BesideEdge, _least, slowed

PHYSICS = load_wire_physics()
TALL_MM = 60.0


def limit(*, lag_um: float = 40.0, allowed_um: float = 12.5) -> FeedLimit:
    return FeedLimit(
        pass_number=1,
        lag_um=lag_um,
        allowed_um=allowed_um,
        feed_exponent=1.0,
        rules=PHYSICS.feeds,
    )


def slow(moves: Moves, **changes: float) -> Moves:
    made, _ = slowed(
        moves, nominal=None, offset_mm=0.2, offset_on_left=True, limit=limit(**changes)
    )
    return made


def feed_runs(moves: Moves) -> list[tuple[float, float]]:
    """Length and feed of consecutive moves of one feed."""
    runs: list[tuple[float, float]] = []
    for length, feed in zip(moves.lengths_mm(), moves.feed_mm_per_min, strict=True):
        if runs and runs[-1][1] == feed:
            runs[-1] = (runs[-1][0] + length, feed)
        else:
            runs.append((float(length), float(feed)))
    return runs


SQUARE_CORNER = [(0, 0), (1, 0), (6, 0), (6, 5), (7, 5)]


def test_a_square_corner_gets_one_slow_zone_about_it() -> None:
    moves = wire_samples.moves(SQUARE_CORNER, feed_mm_per_min=4.0)
    runs = feed_runs(slow(moves))
    # 12.5 µm of 40 µm: 0.3125, in steps of 0.05 downwards.
    assert [feed for _, feed in runs] == pytest.approx([4.0, 1.2, 4.0])
    # 2 lags are 0.08 mm, so the shortest zone counts on both sides.
    assert runs[1][0] == pytest.approx(0.2)
    assert runs[0][0] == pytest.approx(6 - 0.1)


def test_a_corner_beside_the_edge_is_slower_than_either() -> None:
    moves = wire_samples.moves(SQUARE_CORNER, feed_mm_per_min=4.0)
    made, _ = slowed(
        moves,
        nominal=None,
        offset_mm=0.2,
        offset_on_left=True,
        limit=limit(),
        beside=BesideEdge(zones=((3.0, 8.0),), factor=0.4),
    )
    runs = feed_runs(made)
    # By hand: 0.4 beside the edge, 0.3 at the corner, both at the corner beside the edge.
    assert [feed for _, feed in runs] == pytest.approx([4.0, 1.6, 0.48, 1.6, 4.0])
    assert runs[2][0] == pytest.approx(0.2)


def test_without_a_corner_that_matters_nothing_is_cut_or_copied() -> None:
    moves = wire_samples.moves(SQUARE_CORNER)
    assert slow(moves, lag_um=12.0) is moves
    gentle = wire_samples.moves([(0, 0), (1, 0), (6, 0), (11, 1), (12, 1)])
    assert slow(gentle) is gentle


def test_a_small_arc_is_slowed_and_a_wide_one_is_not() -> None:
    quarter = wire_samples.QUARTER
    small = [(0, 0), (1, 0), (6, 0, quarter), (6.05, 0.05), (6.05, 5), (6.05, 6)]
    wide = [(0, 0), (1, 0), (6, 0, quarter), (8, 2), (8, 5), (8, 6)]
    tight = slow(wire_samples.moves(small))
    assert tight.feed_mm_per_min[tight.turn != 0].max() < 4.0
    moves = wire_samples.moves(wide)
    assert slow(moves) is moves


def test_entries_and_ways_home_keep_their_feed() -> None:
    moves = wire_samples.moves([(0, 0), (0.05, 0), (0.1, 0), (0.1, 0.1), (0.1, 3)])
    made = slow(moves)
    kept = np.isin(made.purpose, [Purpose.LEAD_IN, Purpose.RETURN])
    assert kept.sum() == 2
    assert (made.feed_mm_per_min[kept] == 4.0).all()


def test_the_tip_of_a_corner_run_past_in_the_waste_is_not_slowed() -> None:
    moves = wire_samples.moves([(0, 0), (1, 0), (6, 0), (6.2, 0), (6.2, 0.2), (6.2, 5), (6.2, 6)])
    purpose = moves.purpose.copy()
    purpose[2:4] = Purpose.CORNER
    past = slow(replace(moves, purpose=purpose))
    sharp = slow(moves)
    assert feed_runs(sharp)[1][1] < 4.0
    assert feed_runs(past) == [(pytest.approx(moves.lengths_mm().sum()), 4.0)]


def samples(moves: Moves, at_mm: np.ndarray) -> np.ndarray:
    """Points at distances along moves."""
    length = moves.lengths_mm()
    ends = np.cumsum(length)
    index = np.minimum(np.searchsorted(ends, at_mm), len(moves) - 1)
    share = 1 - (ends[index] - at_mm) / length[index]
    begin = np.vstack([moves.start_mm[None, :], moves.end_mm[:-1]])[index]
    spoke = begin - moves.centre_mm[index]
    radius = np.hypot(*spoke.T)
    angle = np.divide(length[index], radius, out=np.zeros(len(index)), where=radius > 0)
    angle *= share * moves.turn[index]
    cos, sin = np.cos(angle), np.sin(angle)
    turned = np.column_stack(
        [spoke[:, 0] * cos - spoke[:, 1] * sin, spoke[:, 0] * sin + spoke[:, 1] * cos]
    )
    line = begin + (moves.end_mm[index] - begin) * share[:, None]
    return np.where((moves.turn[index] == 0)[:, None], line, moves.centre_mm[index] + turned)


@settings(max_examples=tries(60), deadline=None)
@given(
    seed=st.integers(0, 10_000),
    step_mm=st.sampled_from([0.01, 0.1, 1.0, 20.0]),
    lag_um=st.sampled_from([5.0, 40.0, 300.0]),
)
def test_the_path_is_the_same_point_for_point(seed: int, step_mm: float, lag_um: float) -> None:
    moves = wire_samples.moves(wire_samples.random_rows(seed, count=40, step_mm=step_mm))
    made = slow(moves, lag_um=lag_um, allowed_um=3.0)
    total = moves.lengths_mm().sum()
    assert made.lengths_mm().sum() == pytest.approx(total, rel=1e-9)
    assert (made.start_mm == moves.start_mm).all()
    assert (made.end_mm[-1] == moves.end_mm[-1]).all()
    # Every joint of the path is still there, to the last digit and in order.
    kept = iter(map(tuple, made.end_mm))
    assert all(joint in kept for joint in map(tuple, moves.end_mm))
    at = np.linspace(0, total, 501)[1:-1]
    assert samples(made, at) == pytest.approx(samples(moves, at), abs=1e-6)
    assert (made.feed_mm_per_min <= 4.0).all()
    assert (made.feed_mm_per_min >= 4.0 * PHYSICS.feeds.least_factor - 1e-9).all()


@pytest.fixture(params=NAMES)
def plan(
    request: pytest.FixtureRequest,
    make_part: PartMaker,
    requirement: Requirement,
    tables: Tables,
) -> Plan:
    return make_plan(
        parts(make_part)[request.param],
        replace(requirement, height_mm=TALL_MM),
        technology=tables.technology,
        catalogue=tables.catalogue,
        rules=tables.rules,
    )


def test_a_plan_keeps_every_point_of_its_path_and_gets_only_slower(plan: Plan) -> None:
    plain, made = build_path(plan), build_path(plan, physics=PHYSICS)
    for before, after in zip(plain.cuts, made.cuts, strict=True):
        at = np.linspace(0, before.moves.lengths_mm().sum(), 301)[1:-1]
        assert samples(after.moves, at) == pytest.approx(samples(before.moves, at), abs=1e-6)
        assert minutes(after.moves) >= minutes(before.moves) - 1e-9
        if before.nominal is None:
            assert after.nominal is None
            continue
        at = np.linspace(0, before.nominal.lengths_mm().sum(), 301)[1:-1]
        assert samples(after.nominal, at) == pytest.approx(samples(before.nominal, at), abs=1e-6)


def minutes(moves: Moves) -> float:
    return float((moves.lengths_mm() / moves.feed_mm_per_min).sum())


def written(path: WirePath, plan: Plan, form: OffsetForm) -> str:
    machine = plan.requirement.machine
    return write_program(
        path,
        machine=replace(machine, dialect=replace(machine.dialect, offset_form=form)),
        title="both forms",
    )


def test_both_forms_of_the_program_slow_at_the_same_places(plan: Plan) -> None:
    path = build_path(plan, physics=PHYSICS)
    if any(c.nominal is None for c in path.cuts):
        return
    machine = plan.requirement.machine
    centre, control = (
        read_program(written(path, plan, form), machine=machine)
        for form in (OffsetForm.WIRE_CENTRE, OffsetForm.CONTROLLER)
    )
    for one, other in zip(centre.headers, control.headers, strict=True):
        place, feed = _wall_places(centre, one.first_move, one.end_move)
        place_2, feed_2 = _wall_places(control, other.first_move, other.end_move)
        distance = np.hypot(*(place[:, None, :] - place_2[None, :, :]).transpose(2, 0, 1))
        nearest = distance.argmin(axis=1)
        close = distance.min(axis=1) < 0.051
        agree = np.abs(feed - feed_2[nearest]) <= 0.06 * feed
        # Entries differ between the forms, and places at the very ends of zones.
        assert agree[close].mean() > 0.9, (one.contour_id, one.pass_number)


def _wall_places(timeline, first: int, end: int) -> tuple[np.ndarray, np.ndarray]:
    rows = [i for i in range(first, end) if not timeline.is_rapid[i]]
    rows = [i for i in rows if np.hypot(*(timeline.end_mm[i] - timeline.start_mm[i])) > 0]
    moves = Moves(
        start_mm=timeline.start_mm[rows[0]],
        end_mm=timeline.end_mm[rows],
        centre_mm=timeline.centre_mm[rows],
        turn=timeline.turn[rows],
        purpose=np.zeros(len(rows), dtype=np.int8),
        feed_mm_per_min=timeline.feed_mm_per_min[rows],
    )
    ends = np.cumsum(moves.lengths_mm())
    at = np.arange(0.005, ends[-1], 0.1)
    return samples(moves, at), moves.feed_mm_per_min[np.searchsorted(ends, at)]


def test_an_inside_corner_is_slowed_and_a_rolled_outside_corner_is_not(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    # The roll of the wire about an outside corner has the radius of its offset, so wire and wall
    # part by less than delta^2 / (2 R) there; in an inside corner the path is sharp.
    roughs = {}
    for role in (Role.OUTLINE, Role.OPENING):
        plan = make_plan(
            make_part([(role, box(0, 0, 20, 20), None)]),
            replace(requirement, height_mm=40.0),
            technology=tables.technology,
            catalogue=tables.catalogue,
            rules=tables.rules,
        )
        roughs[role] = build_path(plan, physics=PHYSICS).cuts[0].moves
    wall = {role: m.feed_mm_per_min[m.purpose == Purpose.WALL] for role, m in roughs.items()}
    assert len(np.unique(wall[Role.OUTLINE])) == 1
    assert wall[Role.OPENING].min() < 0.6 * wall[Role.OPENING].max()


def test_a_round_bore_wide_against_the_lag_keeps_one_feed(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    plan = make_plan(
        make_part([(Role.OPENING, Contour.circle((0, 0), radius_mm=5), None)]),
        requirement,
        technology=tables.technology,
        catalogue=tables.catalogue,
        rules=tables.rules,
    )
    plain, made = build_path(plan), build_path(plan, physics=PHYSICS)
    for before, after in zip(plain.cuts, made.cuts, strict=True):
        assert len(before.moves) == len(after.moves)


@given(
    count=st.integers(1, 60),
    ranges=st.lists(
        st.tuples(st.integers(0, 60), st.integers(0, 60), st.sampled_from([0.2, 0.5, 0.9])),
        min_size=1,
        max_size=20,
    ),
)
def test_where_zones_overlap_the_smallest_factor_counts(
    count: int, ranges: list[tuple[int, int, float]]
) -> None:
    plain = np.ones(count)
    rows = [(min(a, count), min(b, count), f) for a, b, f in ranges]
    for first, last, factor in rows:
        plain[first:last] = np.minimum(plain[first:last], factor)
    first, last, factor = (np.array(column) for column in zip(*rows, strict=True))
    assert _least(count, first, last, factor).tolist() == plain.tolist()
