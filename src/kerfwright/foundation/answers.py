"""Reasons with a name that a person can ask for and a place in the documents."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from kerfwright.foundation.sources import Reason

_SHORTEST_STEM = 3
"""A word asked for counts from this many letters on as the beginning of a longer one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """Why one number that is shown has its value.

    Attributes
    ----------
    about : str
        What it belongs to: ``"pass 2"``, ``"H7"``, ``"time"``, ``"price for 25"``.
    name : str
        The quantity in plain words: ``"feed"``, ``"tab width"``, ``"rough pass"``.
    path : str
        Place in the JSON documents, lists by the name of the row: ``"plan/tabs/H7/width_mm"``.
        Empty for a number that the documents do not hold.
    reason : Reason
    also : str
        Other words under which it is found.
    """

    about: str
    name: str
    path: str
    reason: Reason
    also: str = ""

    @property
    def title(self) -> str:
        """What a person asks for to see just this."""
        return f"{self.about} {self.name}"


def words_of(text: str) -> tuple[str, ...]:
    """Return the words of a text without case and marks.

    >>> words_of("Price for 25: rough pass")
    ('price', 'for', '25', 'rough', 'pass')
    """
    kept = "".join(c if c.isalnum() or c == "." else " " for c in text.casefold())
    return tuple(word.strip(".") for word in kept.split() if word.strip("."))


def matching(answers: Iterable[Answer], asked: str) -> tuple[Answer, ...]:
    """Return the answers whose title has every word asked for.

    A word counts whole, or as the beginning of one from three letters on; numbers and names of
    contours only whole, so that ``H1`` is not ``H12``.  Answers whose title is just what was
    asked, in any order, come alone.  Where no title has them all, other words under which answers
    are found count too.

    Parameters
    ----------
    answers : iterable of Answer
    asked : str
    """
    wanted = words_of(asked)
    every = tuple(answers)
    exact = tuple(a for a in every if sorted(words_of(a.title)) == sorted(wanted))
    if exact:
        return exact
    if not wanted:
        return ()
    by_title = tuple(a for a in every if all(_is_said(w, words_of(a.title)) for w in wanted))
    if by_title:
        return by_title
    return tuple(
        a for a in every if all(_is_said(w, words_of(f"{a.title} {a.also}")) for w in wanted)
    )


def unmatched(answers: Iterable[Answer], asked: str) -> tuple[str, ...]:
    """Return the words asked for that no answer has.

    Parameters
    ----------
    answers : iterable of Answer
    asked : str
    """
    said = [words_of(f"{a.title} {a.also}") for a in answers]
    return tuple(w for w in words_of(asked) if not any(_is_said(w, words) for words in said))


def _is_said(wanted: str, words: Sequence[str]) -> bool:
    if wanted in words:
        return True
    is_word = wanted.isalpha() and len(wanted) >= _SHORTEST_STEM
    return is_word and any(word.startswith(wanted) for word in words)


def index_of(answers: Iterable[Answer]) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """Return what can be asked for: subjects with the same quantities together.

    Returns
    -------
    tuple of (str, tuple of str)
        Subjects such as ``"H1, H2, H3"`` and their quantities.
    """
    by_subject: dict[str, dict[str, None]] = {}
    for answer in answers:
        by_subject.setdefault(answer.about, {})[answer.name] = None
    by_names: dict[tuple[str, ...], list[str]] = {}
    for subject, names in by_subject.items():
        by_names.setdefault(tuple(names), []).append(subject)
    return tuple((", ".join(subjects), names) for names, subjects in by_names.items())
