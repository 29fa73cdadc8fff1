from __future__ import annotations

import dataclasses
import random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.soak import tries

from kerfwright.adapters.machines import load_machine
from kerfwright.foundation.errors import ProgramError
from kerfwright.nc.reader import read_program
from kerfwright.nc.timeline import Timeline, WordEvent
from kerfwright.trade.machine import ArcForm

_HEAD = "G21 G90 G40\nG10 L1 P1 R0.5\nG00 X0 Y0\nM101\n"
_END = "M102\nM30\n"


def _read(body: str) -> Timeline:
    return read_program(_HEAD + body + _END, machine=load_machine())


def test_headers_take_the_moves_up_to_the_next_header() -> None:
    line = _read("(CUT H1 PASS 1 OFFSET 0.1430)\nG01 X1 F1\nX2\n(cut P2 pass 12 offset .5)\nX3\n")
    first, second = line.headers
    assert (first.contour_id, first.pass_number, first.offset_mm) == ("H1", 1, 0.143)
    assert (first.line, first.first_move, first.end_move) == (5, 0, 2)
    assert (second.contour_id, second.pass_number, second.offset_mm) == ("P2", 12, 0.5)
    assert (second.first_move, second.end_move) == (2, 3)


def test_word_events_carry_their_line_and_the_move_that_follows() -> None:
    line = _read("M103 P4\nG01 X1 F1\nM00\nX2 M01\n")
    events = [(h.kind, h.line, h.before_move, h.number) for h in line.happenings]
    assert events == [
        (WordEvent.THREAD, 4, 0, None),
        (WordEvent.CONDITION, 5, 0, 4),
        (WordEvent.STOP, 7, 1, None),
        (WordEvent.OPTIONAL_STOP, 8, 2, None),
        (WordEvent.CUT_WIRE, 9, 2, None),
        (WordEvent.END, 10, 2, None),
    ]


def test_headers_and_events_keep_their_place_when_the_wire_rolls_about_corners() -> None:
    line = _read("G42 D1 G01 X2 Y0 F1\nX4\n(CUT H1 PASS 1 OFFSET 0.5)\nY4\nM00\nX0\nG40 Y9\n")
    # Lines 2, 0 to 4, 0 are shifted to the right; the wire rolls about 4, 0 and 4, 4.
    assert line.turn.tolist() == [0, 0, 1, 0, 1, 0, 0]
    assert line.headers[0].first_move == 2
    stop = next(h for h in line.happenings if h.kind is WordEvent.STOP)
    assert stop.before_move == 4
    assert line.line.tolist() == [5, 6, 8, 8, 10, 10, 11]


def test_incremental_coordinates_add_up_and_absolute_ones_do_not() -> None:
    line = _read("G91 G01 X1 Y1 F1\nX1\nG90 X1\n")
    np.testing.assert_allclose(line.end_mm, [[1, 1], [2, 1], [1, 1]])


def test_feeds_in_inches_come_out_in_millimetres() -> None:
    text = "G20\nG00 X1 Y1\nM101\nG01 X2 F0.1\nM102\nM02\n"
    line = read_program(text, machine=load_machine("generic-inch"))
    assert line.feed_mm_per_min[-1] == pytest.approx(2.54)
    assert line.end_mm[-1].tolist() == pytest.approx([50.8, 25.4])


def test_a_move_of_no_length_makes_no_entry_but_a_full_circle_does() -> None:
    line = _read("G01 X1 F1\nX1\nG02 X1 I1\n")
    assert line.turn.tolist() == [0, -1]


def test_a_large_sweep_of_the_radius_form_lies_on_the_other_side() -> None:
    shipped = load_machine()
    machine = dataclasses.replace(
        shipped, dialect=dataclasses.replace(shipped.dialect, arc_form=ArcForm.RADIUS)
    )
    short, long = (
        read_program(_HEAD + f"G01 X1 F1\nG03 X1 Y2 R{r}\n" + _END, machine=machine)
        for r in ("1.25", "-1.25")
    )
    # Half chord 1, radius 1.25: the centre lies 0.75 off the chord.
    assert short.centre_mm[-1].tolist() == pytest.approx([0.25, 1.0])
    assert long.centre_mm[-1].tolist() == pytest.approx([1.75, 1.0])


def test_an_offset_that_goes_off_alone_leaves_the_wire_where_it_is() -> None:
    line = _read("G41 D1 G01 X4 F1\nX8\nG40\nX8 Y3\n")
    assert line.end_mm.tolist() == [[4.0, 0.5], [8.0, 0.5], [8.0, 3.0]]
    assert line.offsets_mm == {1: 0.5}


def test_a_reversal_rolls_half_a_turn_about_its_end() -> None:
    line = _read("G41 D1 G01 X4 F1\nX2\nG40 Y5\n")
    assert line.turn.tolist() == [0, -1, 0, 0]
    assert line.start_mm[1].tolist() == pytest.approx([4.0, 0.5])
    assert line.end_mm[1].tolist() == pytest.approx([4.0, -0.5])


def test_a_program_frame_of_several_lines_is_taken_as_the_machine_definition_has_it() -> None:
    shipped = load_machine()
    dialect = dataclasses.replace(
        shipped.dialect, program_start="%\nO0001", program_end="%", attended_stop="M60"
    )
    machine = dataclasses.replace(shipped, dialect=dialect)
    line = read_program("%\nO0001\n" + _HEAD + "M60\n" + _END + "%\n", machine=machine)
    assert WordEvent.STOP in {h.kind for h in line.happenings}


def test_a_program_that_only_travels_gives_an_empty_time_line() -> None:
    line = read_program("G21 G90\nM30\n", machine=load_machine())
    assert len(line) == 0
    assert line.end_mm.shape == (0, 2)


def test_the_first_of_two_faults_is_named() -> None:
    with pytest.raises(ProgramError) as caught:
        _read("G01 X1 F1\nX2 I1\nX3 F0\n")
    assert (caught.value.code, caught.value.line) == ("centre-without-arc", 6)


_WORDS = st.sampled_from(
    ["G01 X1 Y2 F3", "X5", "Y-.5", "G03 X5 Y0 I2 J.1", "G02 X1 Y1 I-1", "G1X7Y7", "X1 Y1 F2.5",
     "N30 G01 X2", "F9", "G00 X3", "I1", "G02 X2 Y2 R5", "X1 F0"]
)  # fmt: skip


@settings(max_examples=tries(150), deadline=None)
@given(rows=st.lists(_WORDS, min_size=1, max_size=8), seed=st.integers(0, 99))
def test_the_quick_way_and_the_exact_way_of_reading_a_line_agree(
    rows: list[str], seed: int
) -> None:
    """A leading blank, small letters or a comment send a line the exact way."""
    choice = random.Random(seed)  # noqa: S311 - no secret
    changed = [
        choice.choice([f" {r}", r.lower(), f"{r} (same)", r.replace(" ", "\t")]) for r in rows
    ]
    results = []
    for body in (rows, changed):
        try:
            line = _read("\n".join(body) + "\n")
        except ProgramError as error:
            results.append((error.code, error.line))
        else:
            results.append(
                [a.tolist() for a in (line.start_mm, line.end_mm, line.centre_mm, line.turn)]
                + [line.feed_mm_per_min.tolist(), line.line.tolist()]
            )
    assert results[0] == results[1]


@settings(max_examples=tries(150), deadline=None)
@given(st.text(alphabet="GXYIJRFDMN0123456789.-+ ()%;\n#/[", max_size=120))
def test_any_text_is_read_or_refused_with_a_code(text: str) -> None:
    try:
        read_program(text, machine=load_machine())
    except ProgramError as error:
        refusal = error
    else:
        return
    assert refusal.code
    assert refusal.line >= 1
    assert refusal.column >= 1
