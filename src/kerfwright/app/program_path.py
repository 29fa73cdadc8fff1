"""Where the wire is by the program, on the clock of the strip."""

from __future__ import annotations

from dataclasses import dataclass

from kerfwright.geometry.segments import Floats, Indices


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ProgramPath:
    """Where the wire is while it cuts, by the program.

    Attributes
    ----------
    points : (n, 3) float
        Minute of the strip, x and y of the wire centre, mm, arcs as chords.
    line : (n,) int
        Line of the program, from 1, that leads to the point.
    cut : (n,) int
        Position of the cut in the program, as in :attr:`kerfwright.app.strip.Stretch.cut`.
    lean : (n, 2) float
        By how much the wire lies aside, mm per mm up.
    """

    points: Floats
    line: Indices
    cut: Indices
    lean: Floats
