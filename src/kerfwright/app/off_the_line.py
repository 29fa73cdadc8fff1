"""Limits of the drawing that do not lie about the drawn line, to which the wall is cut."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Final

from kerfwright.app.contour_sizes import nearest_size_mm, reaches
from kerfwright.app.drawing_says import Saying
from kerfwright.app.papers.common import ASKS_OFF_THE_LINE
from kerfwright.app.papers.same_remarks import CONTOURS, listed
from kerfwright.app.requirements import ZONE_OFF_THE_LINE
from kerfwright.foundation.findings import Finding, Severity
from kerfwright.foundation.kept import Kept
from kerfwright.foundation.shortened import shortened
from kerfwright.foundation.units import UM_PER_MM, both
from kerfwright.foundation.zones import zone_asked
from kerfwright.trade.part import Part, PartContour
from kerfwright.trade.requirement import Requirement
from kerfwright.trade.statements import Reading

_HAIR: Final = 1e-3
"""Share of a zone that is no difference: rounding of the numbers."""
_MOST_LETTERS: Final = 60
_DECIMALS: Final = 6
"""Of micrometres: what is less is rounding of sums."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WallZone:
    """Where a wall may lie by what the drawing writes.

    Attributes
    ----------
    half_um : float
        Half of the zone of the wall.
    shift_um : float
        From the drawn line to the middle of the zone; above 0 where the size is to be larger.
    walls : int
        How many walls the written zone is of: 2 of a size.
    """

    half_um: float
    shift_um: float
    walls: int

    def is_missed(self, planned_um: float) -> bool:
        """Tell whether a wall within ``±planned_um`` of the drawn line may leave the zone."""
        return abs(self.shift_um) + planned_um > self.half_um * (1 + _HAIR)

    @property
    def words(self) -> str:
        """How far the middle is away, in both unit systems."""
        whole_um = abs(self.shift_um) * self.walls
        side = "above" if self.shift_um > 0 else "below"
        return f"{both(whole_um)} {side} what is drawn"


def wall_zone(one: Saying, reading: Reading, contour: PartContour | None) -> WallZone | None:
    """Return where a wall may lie by a reading; None where it gives no limits of one.

    Limits of a size count from the size that is drawn: it may be drawn at the nominal size or at
    the middle of the zone.  Equal limits count from the written size only where the drawn one is
    outside of them, for less is what rounding of the words hides.

    Parameters
    ----------
    one : Saying
    reading : Reading
        Of it.
    contour : PartContour or None
        The contour it stands at; None for all of them.
    """
    data = reading.data
    if "nominal_mm" in data and "size_half_um" in data:
        if contour is None:
            return None
        half_um, shift_um = (float(data[n]) for n in ("size_half_um", "size_shift_um"))
        away_um = _away_um(one, contour, float(data["nominal_mm"]), (shift_um, half_um))
        if away_um is None:
            return None
        if not shift_um and "limits" not in data and abs(away_um) <= half_um:
            away_um = 0.0
        walls = 2
        shift_um -= away_um
    elif "half_um" in data and "shift_um" in data:
        half_um, shift_um = float(data["half_um"]), float(data["shift_um"])
        walls = 2 if "wall_half_um" in data else 1
    else:
        return None
    return WallZone(
        half_um=half_um / walls, shift_um=round(shift_um / walls, _DECIMALS), walls=walls
    )


def _away_um(
    one: Saying, contour: PartContour, nominal_mm: float, zone_um: tuple[float, float]
) -> float | None:
    """Return how far the drawn size is from the nominal; None where it is not drawn there."""
    shift_um, half_um = zone_um
    measured_mm = one.size.drawn_mm if one.size is not None else None
    drawn = contour.contour
    # Every change on the page asks it of the same contours again.
    nearest_mm = _NEAREST.once(lambda: nearest_size_mm(drawn, nominal_mm), drawn, key=nominal_mm)
    for drawn_mm in (nearest_mm, measured_mm):
        if drawn_mm is None:
            continue
        away_mm = drawn_mm - nominal_mm
        if reaches(away_mm, lower_um=shift_um - half_um, upper_um=shift_um + half_um):
            return away_mm * UM_PER_MM
    return None


_NEAREST: Final = Kept(most=512)


def sizes_off_the_line(
    sayings: Iterable[Saying], part: Part, requirement: Requirement, *, told: Iterable[Finding]
) -> Iterator[Finding]:
    """Yield a warning for each text whose limits the plan leaves though it holds as close.

    A zone whose middle is not the drawn line is missed by a wall that is cut to that line, however
    close it is held.  Where the plan holds less close,
    :func:`kerfwright.app.drawing_doubts.untaken_demands` speaks; where the zone itself is asked,
    what read it did.

    Parameters
    ----------
    sayings : iterable of Saying
        What the drawing says.
    part : Part
    requirement : Requirement
        What is planned and priced.
    told : iterable of Finding
        Remarks on what was asked.
    """
    says = tuple(sayings)
    asked_so = _asked_off_the_line(part, requirement, told)
    open_ones = {c.id: c for c in part.to_cut if c.id not in asked_so}
    # What is written at a contour outranks what is written for all of them.
    written_at = {name for one in says for r in _meant(one) for name in _zoned_ids(one, r)}
    seen: set[tuple[str, tuple[str, ...]]] = set()
    for one in says:
        meant = _meant(one)
        ids = one.contour_ids or [name for name in open_ones if name not in written_at]
        missed: dict[WallZone, list[str]] = {}
        for name in ids if meant else ():
            planned_um = requirement.demand_on(name).tolerance_um
            if name in open_ones and planned_um is not None:
                at = open_ones[name] if one.contour_ids else None
                zone = _missed(one, meant, at, planned_um)
                if zone is not None:
                    missed.setdefault(zone, []).append(name)
        for zone, names in missed.items():
            own = tuple(names) if one.contour_ids else ()
            if (one.statement.text, own) not in seen:
                seen.add((one.statement.text, own))
                closest = max(requirement.demand_on(n).tolerance_um or 0.0 for n in names)
                yield _off(one, zone, own, closest)


def _missed(
    one: Saying, meant: list[Reading], contour: PartContour | None, planned_um: float
) -> WallZone | None:
    """Return the zone that is missed in every meaning of a text, the least off of them."""
    zones = [wall_zone(one, reading, contour) for reading in meant]
    known = [z for z in zones if z is not None and planned_um <= z.half_um * (1 + _HAIR)]
    if len(known) < len(zones) or not all(z.is_missed(planned_um) for z in known):
        return None
    return min(known, key=lambda z: abs(z.shift_um))


def _meant(one: Saying) -> list[Reading]:
    """Return the readings that ask something of walls: no general tolerance by decimals."""
    found = [r for r in one.statement.readings if r.option or (r.of_picked and one.contour_ids)]
    return [] if any("decimals" in r.data for r in found) else found


def _zoned_ids(one: Saying, reading: Reading) -> tuple[str, ...]:
    return one.contour_ids if {"half_um", "size_half_um"} & reading.data.keys() else ()


def _asked_off_the_line(
    part: Part, requirement: Requirement, told: Iterable[Finding]
) -> Collection[str]:
    """Return contours of which a zone is asked that does not lie about the line."""
    of = {f.where.contour_id for f in told if f.code == ZONE_OFF_THE_LINE}
    own = requirement.contours
    return {
        c.id
        for c in part.to_cut
        if c.id in of or (None in of and (c.id not in own or own[c.id].tolerance_um is None))
    }


def middle_words(one: Saying, reading: Reading, contours: Mapping[str, PartContour]) -> str:
    """Return a sentence on a middle that is not the drawn line; empty where it is.

    Parameters
    ----------
    one : Saying
    reading : Reading
        Of it.
    contours : mapping of str to PartContour
        Those it is asked of, by id; empty for all of them.
    """
    zones = [wall_zone(one, reading, c) for c in contours.values()] or [
        wall_zone(one, reading, None)
    ]
    off = [z for z in zones if z is not None and abs(z.shift_um) > z.half_um * _HAIR]
    if not off:
        return ""
    most = max(off, key=lambda z: abs(z.shift_um))
    return f" The middle of its limits is {most.words}, and the wall is cut to the drawn line."


def _off(one: Saying, zone: WallZone, ids: tuple[str, ...], planned_um: float) -> Finding:
    at = f" at {listed(ids)}" if ids else ""
    share = abs(zone.shift_um) / zone.half_um
    is_end = math.isclose(share, 1.0, rel_tol=_HAIR)
    where, many = (
        ("at the end of them", "one in two or more")
        if is_end
        else ("outside of them", "most")
        if share > 1
        else ("to one side of them", "more than usual")
    )
    data: dict[str, float | int | str] = {
        "half_um": zone.half_um,
        "shift_um": zone.shift_um,
        "planned_um": planned_um,
        "text": one.statement.text,
    }
    if ids:
        data[CONTOURS] = ",".join(ids)
    written = shortened(" ".join(one.statement.text.split()), _MOST_LETTERS)
    return Finding(
        code=ASKS_OFF_THE_LINE,
        severity=Severity.WARNING,
        message=f"The drawing asks “{written}”{at}. The middle of these limits is "
        f"{zone.words}, and the wall is cut to the drawn line: it comes out {where}, and {many} "
        f"would miss them, also with ±{zone_asked(planned_um)} of each wall, as planned and "
        "quoted.",
        where=one.where,
        remedy=f"Draw the walls at the middle of the limits and ask ±{zone_asked(zone.half_um)} of "
        "each wall, or ask whether the drawn size is the one that is wanted.",
        data=data,
    )
