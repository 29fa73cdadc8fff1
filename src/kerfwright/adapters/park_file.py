"""The park of a shop as a file: machines, the attendant's hours, and what is said of each job."""

from __future__ import annotations

import re
import tomllib
from dataclasses import fields
from datetime import date, datetime, time
from pathlib import Path
from types import MappingProxyType
from typing import Any, Final, NoReturn

from kerfwright.adapters.figures import Node, TableFile
from kerfwright.adapters.machines import load_machine
from kerfwright.adapters.table_files import SHIPPED
from kerfwright.app.week import Down, Figures, JobWish, Park
from kerfwright.foundation.errors import FileError, InputError, KerfwrightError
from kerfwright.foundation.units import length_mm
from kerfwright.scheduling.hours import Calendar
from kerfwright.scheduling.records import LEAST_QUANTILE, MOST_QUANTILE, ParkMachine
from kerfwright.trade.catalogue import is_same_wire
from kerfwright.trade.machine import Machine

FIGURES: Final = SHIPPED / "week" / "figures.toml"
_FORMAT, _VERSION = "kerfwright-park", 1
_DAYS: Final = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
_SPELL: Final = re.compile(r"(\d{1,2}:\d{2})\s*-\s*(\d{1,2}:\d{2})")
_SPELL_FORM: Final = 'spells such as ["07:00-12:00", "12:30-16:00"]'
_MOMENT_FORM: Final = "a moment such as 2026-12-01 08:00"
_SPAN_FORM: Final = "2026-12-01 08:00 to 2026-12-01 12:00"
_REMEDY: Final = "Correct it; docs/scheduling.md shows every key."


def read_park(place: Path, text: str | None = None) -> Park:
    """Read the file of a park.

    Parameters
    ----------
    place : Path
    text : str, optional
        What is to stand in it, where that is not kept yet.

    Raises
    ------
    FileError
        Code ``park-missing`` or ``park-unreadable``.
    InputError
        Code ``park-broken``, or ``table-value`` and ``table-key`` with the key that is wrong.
    """
    node = _opened(place, text)
    node.only("format", "version", "attendant", "figures", "machine", "job")
    machines, downs = _machines(node, place)
    known = {m.id for m in machines}
    wishes = {}
    if "job" in node.data:
        wishes = {name: _wish(one, known) for name, one in node.table("job").tables()}
    return Park(
        machines=machines,
        calendar=_calendar(node.table("attendant"), place),
        downs=downs,
        figures=_figures(node, place),
        wishes=MappingProxyType(wishes),
    )


def _opened(place: Path, text: str | None) -> Node:
    try:
        data = tomllib.loads(place.read_text(encoding="utf-8") if text is None else text)
    except FileNotFoundError as fault:
        raise FileError(
            f"there is no {place.name}",
            code="park-missing",
            where=str(place),
            remedy="Write one, or begin with that of `kerfwright demo week`; "
            "docs/scheduling.md shows every key.",
        ) from fault
    except OSError as fault:
        raise FileError(
            f"cannot read: {fault.strerror}", code="park-unreadable", where=str(place),
            remedy="Check the path.",
        ) from fault  # fmt: skip
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as fault:
        raise InputError(
            f"is no TOML: {fault}", code="park-broken", where=str(place), remedy=_REMEDY
        ) from fault
    if (data.get("format"), data.get("version")) != (_FORMAT, _VERSION):
        raise InputError(
            f"is not a park of version {_VERSION}",
            code="park-broken",
            where=str(place),
            remedy=f'It begins with format = "{_FORMAT}" and version = {_VERSION}.',
        )
    file = TableFile(shipped=place, own=None, replaced=frozenset(), citations={}, remedy=_REMEDY)
    return Node(data=data, path="", file=file)


def _machines(node: Node, place: Path) -> tuple[tuple[ParkMachine, ...], tuple[Down, ...]]:
    rows = node.raw("machine", "[[machine]], one each")
    if not isinstance(rows, list) or not rows or not all(isinstance(r, dict) for r in rows):
        node.fail("machine", rows, "[[machine]], one each")
    machines: list[ParkMachine] = []
    downs: list[Down] = []
    for number, row in enumerate(rows, start=1):
        one = Node(data=row, path=f"machine {number}: ", file=node.file)
        one.only("id", "name", "definition", "wire", "fixture", "down")
        name = one.text("id")
        definition = _definition(one, place)
        wire = None
        if "wire" in row:
            wire = _length(one, "wire")
            if not any(is_same_wire(wire, d) for d in definition.wire_diameters_mm):
                known = ", ".join(f"{d:g} mm" for d in definition.wire_diameters_mm)
                one.fail("wire", row["wire"], f"a wire that it has guides for: {known}")
        machines.append(
            ParkMachine(
                id=name,
                name=row.get("name", "") and one.text("name"),
                definition=definition.id,
                travel_x_mm=definition.travel_x_mm,
                travel_y_mm=definition.travel_y_mm,
                max_height_mm=definition.max_height_mm,
                max_mass_kg=definition.max_weight_kg,
                max_angle_deg=definition.tilt.max_angle_deg if definition.tilt else 0.0,
                wire_diameters_mm=definition.wire_diameters_mm,
                wire_mm=wire,
                fixture=row.get("fixture", "") and one.text("fixture"),
            )
        )
        downs += [
            _down(one, name, text, number=k) for k, text in enumerate(one.texts("down"), start=1)
        ]
    names = [m.id for m in machines]
    if len(set(names)) < len(names):
        node.fail("machine", names, "machines with ids of their own")
    return tuple(machines), tuple(downs)


def _definition(one: Node, place: Path) -> Machine:
    said = one.text("definition") if "definition" in one.data else None
    beside = place.parent / said if said else None
    try:
        return load_machine(beside if beside is not None and beside.is_file() else said)
    except KerfwrightError as fault:
        raise InputError(
            f"{one.path}definition is {said!r}: {fault.message}",
            code="park-broken",
            where=str(place),
            remedy=fault.remedy or "Name a shipped definition, or a file beside the park.",
        ) from fault


def _length(one: Node, key: str) -> float:
    text = one.text(key)
    try:
        return round(length_mm(text), 6)
    except KerfwrightError:
        one.fail(key, text, "a length with its unit, such as 0.25 mm")


def _down(one: Node, machine: str, text: str, *, number: int) -> Down:
    try:
        begin, end, why = span_of(text)
    except InputError:
        one.fail(f"down {number}", text, f"{_SPAN_FORM}, the end after the begin")
    return Down(machine=machine, begin=begin, end=end, why=why)


def down_of(text: str, machines: frozenset[str]) -> Down:
    """Read ``M2: 2026-12-01 08:00 to 2026-12-01 12:00, spindle``.

    Raises
    ------
    InputError
        Code ``schedule-down-text``.
    """
    name, colon, rest = text.partition(":")
    if not colon or name.strip() not in machines:
        raise InputError(
            f"{text!r} names no machine of the park ({', '.join(sorted(machines))})",
            code="schedule-down-text",
            remedy=f"Write MACHINE: {_SPAN_FORM}.",
        )
    begin, end, why = span_of(rest)
    return Down(machine=name.strip(), begin=begin, end=end, why=why)


def span_of(text: str) -> tuple[datetime, datetime, str]:
    """Read ``2026-12-01 08:00 to 2026-12-01 12:00`` and, after a comma, why.

    Raises
    ------
    InputError
        Code ``schedule-down-text``.
    """
    moments, _, why = text.partition(",")
    first, word, last = moments.partition(" to ")
    try:
        begin, end = moment_of(first), moment_of(last)
        good = bool(word) and begin < end
    except ValueError:
        good = False
    if not good:
        raise InputError(
            f"{text.strip()!r} is not {_SPAN_FORM}, the end after the begin",
            code="schedule-down-text",
            remedy=f"Write {_SPAN_FORM}.",
        )
    return begin, end, why.strip()


def moment_of(text: str) -> datetime:
    """Read a moment by the clock on the wall, ``2026-12-01 08:00``; a date alone is midnight.

    Raises
    ------
    ValueError
        Also where a zone of time is given.
    """
    moment = datetime.fromisoformat(text.strip())
    if moment.tzinfo is not None:
        raise ValueError("the clock on the wall has no zone")
    return moment.replace(second=0, microsecond=0)


def _calendar(node: Node, place: Path) -> Calendar:
    node.only(*_DAYS, "holidays")
    hours = {}
    for number, day in enumerate(_DAYS):
        spells = []
        for text in node.texts(day):
            found = _SPELL.fullmatch(text.strip())
            try:
                begin, end = (
                    (time.fromisoformat(t.zfill(5)) for t in found.groups())
                    if found
                    else (_no_spell(node, day, text))
                )
            except ValueError:
                node.fail(day, text, _SPELL_FORM)
            spells.append((begin, end))
        hours[number] = tuple(spells)
    try:
        holidays = frozenset(date.fromisoformat(t) for t in node.texts("holidays"))
    except ValueError:
        node.fail("holidays", node.data["holidays"], 'dates such as ["2026-12-25"]')
    try:
        return Calendar(hours=hours, holidays=holidays)
    except InputError as fault:
        raise InputError(
            fault.message, code=fault.code, where=f"{place}: attendant", remedy=fault.remedy
        ) from fault


def _no_spell(node: Node, day: str, text: str) -> NoReturn:
    node.fail(day, text, _SPELL_FORM)


def _figures(node: Node, place: Path) -> Figures:
    data: dict[str, Any] = tomllib.loads(FIGURES.read_text(encoding="utf-8"))
    own = node.table("figures").data if "figures" in node.data else {}
    file = TableFile(shipped=FIGURES, own=place, replaced=frozenset(own), citations={})
    both = Node(data=data | own, path="", file=file)
    names = tuple(f.name for f in fields(Figures) if f.name != "sources")
    both.only(*names)
    values, sources = both.record(*names, least=0)
    if not LEAST_QUANTILE <= values["share_in_time"] <= MOST_QUANTILE:
        both.fail("share_in_time", values["share_in_time"],
                  f"a share from {LEAST_QUANTILE:g} to {MOST_QUANTILE:g}")  # fmt: skip
    if not 0 < values["promise_share"] < 1:
        both.fail("promise_share", values["promise_share"], "a share, above 0 and below 1")
    return Figures(sources=MappingProxyType(sources), **values)


def _wish(one: Node, machines: set[str]) -> JobWish:
    one.only("quantity", "due", "ready", "importance", "fixture", "machines", "after", "left_out")
    for name in one.texts("machines"):
        if name not in machines:
            one.fail("machines", name, f"machines of the park: {', '.join(sorted(machines))}")
    return JobWish(
        quantity=_whole(one, "quantity"),
        due=_when(one, "due", date.fromisoformat, "a date such as 2026-12-04"),
        ready=_when(one, "ready", moment_of, _MOMENT_FORM),
        importance=_whole(one, "importance") or 1,
        fixture=one.text("fixture") if "fixture" in one.data else "",
        machines=one.texts("machines"),
        after=one.texts("after"),
        is_left_out=one.truth("left_out"),
    )


def _whole(one: Node, key: str) -> int | None:
    if key not in one.data:
        return None
    value = one.data[key]
    if type(value) is not int or value < 1:
        one.fail(key, value, "a whole number, 1 or more")
    return int(value)


def _when(one: Node, key: str, read: Any, form: str) -> Any:
    """Read a date or a moment, written as words or as TOML has them."""
    if key not in one.data:
        return None
    try:
        return read(str(one.data[key]))
    except ValueError:
        one.fail(key, one.data[key], form)
