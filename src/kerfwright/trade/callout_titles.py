"""Title-block matters and general notes: unit, scale, date, revision, names, other work."""

from __future__ import annotations

import re
from datetime import date
from typing import Final

from kerfwright.trade.callout_rules import (
    Context,
    Rule,
    bare,
    clear,
    plain_number,
    rule,
)
from kerfwright.trade.part import LengthUnit
from kerfwright.trade.statements import Asks, Reading, Statement, option

_NEXT_FIELD: Final = (
    r"(?=\s{1,9}(?:"
    r"(?:part|dwg|drg|drawing|item|job|p\.?o\.?|order)\.?[ _]?(?:no\b|num(?:ber)?\b|nr\b|#)"
    r"|p/n[ :=]{1,3}[\w./-]{0,20}\d"
    r"|rev(?:ision)?\b\.?(?: no\.?)?[ :=#]{1,3}[a-z0-9]{1,3}(?![\w'-])"
    r"|(?:date|drawn|due|scale|sheet|qty|thk)\b\.?[ :=]{1,3}\d"
    r"|(?:cust(?:omer)?|client|title|name|mat(?:eria)?l|finish|tol(?:erance)?|date|drawn(?: by)?"
    r"|checked(?: by)?|chk'?d|approved(?: by)?|due(?: date)?|scale|sheet|qty|p/n|pn)\.?\s?[:=]"
    r")|\s{0,9}$|\s{0,9}¦)"
)
"""Where a value of a title block ends: at the next field that is known, or with the text."""
_MILLIMETRES: Final = re.compile(r"mm|milli|metric", re.IGNORECASE)
_MONTHS: Final = (
    "jan",
    "feb",
    "mar",
    "apr",
    "may",
    "jun",
    "jul",
    "aug",
    "sep",
    "oct",
    "nov",
    "dec",
)
_MONTH: Final = "|".join(_MONTHS)
_CENTURY: Final = 2000
"""A year of two digits is of this century: no drawing file is older than the format."""


@rule(
    r"(?:(?:all )?(?:dim(?:ension)?s?|sizes|measure(?:ment)?s|ma(?:ß|ss)e)\.? (?:are )?(?:given )?"
    r"(?:in|shown in)|\bunits?\b[ :=]{1,3}|(?:^|\b)alle ma(?:ß|ss)e in)\s{0,2}"
    r"(?P<unit>mm\b|millimet(?:er|re)s?|metric|inch(?:es)?|in\b\.?|imperial)"
    r"|^\s*(?P<alone>metric|inch(?:es)?|millimet(?:er|re)s?)\s*$"
)
def unit(match: re.Match[str], context: Context) -> Statement:
    """``ALL DIMENSIONS IN MM``: the unit of the numbers, which may contradict the file's."""
    said = unit_said(match[0]) or context.unit
    agrees = said is context.unit
    name = "millimetres" if said is LengthUnit.MILLIMETRE else "inches"
    return clear(
        Asks.UNIT,
        match[0],
        f"numbers are in {name}",
        {"unit": said.value},
        apply="" if agrees else option("units", said.value),
        remark=""
        if agrees
        else f"but lines were read in {'inches' if context.is_inch else 'millimetres'}: compare a "
        "dimension before cutting",
    )


def unit_said(text: str) -> LengthUnit | None:
    """Return the unit that a text says the numbers are in; None where it says none.

    >>> unit_said("ALL DIMENSIONS IN INCHES")
    <LengthUnit.INCH: 'in'>
    """
    match = unit.pattern.search(text)
    if match is None:
        return None
    is_metric = bool(_MILLIMETRES.match(match["unit"] or match["alone"]))
    return LengthUnit.MILLIMETRE if is_metric else LengthUnit.INCH


@rule(
    r"\b(?:scale|maßstab|massstab|échelle)\b[ :=]{0,3}(?:"
    r"(?P<one>\d{1,4}(?:[.,]\d{1,3})?)\s?[:/=]\s?(?P<two>\d{1,4}(?:[.,]\d{1,3})?)"
    r"|(?P<word>n\.?t\.?s\.?\b|none\b|not to scale|full\b(?: size)?|half\b))"
    r"|^\s*(?P<one2>\d{1,3})\s?:\s?(?P<two2>\d{1,3})\s*$"
)
def scale(match: re.Match[str], _context: Context) -> Statement | None:
    """``SCALE 10:1``: how the sheet shows the part."""
    word = (match["word"] or "").lower()
    if word.startswith("n"):
        return bare(Asks.SCALE, match[0], "not to scale: compare a dimension with what was drawn")
    if word:
        one, two = (1.0, 1.0) if word.startswith("full") else (1.0, 2.0)
    else:
        first = plain_number(match["one"] or match["one2"])
        second = plain_number(match["two"] or match["two2"])
        if not first or not second:
            return None
        one, two = first, second
    remark = "" if one == two else (
        "lines are cut as long as they are drawn: if the part was drawn at this scale, and not "
        "only printed so, it would come out at the wrong size; compare a dimension"
    )  # fmt: skip
    return clear(
        Asks.SCALE, match[0], f"{one:g} drawn for {two:g} of the part",
        {"drawn": one, "part": two}, remark=remark,
    )  # fmt: skip


@rule(r"\bdo not scale(?: (?:this |the )?(?:drawing|dwg|print))?\b")
def do_not_scale(match: re.Match[str], _context: Context) -> Statement:
    """``DO NOT SCALE DRAWING``: written dimensions outrank lines; the wire follows lines."""
    return bare(
        Asks.DEFAULTS,
        match[0],
        "written dimensions outrank the lines; the wire follows the lines, so compare them",
    )


_DAY: Final = (
    r"(?<![\w.,:/-])(?:"
    r"(?P<y>(?:19|20)\d\d)[-./](?P<m>\d{1,2})[-./](?P<d>\d{1,2})"
    r"|(?P<a>\d{1,2})(?P<mark>[-./])(?P<b>\d{1,2})(?P=mark)(?P<y2>(?:19|20)?\d\d)"
    rf"|(?P<d3>\d{{1,2}})[ .-]{{0,2}}(?P<m3>{_MONTH})[a-z]{{0,7}}[ .,-]{{0,2}}"
    rf"(?P<y3>(?:19|20)?\d\d)"
    rf"|(?P<m4>{_MONTH})[a-z]{{0,7}}[ .-]{{0,2}}(?P<d4>\d{{1,2}})[ ,]{{1,2}}(?P<y4>(?:19|20)\d\d)"
    r")(?![\w./-]\d)"
)
_EITHER_WAY: Final = "day and month may be either way round"


@rule(rf"(?:\bdate[ :=]{{1,3}}|\bdrawn[ :=]{{1,3}}|\bdatum[ :=]{{1,3}})?{_DAY}")
def day(match: re.Match[str], _context: Context) -> Statement | None:
    """``2024-03-12``, ``3/12/2024``: a date, which day and month may share."""
    return _dated(match, Asks.DATE)


@rule(
    r"\b(?:due(?: date| on| by)?|deliver(?:y|ed)?(?: date| by| on)?|(?:wanted|needed|required) by"
    rf"|liefertermin|lieferdatum|termin)\b\.?\s?[:=]?\s{{0,3}}{_DAY}"
)
def due(match: re.Match[str], _context: Context) -> Statement | None:
    """``DUE: 12/15/26``: the day by which the parts are wanted."""
    return _dated(match, Asks.DUE)


def _dated(match: re.Match[str], asks: Asks) -> Statement | None:
    days = _days(match)
    if not days:
        return None
    is_due = asks is Asks.DUE
    return Statement(
        asks=asks,
        text=match[0],
        readings=tuple(
            Reading(words=d, data={"date": d}, option=option("due", d) if is_due else "")
            for d in days
        ),
        remark=_EITHER_WAY if len(days) > 1 else "",
    )


def _days(match: re.Match[str]) -> list[str]:
    """Return the days that a date may be, as the calendar has them."""
    if match["y"]:
        found = [_date(match["y"], match["m"], match["d"])]
    elif match["y3"]:
        found = [_date(match["y3"], _month(match["m3"]), match["d3"])]
    elif match["y4"]:
        found = [_date(match["y4"], _month(match["m4"]), match["d4"])]
    else:
        year, a, b = match["y2"], match["a"], match["b"]
        day_first, month_first = _date(year, b, a), _date(year, a, b)
        # Points part days from months in the order of Europe, slashes in either.
        found = [day_first] if match["mark"] == "." else [month_first, day_first]
    return list(dict.fromkeys(d for d in found if d is not None))


@rule(
    r"\b(?:cust(?:omer)?|client|kunde|auftraggeber)\b\.?(?: name)?\s?[:=]\s{0,3}"
    rf"(?P<name>[^\n¦]{{1,80}}?)(?:(?=\s{{1,9}}[a-z][\w.]{{0,14}}\s?[:=])|{_NEXT_FIELD})"
)
def customer(match: re.Match[str], _context: Context) -> Statement | None:
    """``CUST: RIDGE OBSERVATORY``: the name of who asks."""
    name = match["name"].strip(" ,-_")
    if not name:
        return None
    return clear(Asks.CUSTOMER, match[0], name, {"customer": name}, apply=option("customer", name))


def _month(name: str) -> str:
    return str(_MONTHS.index(name.lower()[:3]) + 1)


def _date(year: str, month: str, day_of_month: str) -> str | None:
    full = int(year) if len(year) == 4 else _CENTURY + int(year)
    try:
        return date(full, int(month), int(day_of_month)).isoformat()
    except ValueError:
        return None


@rule(r"\brev(?:ision)?\b\.?(?: no\.?)?[ :=#]{0,3}(?P<rev>[a-z0-9]{1,3})\b")
def revision(match: re.Match[str], _context: Context) -> Statement:
    """``REV B``: the state of the drawing."""
    rev = match["rev"].upper()
    return clear(
        Asks.REVISION,
        match[0],
        f"revision {rev}",
        {"revision": rev},
        apply=option("revision", rev),
    )


@rule(
    r"\b(?:(?:part|dwg|drg|drawing|item|art(?:icle)?|cat)\.?[ _]?"
    r"(?:no\b|num(?:ber)?\b|nr\b|#|id\b)\.?"
    r"|p/n|pn(?=\s?[:=])|zeichnungs-?n(?:umme)?r\.?)[ :=#]{0,3}(?P<number>[\w./-]{1,40})"
)
def part_number(match: re.Match[str], _context: Context) -> Statement:
    """``DWG NO. 4711-3``: the number of part or drawing."""
    said = match["number"].strip(".-/")
    return clear(Asks.PART_NUMBER, match[0], said, {"number": said})


@rule(
    r"\b(?:title|part name|partname|description|benennung|name)[ _]{0,2}\d{0,2}\s?[:=]\s{0,3}"
    rf"(?P<name>(?:(?!{_NEXT_FIELD})[^\n¦]){{1,120}})"
)
def part_name(match: re.Match[str], _context: Context) -> Statement:
    """``TITLE: COVER PLATE``: what the part is called."""
    said = match["name"].strip()
    return clear(Asks.PART_NAME, match[0], said, {"name": said})


@rule(
    r"\b(?:drawn by|drawn|checked(?: by)?|chk'?d|approved(?: by)?|appr?'?d|engineer|designer|"
    r"author|company|project|weight|mass|sheet|size|format|file(?:name)?|cage code)"
    rf"\s?[:=]\s{{0,3}}(?P<value>(?:(?!{_NEXT_FIELD})[^\n¦]){{1,80}})"
    r"|\bsheet \d{1,3} (?:of|/) \d{1,3}\b|\b(?:A[0-4]|[A-E])[ -]?(?:size|drawing|sheet|format)\b"
)
def other_field(match: re.Match[str], _context: Context) -> Statement:
    """``DRAWN BY: K. W.``: a field that asks nothing of the cut."""
    return bare(Asks.TITLE_BLOCK, match[0])


@rule(
    r"\b(?:unless (?:otherwise|oth\.?) ?(?:specified|noted|stated|spec\.?)|"
    r"u\.?\s?o\.?\s?[sn]\.?(?=[\s:]|$)"
    r"|where not otherwise (?:specified|stated)|sofern nicht anders angegeben)"
)
def defaults(match: re.Match[str], _context: Context) -> Statement:
    """``UNLESS OTHERWISE SPECIFIED``: what stands beside it holds by default."""
    return bare(
        Asks.DEFAULTS, match[0], "what stands beside it holds where nothing else is written"
    )


@rule(
    r"\b(?:deburr(?:ed)?(?: and)?|(?:break|remove) (?:all )?(?:sharp )?(?:edges|corners|burrs)|"
    r"(?:heat treat(?:ed|ment)?|harden(?:ed)?|temper(?:ed)?|anneal(?:ed)?|"
    r"stress[ -]reliev(?:ed?|ing)|nitrid(?:ed?|ing)|"
    r"anodi[sz]ed?|black oxide|(?:nickel|chrome|zinc|gold)(?: plated?)|"
    r"passivated?|coat(?:ed)?|paint(?:ed)?)\b|"
    r"(?:surface |jig )?(?:grind|ground)(?: (?:all over|both (?:sides|faces)))?\b|"
    r"polish(?:ed)?\b|lap(?:ped)?\b|"
    r"(?:stamp|engrave|etch|mark|laser mark)(?:ed)?\b(?: with)?|"
    r"(?:certificate|cert|inspection report|first article|ppap|fai)\b|"
    r"(?:wire[ -]?edm|wire[ -]?cut|wire erod(?:ed?|ing)|edm)"
    r"(?: fabrication| all over| finish| only)?\b)"
)
def other_work(match: re.Match[str], _context: Context) -> Statement:
    """``DEBURR``, ``GRIND``, ``CERTIFICATE``: work that the price of the cut does not hold."""
    if "edm" in match[0].lower() or "wire" in match[0].lower():
        return bare(Asks.OTHER_WORK, match[0], "names the process")
    return bare(Asks.OTHER_WORK, match[0], "besides the cut; the price does not hold it")


TITLES_FIRST: Final[tuple[Rule, ...]] = (
    part_name,
    customer,
    due,
    other_field,
    part_number,
    unit,
    scale,
    day,
    revision,
)
"""Read first: their values may look like anything."""
TITLES_LAST: Final[tuple[Rule, ...]] = (do_not_scale, defaults, other_work)
