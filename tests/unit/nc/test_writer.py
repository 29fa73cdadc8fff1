from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from kerfwright.adapters.machines import load_machine
from kerfwright.foundation.errors import InputError
from kerfwright.motion.moves import Cut, CutKind, Moves, Purpose, Stop, WirePath
from kerfwright.nc.writer import write_program
from kerfwright.trade.machine import ArcForm, Machine, OffsetForm


def _machine(name: str = "generic-mm", **dialect: object) -> Machine:
    shipped = load_machine(name)
    return dataclasses.replace(shipped, dialect=dataclasses.replace(shipped.dialect, **dialect))


def _moves(
    start: tuple[float, float],
    *steps: tuple,
    feed: float = 2.5,
    last: Purpose = Purpose.RETURN,
) -> Moves:
    """Build from steps (x, y) or (x, y, cx, cy, turn)."""
    full = [(*s, 0.0, 0.0, 0)[:5] if len(s) == 2 else s for s in steps]
    table = np.array(full, dtype=float)
    purpose = np.full(len(table), int(Purpose.WALL), dtype=np.int8)
    purpose[0], purpose[-1] = int(Purpose.LEAD_IN), int(last)
    return Moves(
        start_mm=np.array(start, dtype=float),
        end_mm=table[:, :2],
        centre_mm=table[:, 2:4],
        turn=table[:, 4].astype(np.int8),
        purpose=purpose,
        feed_mm_per_min=np.full(len(table), feed),
    )


def _cut(moves: Moves, **changes: object) -> Cut:
    one = Cut(
        contour_id="H1", pass_number=1, kind=CutKind.ROUGH, offset_mm=0.2, condition=1,
        threads=True, cuts_wire=True, stop_before=None, stop_after=None, moves=moves,
        nominal=None, offset_on_left=True,
    )  # fmt: skip
    return dataclasses.replace(one, **changes)


def _write(*cuts: Cut, machine: Machine | None = None, **more: object) -> list[str]:
    text = write_program(
        WirePath(cuts=cuts), machine=machine or _machine(), title="Pallet arbor", **more
    )
    assert text.isascii()
    assert text.endswith("\n")
    return text.splitlines()


_BOX = _moves((1, 1), (1, 2), (3, 2), (3, 1), (1, 1))


def test_a_whole_program_reads_as_expected_word_for_word() -> None:
    rough = _cut(
        _moves((0, 0), (0, 1), (2, 1, 1, 1, -1), (0, 1, 1, 1, -1), (0, 0)),
        stop_after=Stop(instruction="Take the slug out (magnet)."),
    )
    skim = _cut(_BOX, contour_id="P1", pass_number=2, offset_mm=0.12345, condition=7)
    skim = dataclasses.replace(skim, stop_before=Stop(instruction="Check ±0.002 mm"))
    assert _write(rough, skim, remarks=["Unit mm, wire Ø0.25"]) == [
        "%",
        "(Pallet arbor)",
        "(Unit mm, wire dia 0.25)",
        "(CAUTION: BEFORE THE FIRST CUT RUN IT DRY, COVERS SHUT, A HAND AT THE STOP)",
        "(THE MANUAL OF THE MACHINE AND LOCAL RULES COME BEFORE THIS PROGRAM)",
        "G21 G90 G40",
        "(CUT H1 PASS 1 OFFSET 0.2000)",
        "G00 X0.0000 Y0.0000",
        "M101",
        "M103 P1",
        "G01 X0.0000 Y1.0000 F2.500",
        "G02 X2.0000 Y1.0000 I1.0000 J0.0000",
        "X0.0000 Y1.0000 I-1.0000 J0.0000",
        "G01 X0.0000 Y0.0000",
        "M102",
        "(STOP: Take the slug out [magnet].)",
        "M00",
        "(CUT P1 PASS 2 OFFSET 0.1235)",
        "G00 X1.0000 Y1.0000",
        "M101",
        "M103 P7",
        "(STOP: Check +-0.002 mm)",
        "M00",
        "G01 X1.0000 Y2.0000 F2.500",
        "X3.0000 Y2.0000",
        "X3.0000 Y1.0000",
        "X1.0000 Y1.0000",
        "M102",
        "M30",
        "%",
    ]


def test_the_controller_form_sets_the_table_and_switches_on_and_off() -> None:
    machine = _machine(offset_form=OffsetForm.CONTROLLER)
    first = _cut(_BOX, nominal=_BOX, offset_mm=0.2)
    second = _cut(_BOX, nominal=_BOX, offset_mm=0.15, pass_number=2, offset_on_left=False)
    text = _write(first, second, machine=machine)
    assert text[5:7] == ["G10 L1 P1 R0.2000", "G10 L1 P2 R0.1500"]
    assert "G41 D1 G01 X1.0000 Y2.0000 F2.500" in text
    assert "G42 D2 G01 X1.0000 Y2.0000 F2.500" in text
    assert text.count("G40 X1.0000 Y1.0000") == 2


def test_without_a_return_the_offset_goes_off_in_a_block_of_its_own() -> None:
    run = _moves((1, 1), (1, 2), (3, 2, 2, 2, -1), last=Purpose.LEAD_OUT)
    text = _write(_cut(run, nominal=run), machine=_machine(offset_form=OffsetForm.CONTROLLER))
    assert text[text.index("M102") - 1] == "G40"


def test_block_numbers_count_blocks_and_leave_comments_alone() -> None:
    text = _write(_cut(_BOX), machine=_machine(block_numbers=True, block_step=5))
    assert text[4] == "N5 G21 G90 G40"
    assert text[5] == "(CUT H1 PASS 1 OFFSET 0.2000)"
    assert text[6] == "N10 G00 X1.0000 Y1.0000"


def test_inch_programs_carry_inches_but_headers_millimetres() -> None:
    run = _moves((25.4, 0), (50.8, 0), (25.4, 0), feed=2.54)
    text = _write(_cut(run, offset_mm=0.2), machine=_machine("generic-inch"))
    assert "G20 G90 G40" in text
    assert "(CUT H1 PASS 1 OFFSET 0.2000)" in text
    assert "G01 X2.000000 Y0.000000 F0.1000" in text


@pytest.mark.parametrize(
    ("form", "expected"),
    [
        (ArcForm.INCREMENTAL_IJ, ["G03 X3.0000 Y5.0000 I-2.0000 J0.0000"]),
        (ArcForm.ABSOLUTE_IJ, ["G03 X3.0000 Y5.0000 I3.0000 J3.0000"]),
        (ArcForm.RADIUS, ["G03 X3.0000 Y5.0000 R2.0000"]),
    ],
)
def test_an_arc_is_written_in_the_form_of_the_machine(form: ArcForm, expected: list[str]) -> None:
    run = _moves((5, 2), (5, 3), (3, 5, 3, 3, 1), (3, 6))
    text = _write(_cut(run), machine=_machine(arc_form=form))
    assert [s for s in text if s.startswith("G03")] == expected


@pytest.mark.parametrize(("form", "parts"), [(ArcForm.INCREMENTAL_IJ, 2), (ArcForm.RADIUS, 4)])
def test_a_full_circle_is_split(form: ArcForm, parts: int) -> None:
    run = _moves((4, 3), (5, 3), (5, 3, 3, 3, 1), (4, 3))
    text = _write(_cut(run), machine=_machine(arc_form=form))
    assert sum("X" in s and (" I" in s or " R" in s) for s in text) == parts


def test_moves_below_the_last_digit_are_dropped_and_do_not_drift() -> None:
    steps = [(1 + k * 1e-5, 2.0) for k in range(1000)]
    text = _write(_cut(_moves((1, 1), *steps, (1.01, 1.0))))
    walls = [s for s in text if "Y2.0000" in s]
    assert len(walls) == 101
    assert walls[-1] == "X1.0100 Y2.0000"


def test_a_shallow_arc_is_written_as_a_line() -> None:
    # Sagitta of a chord of 1 mm at a radius of 20 m: 1 / (8 · 20 000) mm = 6 nm.
    run = _moves((0, -1), (0, 0), (1, 0, 0.5, 20000.0, 1), (1, -1))
    assert not [s for s in _write(_cut(run)) if s.startswith("G03")]


def test_no_comment_but_the_header_begins_with_cut() -> None:
    stop = Stop(instruction="x")
    text = _write(_cut(_BOX, stop_after=stop), remarks=["Cut H1 pass 2 offset 0.1"])
    assert "(- Cut H1 pass 2 offset 0.1)" in text


def test_long_remarks_are_wrapped_at_the_line_length() -> None:
    text = _write(_cut(_BOX), machine=_machine(max_line_length=80), remarks=["word " * 60])
    assert max(map(len, text)) <= 80
    assert sum(s.count("word") for s in text) == 60


@pytest.mark.parametrize(
    ("code", "cuts"),
    [
        ("path-empty", ()),
        ("wire-not-threaded", (_cut(_BOX, threads=False),)),
        ("wire-threaded", (_cut(_BOX, cuts_wire=False), _cut(_BOX))),
        (
            "wire-dragged",
            (_cut(_BOX, cuts_wire=False), _cut(_moves((9, 9), (9, 8)), threads=False)),
        ),
        ("contour-id", (_cut(_BOX, contour_id="H 1"),)),
        ("feed-value", (_cut(_moves((0, 0), (1, 0), feed=1e-4)),)),
        ("feed-value", (_cut(_moves((0, 0), (1, 0), feed=float("nan"))),)),
        ("cut-empty", (_cut(_moves((0, 0), (1e-6, 0))),)),
        ("moves-not-finite", (_cut(_moves((0, 0), (1, float("nan")))),)),
        ("arc-radii", (_cut(_moves((0, 0), (2, 0, 1.001, 0, 1))),)),
    ],
)
def test_a_path_that_cannot_be_written_is_refused(code: str, cuts: tuple[Cut, ...]) -> None:
    with pytest.raises(InputError) as caught:
        _write(*cuts)
    assert caught.value.code == code


@pytest.mark.parametrize(
    ("code", "cut"),
    [
        ("controller-form-missing", _cut(_BOX)),
        ("offset-value", _cut(_BOX, nominal=_BOX, offset_mm=0.0)),
        ("offset-exit-arc", _cut(_BOX, nominal=_moves((0, 0), (1, 0), (3, 0, 2, 0, 1)))),
        ("offset-entry-arc", _cut(_BOX, nominal=_moves((0, 0), (2, 0, 1, 0, 1), (2, 1)))),
    ],
)
def test_the_controller_form_refuses_what_it_cannot_write(code: str, cut: Cut) -> None:
    with pytest.raises(InputError) as caught:
        _write(cut, machine=_machine(offset_form=OffsetForm.CONTROLLER))
    assert caught.value.code == code


def test_the_next_cut_goes_on_from_where_the_threaded_wire_is() -> None:
    text = _write(_cut(_BOX, cuts_wire=False), _cut(_BOX, pass_number=2, threads=False))
    assert text.count("M101") == 1
    assert text.count("M102") == 1


def test_a_machine_that_does_not_thread_itself_stops_for_a_person() -> None:
    machine = dataclasses.replace(load_machine(), threads_itself=False)
    text = _write(_cut(_BOX), machine=machine)
    at = text.index("M101")
    assert text[at - 2 : at] == ["(STOP: voltage off, then thread the wire by hand)", "M00"]


def test_a_header_longer_than_a_line_of_the_machine_is_refused() -> None:
    with pytest.raises(InputError) as caught:
        _write(_cut(_BOX, contour_id="H" * 130))
    assert caught.value.code == "line-too-long"
