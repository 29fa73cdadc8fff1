"""Sizes with their limits, fits and general tolerances in the words of a drawing."""

from __future__ import annotations

import re
from typing import Final

from kerfwright.foundation.errors import KerfwrightError
from kerfwright.foundation.units import MM_PER_INCH, UM_PER_MM, ToleranceText
from kerfwright.trade.callout_features import (
    COUNTED,
    IN_INCHES,
    PLACES,
    count_of,
    fit_reading,
    fits_or_none,
    given_remark,
)
from kerfwright.trade.callout_rules import (
    EXACT_CASE,
    FRACTION,
    LIMITED,
    LIMITS_WITHIN,
    NUMBER,
    OTHER_IS_NOUGHT,
    PLUS_MINUS,
    ROUND,
    STOP,
    UNIT,
    Context,
    Rule,
    bare,
    clear,
    fit_remark,
    is_one_limit,
    is_small_unit,
    length_of,
    of_wall,
    plain_number,
    rule,
    size_words,
    size_zone_words,
    tolerance_option,
    walls_remark,
    zone_behind,
    zone_data,
    zone_of,
    zone_words,
)
from kerfwright.trade.fits import Fit, read_fits
from kerfwright.trade.statements import Asks, Reading, Statement, option

_OF_SIZES: Final = (
    "it speaks of sizes, and a size has two walls, so each of them is asked half of it"
)
_OF_SIZE_OR_WALL: Final = (
    "it may speak of sizes, which have two walls each, or of the walls themselves: ask"
)


@rule(
    rf"(?:(?P<places>\.?x{{0,2}}\.x{{1,4}}|0\.0{{0,3}}x{{1,4}}|x\.x{{1,4}})"
    rf"|(?P<word>one|two|three|four|[1-4])[ -]?(?:place|plc?{STOP})(?:[ -]dec(?:imals?|{STOP}))?"
    rf"|(?P<fraction>fraction(?:al|s)?))\s{{0,3}}[:=]?\s{{0,3}}"
    rf"(?P<sign>{PLUS_MINUS})?\s{{0,2}}(?P<value>{FRACTION}|{NUMBER})\s{{0,2}}(?P<unit>{UNIT})?"
)
def by_decimals(match: re.Match[str], context: Context) -> Statement | None:
    """``X.XXX ±.005``, ``TOL: 3 PL .005``: a tolerance by the decimals of the dimension."""
    if not match["sign"] and not _OF_TOLERANCES.search(match.string):
        # Three places of a size, perhaps.
        return None
    zone = zone_of(f"±{match['value']}", match["unit"], context)
    if zone is None:
        return None
    if match["fraction"]:
        decimals, what = 0, "sizes written as fractions"
    else:
        word = (match["word"] or "").lower()
        words = {"one": 1, "two": 2, "three": 3, "four": 4}
        decimals = words.get(word) or (
            int(word) if word else len((match["places"] or "").rpartition(".")[2])
        )
        what = f"sizes with {decimals} decimals"
    return clear(
        Asks.GENERAL_TOLERANCE,
        match[0],
        f"{what}: {_size_words(zone, context)}",
        {"decimals": decimals, "half_um": zone.half_um, "wall_half_um": zone.half_um / 2},
        apply=tolerance_option(of_wall(zone), context, match["unit"]),
        remark=_OF_SIZES,
    )


def _size_words(zone: ToleranceText, context: Context) -> str:
    """Say a zone of sizes, and what it leaves each of their two walls."""
    return f"a size {zone_words(zone, context)}, so each wall {zone_words(of_wall(zone), context)}"


_OF_TOLERANCES: Final = re.compile(r"\btol(?:erances?|s)?\b", re.IGNORECASE)


@rule(
    rf"(?:angles?|angular)(?:[ :=]{{0,3}}mach(?:ined)?)?[ :=]{{0,3}}{PLUS_MINUS}\s{{0,2}}"
    rf"(?P<deg>{NUMBER})(?:\s?/\s?(?P<by>[1-9]\d?))?\s{{0,2}}(?P<mark>°|deg\.?|')?"
)
def angles(match: re.Match[str], _context: Context) -> Statement | None:
    """``ANGLES ±1°``, ``±1/2°``: the general tolerance of angles."""
    value = plain_number(match["deg"])
    if value is None:
        return None
    value /= int(match["by"] or 1)
    minutes = match["mark"] == "'"
    half_deg = value / 60 if minutes else value
    return clear(
        Asks.ANGLE_TOLERANCE,
        match[0],
        f"angles ±{half_deg:.4g}°",
        {"half_deg": half_deg},
        remark="kerfwright asks no tolerance of an angle",
    )


@rule(
    r"(?:\b(?:allgemein|freima(?:ß|ss))toleranz(?:en)?[ :]{0,3}(?:nach |gem\. )?)?"
    r"\b(?:din )?(?:en )?(?:iso|din) ?(?P<number>2768|8062|22081|7168|20457)"
    r"(?:-1)?(?:[ -]{1,3}(?P<class>[fmcv][hkl]?|fein|mittel|grob))?\b"
)
def standard_of_tolerances(match: re.Match[str], _context: Context) -> Statement:
    """``ISO 2768-mK``: general tolerances by a standard, which depend on the size."""
    return bare(
        Asks.GENERAL_TOLERANCE,
        match[0],
        "general tolerances by a standard, wider for larger sizes; no single value to apply",
    )


@rule(
    rf"(?<![\w.,±+/-])(?P<size>{NUMBER})\s{{0,2}}(?P<unit>mm)?\s{{0,2}}"
    r"(?P<symbol>(?:[C-HKMNPRSUc-hkmnprsu]|JS|js)\d{1,2})"
    r"(?:\s?/\s?(?P<second>(?:[c-hkmnprsu]|js)\d{1,2}))?(?![\w./-])"
    rf"(?P<given>\s{{0,2}}(?=[(\[{{+±0-]){LIMITED})?",
    exact_case=EXACT_CASE,
)
def fit_of_size(match: re.Match[str], context: Context) -> Statement | None:
    """``12 H7``: a size with its fit; ``1 H13`` may also be one piece of a tool steel."""
    if int(re.sub(r"\D", "", match["symbol"])) < _FINEST_DRAWN:
        return None
    symbols = match["symbol"] + (f"/{match['second']}" if match["second"] else "")
    in_inches = context.is_inch and not match["unit"]
    fits: tuple[Fit, ...] = ()
    readings: list[Reading] = []
    if in_inches:
        # 25 in is beyond the table, and 25 mm is not.
        fits = fits_or_none(f"{match['size']} in {symbols}", context)
        readings += [fit_reading(fit, is_inch=True) for fit in fits]
    try:
        metric = read_fits(f"{match['size']} {symbols}", table=context.fits)
    except KerfwrightError as error:
        if not fits:
            return bare(Asks.FIT, match[0], error.message)
        metric = ()
    readings += [fit_reading(fit, is_inch=False) for fit in metric]
    remark = fit_remark(max(abs(fit.size_shift_um) for fit in (*fits, *metric)))
    given = given_remark(match["given"], (*fits, *metric), context)
    remark = "; ".join(words for words in (IN_INCHES * in_inches, given, remark) if words)
    material = context.catalogue.materials_called(match["symbol"])
    if len(material) == 1 and not match["second"]:
        readings.append(
            Reading(
                words=f"material {material[0].name}",
                data={"material": material[0].id},
                option=option("material", material[0].name),
            )
        )
    return Statement(asks=Asks.FIT, text=match[0], readings=tuple(readings), remark=remark)


_FINEST_DRAWN: Final = 3
"""Finer grades are for gauges; D2 and A2 are steels."""


_SQUARE: Final = r"(?:sq|square)\b\.?(?!\s?(?:mm|cm|in|ft)\b)"


@rule(
    rf"{COUNTED}(?<![\w.,±+-])(?P<nominal>{NUMBER})\s{{0,2}}(?P<unit>{UNIT})?\s{{0,2}}"
    rf"(?:{_SQUARE}\s{{0,2}})?(?P<zone>{LIMITED})\s{{0,2}}(?P<unit2>{UNIT})?(?!\s?°)"
    rf"(?P<dia>\s{{0,2}}dia\b\.?)?{PLACES}"
)
def size_with_limits(match: re.Match[str], context: Context) -> Statement | None:
    """``12.50 ±0.01``, ``12.5 +0.02/-0``, ``20 +0,01``: a size with its limits."""
    inside = _UNIT_AT_END.search(match["zone"])
    unit, unit2 = match["unit"], match["unit2"] or (inside[1] if inside else None)
    try:
        nominal_mm = length_of(
            match["nominal"], unit or (None if is_small_unit(unit2) else unit2), context
        )
    except KerfwrightError:
        return None
    said = match["zone"] if inside is None else match["zone"][: inside.start()]
    zone = zone_behind(said, nominal_mm, unit2 or unit, context)
    if zone is None:
        return None
    return _limited(
        match,
        nominal_mm,
        zone,
        context,
        is_one=is_one_limit(said),
        is_round=match["dia"] is not None,
    )


_FINE: Final = r"\d{0,6}[.,]\d{2,6}"
"""A limit as it is usually written."""
_ANY: Final = r"\d{1,6}(?:[.,]\d{0,6})?"
"""The other one, of which zeros at the end may have been left away."""
_UNIT_AT_END: Final = re.compile(rf"({UNIT})[)\]}}\s]{{0,4}}$", re.IGNORECASE)


@rule(
    rf"{COUNTED}(?<![\w.,/±+-])(?:(?P<round>{ROUND}|dia(?:meter)?\b{STOP})\s{{0,2}})?"
    rf"(?P<high>{_FINE}|{_ANY}(?=\s?(?:{UNIT})?\s?/\s?{ROUND}?{_FINE}))\s?(?P<unit>{UNIT})?"
    rf"\s?(?:(?P<slash>/)|-|\bto\b)\s?{ROUND}?(?P<low>{_FINE}|(?(slash){_ANY}|{_FINE}))"
    rf"(?![\w/]|[.,]\d)\s{{0,2}}(?P<unit2>{UNIT})?"
    rf"(?P<dia>\s{{0,2}}dia\b\.?)?{PLACES}"
)
def two_sizes(match: re.Match[str], context: Context) -> Statement | None:
    """``12.018/12.000``, ``Ø20.000-20.013``, ``10,015/10``: the two limits of a size."""
    unit = match["unit2"] or match["unit"]
    try:
        # A comma before three digits is none of thousands here: no part is 10 m long.
        one, two = (length_of(match[k].replace(",", "."), unit, context) for k in ("high", "low"))
    except KerfwrightError:
        return None
    low, high = sorted((one, two))
    if not low < high or high - low > LIMITS_WITHIN * high:
        return None
    middle = (low + high) / 2
    half_um = round((high - low) / 2 * UM_PER_MM, 6)
    said = f"{match['high']}/{match['low']}{(unit or context.unit.value).strip()}"
    zone = ToleranceText(half_um=half_um, shift_um=0.0, said=said)
    return _limited(match, middle, zone, context, is_round=bool(match["round"] or match["dia"]))


def _limited(
    match: re.Match[str],
    nominal_mm: float,
    zone: ToleranceText,
    context: Context,
    *,
    is_one: bool = False,
    is_round: bool = False,
) -> Statement:
    wall = of_wall(zone)
    data = zone_data(nominal_mm, zone)
    if is_round:
        data["diameter_mm"] = nominal_mm
    if "nominal" not in match.groupdict():
        data["limits"] = zone.said
    count = count_of(match)
    if count > 1:
        data["count"] = count
    remarks = (OTHER_IS_NOUGHT * is_one, walls_remark(zone.shift_um))
    return clear(
        Asks.TOLERANCE,
        match[0],
        f"{f'{count} × ' if count > 1 else ''}{'Ø' * is_round}{size_words(nominal_mm, context)} "
        f"{size_zone_words(zone, context)}",
        data,
        apply=tolerance_option(wall, context),
        remark="; ".join(one for one in remarks if one),
    )


@rule(
    rf"^\s*(?P<one>{NUMBER})\s?(?P<unit1>{UNIT})?\s{{0,2}}\[\s?(?P<two>{NUMBER})\s?(?:{UNIT})?\s?\]\s*$"
)
def size_in_both_units(match: re.Match[str], context: Context) -> Statement | None:
    """``12.7 [.500]``: a size in both units, which should agree."""
    one, two = plain_number(match["one"]), plain_number(match["two"])
    if not one or not two:
        return None
    nominal_mm = length_of(match["one"], match["unit1"], context)
    factor = one / two if context.is_inch else two / one
    agrees = abs(factor * MM_PER_INCH - 1) < _ROUNDED_AWAY
    return clear(
        Asks.SIZE,
        match[0],
        size_words(nominal_mm, context),
        {"nominal_mm": nominal_mm},
        remark="" if agrees else "the two units do not agree: ask which holds",
    )


_ROUNDED_AWAY: Final = 0.02
"""Share by which two roundings of one size may differ."""


@rule(rf"^\s*[a-z]\w{{0,20}}\s?=\s?(?P<value>{NUMBER})(?:\s?/\s?(?P<by>{NUMBER}))?\s*$")
def named_size(match: re.Match[str], context: Context) -> Statement | None:
    """``d3=83.0000``: a size with the name of a constraint."""
    value, by = plain_number(match["value"]), plain_number(match["by"] or "1")
    if not value or not by:
        return None
    nominal_mm = length_of(match["value"], None, context) / by
    return clear(
        Asks.SIZE, match[0], size_words(nominal_mm, context), {"nominal_mm": nominal_mm},
        remark="the name of a constraint, which asks no limits",
    )  # fmt: skip


@rule(
    r"(?:flatness|parallel(?:ism)?|perpendicular(?:ity)?|square(?:ness)?|true position|position|"
    r"profile|concentric(?:ity)?|runout|straight(?:ness)?|round(?:ness)?|cylindricity|symmetry|t\.?i\.?r\.?)"
    rf"(?: within| to| of|[ :=]){{0,3}}\s{{0,2}}ø?(?P<value>{NUMBER})\s{{0,2}}(?P<unit>{UNIT})?"
)
def geometrical(match: re.Match[str], _context: Context) -> Statement:
    """``FLAT WITHIN .0005``: a geometrical tolerance in words; shown, not interpreted."""
    return bare(Asks.FRAME, match[0], FRAME_REMARK)


FRAME_REMARK: Final = "a geometrical tolerance: shown, not interpreted; read it on the drawing"


@rule(
    rf"(?P<of>(?:tol(?:erances?)?|all dim(?:ension)?s?|general)\.?[ :=]{{0,3}}(?:are |is )?)?"
    rf"(?P<walls>\b(?:each |all )?walls?[ :=]{{1,3}})?"
    rf"(?<![\w.])(?P<zone>{PLUS_MINUS}\s{{0,2}}(?:{FRACTION}|{NUMBER})"
    rf"|\+ ?{NUMBER}\s{{0,2}}[/ ]\s{{0,2}}-? ?{NUMBER}"
    rf"|(?<=[ :=]){NUMBER}(?=\s{{0,2}}(?:{UNIT})?\s{{0,2}}tot(?:al|\.)))"
    rf"\s{{0,2}}(?P<unit>{UNIT})?(?P<total>\s{{0,2}}tot(?:al|\.)(?: zone| width)?)?(?!\s?°)"
    rf"|^\s*tol(?:erances?)?(?:{STOP}[ :=]{{1,3}}|(?=\.\d))(?P<labelled>{NUMBER})"
    rf"\s{{0,2}}(?P<unit3>{UNIT})?\s*$"
    rf"|^\s*(?P<first>{NUMBER})\s{{0,2}}(?P<unit2>{UNIT})?\s{{0,2}}total(?: zone| width)?"
)
def tolerance_alone(match: re.Match[str], context: Context) -> Statement | None:
    """``±.0002``, ``TOL ±0.1``, ``0.01 TOTAL``: a zone without a size.

    A tolerance of dimensions is of sizes; one alone may be meant of the wall itself.
    """
    total = "total" if match["total"] or match["first"] else ""
    said = match["zone"] or match["first"] or match["labelled"]
    if _BEHIND_A_NUMBER.search(match.string[: match.start("zone")] if match["zone"] else ""):
        # Of a size that may mean two things, such as 1,000: no zone of each wall.
        return None
    unit = match["unit"] or match["unit2"] or match["unit3"]
    zone = zone_of(said, unit, context, total)
    if zone is None:
        return None
    limits = {"half_um": zone.half_um, "shift_um": zone.shift_um}
    of_size = Reading(
        words=_size_words(zone, context),
        data=limits | {"wall_half_um": zone.half_um / 2},
        option=tolerance_option(of_wall(zone), context, unit),
    )
    if match["of"] or match["labelled"]:
        return Statement(asks=Asks.TOLERANCE, text=match[0], readings=(of_size,), remark=_OF_SIZES)
    of_walls = Reading(
        words=f"each wall {zone_words(zone, context)}, so a size twice that",
        data=limits,
        option=tolerance_option(zone, context, unit),
    )
    if match["walls"]:
        return Statement(asks=Asks.TOLERANCE, text=match[0], readings=(of_walls,))
    return Statement(
        asks=Asks.TOLERANCE,
        text=match[0],
        readings=(of_size, of_walls),
        remark=_OF_SIZE_OR_WALL,
    )


_BEHIND_A_NUMBER: Final = re.compile(r"\d\s{0,3}[(\[{]?\s{0,3}$")


@rule(
    rf"^\s*(?P<open>\()?\s?(?P<value>{FRACTION}|{NUMBER})\s{{0,2}}(?P<unit>{UNIT})?\s?(?P<shut>\))?"
    r"(?:\s(?P<ref>ref|typ)\b\.?)?\s*$"
)
def size_alone(match: re.Match[str], context: Context) -> Statement | None:
    """``25.4``, ``(12.5)``: a size without limits of its own."""
    try:
        value_mm = length_of(match["value"], match["unit"], context)
    except KerfwrightError:
        return None
    is_reference = bool(match["open"] and match["shut"]) or (match["ref"] or "").lower() == "ref"
    return clear(
        Asks.SIZE,
        match[0],
        size_words(value_mm, context),
        {"nominal_mm": value_mm},
        remark="for information only: the drawing asks nothing of it" if is_reference else "",
    )


@rule(
    rf"(?<![\w.,±+-])(?P<value>{FRACTION}|{NUMBER})\s{{0,2}}(?P<unit>{UNIT})?\s{{0,2}}{_SQUARE}{PLACES}"
    rf"|^\s*{_SQUARE}\s{{0,2}}(?P<value2>{FRACTION}|{NUMBER})\s{{0,2}}(?P<unit2>{UNIT})?\s*$"
)
def square(match: re.Match[str], context: Context) -> Statement | None:
    """``16 SQ``: the side of a square, which has that size both ways."""
    try:
        side_mm = length_of(
            match["value"] or match["value2"], match["unit"] or match["unit2"], context
        )
    except KerfwrightError:
        return None
    count = count_of(match)
    return clear(
        Asks.SIZE,
        match[0],
        f"{f'{count} × ' if count > 1 else ''}{size_words(side_mm, context)} square",
        {"nominal_mm": side_mm},
    )


@rule(
    r"^\s*\(?\d{1,4}\s?(?:x\s)?"
    r"(?:(?P<holes>holes?|bores?)|places?\b|plcs?\b\.?|pl\b\.?|slots?\b)\s?\)?\s*$"
)
def count_alone(match: re.Match[str], _context: Context) -> Statement:
    """``2 HOLES``, ``4 PLCS``: a count without the size that it is of."""
    what = "holes" if match["holes"] else "places"
    return bare(
        Asks.HOLE if match["holes"] else Asks.SIZE,
        match[0],
        f"a count of {what}, of which no size is said here: it is that of the words beside it",
    )


@rule(rf"^\s*(?P<value>{NUMBER})\s?°(?:\s{{0,2}}{PLUS_MINUS}\s{{0,2}}(?P<half>{NUMBER})\s?°?)?\s*$")
def angle(match: re.Match[str], _context: Context) -> Statement | None:
    """``45°``: an angle."""
    value = plain_number(match["value"])
    if value is None:
        return None
    half = plain_number(match["half"]) if match["half"] else None
    data: dict[str, float | int | str] = {"angle_deg": value}
    if half is not None:
        data["half_deg"] = half
    return clear(Asks.ANGLE, match[0], f"{value:g}°" + (f" ±{half:g}°" if half else ""), data)


BEFORE_FEATURES: Final[tuple[Rule, ...]] = (two_sizes,)
"""Read before holes, which would take the first of two limits for their size."""
BEFORE_DEMANDS: Final[tuple[Rule, ...]] = (by_decimals, angles, standard_of_tolerances)
"""Read first: their numbers would look like others."""
SIZES: Final[tuple[Rule, ...]] = (
    fit_of_size,
    geometrical,
    size_in_both_units,
    named_size,
    size_with_limits,
    tolerance_alone,
    square,
    count_alone,
    angle,
    size_alone,
)
