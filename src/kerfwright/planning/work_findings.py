"""What the work itself asks for beside the cut: its material, its temperature, its stress."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from kerfwright.foundation.counts import counted
from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.foundation.units import UM_PER_MICROINCH, both_roughness
from kerfwright.foundation.zones import zone_asked, zone_held
from kerfwright.planning.rules import PlanningRules
from kerfwright.process.experience import few_jobs_finding
from kerfwright.process.sheet_records import sheet_findings
from kerfwright.process.size_records import size_findings
from kerfwright.process.small_hole import drill
from kerfwright.process.technology import Pass, PassChoice, SmallHoleLaw
from kerfwright.trade.material import UNMOLTEN
from kerfwright.trade.requirement import Requirement

_MM_PER_M = 1000.0
_PRESSED = frozenset({"carbide"})
"""Families whose blanks are pressed and sintered, with holes if one asks for them."""
_MOVES = frozenset({"steel"})
"""Families that are cut hardened and move when stock leaves them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Size:
    """A length over which a tolerance is to be held.

    Attributes
    ----------
    length_mm : float
    half_zone_um : float
    contour_id : str or None
        The contour that asks for it; None for the whole cut.
    """

    length_mm: float
    half_zone_um: float
    contour_id: str | None = None


def work_findings(
    requirement: Requirement,
    *,
    choice: PassChoice,
    sizes: Sequence[Size],
    drilled_mm: Sequence[float],
    drilling: SmallHoleLaw,
    rules: PlanningRules,
) -> list[Finding]:
    """Return what the trade says of the material, the temperature and the stress in the work.

    Parameters
    ----------
    requirement : Requirement
    choice : PassChoice
        Of the contour with most passes.
    sizes : sequence of Size
        Of the whole cut, and of contours that ask for their own tolerance.
    drilled_mm : sequence of float
        Diameters of the start holes that have to be drilled.
    drilling : SmallHoleLaw
    rules : PlanningRules

    Returns
    -------
    list of Finding
        ``material-note``, ``layer-is-no-recast``, ``start-holes-in-carbide``,
        ``temperature-uses-tolerance``, ``work-may-move``, ``rests-on-few-jobs``,
        ``sheet-in-question``, ``size-in-question``, ``size-rests-on-few-jobs``,
        ``offset-to-set``, ``offset-set-in-between`` and ``finer-pass-holds-less``.
    """
    tightest_um = min((size.half_zone_um for size in sizes), default=None)
    return [
        *_notes(requirement),
        *_start_holes(requirement, drilled_mm=drilled_mm, drilling=drilling),
        *_temperature(requirement, sizes, rules=rules),
        *_stress(requirement, tightest_um, choice=choice, rules=rules),
        *_experience(choice),
        *_finer_holds_less(choice),
    ]


def _experience(choice: PassChoice) -> list[Finding]:
    """Say where the shop's own figures rest on a job or two, or on a sheet that may be mistyped."""
    known = [(p.number, p.learned) for p in choice.passes if p.learned is not None]
    feeds = [(number, learned.few) for number, learned in known]
    few = [(number, moved) for number, moved in feeds if moved is not None]
    sheets = sheet_findings(one for _, learned in known for one in learned.sheets)
    return [*([few_jobs_finding(few)] if few else []), *sheets, *size_findings(known)]


def _finer_holds_less(choice: PassChoice) -> list[Finding]:
    """Say of passes that hold less than the one before them: by measured cuts, or by the tables."""
    pairs = [
        (before, after)
        for before, after in pairwise(choice.passes)
        if after.tolerance_um > before.tolerance_um * (1 + _ROUNDING)
    ]
    if not pairs:
        return []
    said = "; ".join(
        f"pass {after.number} holds ±{zone_held(after.tolerance_um)}, pass {before.number} before "
        f"it ±{zone_held(before.tolerance_um)}"
        for before, after in pairs
    )
    measured = sorted({p.number for pair in pairs for p in pair if _has_sizes(p)})
    of_finer = {after.number for _, after in pairs}.intersection(measured)
    passes = f"{'passes' if len(measured) > 1 else 'pass'} {' and '.join(map(str, measured))}"
    why = (
        f"Sizes that were measured after {passes} make it so"
        if measured
        else "So the tables have it, or what cuts of other work teach"
    )
    return [
        Finding(
            code="finer-pass-holds-less",
            severity=Severity.NOTE,
            message=f"A finer pass holds less than a coarser one: {said}. {why}; what it is "
            "cut for is the finish or the layer.",
            where=Place(pass_number=pairs[-1][1].number),
            remedy="Measure sizes after it too, and record them: it may hold as much."
            if measured and not of_finer
            else "Look at its offset and at the sizes recorded of it: a finer pass that takes "
            "the wall further off has a cause.",
            data={"passes": ", ".join(str(after.number) for _, after in pairs)},
        )
    ]


def _has_sizes(one: Pass) -> bool:
    """Return whether sizes after just this pass were measured, here and of this work."""
    known = one.learned
    if known is None:
        return False
    # Experience from before sizes were counted knows only that they were enough.
    return known.is_size_proven if known.sizes is None else known.sizes.count > 0


_ROUNDING: Final = 1e-6
"""Share by which two zones may differ and be the same."""
_COARSEST_ASKED_UM: Final = 25.0
"""Nobody asks a coarser finish of a cut wall: common practice, no source; N11 of ISO 1302."""


def _coarse_finish(requirement: Requirement) -> list[Finding]:
    """Ask about a finish far coarser than any cut leaves: often microinches were meant."""
    asked = {None: requirement.ra_um} | {n: d.ra_um for n, d in requirement.contours.items()}
    return [
        Finding(
            code="finish-coarser-than-usual",
            severity=Severity.WARNING,
            message=f"A finish of {both_roughness(ra_um)} is asked, coarser than any is asked of a "
            f"cut wall ({both_roughness(_COARSEST_ASKED_UM)}) and than roughing leaves: it asks "
            "for nothing.",
            where=Place(contour_id=name),
            remedy=f"Look at the drawing: if microinches were meant it is {ra_um:g} µin, "
            f"{both_roughness(ra_um * UM_PER_MICROINCH)}; or a digit or the point slipped.",
            data={"ra_um": ra_um},
        )
        for name, ra_um in asked.items()
        if ra_um is not None and ra_um > _COARSEST_ASKED_UM
    ]


def _notes(requirement: Requirement) -> list[Finding]:
    """Return the warnings of the table for the material; they belong on the sheet."""
    material, notes = requirement.material, list(requirement.material.notes)
    asked = requirement.max_recast_um, *(d.max_recast_um for d in requirement.contours.values())
    if material.recast_note and not any(asked):
        notes.append(material.recast_note)
    found = [
        Finding(code="material-note", severity=Severity.WARNING, message=note) for note in notes
    ]
    found += _coarse_finish(requirement)
    layer = UNMOLTEN.get(material.family)
    if layer is not None:
        found.append(
            Finding(
                code="layer-is-no-recast",
                severity=Severity.WARNING if any(asked) else Severity.NOTE,
                message=f"{material.name} does not melt under the spark, and no recast layer of it "
                f"forms. The depth given as recast is that of {layer}, taken as "
                f"{material.recast_factor:g} times that of steel (common practice, no source).",
                remedy="Ask what the limit is meant to keep out, and have a first piece sectioned "
                "or broken and looked at before promising it."
                if any(asked)
                else "",
                data={"recast_factor": material.recast_factor},
            )
        )
    return found


def _start_holes(
    requirement: Requirement, *, drilled_mm: Sequence[float], drilling: SmallHoleLaw
) -> list[Finding]:
    """Say what start holes by tube cost in a blank that could come with them."""
    if requirement.material.family not in _PRESSED or not drilled_mm:
        return []
    holes = [
        drill(
            requirement.height_mm,
            diameter_mm=diameter,
            material=requirement.material,
            law=drilling,
        )
        for diameter in drilled_mm
    ]
    minutes = sum(hole.minutes.likely for hole in holes)
    tube_mm = sum(hole.tube_used_mm for hole in holes)
    take = "take" if len(holes) > 1 else "takes"
    return [
        Finding(
            code="start-holes-in-carbide",
            severity=Severity.NOTE,
            message=f"{counted(len(holes), 'start hole')} by tube through "
            f"{requirement.height_mm:g} mm of {requirement.material.name} {take} about "
            f"{minutes:.0f} min and {tube_mm:.0f} mm of tube.",
            remedy="Ask for a blank with the holes pressed in before sintering, and draw them on "
            "a layer of start holes.",
            data={"minutes": minutes, "tube_mm": tube_mm},
        )
    ]


def _temperature(
    requirement: Requirement, sizes: Sequence[Size], *, rules: PlanningRules
) -> list[Finding]:
    """Say how few kelvin use up a tolerance over its length, for the one that suffers first."""
    expansion = requirement.material.expansion_um_per_mk
    lengths = [size for size in sizes if size.length_mm > 0]
    if expansion is None or not lengths:
        return []
    worst = min(lengths, key=lambda size: size.half_zone_um / size.length_mm)
    growth_um_per_k = expansion * worst.length_mm / _MM_PER_M
    kelvin = worst.half_zone_um / growth_um_per_k
    if kelvin > rules.temperature_swing_k:
        return []
    return [
        Finding(
            code="temperature-uses-tolerance",
            severity=Severity.NOTE,
            message=(
                f"Over {worst.length_mm:.0f} mm {requirement.material.name} grows "
                f"{growth_um_per_k:.1f} µm per kelvin: {kelvin:.1f} K use up "
                f"±{zone_asked(worst.half_zone_um)}."
            ),
            where=Place(contour_id=worst.contour_id),
            remedy="Let work and machine come to one temperature before the skims, and measure "
            "at 20 °C; or ask whether the tolerance is meant over the whole length.",
            data={"growth_um_per_k": growth_um_per_k, "kelvin": kelvin},
        )
    ]


def _stress(
    requirement: Requirement,
    tolerance_um: float | None,
    *,
    choice: PassChoice,
    rules: PlanningRules,
) -> list[Finding]:
    """Say that hardened steel moves between rough and skim, where the tolerance is tight."""
    if (
        requirement.material.family not in _MOVES
        or tolerance_um is None
        or tolerance_um > rules.stress_tolerance_um
        or len(choice.passes) == 1
    ):
        return []
    left_um = sum(p.stock_um for p in choice.passes)
    return [
        Finding(
            code="work-may-move",
            severity=Severity.NOTE,
            message=(
                f"Hardened steel can move when slugs leave it; {left_um:.0f} µm a side are left "
                "for the skims to take that up. The plan roughs all it can first, and does not "
                "release and clamp again."
            ),
            remedy="Ask how it was tempered. Where a pitch or a flat is tight, rough with 0.1 to "
            "0.3 mm left in a job of its own, release, clamp and pick up again, then finish.",
            data={"tolerance_um": tolerance_um, "left_um": left_um},
        )
    ]
