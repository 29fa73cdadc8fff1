"""What the proof of a program of small holes takes and what it says."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from kerfwright.foundation.findings import Finding
from kerfwright.trade.drill import DrillMachine

Vector = tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class ClaimedHole:
    """One hole that the program is to drill.

    Attributes
    ----------
    id : str
    mouth_mm, into : (x, y, z)
        In coordinates of the drawing; the entry vector has length 1.
    diameter_mm, depth_mm : float
    is_through : bool
    tolerance_um : float
        Half zone of the diameter.
    slope_deg : float
        Between the axis and the normal of the face.
    room_mm : float or None
        Beyond the exit.
    condition : int
    feed_mm_per_min : float
    """

    id: str
    mouth_mm: Vector
    into: Vector
    diameter_mm: float
    depth_mm: float
    is_through: bool
    tolerance_um: float
    slope_deg: float
    room_mm: float | None
    condition: int
    feed_mm_per_min: float


@dataclass(frozen=True, slots=True, kw_only=True)
class HoleClaim:
    """What a program is to be checked against.

    What maker and judge share is written here and nowhere else: the holes as wanted, the figures of
    the process, the clearances asked, and which condition and feed each hole has.

    Attributes
    ----------
    holes : tuple of ClaimedHole
    machine : DrillMachine
    centre_mm : (x, y, z)
        Where the axes of turning cross.
    box_low_mm, box_high_mm : (x, y, z)
        Corners of a box around the work, as far as it is known.
    tube_mm : mapping of int to float
        Diameter of each tube.
    overcut_mm : mapping of int to float
        Of each condition, on one side.
    wear_low, wear_likely, wear_high : float
        Length a tube loses per depth: 10th, 50th and 90th percentile.
    breakthrough_diameters : float
        How far a tube runs on beyond the exit.
    between_mm, turning_mm : float
        Clearance over the work sideways, and while it turns.
    guide_spare_mm : float
        Least distance of the guide from a sloping face.
    dress_diameters : float
        Cut off before a blind hole.
    """

    holes: tuple[ClaimedHole, ...]
    machine: DrillMachine
    centre_mm: Vector
    box_low_mm: Vector
    box_high_mm: Vector
    tube_mm: Mapping[int, float]
    overcut_mm: Mapping[int, float]
    wear_low: float
    wear_likely: float
    wear_high: float
    breakthrough_diameters: float
    between_mm: float
    turning_mm: float
    guide_spare_mm: float
    dress_diameters: float


class DrillEventKind(StrEnum):
    """What happens in the course of a program."""

    STOP = "stop"
    TUBE = "tube"
    DRESS = "dress"


@dataclass(frozen=True, slots=True, kw_only=True)
class DrillingEvent:
    """Something that happens at a line of the program.

    Attributes
    ----------
    kind : DrillEventKind
    line : int
    after_holes : int
        Holes drilled before it.
    message : str
    """

    kind: DrillEventKind
    line: int
    after_holes: int
    message: str


@dataclass(frozen=True, slots=True, kw_only=True)
class HoleProof:
    """The verdict on a program of small holes.

    Attributes
    ----------
    passed : bool
        True only if no finding is a refusal.
    holes : int
        Drilled.
    most_off_place_um, most_off_axis_deg : float
        Over all holes, as programmed.
    least_spare_mm : float
        Least depth to spare at the 90th percentile of the wear, of through holes, beyond what
        breaks through.
    least_tube_mm : float
        Least free length of a tube to spare at the end of a hole, at the same wear.
    most_not_through : float
        Largest chance that a tube ends its feed before it comes out of a through hole: the wear
        may be above the 90th percentile.
    events : tuple of DrillingEvent
    findings : tuple of Finding
    program_sha256 : str
    """

    passed: bool
    holes: int
    most_off_place_um: float
    most_off_axis_deg: float
    least_spare_mm: float
    least_tube_mm: float
    most_not_through: float
    events: tuple[DrillingEvent, ...]
    findings: tuple[Finding, ...]
    program_sha256: str
