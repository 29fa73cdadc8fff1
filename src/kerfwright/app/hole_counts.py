"""Callouts of holes held against the circles that are drawn: ``8X Ø3`` where six are."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from typing import Final

from kerfwright.app.drawing_says import Saying
from kerfwright.app.papers.common import HOLES_CONTRADICTED
from kerfwright.app.papers.inspection import circle_of
from kerfwright.app.papers.same_remarks import CONTOURS, listed
from kerfwright.foundation.counts import counted
from kerfwright.foundation.findings import Finding, Severity
from kerfwright.foundation.shortened import shortened
from kerfwright.foundation.units import MM_PER_INCH
from kerfwright.trade.part import Part
from kerfwright.trade.statements import Reading

_ROUNDING_MM: Final = 0.006
_ROUNDING_SHARE: Final = 5e-4
"""What rounding of a written size may hide."""
_MOST_LETTERS: Final = 60


def contradicted_counts(sayings: Iterable[Saying], part: Part) -> Iterator[Finding]:
    """Yield a warning for each size of which another number of holes is named than is drawn.

    Callouts of one size may each name some of them, or all of them once more: as many as one of
    them names is right, and so is the sum.  A hole that does not go through need not be drawn.

    Parameters
    ----------
    sayings : iterable of Saying
        What the drawing says.
    part : Part
    """
    circles = _circles(part)
    named: dict[float, list[tuple[Saying, int]]] = defaultdict(list)
    for one in sayings:
        counts = [r for r in one.statement.readings if _is_counted(r)]
        if not counts:
            continue
        # Of what may be inches or millimetres, the size that is drawn is meant.
        meant = next((r for r in counts if _of_size(circles, _size_mm(r))), counts[0])
        named[round(_size_mm(meant), 4)].append((one, int(meant.data["count"])))
    for size_mm, callouts in named.items():
        drawn = _of_size(circles, size_mm)
        counts_named = [count for _, count in callouts]
        if len(drawn) in (*counts_named, sum(counts_named)):
            continue
        yield _contradicted(size_mm, callouts[0][0], sum(counts_named), drawn, circles)


def _is_counted(one: Reading) -> bool:
    count = int(one.data.get("count", 1))
    return "diameter_mm" in one.data and count > 1 and one.data.get("through") != "no"


def _size_mm(one: Reading) -> float:
    return float(one.data["diameter_mm"])


def _circles(part: Part) -> list[tuple[str, float]]:
    """Return the circles of a part with their diameters; start holes have no name."""
    found = [(c.id, circle_of(c.contour)) for c in part.contours]
    round_ones = [(name, circle[1]) for name, circle in found if circle is not None]
    return [*round_ones, *(("", hole.diameter_mm) for hole in part.given_starts)]


def _of_size(circles: Iterable[tuple[str, float]], size_mm: float) -> list[str]:
    slack_mm = _ROUNDING_MM + _ROUNDING_SHARE * size_mm
    return [name for name, diameter_mm in circles if abs(diameter_mm - size_mm) <= slack_mm]


def _contradicted(
    size_mm: float,
    first: Saying,
    named: int,
    drawn: list[str],
    circles: list[tuple[str, float]],
) -> Finding:
    ids = [name for name in drawn if name]
    which = f" ({listed(ids)})" if ids else ""
    said = shortened(" ".join(first.statement.text.split()), _MOST_LETTERS)
    if drawn:
        verb = "are" if len(drawn) > 1 else "is"
        instead = f"{counted(len(drawn), 'circle')} of that size {verb} drawn{which}"
    elif circles:
        nearest = min((mm for _, mm in circles), key=lambda mm: abs(mm - size_mm))
        instead = f"no circle of that size is drawn, the nearest is Ø{_words(nearest)}"
    else:
        instead = "no circle is drawn"
    data: dict[str, float | int | str] = {
        "diameter_mm": size_mm,
        "named": named,
        "drawn": len(drawn),
    }
    if ids:
        data[CONTOURS] = ",".join(ids)
    return Finding(
        code=HOLES_CONTRADICTED,
        severity=Severity.WARNING,
        message=f"The drawing names {named} holes Ø{_words(size_mm)} (“{said}”), and {instead}: "
        "what is drawn is planned and priced.",
        where=first.where,
        remedy="Ask which holds; if the number does, the drawing has to be mended. Nothing was "
        "changed.",
        data=data,
    )


def _words(value_mm: float) -> str:
    return f"{round(value_mm, 4):g} mm ({value_mm / MM_PER_INCH:.4f} in)"
