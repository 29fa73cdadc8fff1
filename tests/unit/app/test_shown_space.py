"""Walls and wire in space where closed forms say where they are."""

from __future__ import annotations

import math
import struct
from dataclasses import replace

import numpy as np
import pytest
from tests.conftest import PartMaker
from tests.leaning_jobs import leaning_job, square, tool_steel

from kerfwright.adapters.tables import Tables
from kerfwright.app.records import JobResult
from kerfwright.app.shown_cut import ShownCut, shown_cut
from kerfwright.app.shown_space import ShownSpace, SpaceKind, wall_of
from kerfwright.app.space_answers import space_answers
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.tapered import CornerForm, tapered_wall
from kerfwright.nc.reader import read_program
from kerfwright.proof.lean_map import wall_map
from kerfwright.trade.part import Role
from kerfwright.wiring import job_strip
from kerfwright.workbench.space_binary import space_bytes, wall_bytes

HEIGHT_MM = 20.0
RADIUS_MM = 6.0
ANGLE_DEG = 3.0
RISE = math.tan(math.radians(ANGLE_DEG))
MIDDLE = np.array([120.0, -15.0])


def made(make_part: PartMaker, tables: Tables, taper: str) -> JobResult:
    hole = Contour.circle((MIDDLE[0], MIDDLE[1]), radius_mm=RADIUS_MM)
    slot = square(6.0).moved((MIDDLE[0] + 22.0, MIDDLE[1]))
    part = make_part([(Role.OPENING, hole, None), (Role.OPENING, slot, None)])
    return leaning_job(part, tool_steel(tables, tolerance_um=20), tables, {"H1": taper})


def shown(result: JobResult) -> ShownCut:
    strip = job_strip(result)
    assert strip is not None
    found = shown_cut(result, strip)
    assert found is not None
    return found


@pytest.fixture(scope="module")
def cone(make_part: PartMaker, tables: Tables) -> JobResult:
    return made(make_part, tables, f"taper={ANGLE_DEG:g}° out from top")


@pytest.fixture(scope="module")
def space(cone: JobResult) -> ShownSpace:
    found = shown(cone).space
    assert found is not None
    return found


def test_rulings_of_a_frustum_run_from_circle_to_circle_at_its_angle(space: ShownSpace) -> None:
    wall, other = space.walls
    assert (wall.contour_id, wall.kind) == ("H1", SpaceKind.LEANING)
    below = np.hypot(*(wall.lower - MIDDLE).T)
    above = np.hypot(*(wall.upper - MIDDLE).T)
    assert above == pytest.approx(RADIUS_MM, abs=1e-9)
    assert below == pytest.approx(RADIUS_MM + RISE * HEIGHT_MM, abs=1e-9)
    # Each ruling lies in a plane through the axis of the cone.
    cross = np.cross(np.pad(wall.lower - MIDDLE, ((0, 0), (0, 1))), [0, 0, 1])[:, :2]
    assert (cross * (wall.upper - MIDDLE)).sum(axis=1) == pytest.approx(0.0, abs=1e-9)
    assert wall.leans_deg == pytest.approx(ANGLE_DEG, abs=1e-9)
    assert np.array_equal(wall.lower[0], wall.lower[-1])
    assert (other.contour_id, other.kind) == ("H2", SpaceKind.UPRIGHT)
    assert np.array_equal(other.lower, other.upper)
    assert (other.lower_mm, other.upper_mm) == (0.0, HEIGHT_MM)


def test_the_wire_of_the_last_pass_keeps_one_distance_in_space_from_the_cone(
    cone: JobResult, space: ShownSpace
) -> None:
    strip = job_strip(cone)
    assert strip is not None
    assert cone.claim is not None
    number = cone.claim.passes_of("H1")[-1]
    cuts = [s for s in strip.stretches if (s.contour_id, s.pass_number) == ("H1", number)]
    last = max(cuts, key=lambda s: s.minutes)
    rows = space.wire.cut == last.cut
    foot, lean = space.wire.foot[rows] - MIDDLE, space.wire.lean[rows]
    offset = cone.claim.offset_mm["H1", number]
    # Beside a cone the offset normal to the wall is that of the radius times the cosine.
    for z in (0.0, 7.0, HEIGHT_MM):
        radius = np.hypot(*(foot + lean * z).T)
        wall = RADIUS_MM + RISE * (HEIGHT_MM - z)
        off = (wall - radius) * math.cos(math.radians(ANGLE_DEG)) - offset
        # All but the ways to the wall and off it.
        assert (np.abs(off) < 2e-3).mean() > 0.9
    angle = np.degrees(np.arctan(np.hypot(*lean.T)))
    # At both ends the wire stands upright in its start hole.
    assert angle[[0, -1]].max() == 0.0
    assert angle[1:-1] == pytest.approx(ANGLE_DEG, abs=0.02)
    assert space.wire.course.angle_deg[rows] == pytest.approx(angle, abs=1e-9)


def test_extremes_are_those_of_the_proof_and_stand_where_they_say(
    cone: JobResult, space: ShownSpace
) -> None:
    assert cone.proof is not None
    course = cone.proof.leaning
    assert course is not None
    assert space.most_angle.value == pytest.approx(course.max_angle_deg, abs=1e-9)
    assert abs(space.most_u.value) == pytest.approx(course.max_u_mm, abs=1e-9)
    assert abs(space.most_v.value) == pytest.approx(course.max_v_mm, abs=1e-9)
    assert space.planes_mm == course.planes_mm
    at = np.flatnonzero(space.wire.minute == space.most_u.minute)
    assert space.most_u.value in space.wire.course.u_mm[at]
    tilt = space.tilt
    assert space.guides_mm == (-tilt.lower_guide_mm, HEIGHT_MM + tilt.upper_guide_mm)


def test_the_wire_stands_upright_beside_the_wall_that_does(space: ShownSpace) -> None:
    upright = np.abs(space.wire.foot[:, 0] - MIDDLE[0] - 22.0) < 3.0
    assert upright.any()
    assert np.abs(space.wire.lean[upright]).max() == 0.0


def test_land_and_relief_meet_at_the_edge(make_part: PartMaker, tables: Tables) -> None:
    found = shown(made(make_part, tables, "land=4mm, relief=2°")).space
    assert found is not None
    kinds = {wall.kind: wall for wall in found.walls}
    land, relief = kinds[SpaceKind.LAND], kinds[SpaceKind.RELIEF]
    assert (land.lower_mm, land.upper_mm) == (16.0, 20.0)
    assert (relief.lower_mm, relief.upper_mm) == (0.0, 16.0)
    edges = (np.hypot(*(points - MIDDLE).T) for points in (land.lower, land.upper, relief.upper))
    for radius in edges:
        assert radius == pytest.approx(RADIUS_MM, abs=1e-9)
    below = np.hypot(*(relief.lower - MIDDLE).T)
    assert below == pytest.approx(RADIUS_MM + 16.0 * math.tan(math.radians(2.0)), abs=1e-9)


def test_a_job_of_upright_walls_has_nothing_in_space(make_part: PartMaker, tables: Tables) -> None:
    hole = Contour.circle((0.0, 0.0), radius_mm=RADIUS_MM)
    part = make_part([(Role.OPENING, hole, None)])
    result = leaning_job(part, tool_steel(tables, tolerance_um=20), tables, {})
    assert shown(result).space is None


def test_a_part_of_a_wall_is_cut_out_of_its_rulings() -> None:
    hole = Contour.circle((0.0, 0.0), radius_mm=RADIUS_MM).reversed()
    ruled = tapered_wall(
        hole,
        rise=RISE,
        reference_mm=0.0,
        lower_mm=0.0,
        upper_mm=HEIGHT_MM,
        corners=CornerForm.CONICAL,
        other_corners=frozenset(),
    )
    wall = wall_of(ruled, contour_id="H1", kind=SpaceKind.RELIEF, stands_mm=(5.0, 15.0))
    assert np.hypot(*wall.lower.T) == pytest.approx(RADIUS_MM - 5.0 * RISE, abs=1e-9)
    assert np.hypot(*wall.upper.T) == pytest.approx(RADIUS_MM - 15.0 * RISE, abs=1e-9)


def test_space_is_read_back_from_its_bytes(space: ShownSpace) -> None:
    data = space_bytes(space)
    assert data[:4] == b"KWS1"
    n, m, _, ox, oy = struct.unpack_from("<IIIdd", data, 4)
    assert (n, m) == (2, len(space.wire))
    at = 32
    assert np.frombuffer(data, "<f8", m, at).tolist() == space.wire.minute.tolist()
    at += 8 * m
    axis = np.frombuffer(data, "<f4", 7 * m, at).reshape(7, m).T
    at += 28 * m
    assert axis[:, :2] + np.array([ox, oy]) == pytest.approx(space.wire.foot, abs=1e-5)
    assert axis[:, 2:4] == pytest.approx(space.wire.lean, abs=1e-7)
    assert axis[:, 4] == pytest.approx(space.wire.course.u_mm, abs=1e-5)
    assert axis[:, 6] == pytest.approx(space.wire.course.angle_deg, abs=1e-5)
    assert np.frombuffer(data, "<u4", m, at).tolist() == space.wire.cut.tolist()
    at += 8 * m
    first = np.frombuffer(data, "<u4", n + 1, at)
    at += 4 * (n + 1)
    assert np.frombuffer(data, "<f4", 2 * n, at).tolist() == [0.0, 0.0, 20.0, 20.0]
    at += 8 * n
    ends = np.frombuffer(data, "<f4", -1, at).reshape(4, -1).T + np.array([ox, oy, ox, oy])
    assert len(ends) == first[-1]
    for k, wall in enumerate(space.walls):
        mine = ends[first[k] : first[k + 1]]
        assert mine[:, :2] == pytest.approx(wall.lower, abs=1e-5)
        assert mine[:, 2:] == pytest.approx(wall.upper, abs=1e-5)


def test_every_number_in_space_has_a_reason(space: ShownSpace) -> None:
    found = {one.title: one.reason for one in space_answers(space)}
    assert found["wall H1 angle"].value == pytest.approx(ANGLE_DEG, abs=1e-9)
    assert found["limit U"].value == space.tilt.travel_u_mm
    assert found["wire's most angle"].value == space.most_angle.value
    assert "wall H2 angle" not in found


def test_the_map_of_a_wall_has_the_worst_of_the_proof(cone: JobResult, space: ShownSpace) -> None:
    assert cone.proof is not None
    (judged,) = (d for d in cone.proof.deviations if d.contour_id == "H1")
    deep = [w.deviation_um for w in space.off.worst if w.deviation_um < 0]
    left = [w.deviation_um for w in space.off.worst if w.deviation_um > 0]
    assert -min(deep, default=0.0) == pytest.approx(judged.max_gouge_um, abs=0.051)
    assert max(left, default=0.0) == pytest.approx(judged.max_leftover_um, abs=0.051)
    # Bands cover the wall from end to end, each spot on the cone.
    bands = space.off.bands
    assert (bands[0].lower_mm, bands[-1].upper_mm) == (0.0, HEIGHT_MM)
    assert [b.upper_mm for b in bands[:-1]] == [b.lower_mm for b in bands[1:]]
    for band in bands:
        assert band.lower_mm <= band.height_mm <= band.upper_mm
        radius = RADIUS_MM + RISE * (HEIGHT_MM - band.height_mm)
        assert np.hypot(*(band.points - MIDDLE).T) == pytest.approx(radius, abs=1e-6)
        assert np.hypot(*band.aside.T) == pytest.approx(RISE, abs=1e-9)
        assert np.abs(band.deviation_um).max() < 3.0


def test_a_wall_that_is_set_off_as_if_upright_is_seen_too_deep_everywhere(
    cone: JobResult, space: ShownSpace
) -> None:
    assert cone.claim is not None
    assert cone.program is not None
    picture = read_program(cone.program, machine=cone.claim.machine)
    number = cone.claim.passes_of("H1")[-1]
    offset = cone.claim.offset_mm["H1", number]
    more = {("H1", number): offset / math.cos(math.radians(ANGLE_DEG))}
    claim = replace(cone.claim, offset_mm={**cone.claim.offset_mm, **more})
    found = wall_map(picture, claim, {"H1": [0.0, HEIGHT_MM]})
    depth = offset * (1 / math.cos(math.radians(ANGLE_DEG)) - 1) * 1000
    (before,) = (b for b in space.off.bands if b.height_mm == 0.0)
    change = before.deviation_um - found.bands[0].deviation_um
    assert change == pytest.approx(depth, abs=1e-6)


def test_deviations_of_walls_are_read_back_from_their_bytes(space: ShownSpace) -> None:
    data = wall_bytes(space)
    assert data[:4] == b"KWL1"
    n, ox, oy = struct.unpack_from("<Idd", data, 4)
    assert n == len(space.off.bands)
    first = np.frombuffer(data, "<u4", n + 1, 24)
    at = 24 + 4 * (n + 1)
    assert set(np.frombuffer(data, "<u4", n, at).tolist()) == {0}
    heights = np.frombuffer(data, "<f4", 3 * n, at + 4 * n).reshape(3, n)
    assert heights[0].tolist() == [band.height_mm for band in space.off.bands]
    m = int(first[-1])
    spots = np.frombuffer(data, "<f4", 5 * m, at + 16 * n).reshape(5, m).T
    assert len(data) == at + 16 * n + 21 * m
    for k, band in enumerate(space.off.bands):
        mine = spots[first[k] : first[k + 1]]
        assert mine[:, :2] + np.array([ox, oy]) == pytest.approx(band.points, abs=1e-5)
        assert mine[:, 4] == pytest.approx(band.deviation_um, abs=1e-4)
