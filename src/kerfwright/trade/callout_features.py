"""Holes, radii and threads in the words of a drawing, and the fits they may carry."""

from __future__ import annotations

import re
from typing import Final

from kerfwright.foundation.errors import KerfwrightError
from kerfwright.foundation.units import ToleranceText
from kerfwright.trade.callout_limits import ONE_LIMIT_ALONE, ONE_SIDED, side_of
from kerfwright.trade.callout_rules import (
    LIMITED,
    NUMBER,
    OTHER_IS_NOUGHT,
    PLUS_MINUS,
    ROUND,
    STOP,
    UNIT,
    Context,
    Rule,
    bare,
    between_words,
    clear,
    fit_option,
    fit_remark,
    is_one_limit,
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

COUNTED: Final = r"(?:(?<![\w.,])(?P<count>\d{1,4})\s?[x×]\s{1,3})?"
PLACES: Final = (
    r"(?P<places>[ ,(]{0,3}(?P<after>(?<![\d.,])\d{1,4})\s?"
    r"(?:x\b|places|plcs?\b\.?|pl\b\.?|holes\b|off\b)\)?)?"
)
_COUNT: Final = (
    r"(?:(?<![\w.,])(?P<count>\d{1,4})\s?[x×]\s{1,3}"
    r"|(?<![\w.,])(?P<holes>\d{1,4})\s(?:holes?|bores?)\s{1,3})?"
)
IN_INCHES: Final = "the drawing is in inches, ISO 286 in millimetres"
_THROUGH: Final = re.compile(r"\bthru\b|\bthrough\b|\bdurch", re.IGNORECASE)
_NOT_THROUGH: Final = re.compile(
    r"\bdeep\b|\bdp\b|↧|\bdepth\b|c'?bore|\bcsk\b|c'?sink|⌴|⌵|spot ?face", re.IGNORECASE
)


def count_of(match: re.Match[str]) -> int:
    """Return how many places a size is said to be at; 1 where nothing is said."""
    said = match.groupdict()
    return int(said.get("count") or said.get("holes") or said.get("after") or 1)


def fits_or_none(text: str, context: Context) -> tuple[Fit, ...]:
    """Return the fits of a text, none where it is none."""
    try:
        return read_fits(text, table=context.fits)
    except KerfwrightError:
        return ()


def fit_reading(fit: Fit, *, is_inch: bool) -> Reading:
    """Return what a fit comes to, its size in inches or millimetres."""
    low, high = fit.limits_mm
    shift = (
        f", middle {fit.size_shift_um:+g} µm of size from the nominal" if fit.size_shift_um else ""
    )
    size = f"{fit.nominal_mm:g} {fit.symbol} ({fit.member.value})"
    return Reading(
        words=f"{size}: {between_words(low, high, is_inch=is_inch)}{shift}",
        data=fit_data(fit),
        option=fit_option(fit, is_inch=is_inch),
    )


def fit_data(fit: Fit) -> dict[str, float | int | str]:
    """Return the numbers of a fit."""
    low, high = fit.limits_mm
    return {
        "symbol": fit.symbol,
        "nominal_mm": fit.nominal_mm,
        "smallest_mm": low,
        "largest_mm": high,
        "size_half_um": fit.size_half_um,
        "size_shift_um": fit.size_shift_um,
        "wall_half_um": fit.size_half_um / 2,
    }


@rule(
    r"(?<![\w.])(?:m\d{1,2}(?:[.,]\d)?\s?[x×]\s?\d(?:[.,]\d{1,2})?(?:\s?-\s?\d[gh]\w{0,2})?"
    r"|m\d{1,2}(?:[.,]\d)?\s?-\s?\d[gh]\b"
    r"|(?:#\s?\d{1,2}|\d{1,2}/\d{1,2}|\d{1,2}|[.]\d{3})\s?-\s?\d{1,2}\s{0,2}"
    r"(?:un[cfs]|unef|unj[cf])(?:\s?-\s?[123][ab])?"
    r"|\d{1,2}/\d{1,2}\s?-\s?(?:8|9|10|11|12|13|14|16|18|20|24|28|32|36|40)\b(?!\s?x)"
    r"|g\s?\d/\d\b|\d/\d\s?(?:npt|bsp[pt]?)\b|tap(?:ped)?\b|helicoil\b)"
)
def thread(match: re.Match[str], _context: Context) -> Statement:
    """``M6x1``, ``1/2-20 UNF``, ``TAP``: a thread, which no wire cuts."""
    return bare(Asks.THREAD, match[0], "not for the wire: it can cut the core hole only")


@rule(r"^\s*m(?P<size>\d{1,2}(?:[.,]\d)?)\s*$")
def short_thread(match: re.Match[str], context: Context) -> Statement | None:
    """``M3`` alone: a thread, unless it is also the name of a material."""
    name = match[0].strip()
    remark = "not for the wire: it can cut the core hole only"
    found = context.catalogue.materials_called(name)
    if not found:
        return bare(Asks.THREAD, match[0], remark)
    return Statement(
        asks=Asks.THREAD,
        text=match[0],
        readings=(
            Reading(words=f"thread {name}, {remark}"),
            Reading(words=f"material {found[0].name}", option=option("material", found[0].name)),
        ),
    )


@rule(
    rf"{_COUNT}(?:(?P<ahead>{ONE_SIDED})\s{{1,2}})?"
    rf"(?:(?P<form>{ROUND}|\bdia(?:meter)?\b{STOP}[: ]{{0,2}}"
    r"|\bdia(?=[\d.])(?![\d.,]{1,9}\s?=)|\bdrill\s)\s{0,2}"
    rf"(?P<nominal>{NUMBER})\s{{0,2}}(?P<unit>{UNIT})?(?P<dia>\s{{0,2}}(?:dia|drill)\b\.?)?"
    rf"|(?<![\w.,±+-])(?P<nominal2>{NUMBER})\s{{0,2}}(?P<unit2>{UNIT})?\s{{0,2}}"
    r"dia(?:meter)?\b\.?)"
    rf"(?P<zone>\s{{0,2}}{LIMITED})?"
    r"(?P<fit>\s{0,2}[A-Za-z]{1,2}\d{1,2}\b)?"
    rf"(?P<given>\s{{0,2}}(?=[(\[{{+±0-]){LIMITED})?(?P<dia2>\s{{0,2}}dia\b\.?)?"
    rf"(?P<limit>\s{{0,2}}{ONE_SIDED})?"
    rf"(?P<depth>[ ,]{{0,3}}(?:thru\b|through\b|durch\w{{0,6}})(?:\sall\b)?"
    rf"|[ ,]{{0,3}}(?:↧\s{{0,2}}{NUMBER}|(?:x\s)?{NUMBER}\s{{0,2}}(?:{UNIT})?\s{{0,2}}"
    r"(?:deep|dp)\b)"
    r"|[ ,]{0,3}(?:c'?bore|csk|c'?sink|spot ?face|[⌴⌵])\b)?"
    rf"{PLACES}"
)
def hole(match: re.Match[str], context: Context) -> Statement | None:
    """``4X Ø6.0 THRU``: holes of one size, or a diameter alone."""
    try:
        nominal_mm = length_of(
            match["nominal"] or match["nominal2"], match["unit"] or match["unit2"], context
        )
    except KerfwrightError:
        return None
    is_zone = match["zone"] is not None and not match["fit"]
    zone = zone_behind(match["zone"], nominal_mm, None, context) if is_zone else None
    if not nominal_mm or (is_zone and zone is None):
        return None
    count = count_of(match)
    readings, remark = [], ""
    for size_mm, is_inch in _sizes_meant(match, nominal_mm, context):
        reading, remark = _hole_reading(match, size_mm, zone, context, is_inch=is_inch)
        readings.append(reading)
    if len(readings) > 1:
        remark = "; ".join(words for words in (IN_INCHES, remark) if words)
    is_hole = count > 1 or "through" in readings[0].data or match["holes"] is not None
    asks = Asks.HOLE if is_hole else Asks.FIT if match["fit"] else Asks.SIZE
    if asks is Asks.SIZE and match["zone"]:
        asks = Asks.TOLERANCE
    return Statement(asks=asks, text=match[0], readings=tuple(readings), remark=remark)


def _sizes_meant(
    match: re.Match[str], nominal_mm: float, context: Context
) -> list[tuple[float, bool]]:
    """Return the sizes that a hole may have, mm, and whether inches are meant."""
    sizes = [(nominal_mm, context.is_inch and not (match["unit"] or match["unit2"]))]
    metric_mm = plain_number(match["nominal"] or match["nominal2"])
    if match["fit"] and sizes[0][1] and metric_mm:
        sizes.append((metric_mm, False))
        known = [s for s in sizes if fits_or_none(f"{s[0]:.6f}{match['fit']}", context)]
        # 25 in is beyond the table of fits, and 25 mm is not.
        return known or sizes[:1]
    return sizes


def _hole_reading(
    match: re.Match[str],
    nominal_mm: float,
    zone: ToleranceText | None,
    context: Context,
    *,
    is_inch: bool,
) -> tuple[Reading, str]:
    """Return one way to read a hole, and what to know before it is taken."""
    count = count_of(match)
    data: dict[str, float | int | str] = {"diameter_mm": nominal_mm, "count": count}
    words = f"Ø{size_words(nominal_mm, context)}"
    remark, apply = "", ""
    fits = fits_or_none(f"{nominal_mm:.6f}{match['fit']}", context) if match["fit"] else ()
    if fits:
        data.update(fit_data(fits[0]))
        low, high = fits[0].limits_mm
        words += f" {fits[0].symbol}: {between_words(low, high, is_inch=is_inch)}"
        apply, remark = fit_option(fits[0], is_inch=is_inch), fit_remark(fits[0].size_shift_um)
        remark = "; ".join(w for w in (given_remark(match["given"], fits, context), remark) if w)
    elif zone is not None:
        data.update(zone_data(nominal_mm, zone))
        wall = of_wall(zone)
        words += f" {size_zone_words(zone, context)}"
        apply, remark = tolerance_option(wall, context), walls_remark(wall.shift_um)
        if is_one_limit(match["zone"]):
            remark = f"{OTHER_IS_NOUGHT}; {remark}"
    elif side := side_of(match["ahead"] or match["limit"] or ""):
        data["limit"], remark = side.value, ONE_LIMIT_ALONE
        words += f" {side.words}"
    depth = match["depth"] or ""
    if _NOT_THROUGH.search(depth):
        data["through"] = "no"
        remark, apply = "does not go through: not for the wire", ""
    elif _THROUGH.search(depth):
        data["through"] = "yes"
        words += ", through"
    if count > 1:
        words = f"{count} × {words}"
    return Reading(words=words, data=data, option=apply), remark


def given_remark(given: str | None, fits: tuple[Fit, ...], context: Context) -> str:
    """Return a doubt where limits are written behind a fit that are not its own."""
    if not given:
        return ""
    zone = zone_behind(given, fits[0].nominal_mm, None, context)
    if zone is None:
        return "the limits behind the fit were not understood"
    apart_um = min(
        max(abs(zone.half_um - one.size_half_um), abs(zone.shift_um - one.size_shift_um))
        for one in fits
    )
    if apart_um <= _ROUNDED_UM:
        return ""
    return "the limits behind the fit are not those of the table: ask which hold"


_ROUNDED_UM: Final = 1.0
"""Limits of a fit are written in whole micrometres, in inches nearly so."""


@rule(
    rf"{_COUNT}(?:{ONE_SIDED}\s{{1,2}})?"
    rf"(?<![\w.])(?:R|rad(?:ius|ii)?\b{STOP}[ :=]{{0,2}})\s?(?P<value>{NUMBER})"
    rf"\s{{0,2}}(?P<unit>{UNIT})?"
    rf"(?P<zone>\s{{0,2}}{PLUS_MINUS}\s{{0,2}}{NUMBER})?"
    rf"(?P<limit>\s{{0,2}}(?:{ONE_SIDED}|typ\b\.?))?{PLACES}"
    r"|(?:max(?:imum)?|min(?:imum)?)\.?\s(?:inside |internal |corner ){0,2}(?:rad(?:ius|ii)?)"
    rf"{STOP}\s{{0,2}}[:=]?\s{{0,2}}(?P<value2>{NUMBER})\s{{0,2}}(?P<unit2>{UNIT})?"
)
def radius(match: re.Match[str], context: Context) -> Statement | None:
    """``R0.2 MAX``: a radius, which an inside corner owes to wire and gap."""
    try:
        unit = match["unit"] or match["unit2"]
        value_mm = length_of(match["value"] or match["value2"], unit, context)
    except KerfwrightError:
        return None
    side = side_of(match[0])
    limit = "" if side is None else side.value
    data: dict[str, float | int | str] = {"radius_mm": value_mm, "limit": limit}
    remark = "" if side is None else ONE_LIMIT_ALONE
    if limit == "max":
        remark = f"an inside corner comes out at wire radius plus gap at least; {remark}"
    zone = zone_of(match["zone"], None, context) if match["zone"] else None
    if zone is not None:
        data["half_um"] = zone.half_um
    count = match["count"] or match["holes"] or match["after"]
    times = f"{count} × " if count else ""
    words = f"{times}R {size_words(value_mm, context)}"
    if side is not None:
        words += f" {side.words}"
    if zone is not None:
        words += f", {zone_words(zone, context)}"
    return clear(
        Asks.RADIUS,
        match[0],
        words,
        data,
        apply=tolerance_option(zone, context) if zone is not None else "",
        remark=remark,
    )


@rule(
    rf"^\s*{COUNTED}(?P<ahead>{ONE_SIDED}\s{{1,2}})?(?P<value>{NUMBER})\s{{0,2}}(?P<unit>{UNIT})?"
    rf"\s{{0,2}}(?(ahead)|{ONE_SIDED}){PLACES}\s*$"
)
def size_with_one_limit(match: re.Match[str], context: Context) -> Statement | None:
    """``12.5 MAX``: a size with one limit."""
    try:
        nominal_mm = length_of(match["value"], match["unit"], context)
    except KerfwrightError:
        return None
    side = side_of(match[0])
    if side is None or not nominal_mm:
        return None
    count = count_of(match)
    times = f"{count} × " if count > 1 else ""
    return clear(
        Asks.SIZE,
        match[0],
        f"{times}{size_words(nominal_mm, context)} {side.words}",
        {"nominal_mm": nominal_mm, "limit": side.value},
        remark=ONE_LIMIT_ALONE,
    )


FEATURES: Final[tuple[Rule, ...]] = (thread, short_thread, hole, radius, size_with_one_limit)
