"""What the words of a drawing ask: from text to statements, without a file and without a guess.

A line is read by rules in a fixed order; each takes the words it understands, so that no word is
read twice, and what no rule took is reported as not understood.  Where words may mean two things
both are named.  Nothing here is applied: a statement is an offer.
"""

from __future__ import annotations

import re
from typing import Final

from kerfwright.foundation.errors import KerfwrightError
from kerfwright.trade.callout_demands import (
    DEMANDS,
    MATERIAL,
    grade_remark,
    is_choice,
    material_readings,
)
from kerfwright.trade.callout_features import FEATURES
from kerfwright.trade.callout_joined import with_zones_of_sizes
from kerfwright.trade.callout_lines import lines_of_text
from kerfwright.trade.callout_rules import SPELLINGS, TAKEN, Context, Rule
from kerfwright.trade.callout_sizes import BEFORE_DEMANDS, BEFORE_FEATURES, SIZES
from kerfwright.trade.callout_titles import TITLES_FIRST, TITLES_LAST
from kerfwright.trade.catalogue import Catalogue
from kerfwright.trade.fits import FitTable
from kerfwright.trade.part import LengthUnit
from kerfwright.trade.statements import Asks, Reading, Statement

LONGEST_TEXT: Final = 2000
"""Letters of one text that are read: a page of notes; a longer one says that it was cut."""
_MOST_STATEMENTS: Final = 100
"""Statements of one text; a longer list of notes than any sheet holds."""
_RULES: Final[tuple[Rule, ...]] = (
    *TITLES_FIRST,
    *BEFORE_DEMANDS,
    *DEMANDS,
    *BEFORE_FEATURES,
    *FEATURES,
    *SIZES,
    *TITLES_LAST,
    *MATERIAL,
)
_JOINING: Final = """
a all and any are as at be both by do for from in is it must no not of on one only or over per shall
the this to typ typical where with without x side sides surface surfaces wall walls max min note
notes each everywhere around general see dim dims dimension dimensions tol tolerance tolerances
place places plcs ref edge edges corner corners inside outside drawing machined decimal decimals
finish thru through better cut
"""
_FILLING: Final = frozenset(_JOINING.split())
"""Words that join others; alone they ask nothing."""
_WORD: Final = re.compile(r"[^\W_]+(?:['.,/-][^\W_]+)*|[^\s\w¦|.,;:()\[\]{}<>=*\"'!?/\\#&_+-]")
_LIST_MARK: Final = re.compile(
    r"\s*(?:\(?\d{1,2}[.)]|[-*•])(?=\s+\S)"
    # "(2) REQD" counts pieces, "(4) PLACES" places.
    r"(?!\s{1,3}(?:req|off\b|pcs\b|pieces?\b|pl(?:aces?|cs?)?\b|holes?\b|places?\b))\s*",
    re.IGNORECASE,
)


def interpret(
    text: str,
    *,
    unit: LengthUnit,
    catalogue: Catalogue,
    fits: FitTable,
    label: str = "",
) -> tuple[Statement, ...]:
    """Return what a text of a drawing asks.

    Parameters
    ----------
    text : str
        Plain words without formatting codes; lines are parted by line feeds.
    unit : LengthUnit
        Unit of the drawing, which numbers without one are in.
    catalogue : Catalogue
        Names of materials.
    fits : FitTable
    label : str
        What the text is for, where the drawing says so: the tag of a title block's field.

    Returns
    -------
    tuple of Statement
        In the order of the words; what was not understood is among them.  Empty for a text
        without a word.
    """
    context = Context(unit=unit, catalogue=catalogue, fits=fits)
    found: list[Statement] = []
    for line in lines_of_text(text[:LONGEST_TEXT], label):
        found += _read_line(line, context)
        if len(found) >= _MOST_STATEMENTS:
            break
    if len(text) > LONGEST_TEXT or len(found) > _MOST_STATEMENTS:
        found = found[:_MOST_STATEMENTS]
        found.append(
            Statement(
                asks=Asks.NOT_UNDERSTOOD,
                text=text[:_SHOWN] + " ...",
                remark=f"a text of {len(text)} letters, of which the first part was read",
            )
        )
    return tuple(found)


_SHOWN: Final = 40


def _read_line(line: str, context: Context) -> list[Statement]:
    tidy = line.translate(SPELLINGS)
    mark = _LIST_MARK.match(tidy)
    if mark:
        tidy = " " * mark.end() + tidy[mark.end() :]
    found: list[tuple[int, Statement]] = []
    for one in _RULES:
        for match in one.pattern.finditer(tidy):
            statement = _made(one, match, context)
            if statement is None:
                continue
            begin, end = match.span()
            words = line[begin:end].strip(" ,;")
            found.append((begin, _worded(statement, words)))
            tidy = tidy[:begin] + TAKEN * (end - begin) + tidy[end:]
    found += _leftovers(tidy, line, context)
    found.sort(key=lambda pair: pair[0])
    return with_zones_of_sizes(found, line, context)


def _made(one: Rule, match: re.Match[str], context: Context) -> Statement | None:
    if not match[0].strip():
        return None
    try:
        return one.make(match, context)
    except KerfwrightError:
        # The rule took the words for numbers that a parser then refused: left to other rules.
        return None


def _worded(statement: Statement, words: str) -> Statement:
    return Statement(
        asks=statement.asks, text=words, readings=statement.readings, remark=statement.remark
    )


def _leftovers(tidy: str, line: str, context: Context) -> list[tuple[int, Statement]]:
    """Return materials named without the word, and what is left that nobody understood."""
    found: list[tuple[int, Statement]] = []
    for piece in re.finditer(rf"[^{TAKEN}|,;()]+", tidy):
        words = _WORD.findall(piece[0])
        telling = [w for w in words if w.lower() not in _FILLING]
        if not telling:
            continue
        begin, end = piece.span()
        said = line[begin:end].strip(" :=&").rstrip(".")
        readings: tuple[Reading, ...] = ()
        if _could_be_material(words):
            readings = material_readings(said, context, is_named=False)
        is_clear = len(telling) == 1 or len(readings) == 1 or is_choice(said, context)
        if readings and is_clear:
            asked = Statement(
                asks=Asks.MATERIAL,
                text=said,
                readings=readings,
                remark=grade_remark(said, context),
            )
            found.append((begin, asked))
        else:
            found.append((begin, Statement(asks=Asks.NOT_UNDERSTOOD, text=said)))
    return _joined(found)


def _could_be_material(words: list[str]) -> bool:
    """Tell whether some word could name a material: a number alone is a dimension."""
    return any(any(c.isalpha() for c in w) and len(w) > 1 for w in words)


def _joined(found: list[tuple[int, Statement]]) -> list[tuple[int, Statement]]:
    """Put pieces of a line that nobody understood together, as they stood."""
    lost = [(begin, s) for begin, s in found if s.asks is Asks.NOT_UNDERSTOOD]
    if len(lost) < 2:
        return found
    text = " ... ".join(s.text for _, s in lost)
    kept = [pair for pair in found if pair[1].asks is not Asks.NOT_UNDERSTOOD]
    return [*kept, (lost[0][0], Statement(asks=Asks.NOT_UNDERSTOOD, text=text))]
