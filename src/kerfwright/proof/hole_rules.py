"""What is looked at in each hole of a program."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from statistics import NormalDist
from typing import Final

from kerfwright.foundation.directed import Use, shown
from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.foundation.places import place_words
from kerfwright.proof.hole_records import ClaimedHole, HoleClaim, Vector
from kerfwright.trade.drill import DrillMachine
from kerfwright.trade.part import LengthUnit

_Z_90: Final = NormalDist().inv_cdf(0.9)
_UM_PER_MM: Final = 1000.0
_MM_PER_INCH: Final = 25.4
_EVERYTHING_ELSE_MM: Final = 1e-4
"""A tenth of a micrometre for all but the digits of the program."""
_DIGITS: Final = 2.0
"""Half a digit in X, in Y and of the turn, and one of a height that is rounded one way."""
_ROUNDED_DEG: Final = 1e-6
_FEED_SHARE: Final = 0.02
"""The feed of a header is that of the plan, rounded."""
_BLIND_SHARE: Final = 0.01
"""A blind hole is programmed to this share of its depth."""


def slack_mm(machine: DrillMachine) -> float:
    """Return what the digits of a program may hide."""
    dialect = machine.dialect
    unit = _MM_PER_INCH if dialect.unit is LengthUnit.INCH else 1.0
    return _EVERYTHING_ELSE_MM + _DIGITS * unit / float(10**dialect.decimals)


def slack_deg() -> float:
    """Return what rounding may do to an angle at its limit."""
    return _ROUNDED_DEG


@dataclass(frozen=True, slots=True, kw_only=True)
class Drilled:
    """A feed move with sparks, and what the machine holds at it.

    Attributes
    ----------
    line : int
    hole : ClaimedHole
        That the header names.
    mouth_mm, into : (x, y, z)
        As the hole stands under the tube.
    at_mm : (x, y)
    touched_z_mm : float or None
        Height called at the last touch; None if there was none for this hole.
    end_z_mm, feed_mm_per_min : float
    tube, header_tube, condition : int or None
    guide_mm : float or None
    free_mm : float
        Of the tube before the hole, at the most wear.
    was_dressed : bool
    """

    line: int
    hole: ClaimedHole
    mouth_mm: Vector
    into: Vector
    at_mm: tuple[float, float]
    touched_z_mm: float | None
    end_z_mm: float
    feed_mm_per_min: float
    tube: int | None
    header_tube: int | None
    condition: int | None
    guide_mm: float | None
    free_mm: float
    was_dressed: bool


@dataclass(slots=True, kw_only=True)
class Seen:
    """What the look at one hole gave.

    Attributes
    ----------
    findings : list of Finding
    off_place_mm, off_axis_deg : float
    spare_mm : float
        Depth beyond what breaks through, at the most wear; infinite for blind holes.
    tube_spare_mm : float
    used_mm : float
        Of the tube, at the most wear.
    not_through : float
        Chance that a through hole is not through at the end of the feed.
    """

    findings: list[Finding] = field(default_factory=list)
    off_place_mm: float = 0.0
    off_axis_deg: float = 0.0
    spare_mm: float = math.inf
    tube_spare_mm: float = math.inf
    used_mm: float = 0.0
    not_through: float = 0.0


def check_hole(drilled: Drilled, claim: HoleClaim) -> Seen:
    """Compare one hole as programmed with what is wanted."""
    seen = Seen()
    _place(drilled, claim, seen)
    tube_mm = _tube(drilled, claim, seen)
    _depth(drilled, claim, seen, tube_mm)
    _guide(drilled, claim, seen)
    return seen


def _refuse(
    drilled: Drilled, seen: Seen, code: str, message: str, *, remedy: str, value: float = 0.0
) -> None:
    hole = drilled.hole
    seen.findings.append(
        Finding(
            code=code,
            severity=Severity.REFUSAL,
            message=f"hole {hole.id}: {message}",
            where=Place(
                entity=f"hole {hole.id}",
                x_mm=hole.mouth_mm[0],
                y_mm=hole.mouth_mm[1],
                line=drilled.line,
            ),
            remedy=remedy,
            data={"value": value},
        )
    )


def _place(drilled: Drilled, claim: HoleClaim, seen: Seen) -> None:
    machine = claim.machine
    lean = math.degrees(math.atan2(math.hypot(drilled.into[0], drilled.into[1]), -drilled.into[2]))
    seen.off_axis_deg = lean
    angle_digit = 1.0 / float(10**machine.dialect.angle_decimals) if machine.axes else 0.0
    most = _ROUNDED_DEG + angle_digit * math.sqrt(2)
    if lean > most:
        _refuse(
            drilled, seen, "hole-not-upright",
            f"it leans {lean:.4f}° under the upright tube, and {most:.4f}° is rounding",
            remedy="turn the work to the angles of the hole", value=lean,
        )  # fmt: skip
    seen.off_place_mm = math.dist(drilled.at_mm, drilled.mouth_mm[:2])
    # The turn is rounded too, and moves a mouth by its distance from the centre.
    reach = math.hypot(*drilled.mouth_mm)
    slack = slack_mm(machine) + math.radians(angle_digit) * reach
    if seen.off_place_mm > slack:
        _refuse(
            drilled, seen, "hole-off-place",
            f"it is drilled {seen.off_place_mm * _UM_PER_MM:.1f} µm from its place at "
            f"{place_words(drilled.mouth_mm[0], drilled.mouth_mm[1])}",
            remedy="plan the job again", value=seen.off_place_mm,
        )  # fmt: skip
    touched = drilled.touched_z_mm
    if touched is None:
        _refuse(
            drilled, seen, "hole-without-touch",
            "the tube does not touch before it: how long it still is, nobody knows",
            remedy="touch before each hole",
        )  # fmt: skip
    elif abs(touched - drilled.mouth_mm[2]) > slack:
        _refuse(
            drilled, seen, "face-misnamed",
            f"the touch calls the face Z{touched:.4f}; it lies at Z{drilled.mouth_mm[2]:.4f}",
            remedy="plan the job again", value=touched - drilled.mouth_mm[2],
        )  # fmt: skip


def _tube(drilled: Drilled, claim: HoleClaim, seen: Seen) -> float:
    hole = drilled.hole
    tube_mm = claim.tube_mm.get(drilled.tube or 0, 0.0)
    if drilled.tube is None:
        _refuse(drilled, seen, "no-tube", "there is no tube in the holder", remedy="take one up")
    elif drilled.header_tube != drilled.tube:
        _refuse(
            drilled, seen, "tube-not-of-header",
            f"its header says tube {drilled.header_tube}, tube {drilled.tube} is in",
            remedy="take up the tube of the header",
        )  # fmt: skip
    if drilled.condition != hole.condition:
        _refuse(
            drilled, seen, "condition-wrong",
            f"condition {drilled.condition} is on; it is to have {hole.condition}",
            remedy="plan the job again",
        )  # fmt: skip
    makes_mm = tube_mm + 2 * claim.overcut_mm.get(drilled.condition or 0, 0.0)
    off_um = abs(makes_mm - hole.diameter_mm) * _UM_PER_MM
    if drilled.tube is not None and off_um > hole.tolerance_um + _EVERYTHING_ELSE_MM:
        _refuse(
            drilled, seen, "hole-size-wrong",
            f"tube {drilled.tube} makes {makes_mm:.3f} mm, {hole.diameter_mm:.3f} mm is wanted, "
            f"±{shown(hole.tolerance_um / _UM_PER_MM, Use.ASKED)}",
            remedy="take the tube that makes it", value=makes_mm,
        )  # fmt: skip
    ratio = drilled.feed_mm_per_min / hole.feed_mm_per_min
    if abs(ratio - 1) > _FEED_SHARE:
        _refuse(
            drilled, seen, "feed-wrong",
            f"its feed is {drilled.feed_mm_per_min:.2f} mm/min, to be "
            f"{hole.feed_mm_per_min:.2f}",
            remedy="plan the job again", value=drilled.feed_mm_per_min,
        )  # fmt: skip
    return tube_mm


def _depth(drilled: Drilled, claim: HoleClaim, seen: Seen, tube_mm: float) -> None:
    """Follow the end of the tube down, and its length.

    From the touch the holder goes the way W.  The tube first meets the high side of a slope, a lip
    above the mouth; over the depth it loses ``k`` of what it drills, so that its end is at
    ``(W - lip) / (1 + k)`` while in metal.
    """
    hole, machine = drilled.hole, claim.machine
    touched = drilled.touched_z_mm if drilled.touched_z_mm is not None else drilled.mouth_mm[2]
    way = touched - drilled.end_z_mm
    lip = tube_mm / 2 * math.tan(math.radians(hole.slope_deg))
    run_on = claim.breakthrough_diameters * tube_mm + lip if hole.is_through else 0.0
    slack = slack_mm(machine)
    worn_most = way - lip - hole.depth_mm * (1 + claim.wear_high)
    if hole.is_through:
        seen.spare_mm = worn_most - run_on
        seen.not_through = _not_through(way - lip, hole.depth_mm, claim)
        if seen.spare_mm < -slack:
            _refuse(
                drilled, seen, "hole-too-shallow",
                f"at a wear that nine cases in ten stay below, it stands {worn_most:.3f} mm beyond "
                f"the exit at the end; it breaks through whole at {run_on:.3f} mm",
                remedy="feed further", value=worn_most,
            )  # fmt: skip
        elif seen.spare_mm > max(tube_mm, slack) + slack:
            _refuse(
                drilled, seen, "hole-too-deep-fed",
                f"it is fed {seen.spare_mm:.3f} mm further than it needs at a wear that nine "
                "cases in ten stay below",
                remedy="end the feed where the plan ends it", value=seen.spare_mm,
            )  # fmt: skip
        _beyond(drilled, claim, seen, way - lip, run_on)
    else:
        deep = (way - lip) / (1 + claim.wear_likely)
        if abs(deep - hole.depth_mm) > slack + _BLIND_SHARE * hole.depth_mm:
            _refuse(
                drilled, seen, "blind-depth-wrong",
                f"at the likely wear it comes out {deep:.3f} mm deep, {hole.depth_mm:.3f} mm is "
                "wanted",
                remedy="plan the job again", value=deep,
            )  # fmt: skip
        if not drilled.was_dressed:
            _refuse(
                drilled, seen, "blind-with-worn-tube",
                "the end of the tube is not dressed before this blind hole: its bottom would be a "
                "cone",
                remedy="dress the tube first",
            )  # fmt: skip
    seen.used_mm = claim.wear_high * hole.depth_mm + run_on
    guide = drilled.guide_mm or 0.0
    needed = machine.tubes.guide_length_mm + guide + lip + hole.depth_mm + run_on
    seen.tube_spare_mm = drilled.free_mm - seen.used_mm - needed
    if seen.tube_spare_mm < -slack:
        _refuse(
            drilled, seen, "tube-runs-out",
            f"the tube has {drilled.free_mm:.2f} mm free before it at a wear that nine cases in "
            f"ten stay below; the hole uses {seen.used_mm:.2f} mm and {needed:.2f} mm must stay",
            remedy="take up a new tube before this hole", value=seen.tube_spare_mm,
        )  # fmt: skip


def _not_through(way_mm: float, depth_mm: float, claim: HoleClaim) -> float:
    """Return the chance that the wear, lognormal, is above what the way allows for."""
    most = way_mm / depth_mm - 1
    if not most > 0:
        return 1.0
    sigma = math.log(claim.wear_high / claim.wear_likely) / _Z_90
    if sigma == 0:
        return float(claim.wear_likely > most)
    return NormalDist().cdf(math.log(claim.wear_likely / most) / sigma)


def _beyond(drilled: Drilled, claim: HoleClaim, seen: Seen, way: float, run_on: float) -> None:
    room = drilled.hole.room_mm
    if room is None:
        return
    stands_out = run_on
    if not claim.machine.tubes.finds_breakthrough:
        stands_out = way - drilled.hole.depth_mm * (1 + claim.wear_low)
    if stands_out > room + slack_mm(claim.machine):
        _refuse(
            drilled, seen, "no-room-beyond",
            f"where the tube wears least it stands out {stands_out:.3f} mm beyond the exit, and "
            f"there are {room:.3f} mm to the next wall",
            remedy="fill the bore, or end the feed earlier", value=stands_out,
        )  # fmt: skip


def _guide(drilled: Drilled, claim: HoleClaim, seen: Seen) -> None:
    rise = claim.machine.tubes.guide_diameter_mm / 2
    needed = rise * math.tan(math.radians(drilled.hole.slope_deg))
    needed += claim.guide_spare_mm
    if drilled.guide_mm is None or drilled.guide_mm < needed - slack_mm(claim.machine):
        has = "is not set" if drilled.guide_mm is None else f"stands at {drilled.guide_mm:.3f} mm"
        _refuse(
            drilled, seen, "guide-hits-work",
            f"the guide {has} above the face and clears its slope from {needed:.3f} mm on",
            remedy="set the guide higher", value=needed,
        )  # fmt: skip
