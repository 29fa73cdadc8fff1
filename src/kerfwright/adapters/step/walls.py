"""Inside the child process: walls that a straight wire makes of a solid.

Between two heights at which corners lie, sections have the same faces in the same order.  Their
corners, joined, are the edges of the wall and are followed to the underside and to the top, as the
wire runs.  A wall found so is made only if the wire that makes it stays out of the metal at every
height.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np
import shapely
from OCP.BRep import BRep_Tool
from OCP.TopAbs import TopAbs_VERTEX
from OCP.TopExp import TopExp_Explorer
from OCP.TopoDS import TopoDS

from kerfwright.adapters.step.faces import WireFace
from kerfwright.adapters.step.rulings import (
    Ends,
    FreeRulings,
    Piece,
    free_pieces,
    plane_pieces,
    round_pieces,
)
from kerfwright.adapters.step.sections import Cutter, Loop, Section, Stretch
from kerfwright.adapters.step.standing import Standing
from kerfwright.foundation.errors import KerfwrightError
from kerfwright.geometry.ruled import RuledWall
from kerfwright.geometry.segments import Flags, Floats, Segments

_SAME_MM: Final = 1e-4
_INSET: Final = 0.04
"""Share of a slab left at its ends, where sections run along edges."""
_CURVED_MM: Final = 5e-4
"""An edge that leaves its own chord by more is curved."""
_UPRIGHT_MM: Final = 1e-6
_MOST_SLABS: Final = 12
_NONE: Final = 1e-3
"""Share of the height: a thinner slab is not looked at."""
_THIN: Final = 0.02
"""Share of the height: a thinner slab is a chamfer or a rounding, no wall is followed from it."""
_SECTION_MM: Final = 1e-3
_CLEAR_MM: Final = 4e-3
"""Metal is in the way of a wire if it lies this deep: sections here are of chords."""
_SPECK_MM2: Final = 1e-4


@dataclass(slots=True, kw_only=True, eq=False)
class SolidWall:
    """One wall that a wire makes.

    Attributes
    ----------
    is_outer : bool
        Whether metal lies inside.
    lower, upper : (n, 3) float
        Rows of x, y, bulge, paired row by row, the metal on the left.
    faces : set of int
    partly : set of int
        Those of its faces that go on beside it.
    bend_mm : float
        By how much its faces are not straight.
    is_fitted : bool
        Whether arcs stand in for free curves of the solid.
    height_mm : float
    """

    is_outer: bool
    lower: Floats
    upper: Floats
    faces: set[int] = field(default_factory=set)
    partly: set[int] = field(default_factory=set)
    bend_mm: float = 0.0
    is_fitted: bool = False
    height_mm: float = 0.0

    @property
    def is_upright(self) -> bool:
        """Whether the wire stands upright along all of it."""
        return bool(np.abs(self.lower[:, :2] - self.upper[:, :2]).max() <= _UPRIGHT_MM)

    def ruled(self) -> RuledWall:
        """Return it as a ruled wall from the underside to the top."""
        sides = [
            Segments.from_ends(r[:, :2], np.roll(r[:, :2], -1, axis=0), r[:, 2])
            for r in (self.lower, self.upper)
        ]
        return RuledWall(lower=sides[0], upper=sides[1], lower_mm=0.0, upper_mm=self.height_mm)

    def polygon(self, height_mm: float) -> shapely.Geometry:
        """Return what its section at a height encloses."""
        points = self.ruled().section(height_mm, chord_mm=_SECTION_MM)
        return shapely.Polygon(points).buffer(0)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Found:
    """What a solid has for a wire.

    Attributes
    ----------
    walls : list of SolidWall
        Outlines first.
    why_not : dict of int to str
        For faces in which a wire lies and which none of the walls has, why.
    is_whole : bool
        Whether every section closed.
    """

    walls: list[SolidWall]
    why_not: dict[int, str]
    is_whole: bool


class _NoWallError(Exception):
    """A loop of a section is no wall, for a reason in words."""


def find_walls(standing: Standing) -> Found:
    """Return the walls of a solid that a straight wire makes."""
    cutter = Cutter(standing.merged)
    slabs = _slabs(standing)
    thick = [s for s in slabs if s[1] - s[0] > _THIN * standing.height_mm][:_MOST_SLABS]
    looked = [cutter.at((low + high) / 2) for low, high in slabs[len(thick) :]]
    slabs = thick
    cuts = [_cuts(cutter, low, high) for low, high in slabs]
    looked += [section for three in cuts for section in three]
    metal = [(s.height_mm, s.metal) for s in looked]
    walls: list[SolidWall] = []
    why_not: dict[int, str] = {}
    # Thick slabs first: what is followed from them errs least.
    for below, middle, above in cuts:
        for loop in middle.loops:
            try:
                wall = _wall(standing.faces, loop, below, middle, above)
            except _NoWallError as fault:
                why_not |= dict.fromkeys(loop.faces, str(fault))
                continue
            if _is_known(wall, walls, middle.height_mm):
                continue
            if _meets_metal(wall, metal):
                why = "a straight wire along it would cut the part above or below"
                why_not |= dict.fromkeys(loop.faces, why)
                continue
            walls.append(wall)
    made = set().union(*(w.faces for w in walls)) if walls else set()
    return Found(
        walls=sorted(walls, key=lambda w: not w.is_outer),
        why_not={k: why for k, why in why_not.items() if k not in made},
        is_whole=all(s.is_whole for s in looked),
    )


def _slabs(standing: Standing) -> list[tuple[float, float]]:
    """Return the ranges of height between corners and ends of faces, the thickest kept."""
    heights = [0.0, standing.height_mm]
    explorer = TopExp_Explorer(standing.merged, TopAbs_VERTEX)
    while explorer.More():
        heights.append(BRep_Tool.Pnt_s(TopoDS.Vertex(explorer.Current())).Z())
        explorer.Next()
    for face in standing.faces:
        # Those in which a wire lies end in corners; what bounds others may lie between them.
        if not face.is_steep:
            heights += [face.low[2], face.high[2]]
    levels = np.unique(np.clip(heights, 0.0, standing.height_mm))
    apart = np.diff(levels)
    slabs = [
        (float(a), float(a + d))
        for a, d in zip(levels[:-1], apart, strict=True)
        if d > max(_SAME_MM, _NONE * standing.height_mm)
    ]
    return sorted(slabs, key=lambda s: s[0] - s[1])


def _cuts(cutter: Cutter, low: float, high: float) -> tuple[Section, Section, Section]:
    inset = _INSET * (high - low)
    return cutter.at(low + inset), cutter.at((low + high) / 2), cutter.at(high - inset)


def _wall(
    faces: Sequence[WireFace], loop: Loop, below: Section, middle: Section, above: Section
) -> SolidWall:
    """Return the wall of a loop.

    Raises
    ------
    _NoWallError
        With the reason.
    """
    steep = [s.face for s in loop.stretches if not faces[s.face].is_steep]
    if steep:
        raise _NoWallError("beside it lies a face in which no straight wire lies")
    low = _alike(loop, below)
    high = _alike(loop, above)
    z = below.height_mm, above.height_mm
    height = faces[0].height_mm
    corners: list[Ends] = []
    for one, a, b in zip(loop.stretches, low, high, strict=True):
        way = (b.start - a.start) / (z[1] - z[0])
        share = (middle.height_mm - z[0]) / (z[1] - z[0])
        off = one.start - (a.start + (b.start - a.start) * share)
        if math.hypot(*off) > _CURVED_MM:
            raise _NoWallError("one of its edges is curved from bottom to top")
        corners.append((a.start - way * z[0], a.start + way * (height - z[0])))
    pieces: list[Piece] = []
    for k, stretch in enumerate(loop.stretches):
        ends = corners[k], corners[(k + 1) % len(corners)]
        pieces += _pieces(faces[stretch.face], stretch, ends, middle.height_mm)
    lower, upper = (np.array([p[side] for p in pieces]) for side in (0, 1))
    bend = max(faces[s.face].rulings[1] for s in loop.stretches)
    try:
        wall = SolidWall(
            is_outer=loop.is_outer,
            lower=lower,
            upper=upper,
            faces=set(loop.faces),
            bend_mm=bend,
            is_fitted=any(_is_free(faces[s.face]) for s in loop.stretches),
            height_mm=height,
        )
        wall.ruled()
        if min(wall.polygon(z).area for z in (0.0, height)) <= _SPECK_MM2:
            raise _NoWallError("it shrinks to an edge or a point inside the work")
    except KerfwrightError as fault:
        raise _NoWallError(fault.message) from None
    return wall


def _is_free(face: WireFace) -> bool:
    return face.rulings[0] != "plane" and face.round is None


def _alike(loop: Loop, section: Section) -> tuple[Stretch, ...]:
    """Return the loop of another height with the same faces in the same order, begun alike."""
    wanted = [s.face for s in loop.stretches]
    best: tuple[float, tuple[Stretch, ...]] | None = None
    for other in section.loops:
        if len(other.stretches) != len(wanted) or other.is_outer is not loop.is_outer:
            continue
        for turn in range(len(wanted)):
            turned = other.stretches[turn:] + other.stretches[:turn]
            if [s.face for s in turned] != wanted:
                continue
            apart = sum(
                float(np.hypot(*(a.start - b.start)))
                for a, b in zip(loop.stretches, turned, strict=True)
            )
            if best is None or apart < best[0]:
                best = apart, turned
    if best is None:
        raise _NoWallError("its faces do not follow each other alike at every height")
    return best[1]


def _pieces(
    face: WireFace, stretch: Stretch, ends: tuple[Ends, Ends], height_mm: float
) -> list[Piece]:
    if face.rulings[0] == "plane":
        return plane_pieces(ends[0])
    if face.round is not None:
        found = face.round
        around = stretch.at(np.linspace(0.0, 1.0, 9)) - np.array([found.x_mm, found.y_mm])
        step = np.arctan2(
            around[:-1, 0] * around[1:, 1] - around[:-1, 1] * around[1:, 0],
            (around[:-1] * around[1:]).sum(axis=1),
        )
        pieces = round_pieces(found, ends[0], turn_rad=float(step.sum()), height_mm=face.height_mm)
        if pieces is None:
            raise _NoWallError("the tip of its cone lies inside the work")
        return pieces
    rulings = FreeRulings(face)
    begin, end = _parameters(rulings, stretch, height_mm)
    return free_pieces(rulings, *ends, begin=begin, end=end)


def _parameters(rulings: FreeRulings, stretch: Stretch, height_mm: float) -> tuple[float, float]:
    """Return the rulings at which a stretch begins and ends, followed where the face closes."""
    shares = np.linspace(0.0, 1.0, 9)
    inside = stretch.at(shares[1:-1])
    found = [rulings.parameter(p, height_mm) for p in inside]
    low, high = rulings.across
    period = high - low
    steps = np.diff(found)
    # Across the seam of a closed face the parameter jumps by a period.
    steps = steps - period * np.round(steps / period) if _closes(rulings) else steps
    way = 1.0 if steps.sum() > 0 else -1.0
    ends = []
    for point, beside, sign in ((stretch.start, found[0], -way), (stretch.end, found[-1], way)):
        here = rulings.parameter(point, height_mm)
        if _closes(rulings):
            turns = (beside - here) / period
            here += period * (math.ceil(turns) if sign > 0 else math.floor(turns))
        ends.append(here)
    if _closes(rulings):
        # Both ends counted from the first place inside.
        ends[1] += float(steps.sum()) - (found[-1] - found[0])
    return ends[0], ends[1]


def _closes(rulings: FreeRulings) -> bool:
    ends = rulings.ends(np.array(rulings.across))
    return all(bool(np.hypot(*(side[0] - side[1])) <= _SAME_MM) for side in ends)


def lies_on(points: Floats, wall: SolidWall, height_mm: float) -> Flags:
    """Return which points of a height lie in a wall, (n,) bool."""
    edge = wall.polygon(height_mm).boundary
    away = shapely.distance(edge, shapely.points(points))
    result: Flags = away <= _CLEAR_MM + wall.bend_mm
    return result


def _is_known(wall: SolidWall, walls: Sequence[SolidWall], height_mm: float) -> bool:
    """Return whether a wall was found already from another slab; its faces are then that one's."""
    here = wall.polygon(height_mm)
    for other in walls:
        if other.is_outer is not wall.is_outer:
            continue
        apart = shapely.symmetric_difference(here, other.polygon(height_mm))
        if apart.buffer(-_CLEAR_MM / 2).area <= _SPECK_MM2:
            other.faces |= wall.faces
            return True
    return False


def _meets_metal(wall: SolidWall, metal: Sequence[tuple[float, shapely.Geometry]]) -> bool:
    """Return whether the waste of a wall holds metal of the part at some height."""
    for height, part in metal:
        inside = wall.polygon(height)
        if wall.is_outer:
            beyond = shapely.difference(part, inside.buffer(_CLEAR_MM))
        else:
            beyond = shapely.intersection(part, inside.buffer(-_CLEAR_MM))
        if beyond.area > _SPECK_MM2:
            return True
    return False
