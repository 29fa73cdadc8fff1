"""The second cut of walls made in two: its passes, its way, and what keeps it from being made."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from kerfwright.foundation.errors import InputError
from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.foundation.sizes import both_lengths
from kerfwright.foundation.units import both
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.regions import nearest_station
from kerfwright.planning.flushing_state import CLOSED_NOZZLES
from kerfwright.planning.leaning import LeaningWall, LeaningWalls
from kerfwright.planning.leaning_water import LeaningWater
from kerfwright.planning.memory import Memory
from kerfwright.planning.order import order_operations
from kerfwright.planning.plan import ContourPlan, Plan
from kerfwright.planning.second_cut import SecondCut
from kerfwright.planning.wires import paths_of
from kerfwright.process.flushing import skim_advice
from kerfwright.process.technology import Technology
from kerfwright.trade.requirement import Requirement
from kerfwright.trade.walls import LandAndRelief, SplitWall, TaperedWall, WallPart

_UM = 1000.0


def with_second_cuts(
    plan: Plan, lean: LeaningWalls, *, technology: Technology, water: LeaningWater
) -> Plan:
    """Return a plan with the second cuts of its walls made in two, right after the first.

    The second begins with the first skim where the first leaves no more than the skims take
    together, else with the rough pass; it needs no tab, for no piece comes free in it.

    Parameters
    ----------
    plan : Plan
        With the first cut of each.
    lean : LeaningWalls
    technology : Technology
    water : LeaningWater
        At walls that lean.

    Returns
    -------
    Plan
        Without the contours whose second cut cannot be made.
    """
    if not lean.splits:
        return plan
    seconds, findings, dropped = [], list(plan.findings), set()
    for split in lean.splits:
        first = next((c for c in plan.contours if c.target.id == split.first_id), None)
        if first is None:
            continue
        try:
            one = _second(first, split, plan.requirement, lean.walls, water)
        except InputError as error:
            findings.append(_refused(error, split))
            dropped.add(split.first_id)
            continue
        seconds.append(one)
        findings.append(_told(one))
    kept = tuple(c for c in plan.contours if c.target.id not in dropped)
    return replace(
        plan,
        contours=kept,
        seconds=tuple(seconds),
        operations=order_operations(
            kept, skim_flushing=skim_advice(law=technology.flushing), seconds=tuple(seconds)
        ),
        findings=tuple(findings),
    )


def _second(
    first: ContourPlan,
    split: SplitWall,
    requirement: Requirement,
    walls: Mapping[str, LeaningWall],
    water: LeaningWater,
) -> ContourPlan:
    """Return the plan of a second cut.

    Raises
    ------
    InputError
        ``ring-comes-loose``, ``land-needs-two-cuts`` or ``second-cut-no-room``.
    """
    asked = requirement.walls[split.first_id]
    assert isinstance(asked, LandAndRelief)
    contour = _contour(split, first, walls)
    target = replace(first.target, id=split.second_id, contour=contour)
    path = paths_of(target, first.choice, Memory())
    if path.refusal is not None:
        raise InputError(
            f"the wire finds no way along it: {path.refusal.message}", code="second-cut-no-room"
        )
    follows = _follows(first, split, asked)
    lead = first.target.contour.points_at(np.array([first.lead_station_mm]))[0]
    station, _ = nearest_station(contour, (float(lead[0]), float(lead[1])))
    wall = walls.get(split.second_id)
    # The two parts of the wall lean differently: the water of the first is not that of this one.
    before = first.flushing if first.lean.upright is None else first.lean.upright
    flushing = replace(
        CLOSED_NOZZLES,
        along_factor=min(before.along_factor, before.beside_factor),
        advice=before.advice,
        breaks_by_heat=before.breaks_by_heat,
        breaks_by_dirt=before.breaks_by_dirt,
        has_wire=before.has_wire,
    )
    second = ContourPlan(
        target=target,
        start=first.start,
        lead_station_mm=station,
        tab=None,
        slug=first.slug,
        skims_before_cut_off=False,
        rough_attendance=first.rough_attendance,
        loops=path.loops,
        unreachable=path.unreachable,
        choice=first.choice,
        flushing=flushing,
        follows=follows,
    )
    return second if wall is None else water.leaning(second, wall.lean_deg)


def _contour(split: SplitWall, first: ContourPlan, walls: Mapping[str, LeaningWall]) -> Contour:
    """Return the contour along which the second cut is planned."""
    if split.second is WallPart.RELIEF:
        return walls[split.second_id].section
    shape = walls[split.first_id].shape
    assert isinstance(shape, TaperedWall)
    assert first.target.id == split.first_id
    return shape.contour


def _follows(first: ContourPlan, split: SplitWall, asked: LandAndRelief) -> SecondCut:
    """Return with which pass the second cut begins, and why."""
    left_um = split.left_mm * _UM
    take_um = sum(p.stock_um for p in first.passes[1:])
    radius_um = first.choice.wire.radius_mm * _UM
    kerf_um = 2 * (radius_um + first.passes[0].gap_um)
    what = split.second.value
    if left_um >= kerf_um:
        other = split.first.value
        raise InputError(
            f"the {other} cut first leaves up to {both(left_um)} before the {what}, and the kerf "
            f"is {both(kerf_um)} wide: a ring would come loose beside the wire",
            code="ring-comes-loose",
            remedy=_instead(split, kerf_um / _UM),
        )
    by_skims = len(first.passes) > 1 and left_um <= take_um
    if asked.full_cuts == 1 and not by_skims:
        raise InputError(
            f"one full cut leaves up to {both(left_um)} before the {what}; the skims take "
            f"{both(take_um)} together",
            code="land-needs-two-cuts",
            remedy="Leave out cuts=one, or take a lower land or a smaller angle.",
        )
    first_pass = 2 if by_skims and asked.full_cuts != 2 else 1
    return SecondCut(
        wall=split,
        first_pass=first_pass,
        left_um=left_um,
        skims_take_um=take_um,
        kerf_um=2 * (radius_um + first.passes[first_pass - 1].gap_um),
        why=_why(split, first_pass, left_um, take_um, kerf_um, is_asked=asked.full_cuts == 2),
    )


def _instead(split: SplitWall, kerf_mm: float) -> str:
    """Return what to do where a ring would come loose."""
    low, high = split.stands_mm(split.first_id)
    if (high - low) * split.slope < kerf_mm:
        return f"Let the {split.second.value} come first: first={split.second.value}."
    most_mm = kerf_mm / split.slope
    if split.second is WallPart.LAND:
        return f"Take a land lower than {both_lengths(most_mm)}, or a smaller angle."
    return f"Take a smaller angle, or a relief lower than {both_lengths(most_mm)}."


def _why(
    split: SplitWall, first_pass: int, left_um: float, take_um: float, kerf_um: float, *,
    is_asked: bool,
) -> str:  # fmt: skip
    other, what = split.first.value, split.second.value
    asked = "" if split.second is WallPart.LAND else " as asked"
    order = (
        f"the {other} first{asked}, which takes the slug; it leaves up to {both(left_um)} before "
        f"the {what}, less than the kerf of {both(kerf_um)}, so that nothing comes loose when the "
        f"{what} is cut"
    )
    if split.second is WallPart.LAND:
        order += ", and the land is finished last"
    if first_pass > 1:
        return (
            f"{order}. One cut through full metal: the skims, which take {both(take_um)} together, "
            f"reach the {what} from pass {first_pass} on"
        )
    because = "as asked" if is_asked else f"the skims alone take {both(take_um)}"
    return f"{order}. Two cuts at full power ({because}): the {what} is roughed all round too"


def _told(one: ContourPlan) -> Finding:
    assert one.follows is not None
    split = one.follows.wall
    return Finding(
        code="land-and-relief",
        severity=Severity.NOTE,
        message=f"contour {split.first_id} is made in two, in one program: {one.follows.why}",
        where=Place(contour_id=split.first_id),
        data={
            "edge_mm": split.edge_mm,
            "left_um": one.follows.left_um,
            "first_pass": float(one.follows.first_pass),
        },
    )


def _refused(error: InputError, split: SplitWall) -> Finding:
    return Finding(
        code=error.code,
        severity=Severity.REFUSAL,
        message=f"contour {split.first_id} cannot have land and relief as asked: {error.message}",
        where=Place(contour_id=split.first_id),
        remedy=error.remedy,
    )
