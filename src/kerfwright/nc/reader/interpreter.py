"""Run a program: modal state, wire words, comments, offsets.

Lines that hold nothing but a move are gathered and worked out together.  Most are recognised whole
by one expression; every other line is cut into its words.  Both ways end in the same rules
(:mod:`kerfwright.nc.reader.motion`).
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from kerfwright.foundation.errors import ProgramError
from kerfwright.nc.reader.assembly import OffsetRun, RawHeader, assemble
from kerfwright.nc.reader.blocks import (
    DISTANCE,
    MOTION,
    OFFSET,
    STOPS,
    UNIT,
    Block,
    check_text,
    plain_move,
    whole,
)
from kerfwright.nc.reader.motion import (
    MM_PER_UNIT,
    Fault,
    MotionState,
    MoveWords,
    Resolved,
    resolve,
)
from kerfwright.nc.reader.words import Comment, Template, Word, cut_line
from kerfwright.nc.timeline import Happening, Timeline, WordEvent
from kerfwright.trade.machine import Machine
from kerfwright.trade.part import LengthUnit

_NUMBER = r"([+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+))"
_PLAIN_MOVE = re.compile(
    r"(?:N[0-9]+ *)?(?:G0?([0-3]) *)?"
    + "".join(rf"(?:{letter}{_NUMBER} *)?" for letter in "XYUVIJRF")
)
_HEADER = re.compile(
    r"CUT +(\S+) +PASS +([1-9][0-9]{0,3}) +OFFSET +([0-9]+\.?[0-9]*|\.[0-9]+)", re.IGNORECASE
)
_MAY_BE_HEADER = re.compile(r"CUT\b", re.IGNORECASE).match
_LIKE_HEADER = re.compile(r"CUT\b.*\b(?:PASS|OFFSET)\b", re.IGNORECASE)

_UNIT_WORD = {LengthUnit.INCH: 20.0, LengthUnit.MILLIMETRE: 21.0}
_MOVE_LETTERS = "XYUVIJRF"
_STANDS_STILL = (None,) * 4
"""X Y U V of a line that moves nothing."""


def read_program(text: str, *, machine: Machine) -> Timeline:
    """Interpret a program as the control of `machine` would.

    Understood are G00 to G03, G10 in the form of the machine's offset table, G20 and G21, G40 to
    G42 with D, G90 and G91, X Y U V I J R F N, M00 M01 M02 M30, the machine's words for threading,
    cutting the wire and calling a condition, comments in brackets or after a semicolon, and
    ``%``.  Letters may be small; blanks between words do not matter.

    - I and J, absolute or from the start point, or R: as the machine definition says.  A negative
      R is an arc above 180°; equal ends are a full circle with I and J and an error with R.  The
      two radii of an arc may differ by 0.002 mm or 0.0002 in (NISTIR 6556, from memory).
    - U and V say where the wire passes the second plane, counted from X Y, once the machine's words
      have set the heights of both planes.  They go with straight moves and without offset only.
      F counts along X Y, along U V where X and Y stand still.
    - G41 and G42 take a D that the program has set; the reader applies the offset itself
      (:mod:`kerfwright.nc.reader.compensation`).
    - The wire stands at X0 Y0 until the first move; no feed move may start from there unsaid.
    - A move of no length makes no entry in the time line.
    - The comment ``(CUT <contour id> PASS <n> OFFSET <mm>)`` heads the moves that follow, the
      rapid to the start included.

    Parameters
    ----------
    text : str
    machine : Machine

    Returns
    -------
    Timeline
        Positions of the wire centre in mm.

    Raises
    ------
    ProgramError
        At the first broken rule, with line and column from 1.

    References
    ----------
    T. Kramer, F. Proctor, E. Messina, *The NIST RS274NGC Interpreter, Version 3*, NISTIR 6556,
    2000.
    """
    reader = _Reader(machine)
    reader.run(text)
    return reader.timeline()


@dataclass(slots=True)
class _Percent:
    is_open: bool = False
    is_closed: bool = False


def _values_of(texts: tuple[str | None, ...]) -> np.typing.NDArray[np.float64]:
    """Return the numbers of one letter in many lines, nan where it is absent."""
    nan = math.nan
    if not any(texts):
        return np.full(len(texts), nan)
    return np.array([nan if text is None else float(text) for text in texts])


class _Reader:
    """The state of the control while it reads."""

    def __init__(self, machine: Machine) -> None:
        dialect = machine.dialect
        self._dialect = dialect
        self._scale = MM_PER_UNIT[dialect.unit]
        self._state = MotionState()
        self._templates: list[tuple[Template, WordEvent | None]] = [
            (Template.parse(dialect.offset_table), None),
            (Template.parse(dialect.condition), WordEvent.CONDITION),
            (Template.parse(dialect.thread), WordEvent.THREAD),
            (Template.parse(dialect.cut_wire), WordEvent.CUT_WIRE),
            (Template.parse(dialect.attended_stop), WordEvent.STOP),
            (Template.parse(dialect.optional_stop), WordEvent.OPTIONAL_STOP),
            (Template.parse(dialect.end_of_program), WordEvent.END),
        ]
        if dialect.planes:
            self._templates.append((Template.parse(dialect.planes), None))
        self._planes_mm: tuple[float, float] | None = None
        self._frame = {
            s.strip()
            for s in (*dialect.program_start.split("\n"), *dialect.program_end.split("\n"))
        } - {"", "%"}
        self._percent = _Percent()
        self._has_begun = False
        self._is_ended = False
        self._texts: Sequence[str] = ()
        self._rows: list[tuple[str | None, ...]] = []
        self._numbers: list[int] = []
        self._pieces: list[Resolved] = []
        self._lines: list[np.typing.NDArray[np.int64]] = []
        self._count = 0
        self._offsets: dict[int, float] = {}
        self._offset_runs: list[OffsetRun] = []
        self._open_run: OffsetRun | None = None
        self._headers: list[RawHeader] = []
        self._happenings: list[Happening] = []

    def run(self, text: str) -> None:
        """Read all lines."""
        self._texts = text.replace("\r\n", "\n").split("\n")
        check_text(self._texts, longest=self._dialect.max_line_length)
        plain = _PLAIN_MOVE.fullmatch
        for number, line in enumerate(self._texts, start=1):
            match = plain(line)
            if match is not None and not self._is_ended:
                row = match.groups()
                if row[1:5] != _STANDS_STILL:
                    self._rows.append(row)
                    self._numbers.append(number)
                    continue
            self._line(line, number)
        self._work_off()
        self._finish()

    def timeline(self) -> Timeline:
        """Return what was read, offsets applied."""
        return assemble(
            pieces=self._pieces,
            lines=self._lines,
            runs=self._offset_runs,
            headers=self._headers,
            happenings=self._happenings,
            offsets_mm=MappingProxyType(dict(self._offsets)),
            planes_mm=self._planes_mm,
        )

    def _finish(self) -> None:
        last = len(self._texts)
        if not self._is_ended:
            raise ProgramError(
                "the program does not end with M02 or M30",
                code="end-missing",
                line=last,
                column=1,
            )
        if self._percent.is_open and not self._percent.is_closed:
            raise ProgramError(
                "the program begins with '%' but does not end with it",
                code="percent-missing",
                line=last,
                column=1,
            )

    def _work_off(self) -> None:
        """Work out the moves gathered: texts of G X Y U V I J R F and their lines."""
        rows, numbers = self._rows, self._numbers
        if not rows:
            return
        self._rows, self._numbers = [], []
        columns = [_values_of(column) for column in zip(*rows, strict=True)]
        g, x, y, u, v, i, j, r, f = columns
        resolved = resolve(
            MoveWords(g=g, x=x, y=y, u=u, v=v, i=i, j=j, r=r, f=f),
            self._state,
            unit=self._dialect.unit,
            arc_form=self._dialect.arc_form,
        )
        if isinstance(resolved, Fault):
            line = numbers[resolved.move]
            raise ProgramError(
                resolved.message,
                code=resolved.code,
                line=line,
                column=self._column(line, resolved.letters),
            )
        if self._open_run is not None and resolved.is_rapid.any():
            line = numbers[int(np.flatnonzero(resolved.is_rapid)[0])]
            raise ProgramError(
                "a rapid while the offset is on",
                code="offset-on-rapid",
                line=line,
                column=self._column(line, "GXY"),
            )
        self._has_begun = True
        self._pieces.append(resolved)
        self._lines.append(np.array(numbers, dtype=np.int64))
        self._count += len(numbers)

    def _column(self, line: int, letters: str) -> int:
        words, _ = cut_line(self._texts[line - 1], line=line)
        for letter in letters:
            for word in words:
                if word.letter == letter and not (letter == "G" and word.value > 3):
                    return word.column
        return words[0].column if words else 1

    def _line(self, text: str, line: int) -> None:
        """Read a line that is more, or less, than a plain move."""
        stripped = text.strip()
        if not stripped:
            return
        column = text.index(stripped[0]) + 1
        if self._percent.is_closed:
            raise ProgramError(
                "text after the closing '%'", code="text-after-percent", line=line, column=column
            )
        if stripped == "%":
            self._work_off()
            self._percent_sign(line, column)
            return
        if stripped in self._frame and (not (self._has_begun or self._rows) or self._is_ended):
            return
        try:
            words, comments = cut_line(text, line=line)
        except ProgramError:
            # A fault of an earlier line comes first.
            self._work_off()
            raise
        row = None if self._is_ended else plain_move(words)
        if row is not None and not any(_MAY_BE_HEADER(c.text) for c in comments):
            self._rows.append(row)
            self._numbers.append(line)
            return
        self._work_off()
        for comment in comments:
            self._comment(comment, line)
        if words:
            self._block(words, line)

    def _percent_sign(self, line: int, column: int) -> None:
        if not self._percent.is_open and not self._has_begun:
            self._percent.is_open = True
        elif self._is_ended:
            self._percent.is_closed = True
        else:
            raise ProgramError(
                "'%' before M02 or M30", code="percent-early", line=line, column=column
            )

    def _comment(self, comment: Comment, line: int) -> None:
        match = _HEADER.fullmatch(comment.text)
        if match is not None:
            contour_id, number, offset = match.groups()
            self._headers.append(
                RawHeader(
                    contour_id=contour_id,
                    pass_number=int(number),
                    offset_mm=float(offset),
                    line=line,
                    first_move=self._count,
                )
            )
        elif _LIKE_HEADER.match(comment.text):
            raise ProgramError(
                f"({comment.text}) is no header of the form"
                " (CUT <contour id> PASS <n> OFFSET <mm>)",
                code="header-malformed",
                line=line,
                column=comment.column,
            )

    def _block(self, words: list[Word], line: int) -> None:
        if self._is_ended:
            raise ProgramError(
                f"{words[0]} after the end of the program",
                code="after-end",
                line=line,
                column=words[0].column,
            )
        self._has_begun = True
        if words[0].letter == "N":
            whole(words[0], line)
            words = words[1:]
            if not words:
                return
        for template, event in self._templates:
            places = template.match(words)
            if places is not None:
                self._machine_words(event, places, words[0], line)
                return
        block = Block(words, line)
        self._set_modes(block, line)
        self._move_in(block, line)
        if block.stop is not None:
            self._happen(STOPS[int(block.stop.value)], line)

    def _machine_words(
        self, event: WordEvent | None, places: dict[str, Word], first: Word, line: int
    ) -> None:
        if event is None and "program" in places:
            self._set_planes(places["program"], places["second"], line)
            return
        if event is None:
            value = places["value"]
            if value.value < 0:
                raise ProgramError(
                    f"an offset must not be below 0, got {value.text}",
                    code="offset-negative",
                    line=line,
                    column=value.column,
                )
            self._offsets[whole(places["number"], line)] = value.value * self._scale
            return
        if event in {WordEvent.THREAD, WordEvent.CUT_WIRE}:
            self._wire_word(event, first, line)
        number = whole(places["number"], line) if "number" in places else None
        self._happen(event, line, number)

    def _set_planes(self, program: Word, second: Word, line: int) -> None:
        if self._planes_mm is not None or self._count:
            raise ProgramError(
                "the heights of the planes are set once, before the first move",
                code="planes-again",
                line=line,
                column=program.column,
            )
        if not second.value > program.value:
            raise ProgramError(
                f"the second plane at {second.text} does not lie above the first at {program.text}",
                code="planes-order",
                line=line,
                column=second.column,
            )
        self._planes_mm = program.value * self._scale, second.value * self._scale
        self._state.has_planes = True

    def _wire_word(self, event: WordEvent, word: Word, line: int) -> None:
        threads = event is WordEvent.THREAD
        if self._open_run is not None:
            code, message = "wire-word-in-offset", f"{word} while the offset is on"
        elif threads and self._state.is_threaded:
            code, message = "already-threaded", f"{word} while the wire is threaded"
        elif threads and not self._count:
            code, message = "start-unknown", f"{word} before the program has moved anywhere"
        elif threads and (self._state.u or self._state.v):
            code, message = "thread-leans", f"{word} while U and V are not zero"
        elif not threads and not self._state.is_threaded:
            code, message = "wire-not-threaded", f"{word} while no wire is threaded"
        else:
            self._state.is_threaded = threads
            return
        raise ProgramError(message, code=code, line=line, column=word.column)

    def _happen(self, event: WordEvent, line: int, number: int | None = None) -> None:
        if event is WordEvent.END:
            self._is_ended = True
            self._close_offset()
        self._happenings.append(
            Happening(kind=event, line=line, before_move=self._count, number=number)
        )

    def _set_modes(self, block: Block, line: int) -> None:
        unit = block.group(UNIT)
        if unit is not None and unit.value != _UNIT_WORD[self._dialect.unit]:
            raise ProgramError(
                f"{unit} in a program for a machine that reads {self._dialect.unit}",
                code="unit-wrong",
                line=line,
                column=unit.column,
                remedy="Take the machine definition of that unit, or write the program anew.",
            )
        distance = block.group(DISTANCE)
        if distance is not None:
            self._state.is_absolute = distance.value == 90
        offset = block.group(OFFSET)
        number = block.one("D")
        if number is not None and (offset is None or offset.value == 40):
            raise ProgramError(
                f"{number} without G41 or G42",
                code="offset-number-stray",
                line=line,
                column=number.column,
            )
        if offset is None:
            return
        if offset.value == 40:
            self._close_offset()
        else:
            self._open_offset(offset, number, line)

    def _open_offset(self, word: Word, number: Word | None, line: int) -> None:
        if self._open_run is not None:
            raise ProgramError(
                f"{word} while an offset is on", code="offset-on", line=line, column=word.column
            )
        if number is None:
            raise ProgramError(
                f"{word} needs a D", code="offset-number-missing", line=line, column=word.column
            )
        key = whole(number, line)
        if key not in self._offsets:
            raise ProgramError(
                f"{number} is not in the offset table",
                code="offset-undefined",
                line=line,
                column=number.column,
            )
        self._state.offset_is_on = True
        self._open_run = OffsetRun(
            first_move=self._count,
            end_move=self._count,
            offset_mm=self._offsets[key],
            side=1 if word.value == 41 else -1,
        )

    def _close_offset(self) -> None:
        if self._open_run is not None and self._count > self._open_run.first_move:
            self._offset_runs.append(self._open_run.until(self._count))
        self._open_run = None
        self._state.offset_is_on = False

    def _move_in(self, block: Block, line: int) -> None:
        motion = block.group(MOTION)
        words = [block.one(letter) for letter in _MOVE_LETTERS]
        if any(w is not None for w in words[:7]):
            texts = [None if w is None else w.text for w in words]
            self._rows.append((None if motion is None else str(motion.value), *texts))
            self._numbers.append(line)
            self._work_off()
            return
        if motion is not None:
            self._state.motion = motion.value
        feed = words[7]
        if feed is not None:
            if feed.value <= 0:
                raise ProgramError(
                    "a feed must be above 0", code="feed-value", line=line, column=feed.column
                )
            self._state.feed_per_min = feed.value
