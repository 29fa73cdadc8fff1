"""Texts that somebody, or a broken disk, has changed: seeded, so that each can be made again."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from random import Random

_NUMBERS = (
    "0", "-0", "-1", "1e308", "-1e308", "1e-308", "nan", "inf", "-inf", "1e999",
    "99999999999999999999",
    "0.1.2", "1,5", "", " ", "+", "0x10", "½", "٣",
)  # fmt: skip
_LETTERS = (
    "\x00",
    "\n",
    "\r\n",
    "\t",
    '"',
    "'",
    "\\",
    "{",
    "}",
    "[",
    "]",
    "%",
    "(",
    ")",
    "ü",
    "\ufffd",
    "\U0001f9ff",
)


def mutants(text: str, *, seed: int, count: int) -> Iterator[tuple[int, str]]:
    """Yield so many changed texts, each with the seed that makes it again.

    Parameters
    ----------
    text : str
        A sound one.
    seed : int
        Of the first; every next has the next.
    count : int
    """
    for one in range(seed, seed + count):
        yield one, mutant(text, seed=one)


def mutant(text: str, *, seed: int) -> str:
    """Return a text changed in one to four places."""
    random = Random(seed)  # noqa: S311 no secret
    lines = text.split("\n")
    for _ in range(random.choice((1, 1, 1, 2, 4))):
        lines = random.choice(_CHANGES)(lines, random)
    return "\n".join(lines)


def _at(lines: Sequence[str], random: Random) -> int:
    return random.randrange(max(len(lines), 1))


def _dropped(lines: list[str], random: Random) -> list[str]:
    at = _at(lines, random)
    return lines[:at] + lines[at + random.choice((1, 1, 2, 7)) :]


def _twice(lines: list[str], random: Random) -> list[str]:
    at, long = _at(lines, random), random.choice((1, 2, 12))
    return lines[: at + long] + lines[at:]


def _elsewhere(lines: list[str], random: Random) -> list[str]:
    at, to, long = _at(lines, random), _at(lines, random), random.choice((1, 2, 12))
    moved = lines[at : at + long]
    rest = lines[:at] + lines[at + long :]
    return rest[:to] + moved + rest[to:]


def _torn(lines: list[str], random: Random) -> list[str]:
    return lines[: _at(lines, random)]


def _other_number(lines: list[str], random: Random) -> list[str]:
    numbered = [i for i, line in enumerate(lines) if any(c.isdigit() for c in line)]
    if not numbered:
        return lines
    at = random.choice(numbered)
    line = lines[at]
    digits = [i for i, c in enumerate(line) if c.isdigit()]
    start = end = random.choice(digits)
    while start and (line[start - 1].isdigit() or line[start - 1] in ".-"):
        start -= 1
    while end < len(line) and (line[end].isdigit() or line[end] in ".eE"):
        end += 1
    changed = line[:start] + random.choice(_NUMBERS) + line[end:]
    return [*lines[:at], changed, *lines[at + 1 :]]


def _other_letters(lines: list[str], random: Random) -> list[str]:
    at = _at(lines, random)
    line = lines[at] if lines else ""
    place = random.randrange(len(line) + 1)
    changed = line[:place] + random.choice(_LETTERS) + line[place + random.choice((0, 1)) :]
    return [*lines[:at], changed, *lines[at + 1 :]]


def _swapped(lines: list[str], random: Random) -> list[str]:
    if len(lines) < 2:
        return lines
    changed = list(lines)
    one, other = _at(lines, random), _at(lines, random)
    changed[one], changed[other] = changed[other], changed[one]
    return changed


_CHANGES: tuple[Callable[[list[str], Random], list[str]], ...] = (
    _dropped, _twice, _elsewhere, _torn, _other_number, _other_number, _other_number,
    _other_letters, _swapped,
)  # fmt: skip
