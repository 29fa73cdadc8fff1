"""A taper that varies from side to side, from words to proof, and planted faults."""

from __future__ import annotations

import json
import math
import re
from dataclasses import replace

import numpy as np
import pytest
from tests.conftest import PartMaker
from tests.leaning_jobs import codes, good, leaning_job, rounded, tool_steel

from kerfwright.adapters.json_shapes import plan_shape, to_text
from kerfwright.adapters.plan_claims import claim_from
from kerfwright.adapters.tables import Tables
from kerfwright.app.records import JobResult
from kerfwright.geometry.contour import Contour
from kerfwright.nc.reader import read_program
from kerfwright.proof.lean_varied import VariedSections
from kerfwright.proof.prove import prove_program
from kerfwright.trade.part import Part, Role
from kerfwright.trade.requirement import Requirement
from kerfwright.trade.walls import VariedWall

BOX = Contour.from_rows([(0, 0), (20, 0), (20, 12), (0, 12)])
PUNCH = "taper=3° in from bottom, sides=1:0° 3:1°"
DIE = "taper=1° out from top, sides=2:3° 6:0°"


@pytest.fixture(scope="module")
def wanted(tables: Tables) -> Requirement:
    return tool_steel(tables, tolerance_um=5.0)


@pytest.fixture(scope="module")
def punch_part(make_part: PartMaker) -> Part:
    return make_part([(Role.OUTLINE, BOX, None)])


@pytest.fixture(scope="module")
def die_part(make_part: PartMaker) -> Part:
    return make_part([(Role.OPENING, rounded(0, 0, 24, 16, 2), None)])


@pytest.fixture(scope="module")
def punch(punch_part: Part, wanted: Requirement, tables: Tables) -> JobResult:
    return leaning_job(punch_part, wanted, tables, {"P1": PUNCH})


@pytest.fixture(scope="module")
def die(die_part: Part, wanted: Requirement, tables: Tables) -> JobResult:
    return leaning_job(die_part, wanted, tables, {"H1": DIE})


def test_every_side_is_cut_at_its_own_angle_by_the_plane_equation(punch: JobResult) -> None:
    program, claim = good(punch)
    line = read_program(program, machine=claim.machine)
    assert line.lean is not None
    last = max(h.pass_number for h in line.headers)
    offset = claim.offset_mm["P1", last]
    moves = np.concatenate(
        [np.arange(h.first_move, h.end_move) for h in line.headers if h.pass_number == last]
    )
    moves = moves[line.is_rapid[moves] == 0]
    low = np.vstack([line.start_mm[moves], line.end_mm[moves]])
    up = low + np.vstack([line.lean.start_mm[moves], line.lean.end_mm[moves]])
    # Side, point on it, normal outwards, angle: narrowing upwards, so the plane leans inwards.
    for point, normal, angle in (
        ((0, 0), (0, -1), 0.0),
        ((20, 0), (1, 0), 3.0),
        ((20, 12), (0, 1), 1.0),
        ((0, 12), (-1, 0), 3.0),
    ):
        rad = math.radians(angle)
        n = np.array([*(np.array(normal) * math.cos(rad)), math.sin(rad)])
        away = [
            (np.column_stack([xy, np.full(len(xy), z)]) - [*point, 0.0]) @ n
            for xy, z in ((low, 0.0), (up, 20.0))
        ]
        # The axis runs parallel to the plane at its offset, both ends, all along the side.
        on_it = np.abs(away[0] - offset) + np.abs(away[1] - offset) < 4e-4
        along = low[on_it] @ np.array([-normal[1], normal[0]])
        assert np.ptp(along) > 11.9


def test_a_die_with_three_angles_is_proved_and_named(die: JobResult) -> None:
    _, claim = good(die)
    assert die.proof is not None
    assert max(die.proof.max_gouge_um, die.proof.max_leftover_um) < 0.7
    (told,) = [f for f in die.findings if f.code == "wall-leans"]
    assert "side 2 (at X0.000 Y8.000 mm) 3°, side 6 (at X24.000 Y8.000 mm) 0°" in told.message
    assert isinstance(claim.walls["H1"], VariedWall)


def test_the_wire_touches_the_rounding_between_two_angles_by_sampling(die: JobResult) -> None:
    program, claim = good(die)
    line = read_program(program, machine=claim.machine)
    assert line.lean is not None
    last = max(h.pass_number for h in line.headers)
    moves = np.concatenate(
        [np.arange(h.first_move, h.end_move) for h in line.headers if h.pass_number == last]
    )
    share = np.linspace(0.0, 1.0, 33)[:, None, None]
    low, aside = (
        (a[moves] + (b[moves] - a[moves]) * share).reshape(-1, 2)
        for a, b in ((line.start_mm, line.end_mm), (line.lean.start_mm, line.lean.end_mm))
    )
    way = np.column_stack([aside, np.full(len(aside), 20.0)])
    way /= np.linalg.norm(way, axis=1)[:, None]
    # By hand: lower left rounding, radius 2 about (2, 2) at the top, between 1 degree below and 3
    # on the left: its centre goes (-tan 3, -tan 1) for every mm down, its radius stays.
    three, one = math.tan(math.radians(3)), math.tan(math.radians(1))
    for z in (0.0, 7.0, 20.0):
        centre = np.array([2.0 - three * (20 - z), 2.0 - one * (20 - z)])
        for angle in np.radians([182.0, 200.0, 225.0, 250.0, 268.0]):
            point = np.array([*(centre + 2 * np.array([math.cos(angle), math.sin(angle)])), z])
            to = point - np.column_stack([low, np.zeros(len(low))])
            near = np.linalg.norm(np.cross(to, way), axis=1).min()
            assert near == pytest.approx(claim.offset_mm["H1", last], abs=8e-4)


def test_a_slug_that_leaves_at_a_slant_is_not_caught(
    die_part: Part, wanted: Requirement, tables: Tables
) -> None:
    # Left and right lean the same way: straight up or down it is held on one side.
    text = "taper=1° out from top, sides=2:2° in 4:0° 6:2° 8:0°"
    result = leaning_job(die_part, wanted, tables, {"H1": text})
    good(result)
    # Wider below, it goes that way only: down, and aside with the walls, about tan 2 degrees.
    text = "taper=1.5° out from top, sides=2:2° in 6:2°"
    result = leaning_job(die_part, wanted, tables, {"H1": text})
    good(result)
    (note,) = [f.message for f in result.findings if f.code == "piece-goes-one-way"]
    found = re.search(r"downwards and (\d\.\d+) mm aside for every mm: it drops", note)
    assert found
    assert 0.01 < float(found[1]) <= math.tan(math.radians(2)) + 1e-3
    # Left and right come together as far as kerf and slant cannot make good.
    text = "taper=1° out from top, sides=2:4° in 6:4° in"
    caught = leaning_job(die_part, wanted, tables, {"H1": text})
    assert "piece-caught" in codes(caught)


def test_the_proof_makes_the_wanted_wall_by_itself(die: JobResult) -> None:
    _, claim = good(die)
    shape = claim.walls["H1"]
    assert isinstance(shape, VariedWall)
    sections = VariedSections(shape)
    # By hand, 20 mm below the top: 3 degrees on the left, 1 above and below, none on the right.
    one, three = (20 * math.tan(math.radians(a)) for a in (1, 3))
    here = sections.segments(0.0)
    points = np.vstack([here.start, here.points_at(np.arange(8), np.full(8, 0.5))])
    low, high = points.min(axis=0), points.max(axis=0)
    assert low == pytest.approx([-three, -one])
    assert high == pytest.approx([24.0, 16 + one])
    # Roundings between different angles keep their radius.
    assert here.radius[here.is_arc] == pytest.approx(2.0)


def test_the_plan_document_gives_back_the_claim(die: JobResult) -> None:
    program, claim = good(die)
    again = claim_from(json.loads(to_text(plan_shape(die.plan, claim=claim))))
    assert codes(prove_program(program, again)) == set()
    one, other = claim.walls["H1"], again.walls["H1"]
    assert isinstance(one, VariedWall)
    assert isinstance(other, VariedWall)
    assert (other.begins, other.ends, other.rounds) == (one.begins, one.ends, one.rounds)


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("taper=1° out from top, sides=9:0°", "taper-side"),
        ("taper=1° out from top, sides=1:0°", "taper-side"),
        ("taper=1° out from top, sides=2:0° 2:1°", "taper-side"),
        ("taper=1° out from top, sides=2:40°", "angle-beyond-machine"),
        ("taper=1° out from top, sides=2:25°-0° 8:25°", "wall-too-warped"),
    ],
)
def test_what_cannot_be_made_is_refused(
    text: str, code: str, die_part: Part, wanted: Requirement, tables: Tables
) -> None:
    strict = replace(wanted, tolerance_um=2.5)
    result = leaning_job(die_part, strict, tables, {"H1": text})
    assert code in codes(result)
    assert result.program is None


def test_a_change_of_angle_without_a_corner_needs_a_transition(
    make_part: PartMaker, wanted: Requirement, tables: Tables
) -> None:
    rows = [(0, 0), (6, 0), (14, 0), (20, 0), (20, 12), (0, 12)]
    part = make_part([(Role.OUTLINE, Contour.from_rows(rows), None)])
    step = leaning_job(part, wanted, tables, {"P1": "taper=0.5° in from bottom, sides=1:0°"})
    assert codes(step) == {"taper-step"}
    (found,) = [f for f in step.findings if f.code == "taper-step"]
    assert "X6.0000 Y0.0000" in found.message
    eased = {"P1": "taper=0.5° in from bottom, sides=1:0° 2:0°-0.5°"}
    result = leaning_job(part, wanted, tables, eased)
    good(result)
    assert result.proof is not None
    assert result.lean is not None
    assert result.lean.walls["P1"].warp_rad > 0


# -- planted faults --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "other"),
    [
        ("die", "taper=1° out from top"),
        ("die", "taper=1° out from top, sides=2:0° 6:3°"),
        ("die", "taper=1° out from top, sides=2:3.05° 6:0°"),
        ("die", "taper=1° out from top, sides=2:3° 6:0°, corners=constant"),
        ("punch", "taper=3° in from bottom, sides=1:0° 3:1° out"),
        ("punch", "taper=3° in from bottom, sides=1:1° 3:0°"),
        ("punch", "taper=3° in from bottom, sides=1:0° 3:1°-1.05°"),
    ],
)
def test_a_program_of_other_sides_is_caught(
    name: str,
    other: str,
    request: pytest.FixtureRequest,
    wanted: Requirement,
    tables: Tables,
) -> None:
    _, claim = good(request.getfixturevalue(name))
    part = request.getfixturevalue(f"{name}_part")
    made = leaning_job(part, wanted, tables, {next(iter(claim.walls)): other})
    program = made.program or made.withheld_program
    assert program is not None
    found = codes(prove_program(program, claim))
    if "constant" in other:
        # No two neighbouring sides have one angle here: the roundings are the same.
        assert found == set()
        return
    assert found & {"gouge", "uncut-wall", "path-in-part", "stock-taken", "off-path"}


@pytest.mark.parametrize("name", ["die", "punch"])
def test_planes_and_signs_that_are_wrong_are_caught(
    name: str, request: pytest.FixtureRequest
) -> None:
    program, claim = good(request.getfixturevalue(name))
    for put in ("M104 P0.0000 Q20.5000", "M104 P0.5000 Q20.0000", "M104 P1.0000 Q21.0000"):
        assert not prove_program(program.replace("M104 P0.0000 Q20.0000", put), claim).passed
    turned = re.sub(
        r" ([UV])(-?)([0-9.]+)", lambda m: f" {m[1]}{'' if m[2] else '-'}{m[3]}", program
    )
    assert codes(prove_program(turned, claim)) & {"gouge", "uncut-wall", "path-in-part"}
