"""The hole sheet: which start holes are drilled, where, and with which tube."""

from __future__ import annotations

from dataclasses import dataclass

from kerfwright.app.papers.common import Heading, heading_of
from kerfwright.app.records import JobResult
from kerfwright.foundation.findings import Finding
from kerfwright.foundation.ranges import Range
from kerfwright.planning.plan import StartKind
from kerfwright.process.small_hole import SmallHole, predict_hole
from kerfwright.process.technology import SmallHoleLaw


@dataclass(frozen=True, slots=True, kw_only=True)
class HoleRow:
    """One hole to drill.

    Attributes
    ----------
    number : int
        In order of drilling, which is the order in which the wire uses them.
    start_id, contour_id : str
    x_mm, y_mm : float
    hole : SmallHole
    diameter_mm, clearance_mm : float
        Clearance from the hole's edge to the nearest finished wall.
    """

    number: int
    start_id: str
    contour_id: str
    x_mm: float
    y_mm: float
    diameter_mm: float
    clearance_mm: float
    hole: SmallHole


@dataclass(frozen=True, slots=True, kw_only=True)
class HoleSheet:
    """What the driller is given.

    Attributes
    ----------
    heading : Heading
    rows : tuple of HoleRow
        Empty where no program was proved.
    given : tuple of str
        Starts whose holes the drawing gives already.
    from_edge : tuple of str
        Starts from the edge of the stock, which need no hole.
    minutes : Range or None
        Sparking time of all holes of a piece.
    tube_used_mm : float
        Likely, for all holes of a piece.
    findings : tuple of Finding
        About the holes, each once.
    is_withheld : bool
    """

    heading: Heading
    rows: tuple[HoleRow, ...]
    given: tuple[str, ...]
    from_edge: tuple[str, ...]
    minutes: Range | None
    tube_used_mm: float
    findings: tuple[Finding, ...]
    is_withheld: bool


def holes_of(result: JobResult, *, law: SmallHoleLaw) -> HoleSheet:
    """Return the hole sheet of a job; no hole is listed where no program was proved.

    Parameters
    ----------
    result : JobResult
    law : SmallHoleLaw
        The shop's figures of drilling.
    """
    is_withheld = result.program is None
    starts = () if is_withheld else tuple(c.start for c in result.plan.contours)
    material, depth_mm = result.requirement.material, result.plan.height_mm
    rows = tuple(
        HoleRow(
            number=number,
            start_id=s.id,
            contour_id=s.contour_id,
            x_mm=s.x_mm,
            y_mm=s.y_mm,
            diameter_mm=s.diameter_mm,
            clearance_mm=s.clearance_mm,
            hole=predict_hole(depth_mm, diameter_mm=s.diameter_mm, material=material, law=law),
        )
        for number, s in enumerate((s for s in starts if s.kind is StartKind.DRILLED), start=1)
    )
    every = [f for row in rows for f in row.hole.findings]
    total = None
    for row in rows:
        minutes = row.hole.drilled.minutes
        total = minutes if total is None else total + minutes
    return HoleSheet(
        heading=heading_of(result),
        rows=rows,
        given=tuple(s.id for s in starts if s.kind is StartKind.GIVEN),
        from_edge=tuple(s.id for s in starts if s.kind is StartKind.EDGE),
        minutes=total,
        tube_used_mm=sum(row.hole.tube_used_mm.likely for row in rows),
        findings=tuple({(f.code, f.message): f for f in every}.values()),
        is_withheld=is_withheld,
    )
