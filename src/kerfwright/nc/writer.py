"""Write canonical moves as ISO 6983 text.

The words are those of ISO 6983 as RS-274/NGC reads them (T. Kramer, F. Proctor, E. Messina,
*The NIST RS274NGC Interpreter, Version 3*, NISTIR 6556, 2000): G00 G01 G02 G03, G20/G21, G40 G41
G42, G90, D, F, M00, M30.  What threads and cuts the wire, calls a power condition and fills the
offset table comes from the machine definition.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from kerfwright.foundation.errors import InputError
from kerfwright.foundation.tolerances import DEFAULT_TOLERANCES
from kerfwright.motion.moves import Cut, Moves, Purpose, Stop, WirePath
from kerfwright.nc.leaning_moves import check_lean, lean_feeds, lean_words, round_lean
from kerfwright.nc.lines import comment_lines, number_text, numbered, refuse_long
from kerfwright.nc.rounding import HALF_TURN, QUARTER_TURN, RoundedMoves, round_moves
from kerfwright.trade.machine import ArcForm, Dialect, Machine, OffsetForm
from kerfwright.trade.part import LengthUnit

_MM_PER_INCH = 25.4
_ID = re.compile(r"[A-Za-z0-9_.\-]+")
_CAUTIONS = (
    "CAUTION: BEFORE THE FIRST CUT RUN IT DRY, COVERS SHUT, A HAND AT THE STOP",
    "THE MANUAL OF THE MACHINE AND LOCAL RULES COME BEFORE THIS PROGRAM",
)
_BY_HAND = Stop(instruction="voltage off, then thread the wire by hand")


def write_program(
    path: WirePath, *, machine: Machine, title: str, remarks: Sequence[str] = ()
) -> str:
    """Write a wire path in the dialect of a machine.

    The state of the program follows these rules:

    - The head sets unit, absolute coordinates and no offset; in the controller form it then fills
      the offset table, one number for each distinct pass and offset in order of first use: who
      corrects one at the machine moves that pass alone.
    - A cut begins with the comment ``(CUT <contour id> PASS <n> OFFSET <mm>)``, its OFFSET always
      in millimetres with four decimals, then, if it threads, the rapids to its start, round clamps
      and with the stops of that way, and the threading word, the power condition, and the stop
      before it, if any.  On a machine that does not thread itself a stop comes before the
      threading word.
    - Every move of a cut is a feed move.  G and F stand where they change; F and G stand anew in
      each cut, so that an operator may begin again at any header.
    - In the controller form RETURN moves are wire-centre coordinates with the offset off; it
      comes on with the first other move, a line, and goes off with the first RETURN move after
      that, or in a block at the end of the cut.
    - Where the wire leans, the head sets the heights of both planes; then every rapid to a start
      has U0 V0, and every move of a leaning cut X Y U V.  U and V count from X and Y.
    - After a cut the wire is cut, if the path says so, then comes the stop after it.
    - The wire travels from one start to the next only after it was cut.

    Parameters
    ----------
    path : WirePath
    machine : Machine
    title : str
        First comment.  Here and in remarks and instructions, round brackets become square ones
        and letters outside ASCII the nearest in ASCII.
    remarks : sequence of str
        Comments of the head: part, unit, wire, and so on.

    Returns
    -------
    str
        ASCII text with a newline after each line.

    Raises
    ------
    InputError
        If the path is empty, a cut has no moves, a point is not finite, the two radii of an arc
        differ, a feed rounds to zero, a contour id does not fit
        in a header, a move would drag the threaded wire from one contour to another, or the
        controller form is asked for a cut that has none, or for a wire that leans.
    """
    if not path.cuts:
        raise InputError("a program needs at least one cut, got none", code="path-empty")
    dialect = machine.dialect
    lines: list[str] = dialect.program_start.splitlines()
    for comment in (title, *remarks, *_CAUTIONS):
        lines += comment_lines(comment, longest=dialect.max_line_length)
    lines += numbered(
        _blocks(path, machine), step=dialect.block_step if dialect.block_numbers else None
    )
    lines += dialect.program_end.splitlines()
    refuse_long(lines, longest=dialect.max_line_length)
    return "\n".join(lines) + "\n"


def _blocks(path: WirePath, machine: Machine) -> list[str]:
    """Return all that the control acts on, without block numbers."""
    dialect = machine.dialect
    state = _State(
        dialect=dialect, scale=_digits_per_mm(dialect), threads_itself=machine.threads_itself
    )
    blocks = ["G20 G90 G40" if dialect.unit is LengthUnit.INCH else "G21 G90 G40"]
    if path.planes_mm is not None:
        blocks.append(_planes(path.planes_mm, machine))
        state.leans = True
    if dialect.offset_form is OffsetForm.CONTROLLER:
        blocks += _offset_table(path, state)
    for cut in path.cuts:
        blocks += _cut_blocks(cut, state)
    blocks.append(dialect.end_of_program)
    return blocks


@dataclass(slots=True, kw_only=True)
class _State:
    """What the control knows while the program is written."""

    dialect: Dialect
    scale: float
    threads_itself: bool
    is_threaded: bool = False
    leans: bool = False
    """Whether the wire leans anywhere in the program."""
    at: tuple[int, int] | None = None
    uv: tuple[int, int] = (0, 0)
    offset_numbers: dict[tuple[int, int], int] = field(default_factory=dict)
    """D number by pass and digits of the offset."""


def _planes(planes_mm: tuple[float, float], machine: Machine) -> str:
    dialect = machine.dialect
    if machine.tilt is None or not dialect.planes:
        raise InputError(
            f"{machine.name} leans no wire: its definition has no [taper]",
            code="machine-no-taper",
            remedy="Take another machine, or add [taper] if this one can.",
        )
    if dialect.offset_form is OffsetForm.CONTROLLER:
        raise InputError(
            "a control sets off in its program plane by one distance; a leaning wire stands off by "
            "another distance at every angle, so the program holds the path of the wire",
            code="controller-form-leans",
            remedy='Set offset_form = "wire-centre" for this job.',
        )
    scale = _digits_per_mm(dialect)
    program, second = (number_text(round(z * scale), dialect.decimals) for z in planes_mm)
    return dialect.planes.format(program=program, second=second)


def _digits_per_mm(dialect: Dialect) -> float:
    per_unit = 1.0 / _MM_PER_INCH if dialect.unit is LengthUnit.INCH else 1.0
    return float(10**dialect.decimals) * per_unit


def _offset_table(path: WirePath, state: _State) -> list[str]:
    decimals = state.dialect.decimals
    for cut in path.cuts:
        digits = round(cut.offset_mm * state.scale)
        if digits <= 0:
            raise InputError(
                f"cut {cut.contour_id} pass {cut.pass_number}: the controller form takes an offset"
                f" above 0, got {cut.offset_mm} mm",
                code="offset-value",
            )
        key = cut.pass_number, digits
        state.offset_numbers.setdefault(key, len(state.offset_numbers) + 1)
    return [
        state.dialect.offset_table.format(number=number, value=number_text(digits, decimals))
        for (_, digits), number in state.offset_numbers.items()
    ]


def _cut_blocks(cut: Cut, state: _State) -> list[str]:
    name = f"cut {cut.contour_id} pass {cut.pass_number}"
    dialect = state.dialect
    if not _ID.fullmatch(cut.contour_id):
        raise InputError(
            f"contour id {cut.contour_id!r} does not fit in a program header",
            code="contour-id",
            remedy="Use letters, digits, dot, hyphen and underscore.",
        )
    controller = dialect.offset_form is OffsetForm.CONTROLLER
    moves = cut.nominal if controller else cut.moves
    if moves is None:
        raise InputError(
            f"{name} has no path on the wall for the controller form",
            code="controller-form-missing",
            remedy='Set offset_form = "wire-centre" in the machine definition.',
        )
    head = f"(CUT {cut.contour_id} PASS {cut.pass_number} OFFSET {cut.offset_mm:.4f})"
    if moves.leans:
        return [head, *_leaning(cut, moves, state, name), *_end(cut, state)]
    _check_moves(moves, name)
    sweep = QUARTER_TURN if dialect.arc_form is ArcForm.RADIUS else HALF_TURN
    rounded = round_moves(moves, digits_per_mm=state.scale, largest_sweep_rad=sweep)
    if not len(rounded.turn):
        raise InputError(f"{name} rounds to no moves at all", code="cut-empty")
    blocks = [head, *_begin(cut, _pair(rounded.start), (0, 0), state, name)]
    blocks += _move_blocks(cut, moves, rounded, state, name)
    state.at, state.uv = _pair(rounded.end[-1]), (0, 0)
    return [*blocks, *_end(cut, state)]


def _end(cut: Cut, state: _State) -> list[str]:
    blocks = []
    if cut.cuts_wire:
        blocks.append(state.dialect.cut_wire)
        state.is_threaded = False
    return [*blocks, *_stop(cut.stop_after, state.dialect)]


def _pair(point: NDArray[np.int64]) -> tuple[int, int]:
    return int(point[0]), int(point[1])


def _leaning(cut: Cut, moves: Moves, state: _State, name: str) -> list[str]:
    """Return a cut whose wire leans, without header and end."""
    if not state.leans:
        raise InputError(f"{name} leans, but the path names no planes", code="planes-missing")
    dialect = state.dialect
    check_lean(moves, name)
    rounded = round_lean(moves, digits_per_mm=state.scale)
    if not len(rounded.source):
        raise InputError(f"{name} rounds to no moves at all", code="cut-empty")
    blocks = _begin(cut, _pair(rounded.start), _pair(rounded.start_uv), state, name)
    feed = _feed_words(lean_feeds(moves, rounded), rounded.source, dialect, name)
    words = lean_words(
        rounded, feed, decimals=dialect.decimals, feed_decimals=dialect.feed_decimals
    )
    blocks += _with_stops(words, cut, rounded.source, dialect)
    state.at, state.uv = _pair(rounded.end[-1]), _pair(rounded.end_uv[-1])
    return blocks


def _check_moves(moves: Moves, name: str) -> None:
    """Refuse moves that rounding would hide or mend."""
    if not len(moves):
        raise InputError(f"{name} has no moves", code="cut-empty")
    arcs = np.flatnonzero(moves.turn)
    points = (moves.start_mm, moves.end_mm, moves.centre_mm[arcs])
    if not all(np.isfinite(p).all() for p in points):
        raise InputError(f"{name} holds a point that is not finite", code="moves-not-finite")
    begin = np.vstack([moves.start_mm[None, :], moves.end_mm[:-1]])[arcs]
    first = np.hypot(*(begin - moves.centre_mm[arcs]).T)
    last = np.hypot(*(moves.end_mm - moves.centre_mm)[arcs].T)
    wrong = np.abs(first - last) > DEFAULT_TOLERANCES.fit_mm
    if wrong.any():
        which = int(np.flatnonzero(wrong)[0])
        raise InputError(
            f"{name}: the radii at the ends of arc {int(arcs[which])} are {first[which]:.6f} mm and"
            f" {last[which]:.6f} mm; they may differ by {DEFAULT_TOLERANCES.fit_mm} mm",
            code="arc-radii",
        )


def _stop(stop: Stop | None, dialect: Dialect) -> list[str]:
    if stop is None:
        return []
    longest = dialect.max_line_length
    return [*comment_lines(f"STOP: {stop.instruction}", longest=longest), dialect.attended_stop]


def _begin(
    cut: Cut, start: tuple[int, int], uv: tuple[int, int], state: _State, name: str
) -> list[str]:
    dialect = state.dialect
    x, y = (number_text(v, dialect.decimals) for v in start)
    blocks: list[str] = []
    if cut.threads:
        if state.is_threaded:
            raise InputError(
                f"{name} threads at X{x} Y{y} while the wire of the cut before is still threaded",
                code="wire-threaded",
                remedy="Cut the wire before it travels to another start.",
            )
        if uv != (0, 0):
            raise InputError(
                f"{name} threads at X{x} Y{y} with a leaning wire", code="thread-leans"
            )
        zero = number_text(0, dialect.decimals)
        upright = f" U{zero} V{zero}" if state.leans else ""
        blocks += _stop(cut.way.stop_before, dialect)
        for via in cut.way.via_mm:
            u, v = (number_text(round(a * state.scale), dialect.decimals) for a in via)
            blocks.append(f"G00 X{u} Y{v}{upright}")
        blocks.append(f"G00 X{x} Y{y}{upright}")
        blocks += _stop(cut.way.stop_after, dialect)
        if not state.threads_itself:
            blocks += _stop(_BY_HAND, dialect)
        blocks.append(dialect.thread)
        state.is_threaded = True
    elif not state.is_threaded:
        raise InputError(f"{name} begins with no wire threaded", code="wire-not-threaded")
    elif state.at != start or state.uv != uv:
        raise InputError(
            f"{name} begins at X{x} Y{y}, but the threaded wire of the cut before is at"
            f" X{number_text((state.at or start)[0], dialect.decimals)}"
            f" Y{number_text((state.at or start)[1], dialect.decimals)}",
            code="wire-dragged",
            remedy="Cut the wire before it travels to another start.",
        )
    blocks.append(dialect.condition.format(number=cut.condition))
    return blocks + _stop(cut.stop_before, dialect)


def _move_blocks(
    cut: Cut, moves: Moves, rounded: RoundedMoves, state: _State, name: str
) -> list[str]:
    dialect = state.dialect
    turn = rounded.turn
    feed = _feeds(moves, rounded, dialect, name)
    begin = np.vstack([rounded.start[None, :], rounded.end[:-1]])
    absolute = dialect.arc_form is ArcForm.ABSOLUTE_IJ
    centre = rounded.centre if absolute else rounded.centre - begin
    table = np.empty((len(turn), 6))
    table[:, 0:2] = rounded.end
    table[:, 2:4] = centre
    table[:, 4] = rounded.radius
    table[:, :5] /= 10.0**dialect.decimals
    table[:, 5] = feed
    is_arc = turn != 0
    by_radius = dialect.arc_form is ArcForm.RADIUS
    new_feed = np.append(True, feed[1:] != feed[:-1])
    new_word = np.append(True, turn[1:] != turn[:-1])
    shown = np.ones(table.shape, dtype=bool)
    shown[:, 2:4] = (is_arc & (not by_radius))[:, None]
    shown[:, 4] = is_arc & by_radius
    shown[:, 5] = new_feed
    # One template for each of word × shape × feed, and one formatting pass over all numbers.
    words = np.where(turn == 0, "G01 ", np.where(turn > 0, "G03 ", "G02 "))
    n = f"%.{dialect.decimals}f"
    arc_words = f" R{n}" if by_radius else f" I{n} J{n}"
    tails = np.where(is_arc, arc_words, "").astype(object)
    feeds = np.where(new_feed, f" F%.{dialect.feed_decimals}f", "").astype(object)
    heads = np.where(new_word, words, "").astype(object)
    templates = (heads + f"X{n} Y{n}" + tails + feeds).tolist()
    if dialect.offset_form is OffsetForm.CONTROLLER:
        _switch_offset(cut, moves, rounded, state, templates, name)
    text: str = "\n".join(templates) % tuple(table[shown].tolist())
    return _with_stops(text.split("\n"), cut, rounded.source, dialect)


def _with_stops(
    blocks: list[str], cut: Cut, source: NDArray[np.intp], dialect: Dialect
) -> list[str]:
    """Return the blocks of moves, one each, with the stops of the cut on its way."""
    for move, stop in reversed(cut.stops_within):
        at = int(np.searchsorted(source, move))
        blocks[at:at] = _stop(stop, dialect)
    return blocks


def _feeds(moves: Moves, rounded: RoundedMoves, dialect: Dialect, name: str) -> NDArray[np.float64]:
    return _feed_words(moves.feed_mm_per_min[rounded.source], rounded.source, dialect, name)


def _feed_words(
    feed_mm_per_min: NDArray[np.float64], source: NDArray[np.intp], dialect: Dialect, name: str
) -> NDArray[np.float64]:
    per_unit = 1.0 / _MM_PER_INCH if dialect.unit is LengthUnit.INCH else 1.0
    feed = np.round(feed_mm_per_min * per_unit, dialect.feed_decimals)
    bad = ~(np.isfinite(feed) & (feed > 0))
    if bad.any():
        first = int(np.flatnonzero(bad)[0])
        raise InputError(
            f"{name}: the feed of move {int(source[first])} is {feed_mm_per_min[first]} mm/min,"
            f" which is not above 0 with {dialect.feed_decimals} decimals of {dialect.unit}/min",
            code="feed-value",
        )
    return feed


def _switch_offset(
    cut: Cut,
    moves: Moves,
    rounded: RoundedMoves,
    state: _State,
    templates: list[str],
    name: str,
) -> None:
    """Put the offset words into the templates of the first move on the wall and the first after.

    RETURN moves are written in wire-centre coordinates with the offset off.
    """
    is_centre = moves.purpose[rounded.source] == Purpose.RETURN
    on_wall = np.flatnonzero(~is_centre)
    if not len(on_wall):
        return
    first, last = int(on_wall[0]), int(on_wall[-1])
    if is_centre[first:last].any():
        raise InputError(
            f"{name} leaves the wall and comes back to it within one cut",
            code="offset-interrupted",
        )
    if rounded.turn[first] != 0:
        raise InputError(
            f"{name} comes to the wall with an arc; an offset comes on only along a line",
            code="offset-entry-arc",
        )
    number = state.offset_numbers[cut.pass_number, round(cut.offset_mm * state.scale)]
    side = "G41" if cut.offset_on_left else "G42"
    templates[first] = f"{side} D{number} {templates[first]}"
    if last + 1 < len(templates):
        if rounded.turn[last + 1] != 0:
            raise InputError(
                f"{name} leaves the wall with an arc; an offset goes off only along a line",
                code="offset-exit-arc",
            )
        templates[last + 1] = f"G40 {templates[last + 1]}"
    else:
        templates.append("G40")
