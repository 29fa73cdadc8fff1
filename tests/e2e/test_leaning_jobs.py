"""Leaning walls from request to proved program, and planted faults that the proof must catch."""

from __future__ import annotations

import json
import math
import re
from dataclasses import replace
from pathlib import Path

import ezdxf
import numpy as np
import pytest
from tests.conftest import PartMaker
from tests.leaning_jobs import codes, leaning_job, rounded, square, tool_steel
from tests.soak import some

from kerfwright.adapters.job_measured import read_job
from kerfwright.adapters.json_shapes import plan_shape, to_text
from kerfwright.adapters.plan_claims import claim_from
from kerfwright.adapters.tables import Tables
from kerfwright.adapters.wire_physics import load_wire_physics
from kerfwright.app.records import JobResult
from kerfwright.cli.run import run
from kerfwright.foundation.findings import Severity
from kerfwright.foundation.units import UnitSystem, feed_text
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.matching import match_contours
from kerfwright.geometry.nearest import NearestIndex
from kerfwright.geometry.segments import Segments
from kerfwright.motion.moves import Purpose
from kerfwright.nc.reader import read_program
from kerfwright.process.technology import Flushing
from kerfwright.proof.prove import prove_program
from kerfwright.proof.records import Claim
from kerfwright.trade.part import Part, Role
from kerfwright.trade.requirement import Requirement
from kerfwright.trade.walls import PairedWall
from kerfwright.wirepath import builder, leaning_cuts

DIE = "taper=1° out from top"
PUNCH = "taper=3° in from bottom"


@pytest.fixture(scope="module")
def die_part(make_part: PartMaker) -> Part:
    return make_part([(Role.OPENING, rounded(0, 0, 24, 16, 2), None)])


@pytest.fixture(scope="module")
def punch_part(make_part: PartMaker) -> Part:
    return make_part(
        [(Role.OUTLINE, Contour.from_rows([(0, 0), (18, 0), (18, 12), (0, 12)]), None)]
    )


@pytest.fixture(scope="module")
def wanted(tables: Tables) -> Requirement:
    return tool_steel(tables, tolerance_um=10.0)


@pytest.fixture(scope="module")
def die(die_part: Part, wanted: Requirement, tables: Tables) -> JobResult:
    return leaning_job(die_part, wanted, tables, {"H1": DIE})


@pytest.fixture(scope="module")
def punch(punch_part: Part, wanted: Requirement, tables: Tables) -> JobResult:
    return leaning_job(punch_part, wanted, tables, {"P1": PUNCH})


@pytest.fixture(scope="module")
def near(punch_part: Part, wanted: Requirement, tables: Tables) -> JobResult:
    """The punch near the edge of its stock."""
    return leaning_job(punch_part, replace(wanted, stock_margin_mm=2.2), tables, {"P1": PUNCH})


@pytest.fixture(scope="module")
def twisted(make_part: PartMaker, wanted: Requirement, tables: Tables) -> JobResult:
    part = make_part([(Role.OUTLINE, square(16), None)])
    top = make_part([(Role.OUTLINE, square(14).transformed(turn_rad=0.05), None)])
    return leaning_job(part, wanted, tables, {"P1": "top=P1"}, top=top)


def good(result: JobResult) -> tuple[str, Claim]:
    assert result.proof is not None, [f.message for f in result.findings]
    assert codes(result.proof) == set(), [f.message for f in result.proof.findings]
    assert result.program is not None
    assert result.claim is not None
    return result.program, result.claim


def test_a_die_opening_with_relief_is_proved_in_space(die: JobResult) -> None:
    _, claim = good(die)
    assert die.proof is not None
    assert die.proof.leaning is not None
    assert die.proof.leaning.max_angle_deg == pytest.approx(1.0, abs=0.001)
    assert die.proof.leaning.planes_mm == (0.0, 20.0)
    assert len(die.proof.leaning.heights_mm) >= 5
    # Digits and half a micrometre of chord, no more.
    assert die.proof.max_gouge_um < claim.tolerance_um + 0.5
    assert die.proof.max_leftover_um < claim.tolerance_um + 0.5


def test_a_punch_with_draft_keeps_its_sharp_edges(punch: JobResult) -> None:
    good(punch)
    assert {f.code for f in punch.findings} >= {"wall-leans", "piece-goes-one-way"}


def test_the_measured_leaning_of_a_cone_is_that_of_its_closed_form(
    make_part: PartMaker, wanted: Requirement, tables: Tables
) -> None:
    part = make_part([(Role.OPENING, Contour.circle((0, 0), radius_mm=8.0), None)])
    result = leaning_job(part, wanted, tables, {"H1": "taper=4° out from top"})
    program, claim = good(result)
    line = read_program(program, machine=claim.machine)
    last = max(k for k, h in enumerate(line.headers))
    header = line.headers[last]
    moves = np.arange(header.first_move, header.end_move)
    assert line.lean is not None
    tan, cos = math.tan(math.radians(4)), math.cos(math.radians(4))
    offset = claim.offset_mm["H1", header.pass_number]
    for v, z in ((0.0, 0.0), (0.5, 10.0), (1.0, 20.0)):
        points = line.end_mm[moves] + line.lean.end_mm[moves] * v
        radius = np.hypot(*points.T)
        wall = 8.0 + (20.0 - z) * tan - offset / cos
        on_wall = np.abs(radius - wall) < 2e-4
        # All of the turn and none beyond: the rest is the way in and out.
        assert on_wall.sum() > 100
        assert radius.max() <= wall + 2e-4


def test_two_contours_are_joined_and_what_the_warp_leaves_is_told(twisted: JobResult) -> None:
    _, claim = good(twisted)
    assert twisted.proof is not None
    assert 0 < twisted.proof.max_gouge_um <= claim.tolerance_um + claim.lean_allowance_um["P1"]


def test_the_plan_document_gives_back_the_claim(die: JobResult, twisted: JobResult) -> None:
    import json

    for result in (die, twisted):
        program, claim = good(result)
        document = json.loads(to_text(plan_shape(result.plan, claim=claim)))
        again = claim_from(document)
        proof = prove_program(program, again)
        assert codes(proof) == set()
        assert again.walls.keys() == claim.walls.keys()


def test_feeds_are_those_of_the_pass_times_the_factor_of_the_angle(
    die: JobResult, tables: Tables
) -> None:
    (contour,) = die.plan.contours
    at_one = 1.0 - 0.2 * 1.0 / 5.0
    assert contour.lean.skim_factor == pytest.approx(at_one, abs=1e-9)
    # The lift of the mouths brings part of the 1.06 that shops tell of; all of it stays.
    assert contour.lean.upright is not None
    more = contour.flushing.breaks / contour.lean.upright.breaks
    assert more == pytest.approx(1.06, abs=1e-9)
    assert tables.rules.sources["taper_rate_above_deg"]


def test_a_leaning_wall_beside_the_edge_of_the_stock_is_slowed_all_the_way(
    punch: JobResult, near: JobResult, punch_part: Part, wanted: Requirement, tables: Tables
) -> None:
    fast, slow = (
        max(
            float(f)
            for f in re.findall(r"F(\d+\.?\d*)", good(result)[0].split("(CUT P1 PASS 2")[0])
        )
        for result in (punch, near)
    )
    assert near.plan is not None
    (contour,) = near.plan.contours
    # Upright, the stretches beside the edge have this feed; F runs ahead of it at mid-height.
    upright = leaning_job(punch_part, replace(wanted, stock_margin_mm=2.2), tables, {})
    assert upright.plan is not None
    edge = upright.plan.contours[0].edge_feed_mm_per_min * contour.lean.skim_factor
    assert contour.feed_mm_per_min(contour.passes[0]) == pytest.approx(edge)
    assert slow < 0.6 * fast
    assert "leaning-slow-throughout" in {f.code for f in near.findings}
    assert "leaning-slow-throughout" not in {f.code for f in punch.findings}


def test_findings_beside_the_edge_name_the_feed_of_the_program(
    near: JobResult,
) -> None:
    (contour,) = near.plan.contours
    feed = contour.feed_mm_per_min(contour.passes[0])
    nominal = contour.passes[0].feed_mm_per_min
    # 3 degrees, more at the corners: below 0.88 by the angle; 0.4 where no nozzle closes.
    assert contour.lean.skim_factor < 1 - 0.2 * 3 / 5
    assert feed == pytest.approx(nominal * 0.4 * contour.lean.skim_factor)
    for code in ("cut-beside-stock-edge", "leaning-slow-throughout"):
        (found,) = [f for f in near.findings if f.code == code]
        assert found.data["feed_mm_per_min"] == pytest.approx(feed)
        assert feed_text(feed, system=UnitSystem.METRIC) in found.message
        assert "in/min" in found.message
    reasons = {r.quantity: r.value for r in contour.flushing.reasons}
    assert reasons["along_factor"] == contour.flushing.along_factor
    assert reasons["rate_factor"] == pytest.approx(contour.flushing.rate_factor)


@pytest.mark.parametrize("angle", ["0.5°", "1°"])
def test_a_relief_wide_enough_for_the_wire_is_gone_round_below_a_sharp_corner(
    make_part: PartMaker, wanted: Requirement, tables: Tables, angle: str
) -> None:
    # A corner of 120 degrees at the top opens to an arc of 20 tan(a) below, 0.17 and 0.35 mm: more
    # than the offset of the skims, so the wire stands in the corner above and goes round below.
    corners = [(12 * math.cos(t), 12 * math.sin(t)) for t in np.radians(np.arange(0, 360, 60))]
    part = make_part([(Role.OPENING, Contour.from_rows(corners), None)])
    result = leaning_job(part, wanted, tables, {"H1": f"taper={angle} out from top"})
    assert result.proof is not None
    assert [f.message for f in result.proof.findings if f.severity is Severity.REFUSAL] == []
    assert result.proof.passed
    # Inside corners are taken slower, as in an upright wall.
    assert result.path is not None
    rough = next(c for c in result.path.cuts if c.pass_number == 1)
    wall = rough.moves.feed_mm_per_min[rough.moves.purpose == Purpose.WALL]
    assert wall.min() < 0.9 * wall.max()


def test_wire_state_and_held_feed_name_the_feed_that_the_lean_leaves(
    punch_part: Part, wanted: Requirement, tables: Tables
) -> None:
    # A thirsty metal: more charge for a volume, so that the wire holds the feed.
    physics = load_wire_physics()
    law = physics.breaking
    thirsty = replace(physics, breaking=replace(law, charge_c_per_mm3=2 * law.charge_c_per_mm3))
    result = leaning_job(punch_part, wanted, tables, {"P1": PUNCH}, physics=thirsty)
    (contour,) = result.plan.contours
    assert contour.lean.skim_factor < 1
    feed = contour.feed_mm_per_min(contour.passes[0])
    rough, skim = result.plan.wire_states[:2]
    assert rough.feed_mm_per_min == pytest.approx(feed)
    assert skim.feed_mm_per_min == pytest.approx(contour.feed_mm_per_min(contour.passes[1]))
    # By hand: held to 0.95 of the break current, then slowed by what the lift did not take.
    assert rough.utilisation == pytest.approx(0.95 * contour.lean.rough_factor)
    (held,) = [f for f in result.findings if f.code == "feed-held-by-wire"]
    assert feed_text(feed, system=UnitSystem.METRIC) in held.message


@pytest.fixture
def from_edge(make_part: PartMaker, wanted: Requirement, tables: Tables):
    part = make_part(
        [(Role.OUTLINE, Contour.from_rows([(0, 0), (40, 0), (40, 20), (0, 20)]), None)],
        stock=Contour.from_rows([(-1.2, -1.2), (41.2, -1.2), (41.2, 21.2), (-1.2, 21.2)]),
    )

    def make(entry_mm: float) -> JobResult:
        rules = replace(tables.rules, slow_entry_mm=entry_mm)
        return leaning_job(part, wanted, replace(tables, rules=rules), {"P1": PUNCH})

    return make


def test_a_leaning_cut_from_the_edge_begins_slowly(from_edge) -> None:
    minutes = []
    for entry_mm in (3.0, 5.0):
        made = from_edge(entry_mm)
        good(made)
        (contour,) = made.plan.contours
        zone = contour.flushing.slow_entry_mm
        assert zone > entry_mm
        assert made.path is not None
        moves = made.path.cuts[0].moves
        ends = np.cumsum(moves.lengths_mm())
        feed = contour.feed_mm_per_min(contour.passes[0])
        within = ends <= zone + 0.05
        assert moves.purpose[within].max() == Purpose.WALL
        assert moves.feed_mm_per_min[within] == pytest.approx(feed * 0.5)
        assert moves.feed_mm_per_min[~within] == pytest.approx(feed)
        # A move ends where the zone does, in both planes on the straight way of the one it was.
        assert np.abs(ends - zone).min() < 0.06
        minutes.append(float((moves.lengths_mm() / moves.feed_mm_per_min).sum()))
    assert minutes[1] - minutes[0] == pytest.approx(2.0 / feed, rel=0.05)


def test_leaning_contours_share_one_index_of_the_walls(
    make_part: PartMaker, wanted: Requirement, tables: Tables, monkeypatch: pytest.MonkeyPatch
) -> None:
    part = make_part(
        [(Role.OPENING, rounded(x, 0, x + 12, 8, 2), None) for x in (0, 30, 60)],
    )
    made = []

    def counted(walls: Segments) -> NearestIndex:
        made.append(len(walls))
        return NearestIndex(walls)

    monkeypatch.setattr(builder, "NearestIndex", counted)
    result = leaning_job(part, wanted, tables, dict.fromkeys(("H1", "H2", "H3"), DIE))
    good(result)
    assert made == [sum(len(c.contour) for c in result.plan.part.contours)]


def test_a_contour_of_nothing_but_close_corners_is_proved(
    make_part: PartMaker, wanted: Requirement, tables: Tables
) -> None:
    # Each corner keeps its radius and lies so near the next that no place is left between them.
    turns = np.linspace(0.0, 2 * math.pi, 240, endpoint=False)
    radius = 20 + 0.7 * np.sin(9 * turns)
    rows = np.column_stack([radius * np.cos(turns), radius * np.sin(turns)])
    part = make_part([(Role.OPENING, Contour.from_rows(rows.tolist()), None)])
    text = {"H1": "taper=0.5° out downwards from 17mm, corners=constant"}
    result = leaning_job(part, wanted, tables, text)
    program, claim = good(result)
    wrong = program.replace("M104 P0.0000 Q20.0000", "M104 P0.0000 Q20.5000")
    assert not prove_program(wrong, claim).passed


# -- planted faults --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("fixture", "put"),
    # Every other one: a plane moved and both, on each kind of wall.
    some(
        [
            ("die", "M104 P0.0000 Q20.5000"),
            ("die", "M104 P0.0000 Q19.5000"),
            ("die", "M104 P0.5000 Q20.0000"),
            ("die", "M104 P1.0000 Q21.0000"),
            # Of the other kinds of wall a shift of both planes, and of one.
            ("punch", "M104 P1.0000 Q21.0000"),
            ("punch", "M104 P0.0000 Q20.5000"),
            ("twisted", "M104 P0.5000 Q20.0000"),
            ("twisted", "M104 P1.0000 Q21.0000"),
        ],
        of=2,
    ),
)
def test_planes_at_the_wrong_height_are_caught(
    fixture: str, put: str, request: pytest.FixtureRequest
) -> None:
    find = "M104 P0.0000 Q20.0000"
    program, claim = good(request.getfixturevalue(fixture))
    assert find in program
    assert not prove_program(program.replace(find, put), claim).passed


@pytest.mark.parametrize("fixture", ["die", "punch", "twisted"])
def test_u_and_v_of_the_wrong_sign_are_caught(fixture: str, request: pytest.FixtureRequest) -> None:
    program, claim = good(request.getfixturevalue(fixture))
    turned = re.sub(
        r" ([UV])(-?)([0-9.]+)", lambda m: f" {m[1]}{'' if m[2] else '-'}{m[3]}", program
    )
    assert codes(prove_program(turned, claim)) & {"gouge", "uncut-wall", "path-in-part"}


@pytest.mark.parametrize(
    "other",
    [
        "taper=1° in from top",
        "taper=1° out from bottom",
        "taper=1° out downwards from 15mm",
        "taper=1.02° out from top",
        "taper=1° out from top, corners=constant",
    ],
)
def test_a_program_of_another_taper_is_caught(
    other: str, die: JobResult, die_part: Part, wanted: Requirement, tables: Tables
) -> None:
    _, claim = good(die)
    program, _ = good(leaning_job(die_part, wanted, tables, {"H1": other}))
    found = codes(prove_program(program, claim))
    assert found & {"gouge", "uncut-wall", "path-in-part", "stock-taken", "off-path"}


def test_an_upright_program_for_a_tapered_wall_is_caught(
    die: JobResult, die_part: Part, wanted: Requirement, tables: Tables
) -> None:
    _, claim = good(die)
    straight, _ = good(leaning_job(die_part, wanted, tables, {}))
    assert codes(prove_program(straight, claim)) & {"uncut-wall", "arc-in-leaning-cut"}


def test_a_leaning_program_for_an_upright_wall_is_caught(
    die: JobResult, die_part: Part, wanted: Requirement, tables: Tables
) -> None:
    program, _ = good(die)
    _, claim = good(leaning_job(die_part, wanted, tables, {}))
    assert not prove_program(program, claim).passed


def test_swapped_contours_are_caught(
    twisted: JobResult, make_part: PartMaker, wanted: Requirement, tables: Tables
) -> None:
    _, claim = good(twisted)
    part = make_part([(Role.OUTLINE, square(14).transformed(turn_rad=0.05), None)])
    top = make_part([(Role.OUTLINE, square(16), None)])
    swapped = leaning_job(part, wanted, tables, {"P1": "top=P1"}, top=top)
    program, other = good(swapped)
    assert codes(prove_program(program, claim)) & {"gouge", "uncut-wall", "path-in-part"}
    # A claim whose pairing is not of the drawn contours is none.
    wall = claim.walls["P1"]
    assert isinstance(wall, PairedWall)
    wrong = replace(claim, walls={"P1": replace(wall, ruled=other.walls["P1"].ruled)})
    assert "pairing-off-contour" in codes(prove_program(program, wrong))


def test_a_matching_shifted_along_the_contour_is_caught(twisted: JobResult) -> None:
    program, claim = good(twisted)
    wall = claim.walls["P1"]
    assert isinstance(wall, PairedWall)
    shifted = match_contours(
        wall.lower, wall.upper, lower_mm=0.0, upper_mm=20.0, pairs=[(0.0, 0.7)]
    )
    moved = replace(claim, walls={"P1": replace(wall, ruled=shifted.wall)})
    assert codes(prove_program(program, moved)) & {"gouge", "uncut-wall"}


def test_an_offset_taken_in_the_plane_is_caught(
    punch_part: Part, wanted: Requirement, tables: Tables, monkeypatch: pytest.MonkeyPatch
) -> None:
    text = {"P1": "taper=15° out from bottom"}
    _, claim = good(leaning_job(punch_part, wanted, tables, text))
    true = leaning_cuts.wire_loop

    def flat(wall, *, distance_mm, **rest):
        return true(wall, distance_mm=distance_mm * math.cos(math.radians(15)), **rest)

    monkeypatch.setattr(leaning_cuts, "wire_loop", flat)
    wrong = leaning_job(punch_part, wanted, tables, text)
    assert wrong.program is None
    assert wrong.withheld_program is not None
    found = prove_program(wrong.withheld_program, claim)
    assert "gouge" in codes(found)
    # 3.4 % of a tenth and a half: about five micrometres.
    assert 3.0 < found.max_gouge_um < 8.0


def test_one_position_moved_by_three_micrometres_is_caught(die: JobResult) -> None:
    program, claim = good(die)
    lines = program.splitlines()
    at = [k for k, line in enumerate(lines) if re.match(r"X\S+ Y\S+ U\S+ V", line)]
    caught = 0
    for k in at[len(at) // 2 :: max(len(at) // 8, 1)]:
        for word in "XU":
            changed = list(lines)
            changed[k] = re.sub(
                rf"{word}(-?[0-9.]+)", lambda m, w=word: f"{w}{float(m[1]) + 0.003:.4f}", lines[k]
            )
            caught += not prove_program("\n".join(changed) + "\n", claim).passed
    # A point moved along its own wall changes nothing: the others must all show.
    assert caught >= 4


def test_a_machine_that_leans_less_refuses_plan_and_program(
    die: JobResult, die_part: Part, wanted: Requirement, tables: Tables
) -> None:
    program, claim = good(die)
    assert wanted.machine.tilt is not None
    for change, code in (
        ({"max_angle_deg": 0.9}, "angle-beyond-machine"),
        ({"travel_u_mm": 0.5}, "uv-beyond-machine"),
    ):
        machine = replace(wanted.machine, tilt=replace(wanted.machine.tilt, **change))
        assert code in codes(prove_program(program, replace(claim, machine=machine)))
        planned = leaning_job(die_part, replace(wanted, machine=machine), tables, {"H1": DIE})
        assert code in {f.code for f in planned.findings}
        assert planned.program is None


def test_a_slug_that_is_undercut_both_ways_cannot_leave(
    make_part: PartMaker, wanted: Requirement, tables: Tables
) -> None:
    part = make_part(
        [(Role.OUTLINE, Contour.from_rows([(0, 0), (16, 0), (16, 10), (0, 10)]), None)]
    )
    top = make_part(
        [(Role.OUTLINE, Contour.from_rows([(3, -3), (13, -3), (13, 13), (3, 13)]), None)]
    )
    result = leaning_job(part, wanted, tables, {"P1": "top=P1"}, top=top)
    assert "piece-caught" in {f.code for f in result.findings}
    assert result.program is None


def test_the_controller_form_is_refused_under_taper(
    die_part: Part, wanted: Requirement, tables: Tables
) -> None:
    from kerfwright.trade.machine import OffsetForm

    dialect = replace(wanted.machine.dialect, offset_form=OffsetForm.CONTROLLER)
    machine = replace(wanted.machine, dialect=dialect)
    result = leaning_job(die_part, replace(wanted, machine=machine), tables, {"H1": DIE})
    assert "controller-form-impossible" in {f.code for f in result.findings}
    assert result.program is None


def test_an_upright_contour_beside_a_leaning_one_is_cut_in_two_axes(
    make_part: PartMaker, wanted: Requirement, tables: Tables
) -> None:
    part = make_part(
        [
            (Role.OPENING, rounded(0, 0, 24, 16, 2), None),
            (Role.OPENING, Contour.circle((40, 8), radius_mm=6.0), None),
        ]
    )
    result = leaning_job(part, wanted, tables, {"H1": DIE})
    program, claim = good(result)
    assert re.search(r"^G0[23] ", program, re.MULTILINE)
    # The arcs of the upright one are held to the drawing as before.
    moved = program.replace("J-", "J-0.01", 1) if "J-" in program else program
    assert moved == program or not prove_program(moved, claim).passed
    # And two that come too near are seen: the bore claimed 1 mm larger.
    parts = tuple(
        replace(c, contour=Contour.circle((40, 8), radius_mm=7.0).reversed()) if c.id == "H2" else c
        for c in claim.contours
    )
    assert not prove_program(program, replace(claim, contours=parts)).passed


# -- the command line ------------------------------------------------------------------------


def _draw(path, rows) -> None:
    import ezdxf

    drawing = ezdxf.new()
    drawing.units = 4
    drawing.modelspace().add_lwpolyline(rows, close=True)
    drawing.saveas(path)


def test_taper_and_top_on_the_command_line(tmp_path, capsys) -> None:
    bottom, top, job = tmp_path / "bottom.dxf", tmp_path / "top.dxf", tmp_path / "job"
    _draw(bottom, [(0, 0), (16, 0), (16, 10), (0, 10)])
    _draw(top, [(1, 1), (15, 1), (15, 9), (1, 9)])
    common = ["--material", "D2", "--height", "20mm"]
    assert run(["plan", str(bottom), *common, "--taper", "P1: top=P1", "--top", str(top),
                "-o", str(job)]) == 0  # fmt: skip
    said = capsys.readouterr().out
    assert "ends in P1 of the top" in said
    assert "the wire leans by up to" in said
    plan = json.loads((job / "plan.json").read_text())
    assert [w["kind"] for w in plan["walls"]] == ["paired"]
    assert "U-" in (job / "program.nc").read_text()
    # The folder stands by itself: proved again, and priced again, from what it keeps.
    assert run(["prove", "--job", str(job), str(job / "program.nc")]) == 0
    assert run(["price", str(job)]) == 0
    _draw(top, [(2, 1), (15, 1), (15, 9), (2, 9)])
    capsys.readouterr()
    assert run(["price", str(job)]) == 2
    assert "drawing of the top changed" in capsys.readouterr().err
    assert run(["plan", str(bottom), *common, "--taper", "P1: leans a bit"]) == 2
    assert "taper=1° out from top" in capsys.readouterr().err
    assert run(["plan", str(bottom), *common, "--taper", "P7: taper=1° in from top"]) == 2
    assert "P7" in capsys.readouterr().err


def test_a_feed_too_fast_beside_the_edge_is_caught_in_a_leaning_job(
    punch: JobResult, near: JobResult, make_part: PartMaker, wanted: Requirement, tables: Tables
) -> None:
    # The leaning cut itself: the program of roomy stock, with the feeds claimed that it has.
    fast, roomy = good(punch)
    _, claim = good(near)
    assert claim.edge_feed_mm_per_min["P1", 1] == pytest.approx(claim.feed_mm_per_min["P1", 1])
    claimed = replace(claim, feed_mm_per_min=roomy.feed_mm_per_min)
    assert "feed-above-edge" in codes(prove_program(fast, claimed))
    assert "feed-above-edge" not in codes(prove_program(fast, roomy))
    # An upright outline around a leaning opening, its slow stretches at full feed.
    outline = Contour.from_rows([(0, 0), (40, 0), (40, 30), (0, 30)])
    part = make_part(
        [(Role.OUTLINE, outline, None), (Role.OPENING, rounded(8, 8, 32, 22, 2), None)],
        stock=Contour.from_rows([(-2.2, -15), (55, -15), (55, 45), (-2.2, 45)]),
    )
    mixed = leaning_job(part, wanted, tables, {"H1": DIE})
    program, own = good(mixed)
    assert [c.target.id for c in mixed.plan.contours if c.flushing.beside] == ["P1"]
    slow = own.edge_feed_mm_per_min["P1", 1]
    at_edge = min(set(re.findall(r"F([0-9.]+)", program)), key=lambda f: abs(float(f) - slow))
    wrong = program.replace(f"F{at_edge}", f"F{own.feed_mm_per_min['P1', 1]:.1f}")
    assert wrong != program
    assert codes(prove_program(wrong, own)) == {"feed-above-edge"}


def test_the_plan_document_of_a_leaning_job_gives_back_the_feeds_beside_the_edge(
    punch: JobResult, near: JobResult
) -> None:
    for made in (near, punch):
        _, claim = good(made)
        again = claim_from(plan_shape(made.plan, claim=claim))
        assert again.edge_feed_mm_per_min == pytest.approx(claim.edge_feed_mm_per_min)
        assert again.feed_mm_per_min == pytest.approx(claim.feed_mm_per_min)
        assert again.edge_reach_mm == claim.edge_reach_mm


def test_what_each_demand_costs_is_told_of_a_leaning_job_too(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    bottom, job = tmp_path / "bottom.dxf", tmp_path / "job"
    _draw(bottom, [(0, 0), (16, 0), (16, 10), (0, 10)])
    call = ["plan", str(bottom), "--material", "D2", "--height", "20mm", "--quantity", "4"]
    call += ["--taper", "P1: taper=3° in from bottom"]
    assert run([*call, "--tolerance", "±5um", "--what-if", "-o", str(job), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    asked = found["what_if"]["as_asked"]["each"]
    assert asked == found["estimate"]["prices"][0]["each"]
    (wider,) = [a for a in found["what_if"]["alternatives"] if a["instead"].startswith("±10 µm")]
    assert float(wider["saved_each"]) > 0
    # No stack of leaning walls.
    assert all(a["demand"] != "height" for a in found["what_if"]["alternatives"])
    assert run([*call, "--tolerance", "±10um", "-o", str(tmp_path / "wider"), "--json"]) == 0
    planned = json.loads(capsys.readouterr().out)
    assert wider["offer"]["each"] == planned["estimate"]["prices"][0]["each"]


def test_a_job_of_which_nothing_can_be_cut_says_why_no_demand_is_priced(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    tiny = tmp_path / "tiny.dxf"
    _draw(tiny, [(0, 0), (6, 0), (6, 0.1), (0, 0.1)])
    call = ["plan", str(tiny), "--material", "D2", "--height", "20mm", "--role", "P1: opening"]
    call += ["--what-if", "-o", str(tmp_path / "job")]
    assert run([*call, "--json"]) == 1
    found = json.loads(capsys.readouterr().out)
    assert found["what_if"] is None
    assert "the job cannot be cut as asked, see the findings" in found["what_if_not_given"]
    assert run(call) == 1
    assert "What each demand costs is not given" in capsys.readouterr().out


def test_a_measured_cut_of_a_leaning_job_is_held_against_the_nozzles_of_its_set_up(
    tmp_path: Path,
) -> None:
    job = tmp_path / "job"
    wall = "H1: taper=8° out from top"
    drawing = tmp_path / "plate.dxf"
    document = ezdxf.new("R2010", units=4)
    space = document.modelspace()
    space.add_lwpolyline([(0, 0), (60, 0), (60, 40), (0, 40)], close=True)
    space.add_circle((20, 20), 6)
    document.saveas(drawing)
    asked = ("--material", "D2", "--height", "40mm", "--tolerance", "±0.02mm", "--taper", wall)
    assert run(["plan", str(drawing), *asked, "-o", str(job)]) == 0
    leaning = json.loads((job / "plan.json").read_text(encoding="utf-8"))["flushing"][0]
    assert leaning["nozzles"] == "both-open"
    of_job = read_job(job)
    assert (of_job.nozzles, of_job.nozzles_factor) == (Flushing.SEALED, 1.0)


def test_work_above_the_bath_is_slower_where_only_the_lean_opens_the_mouths(
    tmp_path: Path,
) -> None:
    drawing = tmp_path / "plate.dxf"
    document = ezdxf.new("R2010", units=4)
    document.modelspace().add_lwpolyline([(0, 0), (60, 0), (60, 40), (0, 40)], close=True)
    document.saveas(drawing)
    asked = ("--material", "D2", "--height", "40mm", "--taper", "P1: taper=8° out from top")

    def rate(bath: str) -> float:
        job = tmp_path / bath
        assert run(["plan", str(drawing), *asked, "--bath", bath, "-o", str(job)]) == 0
        plan = json.loads((job / "plan.json").read_text(encoding="utf-8"))
        return float(plan["flushing"][0]["along_factor"])

    assert 0.8 < rate("open-air") / rate("submerged") < 0.99
