"""A plan of small-hole work: which tube, which way up, in which order, how far."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from kerfwright.foundation.findings import Finding
from kerfwright.planning.hole_rules import HoleRules
from kerfwright.process.small_hole import SmallHole
from kerfwright.trade.hole_work import Hole, HoleWork, Vector


@dataclass(frozen=True, slots=True, kw_only=True)
class Electrode:
    """A tube with the condition it runs at.

    Attributes
    ----------
    condition : int
        Number of the power condition, one for each tube and overcut.
    tube : int
        Number of the tube in the holder, one for each diameter.
    diameter_mm : float
    overcut_mm : float
        On one side, to be set by the condition.
    makes_mm : float
        Diameter of the hole.
    """

    condition: int
    tube: int
    diameter_mm: float
    overcut_mm: float

    @property
    def makes_mm(self) -> float:
        """Diameter of the hole that comes out."""
        return self.diameter_mm + 2 * self.overcut_mm


class ChangeKind(StrEnum):
    """Why the machine stops for a tube."""

    FIRST = "first"
    """The first tube of the job, with its guide."""
    GUIDE = "guide"
    """Another diameter: tube and guide."""
    TUBE = "tube"
    """A new tube of the same diameter: the one before is used up."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TubeChange:
    """A new tube before a hole.

    Attributes
    ----------
    kind : ChangeKind
    before : int
        Number of the hole, in order of drilling.
    tube : int
    diameter_mm : float
    left_mm : float
        Free length of the tube taken out, at the likely wear; 0 at first.
    """

    kind: ChangeKind
    before: int
    tube: int
    diameter_mm: float
    left_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Stroke:
    """How far the tube is fed into one kind of hole, and what that uses up.

    Attributes
    ----------
    lip_mm : float
        How far the edge of the tube meets a sloping face above the mouth.
    feed_way_mm : float
        Way of the holder from the touch to the end.
    run_on_mm : float
        Way beyond the exit until the whole section has broken through.
    beyond_mm : float
        How far the tube may stand out beyond the exit at the least wear.
    used_mm, used_most_mm : float
        Of the tube, at the likely wear and at the 90th percentile.
    not_through_chance : float
        That the tube ends its feed before it comes out: the wear may be above the 90th percentile
        that it is fed for.  0 for blind holes.
    needs_mm : float
        Free length that must be left when the hole is done.
    minutes : float
        Likely sparking time.
    feed_mm_per_min : float
        Of the holder.
    dressed_mm : float
        Cut off the tube before the hole.
    """

    lip_mm: float
    feed_way_mm: float
    run_on_mm: float
    beyond_mm: float
    used_mm: float
    used_most_mm: float
    not_through_chance: float
    needs_mm: float
    minutes: float
    feed_mm_per_min: float
    dressed_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedHole:
    """One hole in its place in the order.

    Attributes
    ----------
    number : int
        In order of drilling, from 1.
    hole : Hole
    electrode : Electrode
    stroke : Stroke
    predicted : SmallHole
        What comes out.
    angles_deg : tuple of float
        One for each axis of turning.
    at_mm : (x, y, z)
        Mouth in coordinates of the program.
    clear_z_mm : float
        Height at which the tube travels to and from it.
    guide_gap_mm : float
    rise_k : float
        By how much its place is warmer when it begins.
    """

    number: int
    hole: Hole
    electrode: Electrode
    stroke: Stroke
    predicted: SmallHole
    angles_deg: tuple[float, ...]
    at_mm: Vector
    clear_z_mm: float
    guide_gap_mm: float
    rise_k: float

    @property
    def not_promised(self) -> tuple[str, ...]:
        """What is asked of it that more than the allowed share of such holes would miss."""
        codes = {f.code for f in self.predicted.findings}
        return tuple(
            words
            for name, words in _LIMITS
            if codes & {f"hole-{name}-beyond-process", f"hole-{name}-may-be-missed"}
        )


_LIMITS: Final = (("tolerance", "size"), ("position", "exit"), ("recast", "recast"))
"""What may be asked of a hole, by the code of its findings, as a sheet says it."""


class OrderReason(StrEnum):
    """What decided the order."""

    TRAVEL = "travel"
    """The shortest way found; heat keeps its limit on it."""
    HEAT = "heat"
    """In rounds, so that the next place has cooled."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """In which order, and why.

    Attributes
    ----------
    reason : OrderReason
    rounds : int
        1 where nothing is left out on the way.
    travel_mm : float
        Sideways, with turning counted as the way the table would go meanwhile.
    as_listed_mm : float
        The same in the order of the drawing or table.
    changes, as_listed_changes : int
        Tubes taken up, and the same in the order of the drawing or table.
    shortest_mm : float
        The same without regard to heat.
    rise_k, rise_shortest_k : float
        Warmest place when its hole begins, and the same on the shortest way.
    """

    reason: OrderReason
    rounds: int
    travel_mm: float
    as_listed_mm: float
    changes: int
    as_listed_changes: int
    shortest_mm: float
    rise_k: float
    rise_shortest_k: float


@dataclass(frozen=True, slots=True, kw_only=True)
class HolePlan:
    """How small-hole work is done.

    Attributes
    ----------
    work : HoleWork
    rules : HoleRules
    holes : tuple of PlannedHole
        In order of drilling.
    electrodes : tuple of Electrode
    changes : tuple of TubeChange
    turning_z_mm : float
        Height of the tube while the work turns.
    box_mm : ((x, y, z), (x, y, z))
        Lowest and highest corner of a box around mouths and ends of all holes of the source.
    order : Order or None
        None where nothing is drilled.
    left_out : tuple of Hole
        Refused, each with a finding.
    findings : tuple of Finding
    refusals : tuple of Finding
        Those of each hole that is left out, with its own numbers; ``findings`` has one for all
        that are alike.
    """

    work: HoleWork
    rules: HoleRules
    holes: tuple[PlannedHole, ...]
    electrodes: tuple[Electrode, ...]
    changes: tuple[TubeChange, ...]
    turning_z_mm: float
    box_mm: tuple[Vector, Vector]
    order: Order | None
    left_out: tuple[Hole, ...]
    findings: tuple[Finding, ...]
    refusals: tuple[Finding, ...] = ()
