"""The proof of a leaning wire where the answer is known, and against sampling."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from types import MappingProxyType

import numpy as np
import pytest
from tests.conftest import PartMaker
from tests.leaning_jobs import leaning_job, rounded

from kerfwright.adapters.machines import load_machine
from kerfwright.adapters.tables import Tables
from kerfwright.geometry.contour import Contour
from kerfwright.nc.reader import read_program
from kerfwright.proof.lean_axis import AxisMoves, distances
from kerfwright.proof.lean_prove import prove_leaning
from kerfwright.proof.lean_section import at_height
from kerfwright.proof.lean_wanted import Wanted
from kerfwright.proof.prove import prove_program
from kerfwright.trade.part import Role
from kerfwright.trade.requirement import Requirement
from kerfwright.trade.walls import TaperedWall


def axis(first, last, lean_first, lean_last) -> AxisMoves:
    arrays = [np.array(a, dtype=float).reshape(-1, 2) for a in (first, last, lean_first, lean_last)]
    return AxisMoves(
        first=arrays[0],
        last=arrays[1],
        lean_first=arrays[2],
        lean_last=arrays[3],
        move=np.arange(len(arrays[0])),
    )


def test_a_wire_leaning_square_to_a_plane_is_nearer_than_its_distance_in_the_plane():
    moves = axis((0, 0), (10, 0), (0, 0.5), (0, 0.5))
    (found,) = distances(moves, np.array([[4.0, 2.0]]), 0.0, within_mm=5.0)
    assert found == pytest.approx(2.0 / math.hypot(1, 0.5), abs=1e-12)
    # Up at z the axis has come nearer by half of z.
    (higher,) = distances(moves, np.array([[4.0, 2.0]]), 2.0, within_mm=5.0)
    assert higher == pytest.approx(1.0 / math.hypot(1, 0.5), abs=1e-12)


def test_a_wire_that_turns_about_a_point_sweeps_what_sampling_finds():
    random = np.random.default_rng(7)
    for _ in range(40):
        start, end = random.normal(size=(2, 2))
        m0, m1 = random.normal(size=(2, 2)) * 0.4
        point, z = random.normal(size=2), float(random.uniform(0, 3))
        (found,) = distances(axis(start, end, m0, m1), point[None, :], z, within_mm=50.0)
        t = np.linspace(0.0, 1.0, 20001)[:, None]
        w = point - (start + (end - start) * t + (m0 + (m1 - m0) * t) * z)
        m = m0 + (m1 - m0) * t
        square = (w * w).sum(axis=1) - (w * m).sum(axis=1) ** 2 / (1 + (m * m).sum(axis=1))
        assert found == pytest.approx(math.sqrt(square.min()), abs=1e-6)


@pytest.mark.parametrize("rise", [-0.1, 0.1])
def test_spots_of_a_tapered_wall_lie_on_the_cone_and_the_planes_it_is_made_of(rise):
    contour = rounded(0, 0, 20, 12, 3)
    wanted = Wanted(
        TaperedWall(contour=contour, rise=rise, reference_mm=5.0, constant_keys=frozenset())
    )
    for z in (0.0, 5.0, 20.0):
        moved = rise * (z - 5.0)
        points = wanted.spots(z).points
        x, y = points[:, 0], points[:, 1]
        corner_x, corner_y = np.clip(x, 3, 17), np.clip(y, 3, 9)
        away = np.hypot(x - corner_x, y - corner_y)
        assert away == pytest.approx(3.0 + moved, abs=1e-9)


def test_a_corner_that_keeps_its_radius_shifts_along_its_sides():
    contour = rounded(0, 0, 20, 12, 3)
    keys = frozenset({3, 7, 11, 15})
    arcs = [k for k in range(len(contour)) if contour.segments.is_arc[k]]
    keys = frozenset(2 * k + 1 for k in arcs)
    wanted = Wanted(TaperedWall(contour=contour, rise=0.1, reference_mm=0.0, constant_keys=keys))
    points = wanted.spots(10.0).points
    # One millimetre further out on every side, the same radius of three.
    x, y = np.clip(points[:, 0], 2, 18), np.clip(points[:, 1], 2, 10)
    assert np.hypot(points[:, 0] - x, points[:, 1] - y) == pytest.approx(3.0, abs=1e-9)


def test_the_proof_in_space_of_an_upright_wall_is_that_of_two_axes(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    part = make_part([(Role.OPENING, rounded(0, 0, 24, 16, 2), None)])
    wanted = replace(requirement, tolerance_um=10.0, ra_um=None)
    # So small an angle is none in any digit: X Y are those of two axes, U V are zero.
    job = leaning_job(part, wanted, tables, {"H1": "taper=0.0000001° out from top"})
    assert job.program is not None
    assert job.claim is not None
    assert set(re.findall(r"[UV](-?[0-9.]+)", job.program)) <= {"0.0000", "-0.0000"}
    flat = re.sub(r" [UV]-?[0-9.]+|M104.*\n", "", job.program)
    plain = replace(job.claim, walls=MappingProxyType({}), tolerance_um=5.0)
    two = prove_program(flat, plain)
    line = read_program(job.program, machine=job.claim.machine)
    space = prove_leaning(line, job.claim, program_sha256="")
    (a,), (b,) = two.deviations, space.deviations
    assert b.max_gouge_um == pytest.approx(a.max_gouge_um, abs=0.05)
    assert b.max_leftover_um == pytest.approx(a.max_leftover_um, abs=0.05)
    assert two.cutting_time_s == pytest.approx(space.cutting_time_s, rel=1e-3)
    assert two.path_length_mm == pytest.approx(space.path_length_mm, abs=1e-3)


def test_a_section_of_a_program_takes_as_long_as_the_program():
    text = (
        "G21 G90 G40\nM104 P0 Q20\nG00 X0 Y0 U0 V0\nM101\nM103 P1\n"
        "G01 X10 U2 F5\nU4 F1\nX20 U0 F5\nM102\nM30\n"
    )
    line = read_program(text, machine=load_machine())
    minutes = 10 / 5 + 2 / 1 + 10 / 5
    for z in (0.0, 7.0, 20.0):
        here = at_height(line, z)
        length = np.hypot(*(here.end_mm - here.start_mm).T)
        moved = length > 0
        total = (length[moved] / here.feed_mm_per_min[moved]).sum()
        # Where the wire stands still at a height that move is not seen there.
        still = 0.0 if z > 0 else 2 / 1
        assert total == pytest.approx(minutes - still, rel=1e-9)


def test_relief_then_land_as_two_jobs_neither_touches_what_the_other_makes(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    part = make_part([(Role.OPENING, rounded(0, 0, 24, 16, 2), None)])
    wanted = replace(requirement, tolerance_um=10.0, ra_um=None)
    relief = leaning_job(part, wanted, tables, {"H1": "taper=1° out downwards from 15mm"})
    land = leaning_job(part, wanted, tables, {})
    assert relief.program is not None
    assert land.program is not None
    straight = TaperedWall(
        contour=part.contours[0].contour, rise=0.0, reference_mm=0.0, constant_keys=frozenset()
    )
    assert relief.claim is not None
    below = Wanted(relief.claim.walls["H1"])
    for job, wall, heights in (
        (relief, Wanted(straight), (15.0, 17.0, 20.0)),
        (land, below, (0.0, 8.0, 15.0)),
    ):
        assert job.claim is not None
        assert job.program is not None
        line = read_program(job.program, machine=job.claim.machine)
        for header in line.headers:
            kerf = job.claim.kerf_radius_mm[header.pass_number]
            moves = np.arange(header.first_move, header.end_move)
            moves = moves[(line.is_rapid[moves] == 0) & (line.turn[moves] == 0)]
            from kerfwright.proof.lean_axis import axis_moves

            for z in heights:
                near = distances(axis_moves(line, moves), wall.spots(z).points, z, within_mm=kerf)
                assert near.min() >= kerf - 1e-3


def test_a_circle_cut_at_a_slant_has_the_same_distance_all_round():
    n = 720
    turn = 2 * np.pi * np.arange(n + 1) / n
    spoke = np.column_stack([np.cos(turn), np.sin(turn)])
    cone = axis(5.0 * spoke[:-1], 5.0 * spoke[1:], 0.2 * spoke[:-1], 0.2 * spoke[1:])
    wall = 4.0 * spoke[:-1]
    found = distances(cone, wall, 0.0, within_mm=2.0)
    # The chord of half a degree: 5 (1 - cos 0.25 deg) nearer at most.
    expected = 1.0 / math.hypot(1, 0.2)
    assert found == pytest.approx(expected, abs=5 * (1 - math.cos(np.pi / n)) + 1e-6)


def test_contours_of_a_section_are_closed_and_keep_their_sense():
    ring = Contour.circle((0, 0), radius_mm=5.0).reversed()
    wanted = Wanted(
        TaperedWall(contour=ring, rise=0.1, reference_mm=0.0, constant_keys=frozenset())
    )
    section = wanted.section(10.0)
    assert section.area_mm2 == pytest.approx(-math.pi * 16.0, rel=1e-3)
