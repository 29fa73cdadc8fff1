"""From the holes wanted to a plan: tubes, angles, strokes, order, changes and findings."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from kerfwright.foundation.findings import Finding, Severity
from kerfwright.foundation.sizes import both_lengths as _size
from kerfwright.foundation.units import both
from kerfwright.foundation.zones import zone_asked, zone_held
from kerfwright.planning.hole_findings import (
    HoleRemarks,
    check_bottom,
    check_face,
    check_neighbours,
    predicted,
)
from kerfwright.planning.hole_notes import frame_findings, wear_notes
from kerfwright.planning.hole_order import Places, order_holes, sorted_tubes
from kerfwright.planning.hole_plan import Electrode, HolePlan, PlannedHole, Stroke
from kerfwright.planning.hole_rules import HoleRules
from kerfwright.planning.hole_tubes import (
    TubeChoice,
    changes_of,
    choose_tube,
    fits_a_new_tube,
    stroke_of,
)
from kerfwright.planning.hole_turning import angles_for, turns_of
from kerfwright.process.hole_depth import size_findings
from kerfwright.process.hole_taper import closing_finding
from kerfwright.process.small_hole import HoleDemand, SmallHole, predict_hole
from kerfwright.process.technology import SmallHoleLaw
from kerfwright.trade.hole_work import Hole, HoleWork, Vector

Floats = NDArray[np.float64]
_Found = tuple[Electrode, SmallHole, Stroke, float]
_UM_PER_MM: Final = 1000.0
_KEY_DECIMALS: Final = 9
_UNLIKE: Final = 1e-9


def plan_holes(
    work: HoleWork, *, law: SmallHoleLaw, rules: HoleRules, pause_min: float
) -> HolePlan:
    """Plan small-hole work; a hole that cannot be drilled as asked is left out with a finding.

    Parameters
    ----------
    work : HoleWork
    law : SmallHoleLaw
    rules : HoleRules
    pause_min : float
        Touch and retract of one hole, for the heat.
    """
    desk = _Desk(work=work, law=law, rules=rules, remarks=HoleRemarks(), known={}, choices={})
    holes = work.source.holes
    turned = angles_for(np.array([h.into for h in holes]).reshape(-1, 3), work.machine.axes)
    found: dict[str, _Found] = {}
    for hole, beyond in zip(holes, turned.beyond_deg.tolist(), strict=True):
        one = desk.look_at(hole, beyond)
        if one is not None:
            found[hole.id] = one
    # What is not drilled for a reason of its own is in no other hole's way.
    alone = desk.remarks.refused()
    beside = [h for h in holes if h.id in found and h.id not in alone]
    check_neighbours(beside, desk.remarks, law=law, rules=rules)
    refused = desk.remarks.refused()
    kept = [row for row, h in enumerate(holes) if h.id in found and h.id not in refused]
    drilled = set(kept)
    left_out = tuple(h for row, h in enumerate(holes) if row not in drilled)
    findings = (*work.source.findings, *(u.finding for u in work.source.unused))
    if not kept:
        return HolePlan(
            work=work, rules=rules, holes=(), electrodes=(), changes=(), turning_z_mm=0.0,
            box_mm=_box(holes),
            order=None, left_out=left_out, findings=(*findings, *desk.remarks.findings()),
            refusals=desk.remarks.refusals(),
        )  # fmt: skip
    rows = [(holes[row], found[holes[row].id]) for row in kept]
    plan = desk.arrange(rows, turned.angles_deg[kept], pause_min)
    over = frame_findings(plan)
    return replace(
        plan,
        left_out=left_out,
        findings=(*findings, *over, *desk.remarks.findings(), *wear_notes(plan, law)),
        refusals=desk.remarks.refusals(),
    )


@dataclass(slots=True, kw_only=True)
class _Desk:
    """What planning looks up, and what it has worked out of holes that are alike."""

    work: HoleWork
    law: SmallHoleLaw
    rules: HoleRules
    remarks: HoleRemarks
    known: dict[tuple[object, ...], _Found | None]
    choices: dict[float, TubeChoice]

    def look_at(self, hole: Hole, beyond_deg: float) -> _Found | None:
        """Work out one hole; None where there is no tube for it."""
        check_face(hole, self.remarks, self.rules)
        if beyond_deg > 0:
            self._out_of_reach(hole, beyond_deg)
        key = (
            hole.diameter_mm, round(hole.depth_mm, _KEY_DECIMALS), hole.is_through,
            round(hole.slope_deg, _KEY_DECIMALS), hole.tolerance_um, hole.position_um,
            hole.max_recast_um,
        )  # fmt: skip
        if key not in self.known:
            self.known[key] = self._work_out(hole)
        one = self.known[key]
        self._say_size(hole)
        if one is None:
            predicted(hole, self._impossible(hole), self.remarks)
            return None
        _, outcome, stroke, gap_mm = one
        predicted(hole, outcome.findings, self.remarks)
        check_bottom(hole, outcome.drilled.tube_diameter_mm, self.remarks, self.rules)
        self._say_limits(hole, stroke, gap_mm)
        return one

    def _work_out(self, hole: Hole) -> _Found | None:
        choice = self._choice(hole)
        if self._is_off(hole, choice.off_um) or self._impossible(hole):
            return None
        electrode = _electrode_of(choice)
        demand = HoleDemand(
            tolerance_um=None if hole.tolerance_um is None else hole.tolerance_um
            - abs(choice.off_um),
            taken_um=0.0 if hole.tolerance_um is None else abs(choice.off_um),
            exit_position_um=hole.position_um if hole.is_through else None,
            max_recast_um=hole.max_recast_um,
            setting_um=self._setting_um(hole),
        )  # fmt: skip
        outcome = predict_hole(
            hole.depth_mm,
            diameter_mm=electrode.makes_mm,
            material=self.work.material,
            law=replace(self.law, overcut_mm=choice.overcut_mm),
            demand=demand,
        )
        gap_mm = self._gap_mm(hole)
        stroke = stroke_of(
            hole, electrode=electrode, predicted=outcome, gap_mm=gap_mm,
            holder=self.work.machine.tubes, material=self.work.material, law=self.law,
            rules=self.rules, rate_factor=self.work.machine.rate_factor,
        )  # fmt: skip
        return electrode, outcome, stroke, gap_mm

    def _impossible(self, hole: Hole) -> list[Finding]:
        """Return why a hole would close before its end; nothing where a tube goes through."""
        makes_mm = _electrode_of(self._choice(hole)).makes_mm
        closed = closing_finding(
            hole.depth_mm, diameter_mm=makes_mm, taper_mm_per_mm=self.law.taper_mm_per_mm
        )
        if closed is None:
            return []
        return [closed, *size_findings(hole.depth_mm, diameter_mm=makes_mm, law=self.law)]

    def _setting_um(self, hole: Hole) -> float:
        """Return the half zone of the mouth: set with care where less than usual is asked."""
        usual = self.law.position_um
        asked = usual if hole.position_um is None else hole.position_um
        return usual if asked >= usual else self.work.machine.best_position_um

    def _choice(self, hole: Hole) -> TubeChoice:
        if hole.diameter_mm not in self.choices:
            self.choices[hole.diameter_mm] = choose_tube(
                hole.diameter_mm,
                diameters_mm=self.work.machine.tubes.diameters_mm,
                rules=self.rules,
                usual_mm=self.law.overcut_mm,
            )
        return self.choices[hole.diameter_mm]

    def _is_off(self, hole: Hole, off_um: float) -> bool:
        allowed = self.law.tolerance_um if hole.tolerance_um is None else hole.tolerance_um
        return abs(off_um) > allowed

    def _gap_mm(self, hole: Hole) -> float:
        """Return the gap at which the guide clears a sloping face."""
        lean = math.tan(math.radians(hole.slope_deg))
        rise = self.work.machine.tubes.guide_diameter_mm / 2 * lean
        return max(self.rules.guide_gap_mm, rise + self.rules.guide_spare_mm)

    def _out_of_reach(self, hole: Hole, beyond_deg: float) -> None:
        axes = self.work.machine.axes
        letters = " and ".join(a.letter for a in axes)
        can = (
            f"{letters} of {self.work.machine.name} would pass a limit by {beyond_deg:.2f}°"
            if axes
            else f"{self.work.machine.name} turns nothing"
        )
        self.remarks.add(
            hole, "hole-angle-out-of-reach", Severity.REFUSAL,
            f"it leans {hole.lean_deg:.2f}° from upright, and {can}",
            remedy="Clamp the work on a wedge of that angle and give the vectors as it then lies, "
            "or take a machine with more reach.",
            badness=beyond_deg, data={"lean_deg": hole.lean_deg, "beyond_deg": beyond_deg},
        )  # fmt: skip

    def _say_size(self, hole: Hole) -> None:
        choice = self._choice(hole)
        if not choice.off_um:
            return
        size = choice.diameter_mm + 2 * choice.overcut_mm
        says = (
            f"{_size(hole.diameter_mm)} is asked; the nearest tube, {_size(choice.diameter_mm)}, "
            f"makes {_size(size)}, off by {both(abs(choice.off_um))}"
        )
        refused = self._is_off(hole, choice.off_um)
        self.remarks.add(
            hole, "hole-no-tube" if refused else "hole-size-off",
            Severity.REFUSAL if refused else Severity.WARNING, says,
            remedy=self._tube_wanted(choice),
            badness=abs(choice.off_um),
            data={"tube_mm": choice.diameter_mm, "makes_mm": size, "off_um": choice.off_um},
            direction="large" if choice.off_um > 0 else "small",
        )  # fmt: skip

    def _tube_wanted(self, choice: TubeChoice) -> str:
        """Say which tube would make the hole: between two, or beyond the last of the machine."""
        tubes = self.work.machine.tubes.diameters_mm
        wanted, allow = "between", "or allow the size it makes"
        if choice.off_um < 0 and choice.diameter_mm == max(tubes):
            wanted = f"thicker than {_size(max(tubes))}, the thickest now, if the holder takes one,"
            allow = "cut the hole by wire from a start hole, or allow the size it makes"
        elif choice.off_um > 0 and choice.diameter_mm == min(tubes):
            wanted = f"thinner than {_size(min(tubes))}, the thinnest now, if it can guide one,"
        return f"Put a tube {wanted} in the machine definition, {allow}."

    def _say_limits(self, hole: Hole, stroke: Stroke, gap_mm: float) -> None:
        holder, remarks = self.work.machine.tubes, self.remarks
        if gap_mm > self.rules.guide_gap_most_mm:
            remarks.add(
                hole, "guide-too-far", Severity.REFUSAL,
                f"on a face of {hole.slope_deg:.1f}° the guide of "
                f"{_size(holder.guide_diameter_mm)} clears the work at {_size(gap_mm)} only; the "
                f"tube whips above {_size(self.rules.guide_gap_most_mm)}",
                remedy="Take a slimmer guide, or make a flat at the mouth.",
                badness=gap_mm, data={"gap_mm": gap_mm},
            )  # fmt: skip
        if not fits_a_new_tube(stroke, holder):
            wanted = holder.held_mm + stroke.needs_mm + stroke.dressed_mm + stroke.used_most_mm
            remarks.add(
                hole, "tube-too-short", Severity.REFUSAL,
                f"it wants a tube of {_size(wanted)}, worn {_size(stroke.used_most_mm)} or "
                f"less in nine cases of ten; a new one has {_size(holder.length_mm)}",
                remedy="Put longer tubes in the machine definition, or drill from both sides.",
                badness=wanted, data={"wanted_mm": wanted, "tube_mm": holder.length_mm},
            )  # fmt: skip
        if hole.room_mm is not None and stroke.beyond_mm > hole.room_mm:
            remarks.add(
                hole, "no-room-beyond", Severity.REFUSAL,
                f"the tube stands out {_size(stroke.beyond_mm)} beyond the exit, and there are "
                f"{_size(hole.room_mm)} to the next wall, which it would mark",
                remedy="Fill the bore with a sacrificial bar, or drill on a machine that finds "
                "the breakthrough.",
                badness=stroke.beyond_mm - hole.room_mm,
                data={"beyond_mm": stroke.beyond_mm, "room_mm": hole.room_mm},
            )  # fmt: skip
        if hole.position_um is not None:
            self._say_position(hole)

    def _say_position(self, hole: Hole) -> None:
        asked = hole.position_um or 0.0
        best = self.work.machine.best_position_um
        if asked >= self.law.position_um:
            return
        refused = asked < best
        self.remarks.add(
            hole, "hole-place-beyond-process",
            Severity.REFUSAL if refused else Severity.WARNING,
            f"its mouth is to lie within ±{zone_asked(asked)}; "
            f"±{zone_held(self.law.position_um)} is usual, {self.work.machine.name} holds "
            f"±{zone_held(best)} with care"
            + ("" if refused else ", which is reckoned with at the exit too"),
            remedy="Spot or jig-bore it first, or allow more.",
            badness=self.law.position_um - asked, data={"asked_um": asked, "best_um": best},
        )  # fmt: skip

    def arrange(
        self, rows: list[tuple[Hole, _Found]], angles_deg: Floats, pause_min: float
    ) -> HolePlan:
        """Return the plan of holes that can be drilled: numbers, angles, order, changes."""
        work, rules = self.work, self.rules
        tubes = sorted_tubes([one[0].diameter_mm for _, one in rows])
        electrodes = _electrodes(rows, tubes)
        mouths = np.array([h.mouth_mm for h, _ in rows])
        turns = turns_of(angles_deg, work.machine.axes)
        has_axes = bool(work.machine.axes)
        centre = np.array(work.centre_mm) if has_axes else np.zeros(3)
        at = (turns @ (mouths - centre)[:, :, None])[:, :, 0]
        box = _box(work.source.holes)
        clear, turning_z = self._heights(np.array(box) - centre, turns)
        order, why, rises = order_holes(
            Places(
                mouths_mm=mouths,
                at_mm=at[:, :2],
                angles_deg=angles_deg,
                tubes=np.array([tubes[one[0].diameter_mm] for _, one in rows]),
                depths_mm=np.array([h.depth_mm for h, _ in rows]),
                minutes=np.array([one[2].minutes for _, one in rows]),
            ),
            machine=work.machine, material=work.material, rules=rules, pause_min=pause_min,
        )  # fmt: skip
        listed = tuple(
            _planned(row + 1, rows[row], electrodes, angles_deg[row], at[row], float(clear[row]))
            for row in range(len(rows))
        )
        planned = tuple(
            replace(listed[row], number=number, rise_k=float(rises[number - 1]))
            for number, row in enumerate(order.tolist(), start=1)
        )
        holder = work.machine.tubes
        changes = changes_of(planned, holder)
        why = replace(why, changes=len(changes), as_listed_changes=len(changes_of(listed, holder)))
        return HolePlan(
            work=work, rules=rules, holes=planned, electrodes=tuple(electrodes.values()),
            changes=changes, turning_z_mm=turning_z,
            box_mm=box, order=why,
            left_out=(), findings=(),
        )  # fmt: skip

    def _heights(self, box: Floats, turns: Floats) -> tuple[Floats, float]:
        """Return the height of travel at each hole, and while the work turns.

        The work is taken as the box, as it is turned; `box` is (2, 3) from the centre of turning.
        """
        low, high = box
        corners = np.array(
            [(x, y, z) for x in (low[0], high[0]) for y in (low[1], high[1])
             for z in (low[2], high[2])]
        )  # fmt: skip
        clearance = self.work.clearance_mm
        between = self.rules.between_mm if clearance is None else clearance
        tops = (corners @ turns[:, 2, :].T).max(axis=0)
        if not turns_at_all(turns):
            return tops + between, float(tops.max() + max(between, self.rules.turning_mm))
        radius = float(np.sqrt((corners**2).sum(axis=1)).max())
        return tops + between, radius + max(self.rules.turning_mm, between)


def _electrode_of(choice: TubeChoice) -> Electrode:
    """Return the tube chosen, not yet numbered."""
    return Electrode(
        condition=0, tube=0, diameter_mm=choice.diameter_mm, overcut_mm=choice.overcut_mm
    )


def _box(holes: Sequence[Hole]) -> tuple[Vector, Vector]:
    """Return the lowest and highest corner around mouths and ends; of nothing, zero."""
    if not holes:
        return (0.0, 0.0, 0.0), (0.0, 0.0, 0.0)
    mouths = np.array([h.mouth_mm for h in holes]).reshape(-1, 3)
    into = np.array([h.into for h in holes]).reshape(-1, 3)
    points = np.vstack([mouths, mouths + into * np.array([[h.depth_mm] for h in holes])])
    low, high = points.min(axis=0).tolist(), points.max(axis=0).tolist()
    return (low[0], low[1], low[2]), (high[0], high[1], high[2])


def turns_at_all(turns: Floats) -> bool:
    """Return whether the work leaves the attitude of the drawing (n, 3, 3)."""
    return bool((np.abs(turns - np.eye(3)) > _UNLIKE).any())


def _electrodes(
    rows: list[tuple[Hole, _Found]], tubes: dict[float, int]
) -> dict[tuple[float, float], Electrode]:
    found: dict[tuple[float, float], Electrode] = {}
    kinds = sorted({(one[0].diameter_mm, one[0].overcut_mm) for _, one in rows})
    for condition, (diameter, overcut) in enumerate(kinds, start=1):
        found[diameter, overcut] = Electrode(
            condition=condition, tube=tubes[diameter], diameter_mm=diameter, overcut_mm=overcut
        )
    return found


def _planned(
    number: int,
    row: tuple[Hole, _Found],
    electrodes: dict[tuple[float, float], Electrode],
    angles_deg: Floats,
    at_mm: Floats,
    clear_z_mm: float,
) -> PlannedHole:
    hole, (electrode, outcome, stroke, gap_mm) = row
    x, y, z = at_mm.tolist()
    return PlannedHole(
        number=number,
        hole=hole,
        electrode=electrodes[electrode.diameter_mm, electrode.overcut_mm],
        stroke=stroke,
        predicted=outcome,
        angles_deg=tuple(a + 0.0 for a in angles_deg.tolist()),
        at_mm=(x, y, z),
        clear_z_mm=clear_z_mm,
        guide_gap_mm=gap_mm,
        rise_k=0.0,
    )
