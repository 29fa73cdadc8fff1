"""Our reader against the stand-alone RS-274/NGC interpreter of Debian's linuxcnc-uspace.

``.ci/rs274`` unpacks it into ``.cache/rs274``; ``KERFWRIGHT_RS274`` names another.  It descends
from NISTIR 6556 and nobody here wrote it.  It prints four decimals: programs are scaled by a
thousand on the way in, so that its output resolves 1e-7 of a program unit.
"""

from __future__ import annotations

import os
import re
import subprocess
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from tests.conftest import PartMaker
from tests.unit.nc.test_leaning_programs import leaning

from kerfwright.adapters.tables import Tables
from kerfwright.foundation.errors import ProgramError
from kerfwright.geometry.contour import Contour
from kerfwright.motion.moves import WirePath
from kerfwright.nc.reader import read_program
from kerfwright.nc.writer import write_program
from kerfwright.planning.planner import make_plan
from kerfwright.trade.machine import ArcForm, Machine, OffsetForm
from kerfwright.trade.part import LengthUnit, Role
from kerfwright.trade.requirement import Requirement
from kerfwright.wirepath.builder import build_path
from wire_samples import SLOT, TOOTHED, cut, machine, moves, path, random_ring, random_rows

_ROOT = Path(__file__).parents[2]
_RS274 = Path(os.environ.get("KERFWRIGHT_RS274", _ROOT / ".cache" / "rs274" / "rs274"))
_GOOD = sorted((_ROOT / "tests" / "golden" / "nc" / "good").glob("*.nc"))

pytestmark = [
    pytest.mark.outside,
    pytest.mark.skipif(
        not _RS274.is_file(),
        reason="no rs274 interpreter here: run .ci/rs274, or set KERFWRIGHT_RS274",
    ),
]

_CANON = re.compile(r"(STRAIGHT_TRAVERSE|STRAIGHT_FEED|ARC_FEED)\(([^)]*)\)")
_SCALED = re.compile(r"([XYUVIJR]) *([+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+))", re.IGNORECASE)
_SCALE = 1000.0
_UNIT_MM = {LengthUnit.MILLIMETRE: 1.0, LengthUnit.INCH: 25.4}


def _for_rs274(text: str, device: Machine) -> str:
    """Blank the words that only the machine definition knows, and scale."""
    dialect = device.dialect
    own = [re.escape(w) for w in (dialect.thread, dialect.cut_wire)]
    own.append(re.escape(dialect.condition).replace(re.escape("{number}"), "[0-9]+"))
    planes = re.escape(dialect.planes)
    for place in ("{program}", "{second}"):
        planes = planes.replace(re.escape(place), "[0-9.]+")
    own.append(planes)
    lines = ["G90.1" if dialect.arc_form is ArcForm.ABSOLUTE_IJ else "G91.1"]
    for line in text.splitlines():
        body = re.sub(r"\([^)]*\)|;.*", "", line)
        body = re.sub(rf"(?:N[0-9]+ )?(?:{'|'.join(own)})\s*$", "", body, flags=re.IGNORECASE)
        if body.strip() != "%":
            # The stand-alone binary knows A and B, not U and V; both only go along.
            body = _SCALED.sub(lambda m: f"{m[1]}{float(m[2]) * _SCALE:.6f}", body)
            lines.append(body.replace("U", "A").replace("V", "B"))
    return "\n".join(lines) + "\n"


def _interpret(text: str, device: Machine, folder: Path) -> subprocess.CompletedProcess[str]:
    program = folder / "program.ngc"
    program.write_text(_for_rs274(text, device), encoding="ascii")
    # A table with a row for each number used is needed, or it ends without a word.
    (folder / "tools.tbl").write_text("".join(f"T{n} P{n} D1\n" for n in range(1, 10)))
    (folder / "variables.var").write_text("")
    return subprocess.run(  # noqa: S603 - the interpreter named above
        [
            _RS274,
            "-g",
            "-n",
            "2",
            "-t",
            folder / "tools.tbl",
            "-v",
            folder / "variables.var",
            program,
        ],
        env={**os.environ, "HOME": str(folder)},
        capture_output=True,
        text=True,
        check=False,
    )


def _run(text: str, device: Machine, folder: Path) -> list[tuple[float, ...]]:
    """Return rows kind, start, end, centre, turn in program units."""
    done = _interpret(text, device, folder)
    assert "PROGRAM_END" in done.stdout, done.stderr
    rows, x, y = [], 0.0, 0.0
    for name, inner in _CANON.findall(done.stdout):
        values = [float(v) / _SCALE for v in inner.split(",")]
        end = values[0:2]
        is_arc = name == "ARC_FEED"
        centre = values[2:4] if is_arc else [0.0, 0.0]
        turn = np.sign(values[4]) if is_arc else 0.0
        if is_arc or end != [x, y]:
            rows.append((float(name == "STRAIGHT_TRAVERSE"), x, y, *end, *centre, float(turn)))
        x, y = end
    return rows


def test_the_second_plane_of_a_leaning_wire_reads_alike_move_by_move(tmp_path: Path) -> None:
    device = machine()
    runs = [leaning(seed, 100) for seed in range(3)]
    text = write_program(
        WirePath(cuts=tuple(map(cut, runs)), planes_mm=(0.0, 20.0)), machine=device, title="lean"
    )
    done = _interpret(text, device, tmp_path)
    assert "PROGRAM_END" in done.stdout, done.stderr
    found = [
        [float(v) / _SCALE for v in inner.split(",")]
        for name, inner in _CANON.findall(done.stdout)
        if name == "STRAIGHT_FEED"
    ]
    theirs = np.array(found)
    ours = read_program(text, machine=device)
    assert ours.lean is not None
    cutting = ours.is_rapid == 0
    assert len(theirs) == int(cutting.sum()) > 290
    np.testing.assert_allclose(ours.end_mm[cutting], theirs[:, 0:2], rtol=0, atol=1e-6)
    np.testing.assert_allclose(ours.lean.end_mm[cutting], theirs[:, 3:5], rtol=0, atol=1e-6)


def _compare(text: str, device: Machine, folder: Path, *, tolerance: float) -> int:
    unit = _UNIT_MM[device.dialect.unit]
    ours = read_program(text, machine=device)
    theirs = np.array(_run(text, device, folder))
    assert len(ours) == len(theirs)
    np.testing.assert_array_equal(ours.is_rapid, theirs[:, 0])
    np.testing.assert_array_equal(ours.turn, theirs[:, 7])
    np.testing.assert_allclose(ours.start_mm / unit, theirs[:, 1:3], rtol=0, atol=tolerance)
    np.testing.assert_allclose(ours.end_mm / unit, theirs[:, 3:5], rtol=0, atol=tolerance)
    arcs = ours.turn != 0
    np.testing.assert_allclose(
        ours.centre_mm[arcs] / unit, theirs[arcs, 5:7], rtol=0, atol=tolerance
    )
    return len(ours)


@pytest.mark.parametrize("name", ["generic-mm", "generic-inch"])
@pytest.mark.parametrize("form", list(ArcForm))
def test_wire_centre_programs_read_alike_move_by_move(
    name: str, form: ArcForm, tmp_path: Path
) -> None:
    device = machine(name, arc_form=form, block_numbers=form is ArcForm.RADIUS)
    runs = [moves(random_rows(seed, count=200, step_mm=5.0)) for seed in range(3)]
    text = write_program(path(*map(cut, runs)), machine=device, title="random")
    assert _compare(text, device, tmp_path, tolerance=1e-6) > 600


@pytest.mark.parametrize("name", ["generic-mm", "generic-inch"])
@pytest.mark.parametrize("rows", [SLOT, TOOTHED], ids=["slot", "toothed"])
@pytest.mark.parametrize("on_left", [True, False], ids=["G41", "G42"])
@pytest.mark.parametrize("offset_mm", [0.0127, 0.16, 0.9])
@pytest.mark.parametrize("decimals", [7, None], ids=["7-decimals", "shipped-decimals"])
def test_the_offset_of_the_control_is_applied_alike(
    name: str,
    rows: list[tuple[float, float, float]],
    on_left: bool,
    offset_mm: float,
    decimals: int | None,
    tmp_path: Path,
) -> None:
    device = machine(name, offset_form=OffsetForm.CONTROLLER)
    tolerance = 10.0 * 10.0**-device.dialect.decimals
    if decimals is not None:
        device = machine(name, offset_form=OffsetForm.CONTROLLER, decimals=decimals)
        tolerance = 1e-6
    # With few decimals the two radii of an arc differ by up to 1.5 digits, each interpreter may
    # offset from either, and where two arcs cross at a small angle that moves the crossing.
    wall = moves(rows)
    one = cut(wall, nominal=wall, offset_on_left=on_left, offset_mm=offset_mm)
    text = write_program(path(one), machine=device, title="offset")
    assert f"{'G41' if on_left else 'G42'} D1" in text
    assert _compare(text, device, tmp_path, tolerance=tolerance) > len(rows) - 1


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("on_left", [True, False], ids=["G41", "G42"])
def test_the_offset_of_random_rings_is_applied_or_refused_alike(
    seed: int, on_left: bool, tmp_path: Path
) -> None:
    device = machine(offset_form=OffsetForm.CONTROLLER, decimals=7)
    wall = moves(random_ring(seed, count=90))
    one = cut(wall, nominal=wall, offset_on_left=on_left, offset_mm=0.05)
    text = write_program(path(one), machine=device, title="ring")
    try:
        read_program(text, machine=device)
    except ProgramError as error:
        refusal = error.code
    else:
        assert _compare(text, device, tmp_path, tolerance=1e-6) > 90
        return
    assert refusal == "offset-too-large"
    assert "PROGRAM_END" not in _interpret(text, device, tmp_path).stdout


def test_both_refuse_an_offset_larger_than_an_inside_arc(tmp_path: Path) -> None:
    device = machine(offset_form=OffsetForm.CONTROLLER)
    wall = moves(SLOT)
    text = write_program(
        path(cut(wall, nominal=wall, offset_mm=2.5)), machine=device, title="too large"
    )
    with pytest.raises(ProgramError) as caught:
        read_program(text, machine=device)
    assert caught.value.code == "offset-too-large"
    done = _interpret(text, device, tmp_path)
    assert "PROGRAM_END" not in done.stdout
    assert "Tool radius not less than arc radius" in done.stderr


@pytest.mark.parametrize("file", _GOOD, ids=lambda f: f.stem)
def test_the_good_programs_read_alike(file: Path, tmp_path: Path) -> None:
    device = machine("generic-inch" if "inch" in file.stem else "generic-mm")
    if "radius" in file.stem:
        device = machine(arc_form=ArcForm.RADIUS)
    text = file.read_text(encoding="ascii")
    assert _compare(text, device, tmp_path, tolerance=1e-6) > 0


@pytest.mark.parametrize("name", ["generic-mm", "generic-inch"])
def test_a_planned_job_reads_alike(
    name: str,
    tmp_path: Path,
    make_part: PartMaker,
    requirement: Requirement,
    tables: Tables,
) -> None:
    wheel = Contour.from_rows([(0, 0), (30, 0, 0.4), (30, 20), (0, 20, 0.2)])
    part = make_part(
        [(Role.OUTLINE, wheel, None), (Role.OPENING, Contour.circle((15, 9), radius_mm=4), "P1")]
    )
    device = machine(name)
    plan = make_plan(
        part,
        replace(requirement, machine=device),
        technology=tables.technology,
        catalogue=tables.catalogue,
        rules=tables.rules,
    )
    text = write_program(build_path(plan), machine=device, title="a planned job")
    assert _compare(text, device, tmp_path, tolerance=1e-6) > 40
