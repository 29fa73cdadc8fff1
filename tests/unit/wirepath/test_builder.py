"""The wire path: clear of every wall, complete, and the same in both forms."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.conftest import PartMaker, box

from kerfwright.adapters.tables import Tables, load_tables
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.nearest import NearestIndex
from kerfwright.geometry.segments import Floats, Segments
from kerfwright.motion.moves import Cut, CutKind, Moves, Purpose, WirePath
from kerfwright.nc.reader import read_program
from kerfwright.nc.writer import write_program
from kerfwright.planning.plan import Plan
from kerfwright.planning.planner import make_plan
from kerfwright.planning.rules import CornerStyle
from kerfwright.trade.machine import OffsetForm
from kerfwright.trade.part import Part, Role
from kerfwright.trade.requirement import Requirement
from kerfwright.wirepath.builder import build_path

RULES = load_tables().rules

SLOT = Contour.from_rows([(0, 0), (20, 0, 1), (20, 4), (0, 4, 1)])
BOSS = Contour.from_rows([(0, 0), (30, 0, 0.4142135623730951), (35, 5), (35, 20), (0, 20)])
LEVER = Contour.from_rows(
    [(0, 0), (40, 0), (40, 10), (15, 10, -0.4142135623730951), (10, 15), (10, 40), (0, 40)]
)


def parts(make_part: PartMaker) -> dict[str, Part]:
    circle = Contour.circle
    return {
        "plate": make_part(
            [
                (Role.OUTLINE, box(0, 0, 60, 40), None),
                (Role.OPENING, circle((15, 20), radius_mm=5), "P1"),
                (Role.OPENING, box(30, 10, 50, 30), "P1"),
            ]
        ),
        "disc": make_part([(Role.OUTLINE, circle((5, -3), radius_mm=12), None)]),
        "small hole": make_part([(Role.OPENING, circle((0, 0), radius_mm=0.9), None)]),
        "slot": make_part([(Role.OPENING, SLOT, None)]),
        "boss": make_part([(Role.OUTLINE, BOSS, None)]),
        "lever": make_part([(Role.OUTLINE, LEVER, None)]),
        "die": make_part([(Role.OPENING, LEVER, None)]),
        "given start": make_part([(Role.OPENING, LEVER, None)], starts=[(25.0, 5.5, 2.0)]),
        "edge": make_part(
            [(Role.OUTLINE, box(0, 0, 30, 20), None)], stock=box(-1.2, -1.2, 31.2, 21.2)
        ),
    }


NAMES = [
    "plate", "disc", "small hole", "slot", "boss", "lever", "die", "given start", "edge",
]  # fmt: skip


@pytest.fixture(params=NAMES)
def plan(
    request: pytest.FixtureRequest,
    make_part: PartMaker,
    requirement: Requirement,
    tables: Tables,
) -> Plan:
    return make_plan(
        parts(make_part)[request.param],
        requirement,
        technology=tables.technology,
        catalogue=tables.catalogue,
        rules=tables.rules,
    )


@pytest.fixture
def path(plan: Plan) -> WirePath:
    return build_path(plan)


def sampled(moves: Moves, per_move: int = 33) -> tuple[Floats, Floats]:
    """Return points along moves and the purpose of each."""
    begin = np.vstack([moves.start_mm[None, :], moves.end_mm[:-1]])
    t = np.linspace(0.0, 1.0, per_move)
    points, purposes = [], []
    for i in range(len(moves)):
        a, b, c = begin[i], moves.end_mm[i], moves.centre_mm[i]
        if moves.turn[i] == 0:
            p = a + (b - a) * t[:, None]
        else:
            u, v = a - c, b - c
            angle = np.arctan2(u[0] * v[1] - u[1] * v[0], u @ v)
            sweep = (angle * moves.turn[i]) % (2 * np.pi) * moves.turn[i]
            cos, sin = np.cos(sweep * t), np.sin(sweep * t)
            p = c + np.column_stack([u[0] * cos - u[1] * sin, u[0] * sin + u[1] * cos])
        points.append(p)
        purposes.append(np.full(per_move, moves.purpose[i]))
    return np.vstack(points), np.concatenate(purposes)


def walls(plan: Plan) -> NearestIndex:
    return NearestIndex(Segments.joined([c.contour.segments for c in plan.part.contours]))


def test_every_contour_is_planned(plan: Plan) -> None:
    assert {c.target.id for c in plan.contours} == {c.id for c in plan.part.contours}


def test_the_wire_never_comes_nearer_to_a_wall_than_its_offset(plan: Plan, path: WirePath) -> None:
    index = walls(plan)
    for cut in path.cuts:
        points, _ = sampled(cut.moves)
        distance, _ = index.query(points)
        assert distance.min() >= cut.offset_mm - 2e-6, (cut.contour_id, cut.pass_number)


def test_along_the_wall_the_wire_keeps_its_offset(plan: Plan, path: WirePath) -> None:
    index = walls(plan)
    for cut in path.cuts:
        points, purposes = sampled(cut.moves)
        along = np.isin(purposes, [Purpose.WALL, Purpose.CORNER, Purpose.OVERLAP, Purpose.CUT_OFF])
        distance, _ = index.query(points[along])
        assert np.abs(distance - cut.offset_mm).max() <= 2e-6, (cut.contour_id, cut.pass_number)


def test_the_last_pass_covers_the_whole_wall_that_it_can_reach(plan: Plan, path: WirePath) -> None:
    last = len(plan.passes)
    for target in plan.contours:
        cuts = [c for c in path.cuts if c.contour_id == target.target.id and c.pass_number == last]
        swept = NearestIndex(Segments.joined([_segments(c.moves) for c in cuts]))
        wall = target.target.contour
        loop = target.loops[-1].contour
        stations = np.linspace(0, loop.length_mm, 2000, endpoint=False)
        reachable = loop.points_at(stations)
        distance, _ = swept.query(reachable)
        assert distance.max() <= 2e-6, wall.bounds_mm


def _segments(moves: Moves) -> Segments:
    begin = np.vstack([moves.start_mm[None, :], moves.end_mm[:-1]])
    u, v = begin - moves.centre_mm, moves.end_mm - moves.centre_mm
    angle = np.arctan2(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0], (u * v).sum(axis=1))
    sweep = np.where(moves.turn == 0, 0.0, (angle * moves.turn) % (2 * np.pi) * moves.turn)
    return Segments.from_ends(begin, moves.end_mm, np.tan(sweep / 4))


def test_every_cut_begins_where_its_start_is_or_where_the_wire_already_stands(
    plan: Plan, path: WirePath
) -> None:
    starts = {c.target.id: (c.start.x_mm, c.start.y_mm) for c in plan.contours}
    before: Cut | None = None
    for cut in path.cuts:
        if cut.threads:
            assert tuple(cut.moves.start_mm) == pytest.approx(starts[cut.contour_id])
            assert before is None or before.cuts_wire
        else:
            assert before is not None
            assert not before.cuts_wire
            assert cut.moves.start_mm == pytest.approx(before.moves.end_mm[-1], abs=1e-6)
        before = cut
    assert path.cuts[-1].cuts_wire


def test_a_piece_is_cut_free_only_after_a_stop_and_taken_out_after_it(path: WirePath) -> None:
    for cut in path.cuts:
        assert (cut.stop_before is not None) == (cut.kind is CutKind.CUT_OFF)
    freed = {c.contour_id for c in path.cuts if c.stop_after is not None}
    assert freed == {c.contour_id for c in path.cuts}


def test_the_control_makes_the_same_wire_path_from_the_programmed_wall(
    plan: Plan, path: WirePath
) -> None:
    if any(c.nominal is None for c in path.cuts):
        assert plan.part.contours[0].contour.length_mm < 6, "only tiny openings have no such form"
        return
    machine = plan.requirement.machine
    texts = {
        form: write_program(
            path,
            machine=replace(machine, dialect=replace(machine.dialect, offset_form=form)),
            title="both forms",
        )
        for form in OffsetForm
    }
    lines = {form: read_program(text, machine=machine) for form, text in texts.items()}
    centre, controller = lines[OffsetForm.WIRE_CENTRE], lines[OffsetForm.CONTROLLER]
    for one, other in zip(centre.headers, controller.headers, strict=True):
        a = _timeline_points(centre, one.first_move, one.end_move)
        b = _timeline_segments(controller, other.first_move, other.end_move)
        distance, _ = NearestIndex(b).query(a)
        # Off the wall the way may lean differently.  Where a skim slants on, the control cuts the
        # corner between slant and wall by a few µm, in stock that the tab's skims take.
        near, _ = walls(plan).query(a)
        on_wall = near < one.offset_mm + 1e-3
        assert np.quantile(distance[on_wall], 0.9) <= 2e-4, (one.contour_id, one.pass_number)
        assert distance[on_wall].max() <= 5e-3, (one.contour_id, one.pass_number)
        reverse, _ = walls(plan).query(_sample_segments(b))
        assert reverse.min() >= one.offset_mm - 5e-4, (one.contour_id, one.pass_number)


def _timeline_segments(timeline, first: int, end: int) -> Segments:
    rows = slice(first, end)
    begin, last, centre = timeline.start_mm[rows], timeline.end_mm[rows], timeline.centre_mm[rows]
    turn = timeline.turn[rows]
    u, v = begin - centre, last - centre
    angle = np.arctan2(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0], (u * v).sum(axis=1))
    sweep = np.where(turn == 0, 0.0, (angle * turn) % (2 * np.pi) * turn)
    keep = timeline.is_rapid[rows] == 0
    return Segments.from_ends(begin[keep], last[keep], np.tan(sweep[keep] / 4))


def _sample_segments(s: Segments) -> Floats:
    index = np.repeat(np.arange(len(s)), 33)
    return s.points_at(index, np.tile(np.linspace(0, 1, 33), len(s)))


def _timeline_points(timeline, first: int, end: int) -> Floats:
    return _sample_segments(_timeline_segments(timeline, first, end))


def test_an_extended_corner_runs_past_and_still_clears_every_wall(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    plan = make_plan(
        make_part([(Role.OUTLINE, LEVER, None)]),
        requirement,
        technology=tables.technology,
        catalogue=tables.catalogue,
        rules=replace(RULES, outside_corners=CornerStyle.EXTEND),
    )
    path = build_path(plan)
    rough = path.cuts[0]
    corners = rough.moves.purpose == Purpose.CORNER
    assert (rough.moves.turn[corners] == 0).all()
    tips = rough.moves.end_mm[corners]
    offset = rough.offset_mm
    square = np.array([40 + offset, -offset])
    assert np.hypot(*(tips - square).T).min() <= 1e-9
    distance, _ = walls(plan).query(sampled(rough.moves)[0])
    assert distance.min() >= offset - 2e-6
