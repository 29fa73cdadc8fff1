"""Why the minutes of a first piece and of each contour are what they are, and how sure."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from typing import Final

from kerfwright.app.strip import Stretch, StretchKind, Strip
from kerfwright.costing.cut_spread import CUTTING
from kerfwright.costing.estimate import kind_of
from kerfwright.costing.shares import RATE_OF_SHOP, RATE_OF_TABLES
from kerfwright.costing.times import PEOPLE, TimedLine, Times
from kerfwright.costing.uncertainty import Amount, total, variance_by_cause
from kerfwright.foundation.answers import Answer
from kerfwright.foundation.sources import Reason, Shares, Source, SourceTag

_COMPUTED: Final = Source(tag=SourceTag.COMPUTED)
_KEPT: Final = 12
"""Stretches named in a reason; all of them stand on the strip."""
_LINES: Final = {
    StretchKind.SET_UP: "set-up",
    StretchKind.LOADING: "loading",
    StretchKind.THREADING: "threading",
    StretchKind.POSITIONING: "positioning",
    StretchKind.ROUGH: "rough pass",
    StretchKind.CUT_OFF: "cut-off",
    StretchKind.STOP: "attended stops",
}
"""Line of the estimate that a stretch is a part of, and as sure as."""


def strip_answers(strip: Strip, times: Times) -> Iterator[Answer]:
    """Yield why the minutes of the strip are what they are.

    Parameters
    ----------
    strip : Strip
    times : Times
        Of the same plan and path: a stretch is as sure as its line, and moves with it.
    """
    lines = {line.line.operation: line for line in times.lines}
    by_contour: dict[str, list[Stretch]] = defaultdict(list)
    for one in strip.stretches:
        if one.contour_id is not None:
            by_contour[one.contour_id].append(one)
    laid = "sum of the stretches of the strip: lengths over feeds, threading, stops, ways"
    yield _minutes("first piece", "time", laid, strip.stretches, lines)
    yield _minutes(
        "first piece",
        "time with somebody there",
        "sum of the stretches at which somebody has to be there",
        [one for one in strip.stretches if one.is_attended],
        lines,
    )
    for name, own in by_contour.items():
        found = _minutes(name, "time on the machine", laid, own, lines)
        yield replace(found, also="contour")


def _minutes(
    about: str,
    name: str,
    formula: str,
    stretches: Iterable[Stretch],
    lines: Mapping[str, TimedLine],
) -> Answer:
    own = tuple(stretches)
    kinds: dict[str, float] = defaultdict(float)
    for one in own:
        kinds[one.kind.value] += one.minutes
    amounts = amounts_of(own, lines)
    largest = sorted(kinds.items(), key=lambda part: -part[1])[:_KEPT]
    span = total(amounts) if amounts else None
    return Answer(
        about=about,
        name=name,
        path="",
        reason=Reason(
            quantity="time_min",
            value=sum(kinds.values()),
            formula=formula,
            inputs=tuple((f"{kind}_min", minutes) for kind, minutes in largest),
            source=_COMPUTED,
            range=span,
            shares=shares_of(amounts, rate=rate_of(lines_of(own, lines), lines))
            if span is not None and span.low < span.high
            else (),
        ),
    )


def amounts_of(stretches: Iterable[Stretch], lines: Mapping[str, TimedLine]) -> list[Amount]:
    """Return the minutes of stretches by the line of the estimate that they are a part of.

    Each is as sure as that line, and moves with it.
    """
    parts: dict[str, float] = defaultdict(float)
    for one in stretches:
        parts[_line_of(one, lines)] += one.minutes
    return [
        lines[line].amount(factor=minutes / lines[line].minutes)
        if line in lines and lines[line].minutes > 0
        else Amount(likely=minutes, sigma_log=0.0, cause=line)
        for line, minutes in parts.items()
        if minutes > 0
    ]


def lines_of(stretches: Iterable[Stretch], lines: Mapping[str, TimedLine]) -> set[str]:
    """Return the lines of the estimate that stretches are parts of."""
    return {_line_of(one, lines) for one in stretches}


def _line_of(one: Stretch, lines: Mapping[str, TimedLine]) -> str:
    """Return the line of the estimate that a stretch is a part of."""
    line = _LINES.get(one.kind, f"skim pass {one.pass_number}")
    attended = f"{line}, attended"
    return attended if one.is_attended and attended in lines else line


def rate_of(parts: Iterable[str], lines: Mapping[str, TimedLine]) -> str:
    """Return the name of what the feeds leave open: of the tables, or of the shop's own cuts."""
    is_learned = any(lines[name].learned is not None for name in parts if name in lines)
    return RATE_OF_SHOP if is_learned else RATE_OF_TABLES


def shares_of(amounts: Iterable[Amount], *, rate: str) -> Shares:
    """Return who brings how much of the variance, by kind of cause."""
    kinds: dict[str, float] = defaultdict(float)
    for cause, variance in variance_by_cause(amounts).items():
        kind = kind_of(cause)
        named = {CUTTING: rate, PEOPLE: "people's pace"}.get(kind, kind)
        kinds[named] += variance
    whole = sum(kinds.values())
    ranked = sorted(kinds.items(), key=lambda part: -part[1])
    return tuple((name, variance / whole) for name, variance in ranked if variance > 0)
