"""A part with leaning walls and the wire beside it, in space, for looking at.

The walls are those that were planned, between the heights at which each is the wall of the part;
the wire is that of the program, read back.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from kerfwright.app.program_path import ProgramPath
from kerfwright.app.records import JobResult
from kerfwright.geometry.ruled import RuledWall, steepest
from kerfwright.geometry.segments import Floats, Indices
from kerfwright.nc.timeline import Timeline
from kerfwright.proof.lean_axis import lean_of
from kerfwright.proof.lean_map import WallMap, wall_map
from kerfwright.proof.lean_rules import LeanCourse, course_of
from kerfwright.proof.records import Claim
from kerfwright.trade.machine import Tilt
from kerfwright.trade.walls import WallPart

_CHORD_MM = 0.005
"""Of the walls that are shown: below a pixel of a whole part."""


class SpaceKind(StrEnum):
    """What a wall of the part is."""

    UPRIGHT = "upright"
    LEANING = "leaning"
    LAND = "land"
    RELIEF = "relief"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SpaceWall:
    """A wall as rulings.

    Attributes
    ----------
    contour_id : str
        Under which it is cut.
    drawn_id : str
        Contour of the drawing; land and relief have one.
    kind : SpaceKind
    lower_mm, upper_mm : float
        Heights of the ends of its rulings above the underside of the work.
    lower, upper : (n, 2) float
        Those ends, mm; the first ruling comes again at the end.
    leans_deg : float
        Greatest angle of a ruling to the vertical.
    """

    contour_id: str
    drawn_id: str
    kind: SpaceKind
    lower_mm: float
    upper_mm: float
    lower: Floats
    upper: Floats
    leans_deg: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SpaceWire:
    """The wire's axis in the course of the program.

    Attributes
    ----------
    minute : (n,) float
        Of the strip.
    foot : (n, 2) float
        Where the axis passes the underside of the work, mm.
    lean : (n, 2) float
        By how much it lies aside, mm per mm up.
    course : LeanCourse
        Angle and travel of the upper guide at each point.
    cut, line : (n,) int
        Cut of the strip and line of the program.
    """

    minute: Floats
    foot: Floats
    lean: Floats
    course: LeanCourse
    cut: Indices
    line: Indices

    def __len__(self) -> int:
        return len(self.minute)


@dataclass(frozen=True, slots=True, kw_only=True)
class Extreme:
    """The most that the wire does of something.

    Attributes
    ----------
    value : float
    minute : float
        Of the strip.
    line : int
        Of the program.
    """

    value: float
    minute: float
    line: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ShownSpace:
    """The part and the wire in space.

    Attributes
    ----------
    walls : tuple of SpaceWall
    wire : SpaceWire
    height_mm : float
        Of the work.
    planes_mm : (float, float)
        Heights of the planes of X Y and of U V above the underside.
    tilt : Tilt
        How the machine leans the wire.
    machine : str
        Its name.
    most_angle, most_u, most_v : Extreme
        Degrees and mm; the travels with their sign.
    off : WallMap
        What the last pass leaves of the walls that lean.
    """

    walls: tuple[SpaceWall, ...]
    wire: SpaceWire
    height_mm: float
    planes_mm: tuple[float, float]
    tilt: Tilt
    machine: str
    most_angle: Extreme
    most_u: Extreme
    most_v: Extreme
    off: WallMap

    @property
    def guides_mm(self) -> tuple[float, float]:
        """Heights of the guides above the underside, as they are set up."""
        return -self.tilt.lower_guide_mm, self.height_mm + self.tilt.upper_guide_mm


def space_of(result: JobResult, path: ProgramPath, timeline: Timeline) -> ShownSpace | None:
    """Return the part and the wire in space; None where no wall leans.

    Parameters
    ----------
    result : JobResult
    path : ProgramPath
        Of its program.
    timeline : Timeline
        Of its program.
    """
    claim = result.claim
    if claim is None or result.lean is None or not result.lean.walls or not len(path.points):
        return None
    tilt = claim.machine.tilt
    assert tilt is not None
    lean = lean_of(timeline)
    minute, place = path.points[:, 0], path.points[:, 1:]
    course = course_of(path.lean, claim)

    def most(values: Floats) -> Extreme:
        k = int(np.argmax(np.abs(values)))
        return Extreme(value=float(values[k]), minute=float(minute[k]), line=int(path.line[k]))

    return ShownSpace(
        walls=_walls(result, claim),
        wire=SpaceWire(
            minute=minute,
            foot=place - path.lean * lean.program_mm,
            lean=path.lean,
            course=course,
            cut=path.cut,
            line=path.line,
        ),
        height_mm=claim.height_mm,
        planes_mm=(lean.program_mm, lean.second_mm),
        tilt=tilt,
        machine=claim.machine.name,
        most_angle=most(course.angle_deg),
        most_u=most(course.u_mm),
        most_v=most(course.v_mm),
        off=wall_map(timeline, claim, _heights(result)),
    )


def _heights(result: JobResult) -> dict[str, list[float]]:
    """Return the heights at which the proof judged each wall."""
    found: dict[str, list[float]] = {}
    leaning = None if result.proof is None else result.proof.leaning
    for one in () if leaning is None else leaning.by_height:
        found.setdefault(one.contour_id, []).append(one.height_mm)
    return found


def _walls(result: JobResult, claim: Claim) -> tuple[SpaceWall, ...]:
    assert result.lean is not None
    parts = {
        name: (part, split.first_id)
        for split in result.lean.splits
        for name, part in zip(split.ids, (split.first, split.second), strict=True)
    }
    found = []
    for one in claim.contours:
        if one.id in result.lean.refused:
            continue
        leaning = result.lean.walls.get(one.id)
        low, high = claim.stands_mm(one.id)
        ruled = (
            RuledWall.upright(one.contour, lower_mm=0.0, upper_mm=claim.height_mm)
            if leaning is None
            else leaning.ruled
        )
        kind, drawn_id = SpaceKind.UPRIGHT if leaning is None else SpaceKind.LEANING, one.id
        if one.id in parts:
            part, drawn_id = parts[one.id]
            kind = SpaceKind.LAND if part is WallPart.LAND else SpaceKind.RELIEF
        wall = wall_of(ruled, contour_id=one.id, kind=kind, stands_mm=(low, high))
        found.append(replace(wall, drawn_id=drawn_id))
    return tuple(found)


def wall_of(
    ruled: RuledWall, *, contour_id: str, kind: SpaceKind, stands_mm: tuple[float, float]
) -> SpaceWall:
    """Return a wall as rulings, its chords within 5 µm.

    Parameters
    ----------
    ruled : RuledWall
    contour_id : str
    kind : SpaceKind
    stands_mm : (float, float)
        Heights between which it is the wall of the part.
    """
    low, high = stands_mm
    index, fraction = ruled.grid(ruled.steps(_CHORD_MM, [low, high], beyond_mm=0.0))
    index, fraction = np.append(index, index[0]), np.append(fraction, fraction[0])
    return SpaceWall(
        contour_id=contour_id,
        drawn_id=contour_id,
        kind=kind,
        lower_mm=low,
        upper_mm=high,
        lower=ruled.points(index, fraction, low),
        upper=ruled.points(index, fraction, high),
        leans_deg=math.degrees(steepest(ruled).value),
    )
