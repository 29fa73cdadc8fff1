"""The words of one block by letter and modal group, and the checks of plain text."""

from __future__ import annotations

from collections.abc import Sequence

from kerfwright.foundation.errors import ProgramError
from kerfwright.nc.reader.words import Word
from kerfwright.nc.timeline import WordEvent

MOTION, UNIT, OFFSET, DISTANCE = "motion", "unit", "offset", "distance"
_G_GROUPS = {
    0: MOTION, 1: MOTION, 2: MOTION, 3: MOTION,
    20: UNIT, 21: UNIT,
    40: OFFSET, 41: OFFSET, 42: OFFSET,
    90: DISTANCE, 91: DISTANCE,
}  # fmt: skip
"""Modal groups: two words of one group exclude each other in a block (NISTIR 6556, from
memory)."""


STOPS = {
    0: WordEvent.STOP,
    1: WordEvent.OPTIONAL_STOP,
    2: WordEvent.END,
    30: WordEvent.END,
}

_MOVE_LETTERS = "GXYUVIJRF"


class Block:
    """The words of one line by letter and modal group.

    Raises
    ------
    ProgramError
        ``word-unknown``, ``g-unknown``, ``word-repeated``, ``modal-conflict`` or
        ``offset-table-malformed``.
    """

    def __init__(self, words: list[Word], line: int) -> None:
        self._by_letter: dict[str, Word] = {}
        self._by_group: dict[str, Word] = {}
        self.stop: Word | None = None
        for word in words:
            if word.letter == "G":
                self._take_g(word, line)
            elif word.letter == "M":
                self._take_m(word, line)
            elif word.letter in "XYUVIJRFD":
                if word.letter in self._by_letter:
                    raise ProgramError(
                        f"a second {word.letter} in the block",
                        code="word-repeated",
                        line=line,
                        column=word.column,
                    )
                self._by_letter[word.letter] = word
            else:
                raise ProgramError(
                    f"{word} is no word of this machine",
                    code="word-unknown",
                    line=line,
                    column=word.column,
                )

    def _take_g(self, word: Word, line: int) -> None:
        group = _G_GROUPS.get(int(word.value)) if word.value == int(word.value) else None
        if word.value == 10:
            raise ProgramError(
                "G10 does not have the form of the machine's offset table",
                code="offset-table-malformed",
                line=line,
                column=word.column,
            )
        if group is None or word.value < 0:
            raise ProgramError(
                f"{word} is no word of this machine",
                code="g-unknown",
                line=line,
                column=word.column,
            )
        if group in self._by_group:
            raise ProgramError(
                f"{word} and {self._by_group[group]} exclude each other in one block",
                code="modal-conflict",
                line=line,
                column=word.column,
            )
        self._by_group[group] = word

    def _take_m(self, word: Word, line: int) -> None:
        if word.value not in STOPS:
            raise ProgramError(
                f"{word} is no word of this machine, or does not stand alone in its block",
                code="word-unknown",
                line=line,
                column=word.column,
            )
        if self.stop is not None:
            raise ProgramError(
                f"{word} and {self.stop} exclude each other in one block",
                code="modal-conflict",
                line=line,
                column=word.column,
            )
        self.stop = word

    def group(self, name: str) -> Word | None:
        """Return the G word of a modal group."""
        return self._by_group.get(name)

    def one(self, letter: str) -> Word | None:
        """Return the word of a letter."""
        return self._by_letter.get(letter)


def plain_move(words: Sequence[Word]) -> tuple[str | None, ...] | None:
    """Return the texts of G X Y U V I J R F if the words are those of one move and no more."""
    found: dict[str, str] = {}
    for place, word in enumerate(words):
        if word.letter == "N" and place == 0 and word.text.isdigit():
            continue
        if word.letter in found or word.letter not in _MOVE_LETTERS:
            return None
        if word.letter == "G" and word.value not in {0, 1, 2, 3}:
            return None
        found[word.letter] = word.text
    if not found.keys() & set("XYUV"):
        return None
    return tuple(found.get(letter) for letter in _MOVE_LETTERS)


def check_text(lines: Sequence[str], *, longest: int) -> None:
    """Refuse lines above `longest` characters and characters outside ASCII."""
    for number, line in enumerate(lines, start=1):
        if len(line) > longest and len(line.rstrip()) > longest:
            raise ProgramError(
                f"the line has {len(line.rstrip())} characters, the machine reads {longest}",
                code="line-too-long",
                line=number,
                column=longest + 1,
            )
        if not line.isascii():
            column = next(c for c, sign in enumerate(line, start=1) if not sign.isascii())
            raise ProgramError(
                f"the character {line[column - 1]!r} is not ASCII",
                code="character-not-ascii",
                line=number,
                column=column,
            )


def whole(word: Word, line: int) -> int:
    """Return the number of a word that counts something."""
    if word.value != int(word.value) or word.value < 0:
        raise ProgramError(
            f"{word.letter} takes a whole number, got {word.text}",
            code="number-not-whole",
            line=line,
            column=word.column,
        )
    return int(word.value)
