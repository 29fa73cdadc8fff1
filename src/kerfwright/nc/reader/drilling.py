"""Read a program of small holes into steps, as a control would.

It shares no code with the writer and knows nothing of plans.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import NoReturn

from kerfwright.foundation.errors import ProgramError
from kerfwright.nc.drill_timeline import DrillEvent, DrillMove, DrillWord, HoleHeader, Step
from kerfwright.nc.reader.blocks import check_text, whole
from kerfwright.nc.reader.words import Comment, Template, Word, cut_line
from kerfwright.trade.drill import DrillDialect, DrillMachine
from kerfwright.trade.part import LengthUnit

_HEADER = re.compile(r"HOLE +(\S+) +TUBE +([1-9][0-9]{0,4})", re.IGNORECASE)
_LIKE_HEADER = re.compile(r"HOLE\b.*\bTUBE\b", re.IGNORECASE)
_UNIT = {LengthUnit.MILLIMETRE: (21.0, 1.0), LengthUnit.INCH: (20.0, 25.4)}
_COUNTS = {DrillWord.TUBE, DrillWord.CONDITION}
_LENGTHS = {DrillWord.GUIDE, DrillWord.TOUCH}


def read_drilling(text: str, *, machine: DrillMachine) -> tuple[Step, ...]:
    """Interpret a program of small holes.

    Understood are G00, G01, G20 and G21, G90, X Y Z A B C F N, the words of the machine definition,
    comments and ``%``.  All coordinates are absolute.  A touch gives Z the value it names.

    Parameters
    ----------
    text : str
    machine : DrillMachine

    Raises
    ------
    ProgramError
        At the first broken rule, with line and column from 1.
    """
    reader = _Reader(machine)
    lines = text.split("\n")
    check_text(lines, longest=machine.dialect.max_line_length)
    for number, line in enumerate(lines, start=1):
        reader.take(line, number)
    reader.finish(len(lines))
    return tuple(reader.steps)


class _Reader:
    """The state of the control while it reads."""

    def __init__(self, machine: DrillMachine) -> None:
        dialect = machine.dialect
        self.steps: list[Step] = []
        self._templates = _templates(dialect)
        self._frame = {
            s.strip()
            for s in (*dialect.program_start.split("\n"), *dialect.program_end.split("\n"))
        } - {"", "%"}
        self._unit_word, self._scale = _UNIT[dialect.unit]
        self._axes = tuple(axis.letter.value for axis in machine.axes)
        self._at: dict[str, float] = {}
        self._motion: float | None = None
        self._feed = 0.0
        self._is_ended = False
        self._known: dict[str, tuple[list[Word], list[Comment]]] = {}

    def take(self, text: str, line: int) -> None:
        """Act on one line."""
        stripped = text.strip()
        if not stripped or stripped == "%" or stripped in self._frame:
            return
        cut = self._known.get(stripped)
        if cut is None:
            cut = cut_line(stripped, line=line)
            # Words of the machine stand in every hole: they are cut once.
            self._known[stripped] = cut
        words, comments = cut
        for comment in comments:
            self._comment(comment, line)
        if words and words[0].letter == "N":
            words = words[1:]
        if words:
            self._block(words, line)

    def finish(self, line: int) -> None:
        """Refuse a program that does not end."""
        if not self._is_ended:
            raise ProgramError("the program has no end", code="end-missing", line=line, column=1)

    def _comment(self, comment: Comment, line: int) -> None:
        match = _HEADER.fullmatch(comment.text.strip())
        if match is not None:
            self.steps.append(HoleHeader(line, match.group(1), int(match.group(2))))
        elif _LIKE_HEADER.match(comment.text.strip()):
            raise ProgramError(
                f"({comment.text}) looks like the header of a hole and is none",
                code="header-malformed",
                line=line,
                column=comment.column,
            )

    def _block(self, words: list[Word], line: int) -> None:
        if self._is_ended:
            raise ProgramError(
                f"{words[0]} after the end of the program",
                code="block-after-end",
                line=line,
                column=words[0].column,
            )
        for template, kind in self._templates.get(words[0].letter, ()):
            places = template.match(words)
            if places is not None:
                self._event(kind, places, line)
                return
        self._move(words, line)

    def _event(self, kind: DrillWord, places: Mapping[str, Word], line: int) -> None:
        value = 0.0
        word = next(iter(places.values()), None)
        if word is not None:
            value = float(whole(word, line)) if kind in _COUNTS else word.value
            value *= self._scale if kind in _LENGTHS else 1.0
        if kind is DrillWord.TOUCH:
            if "Z" not in self._at:
                assert word is not None
                raise ProgramError(
                    "a touch before any Z", code="place-missing", line=line, column=word.column
                )
            self._at["Z"] = value
        self._is_ended = kind is DrillWord.END
        self.steps.append(DrillEvent(line, kind, value))

    def _move(self, words: Sequence[Word], line: int) -> None:
        seen: dict[str, Word] = {}
        for word in words:
            if word.letter == "G":
                self._code(word, seen, line)
                continue
            if word.letter not in {"X", "Y", "Z", "F", *self._axes}:
                _refuse(f"{word} is no word of this machine", "word-unknown", word, line)
            if word.letter in seen:
                _refuse(f"a second {word.letter} in the block", "word-repeated", word, line)
            seen[word.letter] = word
        self._apply(seen, line)

    def _code(self, word: Word, seen: dict[str, Word], line: int) -> None:
        group = "G1" if word.value in {0.0, 1.0} else f"G{word.value:g}"
        if word.value not in {0.0, 1.0, 90.0, self._unit_word}:
            _refuse(f"{word} is no word of this machine", "g-unknown", word, line)
        if group in seen:
            _refuse(f"a second word of one kind in the block: {word}", "word-repeated", word, line)
        seen[group] = word
        if group == "G1":
            self._motion = word.value

    def _angles(self) -> tuple[float, ...]:
        """Return the angles, none before each was said: how the work stood nobody knows."""
        if not all(letter in self._at for letter in self._axes):
            return ()
        return tuple(self._at[letter] for letter in self._axes)

    def _apply(self, seen: Mapping[str, Word], line: int) -> None:
        feed = seen.get("F")
        if feed is not None:
            if feed.value <= 0:
                _refuse("a feed must be above 0", "feed-value", feed, line)
            self._feed = feed.value * self._scale
        moved = [letter for letter in ("X", "Y", "Z", *self._axes) if letter in seen]
        if not moved:
            return
        first = seen[moved[0]]
        if self._motion is None:
            _refuse("a move before any G00 or G01", "motion-missing", first, line)
        is_rapid = self._motion == 0.0
        if not is_rapid and not self._feed:
            _refuse("a feed move before any F", "feed-missing", first, line)
        for letter in moved:
            scale = 1.0 if letter in self._axes else self._scale
            self._at[letter] = seen[letter].value * scale
        at = self._at
        self.steps.append(
            DrillMove(
                line,
                is_rapid,
                at.get("X", 0.0),
                at.get("Y", 0.0),
                at.get("Z", 0.0),
                self._angles(),
                0.0 if is_rapid else self._feed,
            )
        )


def _refuse(message: str, code: str, word: Word, line: int) -> NoReturn:
    raise ProgramError(message, code=code, line=line, column=word.column)


def _templates(dialect: DrillDialect) -> dict[str, list[tuple[Template, DrillWord]]]:
    """Return the words of the machine by the letter they begin with."""
    found: dict[str, list[tuple[Template, DrillWord]]] = {}
    for text, word in (
        (dialect.touch, DrillWord.TOUCH),
        (dialect.condition, DrillWord.CONDITION),
        (dialect.spark_on, DrillWord.SPARK_ON),
        (dialect.spark_off, DrillWord.SPARK_OFF),
        (dialect.guide, DrillWord.GUIDE),
        (dialect.tube, DrillWord.TUBE),
        (dialect.dress, DrillWord.DRESS),
        (dialect.attended_stop, DrillWord.STOP),
        (dialect.optional_stop, DrillWord.OPTIONAL_STOP),
        (dialect.end_of_program, DrillWord.END),
    ):
        template = Template.parse(text)
        found.setdefault(template.words[0][0], []).append((template, word))
    return found
