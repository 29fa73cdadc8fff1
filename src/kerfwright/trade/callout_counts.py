"""How many pieces the words of a drawing ask: counts, sets, left and right hands."""

from __future__ import annotations

import re
from typing import Final

from kerfwright.trade.callout_rules import Context, Rule, bare, clear, rule, whole
from kerfwright.trade.statements import Asks, Reading, Statement, option

_MOST_PIECES: Final = 1_000_000
_NAMED: Final = (
    "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven",
    "twelve",
)  # fmt: skip
_LABEL: Final = (
    r"(?:\b(?:q'?ty|quantity|quan|stückzahl|anzahl|req'?d|required|make)\b\.?"
    r"(?: (?:req'?d|required))?[ :=]{0,3})"
)
_HAND: Final = (
    r"(?:(?:lh|rh|left(?:[ -]hand)?|right(?:[ -]hand)?|links|rechts|as (?:shown|drawn)"
    r"|(?:opp(?:osite)?|mirror(?:ed)?)\b\.?(?:[ -]hand)?)(?:\s(?:req'?d?|required))?\b\.?)"
)
_EACH: Final = r"\s{0,2}(?:(?:req'?d?|required|off|ea|each|pcs)\b\.?\s{0,2})?"


@rule(
    rf"{_LABEL}?(?<![\w.,/-])(?P<one>\d{{1,5}}){_EACH}{_HAND}\s{{0,2}}(?:[+&/,;]|and|und)\s{{0,2}}"
    rf"(?:(?P<two>\d{{1,5}}){_EACH})?{_HAND}"
)
def hands(match: re.Match[str], _context: Context) -> Statement | None:
    """``2 LH + 2 RH``: pieces of both hands, of which a drawing shows one."""
    one = whole(match["one"])
    two = whole(match["two"] or match["one"])
    if one is None or two is None or one + two > _MOST_PIECES:
        return None
    return clear(
        Asks.QUANTITY,
        match[0],
        f"{one + two} wanted, {one} and {two} of either hand",
        {"pieces": one + two},
        apply=option("quantity", str(one + two)),
        remark="one hand is the mirror image of the other: ask which the drawing shows, and plan "
        "each by itself where they are not alike",
    )


@rule(
    rf"{_LABEL}?"
    r"(?<![\w.,/-])(?P<sets>\d{1,5})\s{0,2}(?:x\s)?"
    r"(?:sets?|pairs?|kits?|sätze?|satz|paare?)\b"
    r"(?:\s?(?:of|à|zu|je|x|@)\s?(?P<each>\d{1,5})(?![\w/]|[.,]\d))?"
    r"(?:\s(?:req'?d?\b\.?|required\b|off\b))?"
)
def sets(match: re.Match[str], _context: Context) -> Statement | None:
    """``2 SETS OF 6``: pieces, or sets of which the drawing may show one."""
    number, each = whole(match["sets"]), whole(match["each"] or "")
    if number is None or number * (each or 1) > _MOST_PIECES:
        return None
    if each is None and re.search(r"pair|paar", match[0], re.IGNORECASE):
        each = 2
    if each is None:
        return bare(Asks.QUANTITY, match[0], "ask how many pieces make a set")
    counts = (number * each, number)
    return Statement(
        asks=Asks.QUANTITY,
        text=match[0],
        readings=(
            Reading(
                words=f"{counts[0]} wanted, {number} times {each}",
                data={"pieces": counts[0]},
                option=option("quantity", str(counts[0])),
            ),
            Reading(
                words=f"{number} wanted, where the drawing shows a whole set",
                data={"pieces": number},
                option=option("quantity", str(number)),
            ),
        ),
        remark="ask whether the drawing shows one piece of the set or all of it",
    )


@rule(
    rf"(?:{_LABEL}(?P<open>\()?(?P<after>\d{{1,6}})(?(open)\)|(?![\w/]|[.,]\d|\s?[x×-]))"
    r"(?:\s{0,2}(?:req'?d?\b\.?|required\b|off\b|pcs\b\.?|pieces?\b|stk\b\.?|stück\b"
    r"|ea\b\.?|each\b))?"
    rf"|(?<!\bnot )(?<![\w.,/(-])(?:(?:{'|'.join(_NAMED)})\s?)?\((?P<braced>\d{{1,6}})\)\s{{0,2}}"
    r"(?:req'?d?\b\.?|required\b|off\b|pcs\b\.?|pieces?\b)"
    rf"|(?<!\bnot )\b(?P<named>{'|'.join(_NAMED)})\s(?:req'?d?\b\.?|required\b|off\b)"
    r"|(?<!\bnot )(?<![\w.,/-])(?P<before>\d{1,6})\s{0,2}(?:[x×] )?"
    r"(?:req'?d?\b\.?|required\b|off\b|pcs\b\.?|pieces?\b|"
    r"stk\b\.?|stück\b|ea\b\.?|each\b|thus\b))"
)
def quantity(match: re.Match[str], _context: Context) -> Statement | None:
    """``4 REQ'D``, ``QTY: (4)``, ``ONE REQUIRED``: how many are wanted."""
    if match["named"]:
        count: int | None = _NAMED.index(match["named"].lower()) + 1
    else:
        count = whole(match["after"] or match["braced"] or match["before"])
    if count is None or count > _MOST_PIECES:
        return None
    return clear(
        Asks.QUANTITY,
        match[0],
        f"{count} wanted",
        {"pieces": count},
        apply=option("quantity", str(count)),
    )


COUNTS: Final[tuple[Rule, ...]] = (hands, sets, quantity)
