"""The hole sheet of a job of small holes, for who drills them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from typing import Any, Final

from kerfwright.adapters.papers.for_customer import heading_shape, picture_shape
from kerfwright.adapters.papers.for_shop import DRILL_CAUTIONS, finding_rows
from kerfwright.adapters.papers.pictures import Picture
from kerfwright.adapters.papers.typeset import SIZES_MM, Paper
from kerfwright.adapters.papers.words import Units, printable, short_digest
from kerfwright.adapters.svg.hole_sheet import document
from kerfwright.adapters.svg.hole_views import Window, hole_pictures, leans
from kerfwright.app.hole_records import HoleResult
from kerfwright.app.papers.common import Digests, Heading
from kerfwright.costing.hole_estimate import drilling_min
from kerfwright.foundation.findings import Severity
from kerfwright.foundation.units import minutes_text
from kerfwright.planning.hole_notes import deepening, worst_through
from kerfwright.planning.hole_plan import ChangeKind, HolePlan, PlannedHole
from kerfwright.process.hole_misses import of_holes

TEMPLATE: Final = "hole-job"
FILE: Final = "holes.pdf"
_MARGINS_MM: Final = 30.0
_FLAT_MM: Final = 95.0
_LEANING_MM: Final = 130.0
_NAMED: Final = 12
_CHANGES: Final = 40


def hole_job_shape(
    result: HoleResult, *, digests: Digests, units: Units, paper: Paper
) -> Mapping[str, Any]:
    """Return the data of the sheet.

    Parameters
    ----------
    result : HoleResult
    digests : Digests
    units : Units
    paper : Paper
    """
    plan = result.plan
    withheld = result.program is None
    doubtful = any(p.not_promised for p in plan.holes)
    letters = [axis.letter.value for axis in plan.work.machine.axes]
    return {
        "heading": heading_shape(_heading(result), units),
        "unit": units.name,
        "withheld": withheld,
        "facts": _facts(plan, units),
        "tubes": _tubes(plan, units),
        "changes": _changes(plan),
        "columns": [
            "No.", "Hole", "X", "Y", "Z", *letters, "Ø", "Depth", "Kind", "Feed way", "Guide",
            "Time", *(["Not promised"] if doubtful else []),
        ],
        "rows": [] if withheld else [_row(p, units, doubtful=doubtful) for p in plan.holes],
        "limits": _limits(plan, units),
        "left_out": _left_out(plan),
        "findings": finding_rows(
            (f for f in result.findings if f.severity is not Severity.NOTE), units
        ),
        "cautions": list(DRILL_CAUTIONS),
        "picture": None if withheld else picture_shape(_picture(plan, paper)),
        "program_digest": short_digest(digests.program),
    }  # fmt: skip


def _heading(result: HoleResult) -> Heading:
    request, work = result.request, result.plan.work
    tall = max((p.hole.depth_mm for p in result.plan.holes), default=0.0)
    return Heading(
        drawing=work.source.name,
        revision=request.revision or "",
        customer=request.customer or "",
        reference=request.reference or "",
        due=request.due or "",
        material=work.material.name,
        height_mm=tall,
        unit=work.source.unit,
        drawing_sha256=work.source.sha256,
    )


def _facts(plan: HolePlan, units: Units) -> list[list[str]]:
    work = plan.work
    centre = " ".join(units.place(c) for c in work.centre_mm)
    zero = (
        f"where the axes turn: at {centre} {units.name} of the drawing"
        if work.machine.axes
        else "X0 Y0 Z0 of the drawing"
    )
    turning = units.place(plan.turning_z_mm)
    heights = (
        f"the work turns at Z{turning}; between holes the tube travels as the program says"
        if work.machine.axes
        else f"start and end at Z{turning}"
    )
    return [
        ["Material", printable(work.material.name)],
        ["Machine", printable(work.machine.name)],
        ["Program zero", zero],
        ["Heights", heights],
        ["Time", f"{minutes_text(drilling_min(plan))} of sparking a piece"],
    ]


def _tubes(plan: HolePlan, units: Units) -> list[list[str]]:
    counts = Counter(p.electrode for p in plan.holes)
    return [
        [
            f"T{e.tube}", units.coarse_hole(e.diameter_mm), f"P{e.condition}",
            units.place(e.overcut_mm), units.place(e.makes_mm), str(counts[e]),
        ]
        for e in plan.electrodes
    ]  # fmt: skip


def _changes(plan: HolePlan) -> list[list[str]]:
    by_number = {p.number: p.hole.id for p in plan.holes}
    words = {
        ChangeKind.FIRST: "guide and tube in: T{tube}",
        ChangeKind.GUIDE: "another guide and tube: T{tube}",
        ChangeKind.TUBE: "a new tube: T{tube}",
    }
    rows = [
        [str(c.before), by_number[c.before], words[c.kind].format(tube=c.tube)]
        for c in plan.changes
        if c.kind is not ChangeKind.TUBE or not plan.work.machine.tubes.changes_itself
    ]
    more = len(rows) - _CHANGES
    return rows if more <= 0 else [*rows[:_CHANGES], ["", "", f"and {more} more: see plan.json"]]


def _row(one: PlannedHole, units: Units, *, doubtful: bool) -> list[str]:
    hole = one.hole
    return [
        str(one.number),
        hole.id,
        *(units.place(v) for v in one.at_mm),
        *(f"{a:.3f}".replace("-", "−") for a in one.angles_deg),
        units.coarse_hole(hole.diameter_mm),
        units.coarse_hole(hole.depth_mm),
        "through" if hole.is_through else "blind",
        units.coarse_hole(one.stroke.feed_way_mm),
        units.coarse_hole(one.guide_gap_mm),
        minutes_text(one.stroke.minutes),
        *([", ".join(one.not_promised)] if doubtful else []),
    ]


def _limits(plan: HolePlan, units: Units) -> list[str]:
    if not plan.holes:
        return []
    narrows = max(p.electrode.makes_mm - p.predicted.exit_diameter_mm for p in plan.holes)
    widens = max(p.predicted.entry_diameter_mm - p.electrode.makes_mm for p in plan.holes)
    wander = max(p.predicted.wander_mm for p in plan.holes)
    told = (
        "X, Y and Z are those of the program, the work turned as listed; Z is the mouth. Feed way "
        "is that of the holder from the touch, for a wear that nine cases in ten stay below (blind "
        "holes: the likely wear)."
    )
    taper = (
        f"Ø is that of the hole as set up: the exit is narrower by {units.small(1000 * narrows)}, "
        f"the mouth wider by {units.small(1000 * widens)} at most; a tolerance on the diameter "
        "does not count them."
    )
    found = [
        told,
        f"A hole may wander by {units.small(1000 * wander)} on its way.",
        taper,
    ]
    worst = worst_through(plan)
    if worst is not None:
        finds = plan.work.machine.tubes.finds_breakthrough
        share = of_holes(worst.stroke.not_through_chance, one="case")
        found.append(
            f"In {share} the tube wears so much more that it ends before it comes out of hole "
            f"{printable(worst.hole.id)}. {deepening(finds_breakthrough=finds)}"
        )
    if leans(plan):
        found.append("On a slope the guide stands higher, as listed: see that it clears the work.")
    return found


def _left_out(plan: HolePlan) -> str:
    rows = [f"line {row.line}" for row in plan.work.source.unused]
    names = [*(h.id for h in plan.left_out), *rows]
    more = len(names) - _NAMED
    return ", ".join(names[:_NAMED]) + (f" and {more} more" if more > 0 else "")


def _picture(plan: HolePlan, paper: Paper) -> Picture:
    wide = SIZES_MM[paper][0] - _MARGINS_MM
    high = _LEANING_MM if leans(plan) else _FLAT_MM
    body, left_out = hole_pictures(
        plan, Window(left_mm=0.0, top_mm=0.0, width_mm=wide, height_mm=high)
    )
    return Picture(
        svg=document(plan.work.source.name, body, wide_mm=wide, high_mm=high),
        width_mm=wide,
        height_mm=high,
        scale="free",
        left_out=left_out,
    )
