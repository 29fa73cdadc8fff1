"""Programs of a leaning wire: written, read back, refused."""

from __future__ import annotations

import dataclasses
import math
import re

import numpy as np
import pytest

from kerfwright.foundation.errors import InputError, ProgramError
from kerfwright.motion.moves import Moves, Purpose, WirePath
from kerfwright.nc.reader import read_program
from kerfwright.nc.writer import write_program
from kerfwright.trade.machine import OffsetForm
from wire_samples import SLOT, cut, machine, moves, path

PLANES = (0.0, 20.0)


def leaning(seed: int = 1, count: int = 40, *, feed: float = 4.0) -> Moves:
    """Return moves that begin upright and then lean anyhow."""
    random = np.random.default_rng(seed)
    first = np.cumsum(random.normal(size=(count, 2)), axis=0)
    second = first + random.normal(size=(count, 2)) * 0.5
    second[0] = first[0]
    # The wire stands still in one plane, then in the other.
    first[10], second[20] = first[9], second[19]
    n = count - 1
    return Moves(
        start_mm=first[0],
        end_mm=first[1:],
        centre_mm=np.zeros((n, 2)),
        turn=np.zeros(n, dtype=np.int8),
        purpose=np.full(n, int(Purpose.WALL), dtype=np.int8),
        feed_mm_per_min=np.full(n, feed),
        second_start_mm=second[0],
        second_end_mm=second[1:],
    )


def program(*runs: Moves, device=None, **changes) -> str:
    device = machine() if device is None else device
    cuts = tuple(cut(run) for run in runs)
    return write_program(
        WirePath(cuts=cuts, planes_mm=PLANES), machine=device, title="leaning", **changes
    )


@pytest.mark.parametrize("name", ["generic-mm", "generic-inch"])
def test_both_points_of_the_wire_come_back_within_half_a_digit(name):
    device = machine(name)
    run = leaning()
    read = read_program(program(run, device=device), machine=device)
    digit = 10.0**-device.dialect.decimals * (25.4 if name.endswith("inch") else 1.0)
    cutting = read.is_rapid == 0
    assert read.lean is not None
    assert (read.lean.program_mm, read.lean.second_mm) == pytest.approx(PLANES, abs=digit)
    assert read.end_mm[cutting] == pytest.approx(run.end_mm, abs=digit * 1.01)
    second = (read.end_mm + read.lean.end_mm)[cutting]
    assert second == pytest.approx(run.second_end_mm, abs=digit * 0.51)


def test_the_feed_half_way_up_is_what_was_asked():
    run = leaning(feed=4.0)
    read = read_program(program(run), machine=machine())
    along = np.hypot(*(read.end_mm - read.start_mm).T)
    uv = read.lean.end_mm - read.lean.start_mm
    minutes = np.where(along > 0, along, np.hypot(*uv.T)) / np.where(
        read.is_rapid == 1, np.inf, read.feed_mm_per_min
    )
    middle = np.hypot(*(read.end_mm - read.start_mm + uv / 2).T)
    middle = np.maximum(middle, np.hypot(*uv.T) / 2)
    cutting = read.is_rapid == 0
    assert middle[cutting] / minutes[cutting] == pytest.approx(4.0, rel=2e-3)
    assert run.lengths_mm() == pytest.approx(middle[cutting], abs=2e-4)


def test_an_upright_cut_in_a_leaning_program_keeps_its_arcs_and_threads_at_zero():
    text = program(moves(SLOT), leaning())
    lines = text.splitlines()
    assert lines.index("M104 P0.0000 Q20.0000") < next(
        k for k, line in enumerate(lines) if line.startswith("G00")
    )
    assert all("U0.0000 V0.0000" in line for line in lines if line.startswith("G00"))
    read = read_program(text, machine=machine())
    assert (read.turn != 0).any()
    assert not read.lean.start_mm[read.turn != 0].any()


def test_without_planes_nothing_of_a_program_changes():
    plain = write_program(path(cut(moves(SLOT))), machine=machine(), title="slot")
    assert not re.search(r"[UV]-?[0-9]|M104", plain)
    assert read_program(plain, machine=machine()).lean is None


def test_a_leaning_wire_on_a_machine_without_taper_is_refused():
    device = dataclasses.replace(machine(), tilt=None)
    with pytest.raises(InputError) as caught:
        program(leaning(), device=device)
    assert caught.value.code == "machine-no-taper"


def test_the_controller_form_is_refused_with_the_reason():
    with pytest.raises(InputError, match="another distance at every angle") as caught:
        program(leaning(), device=machine(offset_form=OffsetForm.CONTROLLER))
    assert caught.value.code == "controller-form-leans"


def test_a_wire_that_would_be_threaded_leaning_is_refused():
    run = leaning()
    tilted = dataclasses.replace(run, second_start_mm=run.start_mm + 0.1)
    with pytest.raises(InputError) as caught:
        program(tilted)
    assert caught.value.code == "thread-leans"


def test_arcs_of_a_leaning_wire_cannot_be_made():
    run = moves(SLOT)
    with pytest.raises(InputError) as caught:
        dataclasses.replace(run, second_start_mm=run.start_mm, second_end_mm=run.end_mm)
    assert caught.value.code == "moves-lean-arc"
    with pytest.raises(InputError) as caught:
        dataclasses.replace(run, second_start_mm=run.start_mm)
    assert caught.value.code == "moves-shape"


CONTROLLER = (
    "G21 G90\nM104 P0 Q20\nG10 L1 P1 R0.1\nG00 X0 Y0\nM101\nG41 D1 G01 X1 F2\nX2 U0.1\nG40\nM102\n"
    "M30"
)
HEAD = "G21 G90 G40\nM104 P0 Q20\nG00 X0 Y0\nM101\nM103 P1\n"


@pytest.mark.parametrize(
    ("text", "code", "line"),
    [
        ("G21 G90\nG00 X0 Y0\nM101\nG01 X1 U0.1 F2\nM102\nM30", "planes-unknown", 4),
        ("G21 G90\nM104 P20 Q20\nM30", "planes-order", 2),
        (HEAD + "M104 P0 Q30\nM102\nM30", "planes-again", 6),
        (HEAD + "G01 X1 U0.1 F2\nG02 X2 Y0 I0.5 J0\nM102\nM30", "arc-leans", 7),
        (HEAD + "G01 X1 U0.1 F2\nM102\nM101\nM30", "thread-leans", 8),
        (
            CONTROLLER,
            "offset-leans",
            7,
        ),
    ],
)
def test_what_a_leaning_program_may_not_do_is_refused_at_its_line(text, code, line):
    with pytest.raises(ProgramError) as caught:
        read_program(text + "\n", machine=machine())
    assert (caught.value.code, caught.value.line) == (code, line)


def test_u_and_v_are_modal_and_count_up_in_incremental_mode():
    text = HEAD + "G01 X1 U0.5 F2\nY1\nG91\nV0.25\nX1 V0.25\nM102\nM30\n"
    read = read_program(text, machine=machine())
    assert read.lean.end_mm.tolist() == [[0.5, 0.0], [0.5, 0.0], [0.5, 0.25], [0.5, 0.5]]
    # A move of U V alone is a move.
    assert len(read) == 4


def test_the_pivot_lies_beyond_the_guide_by_r_tan_of_half_the_angle():
    tilt = machine().tilt
    # Upright and leaning tangents to a circle of radius R cross R tan(a / 2) from the contact.
    assert tilt.pivot_shift_mm(math.radians(30)) == pytest.approx(
        tilt.guide_radius_mm * (1 - math.cos(math.radians(30))) / math.sin(math.radians(30))
    )
