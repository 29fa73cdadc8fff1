"""Inside the child process: sections of a solid at a height, each line with the face it lies in."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final

import numpy as np
import shapely
from OCP.BRepAdaptor import BRepAdaptor_Curve
from OCP.BRepAlgoAPI import BRepAlgoAPI_Section
from OCP.GCPnts import GCPnts_AbscissaPoint, GCPnts_QuasiUniformDeflection
from OCP.GeomAbs import GeomAbs_Line
from OCP.gp import gp_Dir, gp_Pln, gp_Pnt
from OCP.TopAbs import TopAbs_EDGE
from OCP.TopExp import TopExp_Explorer
from OCP.TopoDS import TopoDS, TopoDS_Shape

from kerfwright.adapters.step.opened import faces_of
from kerfwright.foundation.tolerances import TINY
from kerfwright.geometry.segments import Floats

_JOIN_MM: Final = 2e-5
"""Ends of section lines nearer than this meet."""
_SHORT_MM: Final = 1e-6
_CHORD_MM: Final = 5e-4


@dataclass(frozen=True, kw_only=True, eq=False)
class Stretch:
    """A stretch of a section within one face, in the order of travel.

    Attributes
    ----------
    face : int
        Number of the face in its solid.
    curve : BRepAdaptor_Curve
    first, last : float
        Parameters of the curve at its start and end; falling where it is run backwards.
    is_line : bool
    """

    face: int
    curve: Any
    first: float
    last: float
    is_line: bool

    def at(self, share: Floats) -> Floats:
        """Return points at shares of its parameter, (n, 2) mm."""
        values = [self.curve.Value(self.first + (self.last - self.first) * s) for s in share]
        return np.array([(p.X(), p.Y()) for p in values])

    @cached_property
    def start(self) -> Floats:
        """Where it begins."""
        result: Floats = self.at(np.zeros(1))[0]
        return result

    @cached_property
    def end(self) -> Floats:
        """Where it ends."""
        result: Floats = self.at(np.ones(1))[0]
        return result

    def chords(self) -> Floats:
        """Return its points with chords that leave it by half a micrometre, the last left out."""
        if self.is_line:
            return self.start[None]
        a, b = sorted((self.first, self.last))
        spread = GCPnts_QuasiUniformDeflection(self.curve, _CHORD_MM, a, b)
        places = [spread.Value(k) for k in range(1, spread.NbPoints() + 1)]
        points = np.array([(p.X(), p.Y()) for p in places])
        return points[:-1] if self.first < self.last else points[:0:-1]

    @cached_property
    def length_mm(self) -> float:
        """How long it is."""
        a, b = sorted((self.first, self.last))
        return float(GCPnts_AbscissaPoint.Length_s(self.curve, a, b))

    def reversed(self) -> Stretch:
        """Return the same, run the other way."""
        return Stretch(
            face=self.face,
            curve=self.curve,
            first=self.last,
            last=self.first,
            is_line=self.is_line,
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Loop:
    """A closed line of a section, the solid on the left.

    Attributes
    ----------
    stretches : tuple of Stretch
    is_outer : bool
        Whether it goes round metal; else round air.
    polygon : shapely.Polygon
        What it encloses, its curves as chords.
    """

    stretches: tuple[Stretch, ...]
    is_outer: bool
    polygon: shapely.Polygon

    @property
    def faces(self) -> frozenset[int]:
        """Faces it lies in."""
        return frozenset(s.face for s in self.stretches)


@dataclass(frozen=True, kw_only=True, eq=False)
class Section:
    """The solid cut at a height.

    Attributes
    ----------
    height_mm : float
    loops : tuple of Loop
    is_whole : bool
        Whether every line of it closed.
    """

    height_mm: float
    loops: tuple[Loop, ...]
    is_whole: bool

    @cached_property
    def metal(self) -> shapely.Geometry:
        """The area inside the solid."""
        outer = shapely.union_all([x.polygon for x in self.loops if x.is_outer])
        return shapely.difference(
            outer, shapely.union_all([x.polygon for x in self.loops if not x.is_outer])
        )


class Cutter:
    """Cuts one solid at heights.

    Parameters
    ----------
    solid : TopoDS_Shape
    """

    def __init__(self, solid: Any) -> None:
        self._solid = solid
        self.faces = faces_of(solid)
        self._numbers: dict[int, list[int]] = defaultdict(list)
        for number, face in enumerate(self.faces):
            self._numbers[hash(face)].append(number)

    def at(self, height_mm: float) -> Section:
        """Return the section at a height."""
        cut = BRepAlgoAPI_Section(
            self._solid, gp_Pln(gp_Pnt(0, 0, height_mm), gp_Dir(0, 0, 1)), False
        )
        cut.Approximation(True)
        cut.Build()
        chains, is_whole = _chained(self._stretches(cut))
        return Section(height_mm=height_mm, loops=_loops(chains), is_whole=is_whole)

    def _stretches(self, cut: Any) -> list[Stretch]:
        found: list[Stretch] = []
        explorer = TopExp_Explorer(cut.Shape(), TopAbs_EDGE)
        while explorer.More():
            edge = explorer.Current()
            explorer.Next()
            owner = TopoDS_Shape()
            if not cut.HasAncestorFaceOn1(edge, owner):
                continue
            curve = BRepAdaptor_Curve(TopoDS.Edge(edge))
            stretch = Stretch(
                face=self.number_of(owner),
                curve=curve,
                first=curve.FirstParameter(),
                last=curve.LastParameter(),
                is_line=curve.GetType() == GeomAbs_Line,
            )
            if stretch.length_mm > _SHORT_MM:
                found.append(stretch)
        return found

    def number_of(self, face: Any) -> int:
        """Return the number of a face of the solid."""
        for number in self._numbers[hash(face)]:
            if self.faces[number].IsSame(face):
                return number
        return next(k for k, known in enumerate(self.faces) if known.IsSame(face))


def _chained(stretches: Sequence[Stretch]) -> tuple[list[list[Stretch]], bool]:
    """Join stretches end to end; False where one is left over."""
    left = list(stretches)
    chains: list[list[Stretch]] = []
    is_whole = True
    while left:
        chain = [left.pop()]
        while not _meet(chain[-1].end, chain[0].start) or (
            len(chain) == 1 and not _turns(chain[0])
        ):
            found = _next(chain[-1].end, left)
            if found is None:
                is_whole = False
                chain = []
                break
            chain.append(found)
        if chain:
            chains.append(chain)
    return chains, is_whole


def _turns(one: Stretch) -> bool:
    """Return whether a stretch whose ends meet goes round, and is no speck."""
    return one.length_mm > 4 * _JOIN_MM


def _meet(a: Floats, b: Floats) -> bool:
    return bool(np.hypot(*(a - b)) <= _JOIN_MM)


def _next(place: Floats, left: list[Stretch]) -> Stretch | None:
    best, which, flipped = _JOIN_MM, -1, False
    for k, one in enumerate(left):
        for flip, end in ((False, one.start), (True, one.end)):
            away = float(np.hypot(*(end - place)))
            if away <= best:
                best, which, flipped = away, k, flip
    if which < 0:
        return None
    one = left.pop(which)
    return one.reversed() if flipped else one


def _ring(chain: Sequence[Stretch]) -> Floats:
    return np.vstack([s.chords() for s in chain])


def _loops(chains: Sequence[Sequence[Stretch]]) -> tuple[Loop, ...]:
    """Give each chain its side: outer where an even number of others go round it."""
    rings = [_ring(chain) for chain in chains]
    usable = [k for k, ring in enumerate(rings) if len(ring) > 2]
    polygons = {k: shapely.Polygon(rings[k]).buffer(0) for k in usable}
    found = []
    for k in usable:
        depth = sum(
            polygons[j].area > polygons[k].area and polygons[j].buffer(_JOIN_MM).covers(polygons[k])
            for j in usable
            if j != k
        )
        is_outer = depth % 2 == 0
        x, y = rings[k].T
        area = float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum())
        chain = list(chains[k])
        if (area > 0) is not is_outer:
            chain = [s.reversed() for s in reversed(chain)]
        found.append(Loop(stretches=tuple(chain), is_outer=is_outer, polygon=polygons[k]))
    return tuple(found)


def unit(vectors: Floats) -> Floats:
    """Return vectors of length 1."""
    size = np.sqrt((vectors**2).sum(axis=1))
    result: Floats = vectors / np.maximum(size, TINY)[:, None]
    return result
