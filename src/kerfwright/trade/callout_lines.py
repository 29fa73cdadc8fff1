"""The lines of a text as they are read: labels with their values, sizes with their limits.

A size and its limits are often typed over each other.  By itself a line of deviations would be
asked of each wall, which is twice what the size allows, and two limits would be two plain sizes.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from typing import Final

from kerfwright.trade.callout_rules import (
    LIMITS_WITHIN,
    NUMBER,
    PLUS_MINUS,
    ROUND,
    SPELLINGS,
    STOP,
    UNIT,
)

_SHOWN: Final = 40
_LABEL_ALONE: Final = re.compile(
    r"\s*(?:material|mat'?l|finish|surface finish|tolerances?|tol|q'?ty(?: req'?d)?|quantity|scale|"
    r"rev(?:ision)?|"
    r"date|title|part name|(?:part|dwg|drg|drawing|item)\.? (?:no|nr|number)|thickness|thk|"
    r"(?:drawn|checked|approved)(?: by)?|sheet(?: no)?|weight|"
    r"hardness|heat treat(?:ment)?|units?|cust(?:omer)?(?: name)?|client|kunde|auftraggeber|"
    r"due(?: date)?|delivery(?: date)?|(?:wanted|needed|required) by|liefertermin|lieferdatum)"
    r"\.?\s?[:=]?\s*",
    re.IGNORECASE,
)
_OF_NUMBERS: Final = re.compile(
    r"\s*(?:q'?ty|quantity|thickness|thk|tol|hardness|scale|date|due|delivery|(?:wanted|needed|"
    r"required) by|liefer|sheet|weight|finish|surface)",
    re.IGNORECASE,
)
"""Labels of values that hold a digit."""
_COUNT: Final = rf"(?:\d{{1,4}}\s?[x×]|\d{{1,4}}\s(?:holes?|places|(?:plcs?|pl){STOP}))"
_COUNT_ALONE: Final = re.compile(rf"\s*{_COUNT}\s*", re.IGNORECASE)
_BEHIND: Final = r"(?:dia|thru|through|all|durch\w{0,6}|\(?\d{1,4}\s?[x×]\)?)"
_SIZE: Final = re.compile(
    rf"\s*(?:{_COUNT}\s{{0,3}})?(?:{ROUND}|dia{STOP}\s|R)?\s?{NUMBER}\s?(?:{UNIT})?"
    rf"(?:\s?[A-Z]{{1,2}}\d{{1,2}})?(?:\s{{1,2}}{_BEHIND}\b\.?\)?){{0,3}}\s*",
    re.IGNORECASE,
)
"""A line that holds one size, perhaps with a fit, and nothing else."""
_BEHIND_ALONE: Final = re.compile(rf"\s*{_BEHIND}(?:\s{{1,2}}{_BEHIND})?\.?\s*", re.IGNORECASE)
_DEVIATION: Final = rf"[+-] ?{NUMBER}\s{{0,2}}(?:{UNIT})?"
_NOUGHT: Final = r"[+-]?0(?:[.,]0{1,6})?(?![\d.,])"
_DEVIATIONS: Final = re.compile(
    rf"\s*[(\[]?(?:{PLUS_MINUS}\s{{0,2}}{NUMBER}|{_DEVIATION}|{_NOUGHT})"
    rf"(?:\s{{0,2}}[/;, ]\s{{0,2}}(?:{_DEVIATION}|{_NOUGHT}))?\s{{0,2}}(?:{UNIT})?[)\]]?\s*",
    re.IGNORECASE,
)
_ONE: Final = re.compile(rf"\s*(?:{_DEVIATION}|{_NOUGHT})\s*", re.IGNORECASE)
"""Upper or lower deviation alone, of which the other may stand below."""
_SIGNED: Final = re.compile(r"[+±-]|%%p", re.IGNORECASE)
_LIMIT: Final = re.compile(
    rf"\s*(?:{_COUNT}\s{{0,3}})?(?:{ROUND})?\s?(?P<value>\d{{0,6}}[.,]\d{{2,6}})"
    rf"\s?(?:{UNIT})?\s*",
    re.IGNORECASE,
)
_LONGEST: Final = 60
"""Letters of a line that may be a size or its limits alone."""


def is_label(text: str) -> bool:
    """Return whether a text is a known label and nothing else: ``DWG NO``, ``QTY:``.

    >>> is_label("THICKNESS"), is_label("THICKNESS 4")
    (True, False)
    """
    return len(text) <= _SHOWN and _LABEL_ALONE.fullmatch(text) is not None


def may_be_value(label: str, text: str) -> bool:
    """Return whether a text may be what a label asks for: one line, and no label of its own.

    >>> may_be_value("QTY", "4"), may_be_value("QTY", "SEE NOTE"), may_be_value("QTY", "REV: C")
    (True, False, False)
    """
    if not text.strip() or is_label(text) or re.search(r"[\n:=]", text.strip()):
        return False
    return _OF_NUMBERS.match(label) is None or any(letter.isdigit() for letter in text)


def lines_of_text(text: str, label: str) -> Iterator[str]:
    """Yield the lines; a label and its value on the next line are one, so are size and limits.

    Parameters
    ----------
    text : str
        Lines are parted by line feeds.
    label : str
        What the text is for, where the drawing says so.
    """
    tag = " ".join(label.replace("_", " ").split())[:_SHOWN]
    waiting = f"{tag.rstrip(':= ')}: " if tag and _LABEL_ALONE.fullmatch(tag) else ""
    for raw in _with_limits(text.splitlines()):
        line = waiting + raw
        waiting = ""
        if not raw.strip():
            waiting = line if line.strip() else ""
        elif _LABEL_ALONE.fullmatch(line):
            waiting = line.strip().rstrip(":= ") + ": "
        else:
            yield line
    if waiting and not tag:
        yield waiting


def _with_limits(lines: Sequence[str]) -> list[str]:
    """Return the lines, each size in one with the limits that are written below it."""
    limits = _two_limits([line.strip() for line in lines if line.strip()])
    if limits:
        return [limits]
    found: list[str] = []
    number = 0
    while number < len(lines):
        line = lines[number]
        number += 1
        if _is(_COUNT_ALONE, line) and number < len(lines) and _is(_SIZE, lines[number]):
            line = f"{line.rstrip()} {lines[number].lstrip()}"
            number += 1
        below = _below(lines[number : number + 3]) if _is(_SIZE, line) else []
        if below:
            line = " ".join([line.rstrip(), *below])
            number += len(below)
        found.append(line)
    return found


def _below(lines: Sequence[str]) -> list[str]:
    """Return the lines that belong to the size above them, where they hold its limits."""
    if lines and _is(_BEHIND_ALONE, lines[0]) and (limits := _deviations(lines[1:])):
        return [lines[0].strip(), *limits]
    return _deviations(lines[:2])


def _deviations(lines: Sequence[str]) -> list[str]:
    """Return the one or two lines of deviations that stand first."""
    found: list[str] = []
    for line in lines:
        if not _is(_DEVIATIONS, line) or (found and not (_is(_ONE, found[0]) and _is(_ONE, line))):
            break
        found.append(line.strip())
    return found if any(_SIGNED.search(one.translate(SPELLINGS)) for one in found) else []


def _two_limits(lines: Sequence[str]) -> str:
    """Return two limits that stand over each other, and alone, as they are written in a line."""
    if len(lines) == 3 and _is(_COUNT_ALONE, lines[0]):
        lines = [f"{lines[0]} {lines[1]}", lines[2]]
    pair = [found for line in lines[:2] if (found := _match(_LIMIT, line))]
    if len(lines) != 2 or len(pair) != 2:
        return ""
    low, high = sorted(float(one["value"].replace(",", ".")) for one in pair)
    if not low < high or high - low > LIMITS_WITHIN * high:
        return ""
    return f"{lines[0]}/{lines[1]}"


def _match(pattern: re.Pattern[str], line: str) -> re.Match[str] | None:
    return pattern.fullmatch(line.translate(SPELLINGS)) if len(line) <= _LONGEST else None


def _is(pattern: re.Pattern[str], line: str) -> bool:
    return _match(pattern, line) is not None
