"""The attendant's list as a calendar that a telephone or an office program reads.

References
----------
RFC 5545, Internet Calendaring and Scheduling Core Object Specification (iCalendar).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from datetime import UTC, datetime, timedelta
from importlib.util import find_spec
from typing import Any, Final
from uuid import NAMESPACE_URL, uuid5

from kerfwright.adapters.week_file import touch_shape
from kerfwright.app.week import WeekResult
from kerfwright.foundation.errors import MissingPackageError
from kerfwright.foundation.units import minutes_text
from kerfwright.foundation.version import __version__

PACKAGE: Final = "icalendar"


def require_calendar() -> None:
    """Refuse to go on without the library that writes calendars.

    Raises
    ------
    MissingPackageError
        Code ``calendar-needs-icalendar``.
    """
    if find_spec(PACKAGE) is None:
        raise MissingPackageError(
            f"the library {PACKAGE} is not installed",
            code="calendar-needs-icalendar",
            remedy="pip install 'kerfwright[calendar]', or leave --calendar out.",
        )


def calendar_text(result: WeekResult, *, shop: str, written: datetime) -> str:
    """Return the attendant's list as iCalendar text, one event a moment.

    Times are those of the clock on the wall (RFC 5545, 3.3.5, form 1): a shop does not travel.
    The same moment of the same job keeps its identifier when the week is made anew, so that a
    calendar moves it.

    Parameters
    ----------
    result : WeekResult
    shop : str
        Name of the folder: calendars of two shops do not mix.
    written : datetime
        When, with its offset from UTC.

    Raises
    ------
    MissingPackageError
        Code ``calendar-needs-icalendar``.
    """
    return feed_text([touch_shape(t) for t in result.touches], shop=shop, written=written)


def feed_text(touches: Iterable[Mapping[str, Any]], *, shop: str, written: datetime) -> str:
    """Return moments of a kept timetable as :func:`calendar_text` does.

    Parameters
    ----------
    touches : iterable of mapping
        As :func:`kerfwright.adapters.week_file.touch_shape`.
    shop : str
    written : datetime
        With its offset from UTC.

    Raises
    ------
    MissingPackageError
        Code ``calendar-needs-icalendar``.
    """
    require_calendar()
    from icalendar import Calendar, Event

    calendar = Calendar()
    calendar.add("prodid", f"-//kerfwright//{__version__}//EN")
    calendar.add("version", "2.0")
    calendar.add("x-wr-calname", f"Machines of {shop}")
    counted: Counter[tuple[str, str]] = Counter()
    for touch in touches:
        key = (touch["job"], touch["name"])
        counted[key] += 1
        # By its place in the whole job, which stays when what comes before it is done.
        place = touch.get("stage", -1)
        which = f"{place + 1} of {touch['stages']}" if place >= 0 else str(counted[key])
        begin = datetime.fromisoformat(touch["when"])
        event = Event()
        event.add("uid", str(uuid5(NAMESPACE_URL, "/".join((shop, *key, which)))))
        event.add("dtstamp", written.astimezone(UTC))
        event.add("dtstart", begin)
        event.add("dtend", begin + timedelta(minutes=touch["minutes"]))
        event.add("summary", f"{touch['machine']}: {touch['job']}, {touch['name']}")
        event.add("location", touch["machine"])
        event.add("description", _described(touch))
        calendar.add_component(event)
    return str(calendar.to_ical().decode("utf-8"))


def _described(touch: Mapping[str, Any]) -> str:
    alone = (
        f"Then the machine runs alone for {minutes_text(touch['alone_min'])}."
        if touch["alone_min"]
        else "The machine then waits for what comes next."
    )
    return "\n".join((touch["does"], alone, *(f"Mind: {c}" for c in touch["cautions"])))
