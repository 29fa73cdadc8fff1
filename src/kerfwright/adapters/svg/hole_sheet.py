"""The sheet of a job of small holes: picture, tubes, changes, findings and title block."""

from __future__ import annotations

import textwrap
from collections import Counter
from collections.abc import Iterator
from typing import Final

from kerfwright.adapters.svg import ink, style
from kerfwright.adapters.svg.hole_views import Window, hole_pictures
from kerfwright.foundation.counts import counted
from kerfwright.foundation.findings import Severity
from kerfwright.foundation.shortened import shortened
from kerfwright.foundation.units import MM_PER_INCH
from kerfwright.planning.hole_notes import deepening, worst_through
from kerfwright.planning.hole_plan import HolePlan, OrderReason
from kerfwright.process.hole_misses import of_holes
from kerfwright.proof.hole_records import HoleProof
from kerfwright.trade.part import LengthUnit

WIDTH_MM, HEIGHT_MM = 264.0, 194.0
"""Prints inside the margins of both A4 and letter, landscape."""
_COLUMN_MM: Final = 188.0
_WIDE: Final = 50
"""Characters in a line of the column."""
_ROWS: Final = 50
_CAUTION: Final = (
    "Follow the machine's manual and local codes. Guard shut: tube and water are live, under "
    "pressure.\n"
    "Water and sparks come out where the tube breaks through: hands and cloth away. Eye "
    "protection on."
)


def render_holes(plan: HolePlan, *, proof: HoleProof | None, version: str) -> str:
    """Return the plan as an SVG sheet, 264 mm x 194 mm.

    Parameters
    ----------
    plan : HolePlan
    proof : HoleProof or None
    version : str
    """
    picture, left_out = hole_pictures(
        plan, Window(left_mm=4.0, top_mm=4.0, width_mm=180.0, height_mm=182.0)
    )
    body = list(picture)
    y = 6.0
    rows = [row for block in _column(plan, proof, left_out) for row in block]
    hidden = len(rows) - _ROWS
    for is_heading, text in rows[:_ROWS]:
        y += 4.0 if is_heading else 2.9
        weight = "bold" if is_heading else "normal"
        size = 2.5 if is_heading else 2.1
        body.append(ink.words(_COLUMN_MM, y, text, size=size, weight=weight))
    if hidden > 0:
        body.append(
            ink.words(_COLUMN_MM, y + 3, f"… {counted(hidden, 'line')} more in plan.json", size=2.1)
        )
    if proof is None or not proof.passed:
        body.append(
            ink.words(
                6.0, 9.0, "NOT FOR DRILLING: there is no proved program", size=4.0, weight="bold",
                fill=style.VERMILLION, halo_mm=1.0,
            )
        )  # fmt: skip
    for i, caution in enumerate(_CAUTION.splitlines()):
        body.append(ink.words(4.0, 189.6 + i * 2.7, caution, size=2.1))
    body.append(
        ink.words(WIDTH_MM - 3, HEIGHT_MM - 1.5, f"kerfwright {version}", size=1.9, anchor="end")
    )
    return document(plan.work.source.name, body, wide_mm=WIDTH_MM, high_mm=HEIGHT_MM)


def document(name: str, body: list[str], *, wide_mm: float, high_mm: float) -> str:
    """Return a whole SVG document."""
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide_mm:g}mm" height="{high_mm:g}mm"'
        f' viewBox="0 0 {wide_mm:g} {high_mm:g}"'
        " font-family=\"'DejaVu Sans', Verdana, Arial, Helvetica, sans-serif\">\n"
        f"<title>{ink.clean(f'{name}: small holes')}</title>\n"
        f'<rect width="{wide_mm:g}" height="{high_mm:g}" fill="{style.WHITE}"/>\n'
        + "\n".join(e for e in body if e)
        + "\n</svg>\n"
    )


_Rows = list[tuple[bool, str]]


def _column(plan: HolePlan, proof: HoleProof | None, left_out: int) -> Iterator[_Rows]:
    work = plan.work
    unit = work.source.unit
    yield [
        (True, shortened(work.source.name, 34)),
        (False, f"{work.material.name}"),
        (False, f"{counted(len(plan.holes), 'hole')} on {work.machine.name}"),
        (False, f"source sha256 {work.source.sha256[:12]}; lengths in {unit.value}"),
        (False, f"proof: {_verdict(proof)}"),
    ]
    yield _tubes(plan, unit)
    yield _order(plan, unit)
    yield _not_through(plan)
    if left_out:
        yield [(False, f"{left_out} numbers found no room on the picture")]
    yield _findings(plan)


def _tubes(plan: HolePlan, unit: LengthUnit) -> _Rows:
    counts = Counter(p.electrode for p in plan.holes)
    taken = Counter(c.tube for c in plan.changes)
    rows: _Rows = [(True, "Tubes")]
    for electrode in plan.electrodes:
        says = (
            f"T{electrode.tube} {_in(electrode.diameter_mm, unit)}, condition "
            f"{electrode.condition}: {counted(counts[electrode], 'hole')} of "
            f"{_in(electrode.makes_mm, unit)}, overcut {_in(electrode.overcut_mm, unit)}"
        )
        rows += [(False, line) for line in textwrap.wrap(says, _WIDE)]
    rows += [
        (False, f"T{tube} is taken up {counted(count, 'time')}")
        for tube, count in sorted(taken.items())
    ]
    if plan.changes:
        names = [str(c.before) for c in plan.changes]
        said = "Somebody at the machine before holes " + ", ".join(names[:40])
        said += " …" if len(names) > 40 else ""
        rows += [(False, line) for line in textwrap.wrap(said, _WIDE)]
    return rows


def _order(plan: HolePlan, unit: LengthUnit) -> _Rows:
    order = plan.order
    if order is None:
        return []
    why = (
        "shortest way found" + (", tube by tube" if len(plan.electrodes) > 1 else "")
        if order.reason is OrderReason.TRAVEL
        else f"in {order.rounds} rounds, for the heat"
    )
    return [
        (True, "Order"),
        (False, f"{why}: {_in(order.travel_mm, unit)} of travel,"),
        (False, f"{counted(order.changes, 'tube')} taken up; as listed it were"),
        (False, f"{_in(order.as_listed_mm, unit)} and {counted(order.as_listed_changes, 'tube')}"),
        (False, f"warmest place begins {order.rise_k:.0f} K warmer"),
    ]


def _not_through(plan: HolePlan) -> _Rows:
    """Say the share of through holes that are not, above the findings: those may find no room."""
    worst = worst_through(plan)
    if worst is None:
        return []
    share = of_holes(worst.stroke.not_through_chance, one="case")
    says = f"In {share} the tube wears more and ends before it is out of hole {worst.hole.id}. "
    says += deepening(finds_breakthrough=plan.work.machine.tubes.finds_breakthrough)
    return [(True, "Is it through?"), *((False, line) for line in textwrap.wrap(says, _WIDE))]


def _findings(plan: HolePlan) -> _Rows:
    said = "through-depth-by-wear"
    weighty = [f for f in plan.findings if f.severity is not Severity.NOTE and f.code != said]
    if not weighty:
        return []
    rows: _Rows = [(True, "Look at this before you drill")]
    for one in weighty:
        lines = textwrap.wrap(f"{one.severity.value}: {one.message}", _WIDE)
        rows += [(False, line) for line in lines]
    return rows


def _in(value_mm: float, unit: LengthUnit) -> str:
    if unit is LengthUnit.INCH:
        return f"{round(value_mm / MM_PER_INCH, 4):.4g} in"
    return f"{value_mm:.4g} mm"


def _verdict(proof: HoleProof | None) -> str:
    if proof is None:
        return "no program was proved"
    return f"{'passed' if proof.passed else 'FAILED'}, {counted(proof.holes, 'hole')}"
