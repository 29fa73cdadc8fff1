"""The leaning walls of a job: made, checked against machine and wire, with what they bring.

The plan itself (starts, tabs, order) is made in two axes, on the section of each leaning wall in
which the wire has least room: what is clear there is clear at every height of a wall of one taper.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from kerfwright.foundation.counts import counted
from kerfwright.foundation.errors import InputError, KerfwrightError
from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.foundation.units import both
from kerfwright.foundation.zones import zone_asked
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.leaning import planar_error_mm, warp_depth_mm
from kerfwright.geometry.ruled import (
    RuledWall,
    WallPlace,
    fans,
    inside_radius,
    most_warped,
    steepest,
)
from kerfwright.geometry.segments import Segments
from kerfwright.geometry.tapered import CornerForm, constant_keys, tapered_wall
from kerfwright.planning.lean_clamps import heads_refusal
from kerfwright.planning.paired_walls import Joined, joined
from kerfwright.planning.solid_walls import given
from kerfwright.planning.split_walls import split_wall
from kerfwright.planning.varied_walls import varied
from kerfwright.trade.clamps import Clamps
from kerfwright.trade.machine import Machine
from kerfwright.trade.part import Part, PartContour
from kerfwright.trade.requirement import Requirement
from kerfwright.trade.walls import (
    GivenWall,
    LandAndRelief,
    LeaningShape,
    Pairing,
    SplitWall,
    Taper,
    TaperedWall,
    WallPart,
    WallWish,
)

_UM = 1000.0
_SEEN_UM = 0.1
"""What is less is not told."""
_POINT_MM = 1e-7
_FAN_RAD = math.radians(10.0)
"""A smaller swing is that of any corner between sides of a few degrees."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LeaningWall:
    """One leaning wall.

    Attributes
    ----------
    contour_id : str
    ruled : RuledWall
        From the underside to the top of the work.
    shape : TaperedWall, VariedWall or PairedWall
        What it is, for the proof.
    section : Contour
        Section in which the wire has least room, on which the plan is made.
    section_mm : float
        Its height.
    lean_rad : float
        Greatest angle of a ruling to the vertical.
    warp_rad : float
        Greatest turn of the normal along a ruling.
    reason : str
        How the wall came about, in plain words.
    """

    contour_id: str
    ruled: RuledWall
    shape: LeaningShape
    section: Contour
    section_mm: float
    lean_rad: float
    warp_rad: float
    reason: str

    @property
    def lean_deg(self) -> float:
        """Greatest angle to the vertical, degrees."""
        return math.degrees(self.lean_rad)


@dataclass(frozen=True, slots=True, kw_only=True)
class LeaningWalls:
    """All leaning walls of a job.

    Attributes
    ----------
    walls : mapping of str to LeaningWall
        By the name under which they are cut.
    splits : tuple of SplitWall
        Those made in two cuts.
    part : Part
        The part with each leaning contour as its section of least room.
    refused : frozenset of str
        Contours that cannot lean as asked: drawn, not cut.
    findings : tuple of Finding
    """

    walls: Mapping[str, LeaningWall]
    splits: tuple[SplitWall, ...]
    part: Part
    refused: frozenset[str]
    findings: tuple[Finding, ...]

    @property
    def of_contours(self) -> Mapping[str, LeaningWall]:
        """The walls by the contour of the drawing that they are made from."""
        return {wall.contour_id: wall for wall in self.walls.values()}


def leaning_walls(
    part: Part, requirement: Requirement, *, top: Part | None, clamps: Clamps | None = None
) -> LeaningWalls:
    """Make the leaning walls that a requirement asks for.

    Parameters
    ----------
    part : Part
    requirement : Requirement
    top : Part or None
        Drawing of the top, where contours are paired.
    clamps : Clamps or None
        Which both heads keep away from.

    Raises
    ------
    InputError
        ``contour-unknown`` if a wall is asked of a contour that the drawing does not have.
    """
    requirement.require_known(part.ids)
    walls: dict[str, LeaningWall] = {}
    splits: list[SplitWall] = []
    refused: set[str] = set()
    findings: list[Finding] = []
    contours: list[PartContour] = []
    for one in part.contours:
        asked = requirement.walls.get(one.id)
        if asked is None:
            contours.append(one)
            continue
        try:
            wall, split = _wall(one, asked, requirement, top)
        except KerfwrightError as error:
            findings.append(_refusal(error, one))
            refused.add(one.id)
            contours.append(one)
            continue
        beyond = _refusals(wall, requirement.machine, clamps)
        findings += beyond or _remarks(wall, one, requirement)
        # Plans are made for what is cut first, which takes the slug.
        comes_first = split is None or split.second is WallPart.LAND
        if beyond:
            refused.add(one.id)
        else:
            splits += [] if split is None else [split]
            walls[one.id if split is None or comes_first else split.second_id] = wall
        contours.append(replace(one, contour=wall.section) if comes_first and not beyond else one)
    return LeaningWalls(
        walls=walls,
        splits=tuple(splits),
        part=replace(part, contours=tuple(contours)),
        refused=frozenset(refused),
        findings=tuple(findings),
    )


def _wall(
    one: PartContour, asked: WallWish, requirement: Requirement, top: Part | None
) -> tuple[LeaningWall, SplitWall | None]:
    """Return the leaning wall, and how it shares the contour with an upright one."""
    height = requirement.height_mm
    match asked:
        case Pairing():
            return _joined(one, joined(one, asked, height_mm=height, top=top)), None
        case GivenWall():
            return _joined(one, given(one, asked)), None
        case LandAndRelief():
            split = split_wall(one, asked, height_mm=height)
            return _tapered(one, asked.relief(height), height), split
        case Taper():
            return _tapered(one, asked, height), None


def _tapered(one: PartContour, asked: Taper, height: float) -> LeaningWall:
    rise, reference = asked.rise(one.role), asked.height_mm(height)
    if reference > height:
        raise InputError(
            f"the reference height of {both(reference * _UM)} is above the work of "
            f"{both(height * _UM)}",
            code="taper-reference",
            remedy="Give a height within the work.",
        )
    words = "widens" if asked.widens else "narrows"
    where = f"{reference:g} mm up" if 0 < reference < height else f"at the {asked.reference.value}"
    reason = f"{words} by {asked.angle_deg:g}° from the drawn contour {where}"
    if asked.sides:
        made = varied(one, asked, height_mm=height)
        areas = [_contour(side).area_mm2 for side in (made.ruled.lower, made.ruled.upper)]
        narrow_mm = height if areas[1] > areas[0] else 0.0
        return _measured(one, made.ruled, made.shape, narrow_mm, reason + made.reason)
    corners = CornerForm.CONSTANT if asked.keeps_radius else CornerForm.CONICAL
    ruled = tapered_wall(
        one.contour,
        rise=rise,
        reference_mm=reference,
        lower_mm=0.0,
        upper_mm=height,
        corners=corners,
        other_corners=asked.other_corners,
    )
    keys = constant_keys(
        one.contour,
        crosses=0 < reference < height,
        corners=corners,
        other_corners=asked.other_corners,
    )
    shape = TaperedWall(contour=one.contour, rise=rise, reference_mm=reference, constant_keys=keys)
    narrow_mm = height if rise > 0 else 0.0
    return _measured(one, ruled, shape, narrow_mm, reason)


def _joined(one: PartContour, done: Joined) -> LeaningWall:
    # Material lies left: the wire has least room where the signed area is largest.
    lower_area, upper_area = done.shape.lower.area_mm2, done.shape.upper.area_mm2
    narrow_mm = done.shape.ruled.height_mm if upper_area > lower_area else 0.0
    return _measured(one, done.shape.ruled, done.shape, narrow_mm, done.reason)


def _measured(
    one: PartContour, ruled: RuledWall, shape: LeaningShape, narrow_mm: float, reason: str
) -> LeaningWall:
    side = ruled.upper if narrow_mm == ruled.upper_mm else ruled.lower
    return LeaningWall(
        contour_id=one.id,
        ruled=ruled,
        shape=shape,
        section=_contour(side),
        section_mm=narrow_mm,
        lean_rad=steepest(ruled).value,
        warp_rad=most_warped(ruled).value,
        reason=reason,
    )


def _contour(side: Segments) -> Contour:
    """Return a chain as a contour, its points left out."""
    real = np.flatnonzero(side.length > _POINT_MM)
    return Contour(np.column_stack([side.start[real], side.bulge[real]]))


def _refusal(error: KerfwrightError, one: PartContour) -> Finding:
    place = f" ({error.where})" if error.where else ""
    return Finding(
        code=error.code,
        severity=Severity.REFUSAL,
        message=f"contour {one.id} cannot lean as asked: {error.message}{place}",
        where=Place(contour_id=one.id),
        remedy=error.remedy,
    )


def _refusals(wall: LeaningWall, machine: Machine, clamps: Clamps | None) -> list[Finding]:
    """Return refusals of a wall that the machine cannot lean to."""
    tilt = machine.tilt
    if tilt is None:
        return [
            _found(
                wall,
                "machine-no-taper",
                f"{machine.name} keeps the wire upright, contour {wall.contour_id} leans by up to "
                f"{wall.lean_deg:.3f}°",
                remedy="take a machine that leans the wire, or add [taper] to its definition",
            )
        ]
    met = heads_refusal(wall.contour_id, wall.ruled, tilt, lean_rad=wall.lean_rad, clamps=clamps)
    found = [] if met is None else [met]
    place = steepest(wall.ruled)
    if wall.lean_deg > tilt.max_angle_deg:
        found.append(
            _found(
                wall,
                "angle-beyond-machine",
                f"the wire would lean by {wall.lean_deg:.3f}°; {machine.name} leans it by "
                f"{tilt.max_angle_deg:g}°",
                place=place,
                remedy="take a smaller angle, a lower piece, or match the contours otherwise",
                data={"lean_deg": wall.lean_deg, "limit_deg": tilt.max_angle_deg},
            )
        )
    apart = wall.ruled.height_mm + tilt.lower_guide_mm + tilt.upper_guide_mm
    apart += 2 * tilt.pivot_shift_mm(wall.lean_rad)
    rows = np.repeat(np.arange(len(wall.ruled)), 2)
    aside = np.abs(wall.ruled.rulings(rows, np.tile([0.0, 1.0], len(wall.ruled)))).max(axis=0)
    for axis, most, limit in zip(
        "UV",
        (aside / wall.ruled.height_mm * apart).tolist(),
        (tilt.travel_u_mm, tilt.travel_v_mm),
        strict=True,
    ):
        if most > limit:
            found.append(
                _found(
                    wall,
                    "uv-beyond-machine",
                    f"{axis} would travel {most:.2f} mm with the guides {apart:.1f} mm apart; "
                    f"{machine.name} has {limit:g} mm either way",
                    place=place,
                    remedy="bring the guides nearer, or take a smaller angle or a lower piece",
                    data={"travel_mm": most, "limit_mm": limit},
                )
            )
    return found


def _remarks(wall: LeaningWall, one: PartContour, requirement: Requirement) -> list[Finding]:
    found = [
        _found(
            wall,
            "wall-leans",
            f"contour {one.id} {wall.reason}; the wire leans by up to {wall.lean_deg:.3f}°",
            severity=Severity.NOTE,
            place=steepest(wall.ruled),
            data={"lean_deg": wall.lean_deg},
        )
    ]
    swings = fans(wall.ruled, widest_rad=_FAN_RAD)
    if swings:
        worst = max(swings, key=lambda place: place.value)
        found.append(
            _found(
                wall,
                "wall-fans",
                f"along contour {one.id} the wire stands at one end and swings at the other in "
                f"{counted(len(swings), 'place')}; most at X{worst.x_mm:.4f} Y{worst.y_mm:.4f}, "
                f"{worst.height_mm:.4g} mm up: {math.degrees(worst.value):.2f}°",
                severity=Severity.NOTE,
                place=worst,
                remedy="where it stands it sparks longest; match by length to spread the swing",
                data={"swing_deg": math.degrees(worst.value), "places": float(len(swings))},
            )
        )
    heights = (0.0, requirement.height_mm)
    radii = [(z, inside_radius(wall.ruled, z)) for z in heights]
    told = [f"{r.value:.3f} mm {z:g} mm up" for z, r in radii if r is not None and r.value > 0]
    if told:
        found.append(
            _found(
                wall,
                "inside-radius-by-height",
                f"the smallest inside radius of contour {one.id} is {', '.join(told)}",
                severity=Severity.NOTE,
            )
        )
    return found


def spatial_findings(
    walls: Mapping[str, LeaningWall], offsets_mm: Mapping[str, float], requirement: Requirement
) -> tuple[Finding, ...]:
    """Return what the offset in space changes against the plane, and what a warp leaves.

    Parameters
    ----------
    walls : mapping of str to LeaningWall
    offsets_mm : mapping of str to float
        Of the last pass of each contour.
    requirement : Requirement
    """
    found = []
    for name, offset in offsets_mm.items():
        wall = walls[name]
        plain_um = planar_error_mm(wall.lean_rad, distance_mm=offset) * _UM
        if plain_um >= _SEEN_UM:
            found.append(
                _found(
                    wall,
                    "offset-in-space",
                    f"set off in the plane as if upright, contour {name} would be cut "
                    f"{both(plain_um)} too deep; it is set off normal to its wall",
                    severity=Severity.NOTE,
                    data={"planar_error_um": plain_um},
                )
            )
        warp_um = warp_depth_mm(wall.warp_rad, distance_mm=offset) * _UM
        asked = requirement.demand_on(name).tolerance_um
        if asked is not None and warp_um > asked:
            place = most_warped(wall.ruled)
            found.append(
                _found(
                    wall,
                    "wall-too-warped",
                    f"the wall of contour {name} turns by {math.degrees(place.value):.2f}° from "
                    f"bottom to top; a straight wire leaves it by {both(warp_um)}, "
                    f"±{zone_asked(asked)} are asked",
                    place=place,
                    remedy="allow more, take a thinner wire, or match so that tangents agree",
                    data={"warp_um": warp_um, "asked_um": asked},
                )
            )
    return tuple(found)


def _found(
    wall: LeaningWall,
    code: str,
    message: str,
    *,
    severity: Severity = Severity.REFUSAL,
    place: WallPlace | None = None,
    remedy: str = "",
    data: Mapping[str, float] | None = None,
) -> Finding:
    return Finding(
        code=code,
        severity=severity,
        message=message,
        where=Place(
            contour_id=wall.contour_id,
            x_mm=None if place is None else place.x_mm,
            y_mm=None if place is None else place.y_mm,
        ),
        remedy=remedy,
        data=data or {},
    )
