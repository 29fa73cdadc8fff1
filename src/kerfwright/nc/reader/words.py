"""Cut a line of text into words and comments."""

from __future__ import annotations

import re
from dataclasses import dataclass

from kerfwright.foundation.errors import InputError, ProgramError

_NUMBER = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)")
_BLANKS = " \t\r"
_PART_OF_NUMBER = frozenset("0123456789.+-")
_PLACE = re.compile(r"([A-Z])(\{[a-z]+\}|[0-9.]+)")


@dataclass(frozen=True, slots=True, kw_only=True)
class Word:
    """A letter with its number; the column counts from 1."""

    letter: str
    value: float
    text: str
    column: int

    def __str__(self) -> str:
        return self.letter + self.text


@dataclass(frozen=True, slots=True, kw_only=True)
class Comment:
    """Text between brackets or after a semicolon."""

    text: str
    column: int


def cut_line(text: str, *, line: int) -> tuple[list[Word], list[Comment]]:
    """Return the words and the comments of one line.

    Letters may be small, blanks may stand between letter and number.

    Raises
    ------
    ProgramError
        ``comment-open``, ``comment-nested``, ``number-malformed`` or ``character-unknown``.
    """
    words: list[Word] = []
    comments: list[Comment] = []
    at = 0
    while at < len(text):
        sign = text[at]
        if sign in _BLANKS:
            at += 1
        elif sign == "(":
            comment, at = _bracket(text, at, line)
            comments.append(comment)
        elif sign == ";":
            comments.append(Comment(text=text[at + 1 :].strip(), column=at + 1))
            at = len(text)
        elif sign.isalpha():
            word, at = _word(text, at, line)
            words.append(word)
        else:
            raise ProgramError(
                f"the character {sign!r} has no meaning here",
                code="character-unknown",
                line=line,
                column=at + 1,
            )
    return words, comments


def _bracket(text: str, at: int, line: int) -> tuple[Comment, int]:
    close = text.find(")", at)
    inner = text.find("(", at + 1)
    if inner != -1 and (close == -1 or inner < close):
        raise ProgramError(
            "a comment holds another '('", code="comment-nested", line=line, column=inner + 1
        )
    if close == -1:
        raise ProgramError(
            "a comment is not closed in its line", code="comment-open", line=line, column=at + 1
        )
    return Comment(text=text[at + 1 : close].strip(), column=at + 1), close + 1


def _word(text: str, at: int, line: int) -> tuple[Word, int]:
    begin = at + 1
    while begin < len(text) and text[begin] in _BLANKS:
        begin += 1
    number = _NUMBER.match(text, begin)
    end = number.end() if number else begin
    if number is None or (end < len(text) and text[end] in _PART_OF_NUMBER):
        stop = end
        while stop < len(text) and text[stop] in _PART_OF_NUMBER:
            stop += 1
        got = text[begin:stop] or "nothing"
        raise ProgramError(
            f"{text[at].upper()} takes a decimal number, got {got}",
            code="number-malformed",
            line=line,
            column=at + 1,
        )
    word = Word(
        letter=text[at].upper(), value=float(number.group()), text=number.group(), column=at + 1
    )
    return word, end


@dataclass(frozen=True, slots=True, kw_only=True)
class Template:
    """A block of words of the machine definition with places for numbers.

    Attributes
    ----------
    words : tuple of (str, float or str)
        Letter and its number, or the name of its place.
    """

    words: tuple[tuple[str, float | str], ...]

    @classmethod
    def parse(cls, text: str) -> Template:
        """Parse ``"M103 P{number}"``."""
        found: list[tuple[str, float | str]] = []
        for part in text.split():
            match = _PLACE.fullmatch(part)
            if match is None:
                raise InputError(f"{text!r} is not a block of words", code="machine-value")
            letter, value = match.groups()
            found.append((letter, value[1:-1] if value.startswith("{") else float(value)))
        return cls(words=tuple(found))

    def match(self, words: list[Word]) -> dict[str, Word] | None:
        """Return the words at the places if `words` is this block, else None."""
        if len(words) != len(self.words):
            return None
        places: dict[str, Word] = {}
        for word, (letter, value) in zip(words, self.words, strict=True):
            if word.letter != letter:
                return None
            if isinstance(value, str):
                places[value] = word
            elif word.value != value:
                return None
        return places
