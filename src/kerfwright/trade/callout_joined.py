"""Zones behind a size with other words between, ``Ø20 THRU (+0.021/0)``, read with the size."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from kerfwright.foundation.units import ToleranceText
from kerfwright.trade.callout_rules import (
    Context,
    of_wall,
    size_zone_words,
    tolerance_option,
    walls_remark,
    zone_data,
)
from kerfwright.trade.statements import Asks, Reading, Statement

_BETWEEN: Final = re.compile(r"[\s,;:()\[\]{}]*")
_SIZES: Final = (Asks.SIZE, Asks.HOLE)


def with_zones_of_sizes(
    found: Sequence[tuple[int, Statement]], line: str, context: Context
) -> list[Statement]:
    """Return the statements of a line, each size with the zone that stands right behind it.

    By itself such a zone would be asked of each wall, which is twice what the size allows.

    Parameters
    ----------
    found : sequence of (int, Statement)
        In the order of the words, each with the place where it begins.
    line : str
    context : Context
    """
    result: list[Statement] = []
    end = 0
    for begin, said in found:
        before = result[-1] if result else None
        gap = line[end:begin]
        if before is not None and _BETWEEN.fullmatch(gap) and _is_zone(said) and _lacks_one(before):
            result[-1] = _joined(before, said, gap, context)
        else:
            result.append(said)
        end = max(end, line.find(said.text, begin) + len(said.text))
    return result


def _is_zone(said: Statement) -> bool:
    return (
        said.asks is Asks.TOLERANCE and bool(said.readings) and "shift_um" in said.readings[0].data
    )


def _lacks_one(said: Statement) -> bool:
    if said.asks not in _SIZES or len(said.readings) != 1:
        return False
    data = said.readings[0].data
    is_cut = data.get("through") != "no"
    return _nominal_mm(said.readings[0]) is not None and "size_half_um" not in data and is_cut


def _nominal_mm(reading: Reading) -> float | None:
    found = reading.data.get("diameter_mm", reading.data.get("nominal_mm"))
    return None if found is None else float(found)


def _joined(size: Statement, zone: Statement, gap: str, context: Context) -> Statement:
    reading, said = size.readings[0], zone.readings[0].data
    limits = ToleranceText(
        half_um=float(said["half_um"]), shift_um=float(said["shift_um"]), said=zone.text
    )
    wall = of_wall(limits)
    nominal_mm = _nominal_mm(reading) or 0.0
    joined = Reading(
        words=f"{reading.words} {size_zone_words(limits, context)}",
        data={**reading.data, **zone_data(nominal_mm, limits)},
        option=tolerance_option(wall, context),
    )
    remarks = (size.remark, walls_remark(limits.shift_um))
    return replace(
        size,
        asks=Asks.TOLERANCE if size.asks is Asks.SIZE else size.asks,
        text=f"{size.text}{gap}{zone.text}",
        readings=(joined,),
        remark="; ".join(one for one in remarks if one),
    )
