"""Finish, recast layer, hardness, material, quantity and height in the words of a drawing."""

from __future__ import annotations

import re
from typing import Final

from kerfwright.foundation.errors import InputError, KerfwrightError
from kerfwright.foundation.units import UM_PER_MM, both_roughness
from kerfwright.trade.callout_counts import COUNTS
from kerfwright.trade.callout_rules import (
    FRACTION,
    LIMITED,
    NUMBER,
    STOP,
    UNIT,
    Context,
    Rule,
    bare,
    clear,
    length_of,
    length_option,
    plain_number,
    rule,
    size_words,
    small_words,
)
from kerfwright.trade.material import Material
from kerfwright.trade.roughness import Finish
from kerfwright.trade.roughness import finish as read_finish
from kerfwright.trade.statements import Asks, Reading, Statement, option

_COARSEST_UM: Final = 12.5
"""Ra above this is that of a casting or a flame cut: nobody asks it of a wire-cut wall."""
_SCALES: Final = r"(?:hrc|hrb|hra|rc|rb|hv ?\d{0,2}|hbw?|bhn|shore ?[ad])"
_PARAMETER: Final = r"(?:ra|rz|rq|rms|aa|cla)"
_ROUGH_UNIT: Final = r"(?:µm|um|µin|µ\"|u\"|uin|µ|microns?|micro ?inch(?:es)?)"


@rule(
    rf"(?:(?:surface )?finish(?: on| of)?[ :=]{{0,3}})?(?:"
    rf"(?P<before>\b{_PARAMETER}){STOP}[ :=]{{0,3}}(?:max{STOP}|<=?|≤)?\s{{0,2}}(?P<value>{NUMBER})"
    rf"\s{{0,2}}(?P<unit>{_ROUGH_UNIT}(?!\w))?(?:\s{{0,2}}max\b\.?)?"
    rf"|(?<![\w.,±+/-])(?<!± )(?P<value2>{NUMBER})\s{{0,2}}(?P<unit2>{_ROUGH_UNIT}(?!\w))?\s{{0,2}}"
    rf"(?P<after>{_PARAMETER}\b)(?:\s{{0,2}}max\b\.?)?"
    rf"|[√▽∇]\s{{0,2}}(?P<value3>{NUMBER})\s{{0,2}}(?P<unit3>{_ROUGH_UNIT}(?!\w))?"
    rf"|(?<![\w.,])(?P<value4>{NUMBER})\s{{0,2}}(?P<unit4>{_ROUGH_UNIT}(?!\w))?\s{{0,2}}√"
    rf"|(?<![\w.,])(?P<value5>{NUMBER})\s{{0,2}}"
    rf"(?P<unit5>µin|µ\"|u\"|uin|micro ?inch(?:es)?)(?!\w))"
)
def roughness(match: re.Match[str], context: Context) -> Statement | None:
    """``Ra 16``, ``16 µin Ra``, ``√0.8``, ``125 RMS``: a roughness with its parameter."""
    found = next(
        (k for k in ("value", "value2", "value3", "value4", "value5") if match[k]), "value"
    )
    kind = (match["before"] or match["after"] or "Ra").upper().replace("RA", "Ra")
    kind = kind.replace("RZ", "Rz").replace("RQ", "Rq")
    said = (match["unit" + found.removeprefix("value")] or "").lower()
    unit = "" if not said else "uin" if "in" in said or '"' in said else "um"
    return _finish(match[0], kind, match[found], unit, context)


@rule(
    rf"(?:surface )?finish[ :=]{{0,3}}(?P<value>{NUMBER})(?=\s{{0,2}}(?:$|[.,;)]|max|all|or|mach))"
    rf"|(?<![\w.,±+/-])(?P<before>{NUMBER})\s{{1,2}}(?:surface )?finish\b"
    r"(?=\s{0,2}(?:$|[.,;)]|max|all\b|or\b|u\.?o\.?s|unless|on\b|both|typ))"
)
def finish_of_a_number(match: re.Match[str], context: Context) -> Statement | None:
    """``FINISH 32``, ``63 FINISH``: a roughness without its parameter, which is Ra."""
    return _finish(match[0], "Ra", match["value"] or match["before"], "", context)


@rule(r"\bvdi\s{0,2}(?:3400\s{0,2})?[ -]?(?:class|ref\.?|k)?\s{0,2}(?P<value>\d{1,2})(?!\d)")
def vdi(match: re.Match[str], _context: Context) -> Statement:
    """``VDI 21``: a class of spark-eroded surfaces."""
    return _graded(match[0], f"VDI {match['value']}")


@rule(
    r"(?:(?:surface )?finish[ :=]{1,3}|[√▽∇]\s{0,2}|^\s*)N\s?(?P<value>1[0-2]|[1-9])"
    r"(?=\s*$|\s{0,2}[√,;.)]|\sfinish)"
)
def grade(match: re.Match[str], _context: Context) -> Statement:
    """``N5``: a roughness grade."""
    return _graded(match[0], f"N{match['value']}")


def _graded(text: str, said: str) -> Statement:
    try:
        found = read_finish(said)
    except KerfwrightError as error:
        return bare(Asks.FINISH, text, error.message)
    return Statement(asks=Asks.FINISH, text=text, readings=(_finish_reading(found, said),))


def _finish(text: str, kind: str, value: str, unit: str, context: Context) -> Statement | None:
    said = f"{kind} {value} {unit}".strip()
    try:
        found = read_finish(said)
    except InputError as error:
        if error.code != "finish-unit-missing":
            return bare(Asks.FINISH, text, error.message)
    except KerfwrightError as error:
        return bare(Asks.FINISH, text, error.message)
    else:
        return Statement(
            asks=Asks.FINISH, text=text, readings=(_finish_reading(found, said),), remark=found.note
        )
    micro_inch = _finish_reading(read_finish(f"{said} uin"), f"{said} uin")
    if context.is_inch:
        remark = "without a unit; µin, since the drawing is in inches"
        return Statement(asks=Asks.FINISH, text=text, readings=(micro_inch,), remark=remark)
    found = read_finish(f"{said} um")
    micron = _finish_reading(found, f"{said} um")
    if found.ra_um > _COARSEST_UM:
        remark = (
            f"without a unit; {value} µm is coarser than any wire cut, so µin is likelier, though "
            "the drawing is in millimetres: ask"
        )
        return Statement(asks=Asks.FINISH, text=text, readings=(micro_inch, micron), remark=remark)
    remark = "without a unit, and both are asked of wire-cut walls: ask"
    return Statement(asks=Asks.FINISH, text=text, readings=(micron, micro_inch), remark=remark)


def _finish_reading(found: Finish, said: str) -> Reading:
    return Reading(
        words=both_roughness(found.ra_um),
        data={"ra_um": found.ra_um},
        option=option("finish", "".join(said.replace("µ", "u").split())),
    )


@rule(
    r"(?:no |max(?:imum)?\.? |allowable |permissible )?"
    r"(?:re-?cast|white[ -]layer|re-?melt)(?: layer| depth| thickness){0,2}"
    r"(?: not to exceed| not above| no more than| permitted| allowed| thicker than| deeper than"
    rf"| greater than| exceeding| above| over| max(?:imum)?{STOP}| [<>≤]=?|[ :=<>≤]){{0,3}}"
    rf"\s{{0,2}}(?P<value>{NUMBER})\s{{0,2}}(?P<unit>{UNIT}|µ)?(?:\s{{0,2}}max\b\.?)?"
)
def recast(match: re.Match[str], context: Context) -> Statement | None:
    """``NO RECAST ABOVE 5 UM``: the deepest recast layer allowed."""
    unit = "µm" if match["unit"] == "µ" else match["unit"]
    try:
        depth_um = round(length_of(match["value"], unit, context) * UM_PER_MM, 6)
    except KerfwrightError:
        return None
    if not depth_um:
        return bare(Asks.RECAST, match[0], _NO_RECAST)
    return clear(
        Asks.RECAST,
        match[0],
        f"recast layer at most {small_words(depth_um, context)}",
        {"recast_um": depth_um},
        apply=option("recast", f"{depth_um:g}um"),
        remark="" if match["unit"] else f"without a unit; {context.unit.value}, as the drawing",
    )


_NO_RECAST: Final = (
    "sparks always leave a recast layer; one thin enough is a matter of skims, none at all of "
    "work after the cut: ask how thin"
)


@rule(
    r"\b(?:no (?:re-?cast|white[ -]layer|re-?melt)(?: layer)?(?: is)?(?: allowed| permitted)?"
    r"|(?:re-?cast|white[ -]layer|re-?melt)(?: layer)?"
    r"(?:[ :=-]{1,3}(?:none|free)| (?:is )?not (?:allowed|permitted)| to be removed))\b"
)
def no_recast(match: re.Match[str], _context: Context) -> Statement:
    """``NO RECAST``: none at all."""
    return bare(Asks.RECAST, match[0], _NO_RECAST)


@rule(
    rf"(?:(?:hardness|harden(?:ed)?(?: to)?|heat treat(?:ed)?(?: to)?|h\.?t\.?)[ :=]{{1,3}})?(?:"
    rf"(?<![\w.,])(?P<low>{NUMBER})\s{{0,2}}(?:(?:-|/|to)\s{{0,2}}(?P<high>{NUMBER})"
    rf"|±\s?(?P<half>{NUMBER})|\+\s?(?P<plus>{NUMBER}))?\s{{0,2}}(?P<scale>{_SCALES})\b"
    rf"|\b(?P<scale2>{_SCALES}|rockwell ?[\"']?[abc][\"']?)[ .:=]{{0,3}}(?P<low2>{NUMBER})\s{{0,2}}"
    rf"(?:(?:-|/|to)\s{{0,2}}(?P<high2>{NUMBER})|±\s?(?P<half2>{NUMBER})|\+\s?(?P<plus2>{NUMBER}))?)"
)
def hardness(match: re.Match[str], _context: Context) -> Statement | None:
    """``58-60 HRC``, ``HRC 60±2``: a hardness."""
    low, high, half, plus = (
        plain_number(match[k] or match[k + "2"] or "0") for k in ("low", "high", "half", "plus")
    )
    if not low:
        return None
    first = low - (half or 0)
    last = high or low + (half or 0) + (plus or 0)
    scale = re.sub(r"[^A-Z0-9]", "", (match["scale"] or match["scale2"]).upper())
    scale = {"RC": "HRC", "RB": "HRB", "ROCKWELLC": "HRC", "ROCKWELLB": "HRB"}.get(scale, scale)
    words = f"{first:g} {scale}" if first == last else f"{first:g} to {last:g} {scale}"
    return clear(
        Asks.HARDNESS,
        match[0],
        words,
        {"low": first, "high": last, "scale": scale},
        remark="hardness does not change the rate; ask whether it comes before the cut",
    )


@rule(
    rf"(?:\b(?:thk|thick(?:ness)?|thkns|height|dicke|stärke|höhe)\b{STOP}[ :=]{{0,3}}"
    r"|(?<!\w)t\s?=\s?)"
    rf"(?P<value>{FRACTION}|{NUMBER})\s{{0,2}}(?P<unit>{UNIT})?(?P<zone>\s{{0,3}}{LIMITED})?"
    rf"|(?<![\w.,/+±-])(?P<value2>{FRACTION}|{NUMBER})\s{{0,2}}(?P<unit2>{UNIT})?"
    rf"(?P<zone2>\s{{0,3}}{LIMITED})?\s{{0,2}}(?:thk|thick|dick)\b\.?"
    rf"(?P<zone3>\s{{0,3}}{LIMITED})?"
)
def height(match: re.Match[str], context: Context) -> Statement | None:
    """``1.00 THK``, ``T=25 ±0.1``: how thick the work is; its limits are none of a wall."""
    value, unit = match["value"] or match["value2"], match["unit"] or match["unit2"]
    try:
        height_mm = length_of(value, unit, context)
    except KerfwrightError:
        return None
    if not height_mm:
        return None
    return clear(
        Asks.HEIGHT,
        match[0],
        f"{size_words(height_mm, context)} thick",
        {"height_mm": height_mm},
        apply=length_option("height", height_mm, context),
        remark="; ".join(
            words
            for words in (
                "" if unit else f"without a unit; {context.unit.value}, as the drawing",
                _OF_THICKNESS if match["zone"] or match["zone2"] or match["zone3"] else "",
            )
            if words
        ),
    )


_OF_THICKNESS: Final = (
    "the limits are those of the thickness, which the wire does not cut: they ask nothing of a wall"
)


@rule(
    r"(?P<other>\b(?:alternat(?:e|ive)|alt\b\.?|optional|opt\b\.?|substitute|ersatz\w{0,6})"
    r"[ -]{0,2})?"
    r"\b(?:material|matl|mat'l|mat|werkstoff|wst|matière)\b\.?\s?(?:[:=]|\bis\b)?\s{0,3}(?P<name>[^\n¦;]{1,80})"
)
def named_material(match: re.Match[str], context: Context) -> Statement | None:
    """``MATERIAL: D2``: what it is made of, known here or not; an alternative is only named."""
    name = match["name"].strip(" .:=-,")
    if not name:
        return None
    found = material_readings(name, context)
    if not found:
        remark = "not in the table of materials: name one that is, or add it"
        return Statement(asks=Asks.MATERIAL, text=match[0], remark=remark)
    if match["other"]:
        named = tuple(Reading(words=f"{one.words}, as an alternative") for one in found)
        remark = "named as an alternative: ask whether and when it may be taken"
        return Statement(asks=Asks.MATERIAL, text=match[0], readings=named, remark=remark)
    return Statement(
        asks=Asks.MATERIAL, text=match[0], readings=found, remark=grade_remark(name, context)
    )


def _choices(name: str) -> list[str]:
    return [one for one in _OR.split(name) if one.strip()]


_OR: Final = re.compile(r"\s+(?:or|oder|ou)\s+|\s?/\s?", re.IGNORECASE)
_ANYWHERE: Final = """
a as at be by co do for from if in is it its no not of off on or per so the to up us we
all bonded cold controlled cube cut drawn edm electrode en expansion grade hand hard high hot
isostatic long made mat metal none part plate polycrystalline pure side speed stock surface
thk tool wire work yellow
"""
_COMMON: Final = frozenset(_ANYWHERE.split())
"""Words of any drawing that are also in the names of materials, or in their abbreviations."""
_SHORTEST_FAMILY: Final = 3
"""Letters of the shortest word that names a family by itself: AS is in AlMgSi as it is in words."""


def is_choice(name: str, context: Context) -> bool:
    """Tell whether several materials are named of which one may be taken: ``A2 OR D2``."""
    return sum(bool(material_readings(one, context)) for one in _choices(name)) > 1


def grade_remark(name: str, context: Context) -> str:
    """Return what to ask where a name says a family only, or several of its materials."""
    if is_choice(name, context):
        return "several are named: ask which it is to be, or whether the shop may choose"
    named = any(len(context.catalogue.materials_named(run)) == 1 for run in _runs(name))
    return "" if named else "the grade is not said: ask"


def material_readings(name: str, context: Context, *, is_named: bool = True) -> tuple[Reading, ...]:
    """Return the materials a name may mean; none where it is no name, or of nearly everything.

    The longest run of words that names something counts: ``"D2 TOOL STEEL ANNEALED"``; of
    ``"A2 OR D2"`` both.  Words in common use name none, and where nothing says that a material
    is meant (`is_named`), nor do abbreviations of a family.
    """
    if len(choices := _choices(name)) > 1:
        each = [material_readings(one, context, is_named=is_named) for one in choices]
        if sum(map(bool, each)) > 1:
            return tuple({r.words: r for found in each for r in found}.values())
    for run in _runs(name):
        named = found = context.catalogue.materials_named(run)
        words = run.casefold().split()
        if _COMMON.issuperset(words) and not (named and len(words) > 1):
            continue
        if not found and run.replace(" ", "").isalpha():
            if not is_named and min(map(len, words)) < _SHORTEST_FAMILY:
                continue
            # Words of a family; numbers could be anything's.
            found = context.catalogue.materials_called(run)
        if found and len(found) < len(context.catalogue.materials) / 2:
            said = run if len(named) == 1 and _NAME.fullmatch(run) else None
            return tuple(_material_reading(m, said) for m in found)
    return ()


def _runs(name: str) -> list[str]:
    """Return the first words of a name, the longest run first, without a count before them."""
    words = name.split()
    while len(words) > 1 and words[0].isdigit() and len(words[0]) < _SHORTEST_GRADE:
        words = words[1:]
    words = words[:_MOST_WORDS]
    runs = [" ".join(words[:length]) for length in range(len(words), 0, -1)]
    return [run for run in runs if sum(c.isalnum() for c in run) >= _SHORTEST_NAME]


_MOST_WORDS: Final = 6
_SHORTEST_GRADE: Final = 3
"""Digits of the shortest grade that is a number alone: 304; shorter ones count pieces."""
_SHORTEST_NAME: Final = 2
"""Letters and digits of the shortest name of a material: D2."""


_NAME: Final = re.compile(r"[A-Za-z0-9]+(?:[ .-][A-Za-z0-9]+)*")


def _material_reading(material: Material, said: str | None) -> Reading:
    return Reading(
        words=material.name,
        data={"material": material.id},
        option=option("material", said or material.name),
    )


@rule(
    r"^\s*(?P<grade>(?:aisi |sae )?[1-9]\d{3}[a-z]{0,2}\d{0,2})\s?(?:stl|steel)\b\.?"
    r"(?P<more>[^¦;,]{0,40})$"
)
def steel_by_number(match: re.Match[str], context: Context) -> Statement:
    """``4340 STL``: a steel by its number, known here or not."""
    found = material_readings(f"{match['grade']} steel{match['more']}", context)
    named = tuple(r for r in found if r.option)
    if len(named) != 1:
        remark = "not in the table of materials: name one that is, or add it"
        return Statement(asks=Asks.MATERIAL, text=match[0], remark=remark)
    return Statement(asks=Asks.MATERIAL, text=match[0], readings=named)


DEMANDS: Final[tuple[Rule, ...]] = (
    hardness,
    recast,
    no_recast,
    roughness,
    vdi,
    grade,
    finish_of_a_number,
    *COUNTS,
    height,
)
MATERIAL: Final[tuple[Rule, ...]] = (named_material, steel_by_number)
"""Read after the others: what is left behind the word is the name."""
