"""Whether a nest holds: every distance measured on the true lines and arcs.

Nothing of what places parts is imported here: no envelopes, no grid, no engine.
"""

from __future__ import annotations

import itertools
import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.foundation.sizes import both_lengths
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.regions import is_inside
from kerfwright.geometry.separation import separation
from kerfwright.nesting.records import Instance, Kind, Placement, Sheet, Solution

SLACK_MM: Final = 1e-6
"""Rounding of a placement and of the distances; no kerf is known to a hundred times this."""
LEFT_OVER: Final = "nest-left-over"
_ANGLE_SLACK_DEG: Final = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """The least distances found; infinite where there is nothing to measure.

    Attributes
    ----------
    between_mm, edge_mm, clamp_mm : float
    pairs : int
        Pairs of contours that were measured.
    """

    between_mm: float = math.inf
    edge_mm: float = math.inf
    clamp_mm: float = math.inf
    pairs: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """What the check says of a nest.

    Attributes
    ----------
    findings : tuple of Finding
        Refusals of what does not hold, and of parts without a place.
    measured : Measured
    """

    findings: tuple[Finding, ...]
    measured: Measured

    @property
    def holds(self) -> bool:
        """Whether what is placed may be cut: parts left over are another matter."""
        return all(f.code == LEFT_OVER for f in self.findings)


def check(instance: Instance, solution: Solution) -> Checked:
    """Check a nest: counts, turns, distances between parts, from edges and from clamps.

    Parameters
    ----------
    instance : Instance
    solution : Solution
    """
    ruler = _Ruler()
    found = [*_counts(instance, solution), *_turns(instance, solution)]
    sheets = {s.id: s for s in instance.sheets}
    used = Counter(solution.sheets)
    for name, count in used.items():
        most = sheets[name].count if name in sheets else 0
        if most is not None and count > most:
            found.append(
                _refusal("nest-sheets", f"{count} of sheet {name} are used, there are {most}")
            )
    for number, name in enumerate(solution.sheets):
        if name not in sheets:
            continue
        here = [p for p in solution.placements if p.sheet == number]
        found += _sheet(instance, sheets[name], here, ruler)
    return Checked(findings=tuple(found), measured=ruler.measured)


def check_moved(
    instance: Instance, solution: Solution, moved: Sequence[Placement]
) -> tuple[Finding, ...]:
    """Check some parts of a nest against what lies around them: quick enough to follow a hand.

    Parameters
    ----------
    instance : Instance
    solution : Solution
        With the parts where they lie now.
    moved : sequence of Placement
        Of the solution; what they are not part of is not looked at.

    Returns
    -------
    tuple of Finding
        Turns and distances only; :func:`check` decides whether a nest holds.
    """
    ruler = _Ruler()
    known = {k.id: k for k in instance.kinds}
    sheets = {s.id: s for s in instance.sheets}
    found = list(_turns(instance, Solution(sheets=solution.sheets, placements=tuple(moved))))
    names = {(p.kind, p.copy) for p in moved}
    for place in moved:
        one = _Put(place=place, part=known[place.kind].placed(place))
        found += _in_sheet(instance, sheets[solution.sheets[place.sheet]], one, ruler)
    put = [_Put(place=p, part=known[p.kind].placed(p)) for p in solution.placements]
    for first, second in itertools.combinations(put, 2):
        pair = {(one.place.kind, one.place.copy) for one in (first, second)}
        if first.place.sheet != second.place.sheet or not pair & names:
            continue
        boxes = [first.part.outline.bounds_mm, second.part.outline.bounds_mm]
        if _by_gap(boxes)[0][0] <= instance.room.between_mm:
            found += _between(instance, first, second, ruler)
    return tuple(found)


class _Ruler:
    """Measures contours and keeps the least of each kind of distance."""

    def __init__(self) -> None:
        self.measured = Measured()

    def apart(
        self, one: Contour, other: Contour, *, kind: str
    ) -> tuple[float, tuple[float, float]]:
        """Return the distance of two contours and where it is met."""
        distance, place = separation(one, other)
        now = self.measured
        values = {name: getattr(now, name) for name in ("between_mm", "edge_mm", "clamp_mm")}
        values[kind] = min(values[kind], distance)
        self.measured = Measured(**values, pairs=now.pairs + 1)
        return distance, place


def _counts(instance: Instance, solution: Solution) -> Iterator[Finding]:
    known = {k.id: k.quantity for k in instance.kinds}
    seen = Counter((p.kind, p.copy) for p in solution.placements)
    placed: Counter[str] = Counter()
    for (kind, copy), times in sorted(seen.items()):
        placed[kind] += 1
        if kind not in known or not 1 <= copy <= known[kind] or times > 1:
            yield _refusal("nest-count", f"{kind} {copy} is placed {times} times and not asked so")
    for p in solution.placements:
        if not 0 <= p.sheet < len(solution.sheets):
            yield _refusal(
                "nest-sheets", f"{p.name} lies in sheet {p.sheet + 1}, which is not used"
            )
    for kind, quantity in known.items():
        missing = quantity - placed[kind]
        if missing != solution.unplaced.get(kind, 0):
            yield _refusal(
                "nest-count",
                f"{placed[kind]} of {quantity} {kind} are placed and "
                f"{solution.unplaced.get(kind, 0)} are said to be left over",
            )
        if missing > 0:
            yield Finding(
                code=LEFT_OVER,
                severity=Severity.REFUSAL,
                message=f"{missing} of {quantity} {kind} found no room in the sheets given.",
                remedy="Give more sheets or larger ones, a thinner web, or more turns.",
                data={"left": missing, "asked": quantity},
            )


def _turns(instance: Instance, solution: Solution) -> Iterator[Finding]:
    allowed = {k.id: k.turns for k in instance.kinds}
    for p in solution.placements:
        angles = allowed[p.kind].angles_deg if p.kind in allowed else ()
        if angles and min(abs((p.turn_deg - a + 180.0) % 360.0 - 180.0) for a in angles) > (
            _ANGLE_SLACK_DEG
        ):
            yield _refusal(
                "nest-turn",
                f"{p.name} is turned by {p.turn_deg:.3f}°, allowed are "
                f"{', '.join(f'{a:g}°' for a in angles)}",
                remedy="Its rolling direction would be wrong: place it again.",
            )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Put:
    place: Placement
    part: Kind


def _sheet(
    instance: Instance, sheet: Sheet, here: Sequence[Placement], ruler: _Ruler
) -> list[Finding]:
    known = {k.id: k for k in instance.kinds}
    put = [_Put(place=p, part=known[p.kind].placed(p)) for p in here if p.kind in known]
    found = [finding for one in put for finding in _in_sheet(instance, sheet, one, ruler)]
    for gap_mm, k, j in _by_gap([one.part.outline.bounds_mm for one in put]):
        # Boxes farther apart than the least distance so far tell nothing new.
        if gap_mm > instance.room.between_mm and gap_mm > ruler.measured.between_mm:
            break
        found += _between(instance, put[k], put[j], ruler)
    return found


def _by_gap(boxes: Sequence[tuple[float, float, float, float]]) -> list[tuple[float, int, int]]:
    """Return all pairs by the gap between their boxes, the least first."""
    if len(boxes) < 2:
        return []
    low, high = np.array(boxes)[:, :2], np.array(boxes)[:, 2:]
    first, second = np.triu_indices(len(boxes), k=1)
    gaps = np.maximum(np.maximum(low[first] - high[second], low[second] - high[first]), 0.0)
    gap = np.hypot(gaps[:, 0], gaps[:, 1])
    order = np.argsort(gap, kind="stable")
    return list(
        zip(gap[order].tolist(), first[order].tolist(), second[order].tolist(), strict=True)
    )


def _in_sheet(instance: Instance, sheet: Sheet, one: _Put, ruler: _Ruler) -> Iterator[Finding]:
    room, outline = instance.room, one.part.outline
    for wall in (sheet.outline, *sheet.holes):
        distance, place = ruler.apart(outline, wall, kind="edge_mm")
        is_in = is_inside(outline, sheet.outline) if wall is sheet.outline else not (
            is_inside(outline, wall) or is_inside(wall, outline)
        )  # fmt: skip
        if not is_in:
            yield _refusal("nest-outside", f"{one.place.name} lies outside the metal of {sheet.id}",
                           place=place)  # fmt: skip
        elif distance < room.edge_mm - SLACK_MM:
            yield _close(f"{one.place.name} is", "the edge of the sheet", distance, room.edge_mm,
                         place)  # fmt: skip
    for clamp in sheet.clamps:
        distance, place = ruler.apart(outline, clamp, kind="clamp_mm")
        if is_inside(outline, clamp) or is_inside(clamp, outline):
            distance = 0.0
        if distance < room.clamp_mm - SLACK_MM:
            yield _close(f"{one.place.name} is", "a clamp", distance, room.clamp_mm, place)


def _between(instance: Instance, one: _Put, other: _Put, ruler: _Ruler) -> Iterator[Finding]:
    between = instance.room.between_mm
    for host, guest in ((one, other), (other, one)):
        if is_inside(guest.part.outline, host.part.outline):
            yield from _inside(host, guest, between, ruler)
            return
    distance, place = ruler.apart(one.part.outline, other.part.outline, kind="between_mm")
    if distance < between - SLACK_MM:
        yield _close(
            f"{one.place.name} and {other.place.name} are", "each other", distance, between, place
        )


def _inside(host: _Put, guest: _Put, between_mm: float, ruler: _Ruler) -> Iterator[Finding]:
    """Check a part that lies within the outline of another: it must lie in an opening of it."""
    around = [c for c in host.part.openings if is_inside(guest.part.outline, c)]
    if not around or any(is_inside(c, guest.part.outline) for c in host.part.islands):
        yield _refusal("nest-overlap", f"{guest.place.name} lies on the metal of {host.place.name}")
    for wall in (*host.part.openings, *host.part.islands):
        distance, place = ruler.apart(guest.part.outline, wall, kind="between_mm")
        if distance < between_mm - SLACK_MM:
            yield _close(f"{guest.place.name} is", f"a wall of {host.place.name}", distance,
                         between_mm, place)  # fmt: skip


def _close(
    who: str, what: str, distance_mm: float, least_mm: float, place: tuple[float, float]
) -> Finding:
    return _refusal(
        "nest-too-close",
        f"{who} {both_lengths(distance_mm)} from {what}, {both_lengths(least_mm)} are needed",
        place=place,
        remedy="Move it, or nest again.",
        data={"distance_mm": distance_mm, "least_mm": least_mm},
    )


def _refusal(
    code: str,
    message: str,
    *,
    place: tuple[float, float] | None = None,
    remedy: str = "Nest again.",
    data: dict[str, float | int | str] | None = None,
) -> Finding:
    where = Place(x_mm=place[0], y_mm=place[1]) if place else Place()
    return Finding(
        code=code,
        severity=Severity.REFUSAL,
        message=message + ".",
        where=where,
        remedy=remedy,
        data=data or {},
    )
