"""The refusal of a demand that no passes meet, and what can be had instead."""

from __future__ import annotations

from collections.abc import Sequence

from kerfwright.foundation.errors import RangeError
from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.foundation.units import (
    MM_PER_INCH,
    both_roughness,
)
from kerfwright.foundation.zones import roughness_held, zone_asked, zone_held
from kerfwright.process.demanded import Demanded, within
from kerfwright.process.guide_distance import counted_factor, is_covered
from kerfwright.process.held import two_digits_up
from kerfwright.process.size_records import rests_data, rests_remedy, rests_words
from kerfwright.process.spark_surface import choose_energies
from kerfwright.process.technology import Pass, Technology
from kerfwright.process.undercut import is_undercut
from kerfwright.process.wider_zones import held_close_um
from kerfwright.trade.requirement import Requirement


def of_contours(contour_ids: Sequence[str]) -> str:
    """Say whose demand it is; nothing where it is that of all contours."""
    return f" of {', '.join(contour_ids)}" if contour_ids else ""


def place_of(contour_ids: Sequence[str]) -> Place:
    """Return the place of a finding on contours: the first of them, if any is named."""
    return Place(contour_id=contour_ids[0]) if contour_ids else Place()


def beyond_finding(
    demand: Demanded,
    requirement: Requirement,
    every: Sequence[Pass],
    contour_ids: Sequence[str],
    *,
    technology: Technology,
) -> Finding:
    """Return the refusal of what no number of passes leaves, with what can be had instead.

    What it offers is missed no more often than is allowed (:mod:`kerfwright.process.held`): the
    best by the likely value alone would be taken, and then warned of.

    Parameters
    ----------
    demand : Demanded
    requirement : Requirement
    every : sequence of Pass
        All passes of the table.
    contour_ids : sequence of str
        Contours that it names; none where the demand is that of all.
    technology : Technology
    """
    best_um = min(demand.reached_um)
    said = both_roughness if demand.name == "finish" else zone_held
    wish = both_roughness if demand.name == "finish" else zone_asked
    sign = "±" if demand.name == "tolerance" else ""
    what = {"tolerance": "tolerance", "finish": "finish", "recast": "recast layer"}[demand.name]
    message = (
        f"The {what} asked{of_contours(contour_ids)}, {sign}{wish(demand.limit_um)}, is beyond the "
        "process: the best in "
        f"{requirement.material.name} at {requirement.height_mm:g} mm is {sign}{said(best_um)} "
        f"after {demand.count} passes."
    )
    rests = rests_words(every, asked_um=demand.limit_um) if demand.name == "tolerance" else ""
    message += rests
    sure_um, surely, accepted = best_um, ",", f"{sign}{said(best_um)}"
    if not within(min(demand.held_um), best_um):
        # What is offered is held as surely as anything else that is promised.
        sure_um = two_digits_up(min(demand.held_um))
        accepted = sign + _rounded_up(min(demand.held_um), demand.name)
        often = f"about one piece in {1 / technology.limits.allowed_miss:.2g}"
        surely = f", which {often} misses; about half would miss {said(best_um)};"
    remedy = f"Accept {accepted}{surely} or finish by another process."
    machine_um = requirement.machine.best_tolerance_um
    if demand.name == "tolerance" and within(best_um, machine_um):
        remedy = (
            f"Accept {accepted}, or take a machine that holds better than ±{zone_held(machine_um)}."
        )
    if demand.name == "tolerance":
        remedy += _with_guides_close(demand, every, requirement, technology)
    offset = rests_data(every, asked_um=demand.limit_um) if rests else {}
    if rests:
        remedy += rests_remedy(every, asked_um=demand.limit_um)
    remedy += _by_energy(demand, requirement, technology)
    return Finding(
        code=f"{demand.name}-beyond-process",
        severity=Severity.REFUSAL,
        message=message,
        where=place_of(contour_ids),
        remedy=remedy,
        data={
            "asked_um": demand.limit_um,
            "best_um": best_um,
            "sure_um": sure_um,
            "passes": len(every),
            **offset,
        },
    )


def _with_guides_close(
    demand: Demanded, every: Sequence[Pass], requirement: Requirement, technology: Technology
) -> str:
    """Say what guides close to the work would hold, where the set-up keeps them off."""
    factor = counted_factor(requirement.height_mm, guides=technology.guides)
    if is_covered(factor, guides=technology.guides):
        return ""
    close_um = min(held_close_um(p) for p in every)
    held = "" if within(close_um, demand.limit_um) else ", which is not enough either"
    best = min(every, key=lambda p: p.tolerance_um)
    undercut = ""
    if is_undercut(best):
        left_um = sum(p.stock_um for p in every[1 : best.number])
        undercut = (
            f", and pass 1 cuts deeper than the {zone_held(left_um)} of stock left for the skims "
            "in part of the walls, which stay so"
        )
    return (
        f" The set-up keeps the guides so far off that the wire gives way {factor:.2g} times as "
        f"far{undercut}: with the heads close to the work ±{zone_held(close_um)} is held{held}."
    )


def _rounded_up(held_um: float, name: str) -> str:
    """Write what can be accepted, one limit in both unit systems, never closer than it is held.

    >>> _rounded_up(12.34, "tolerance"), _rounded_up(0.618, "finish"), _rounded_up(1.346, "recast")
    ('13 µm (0.000512 in)', 'Ra 0.62 µm (25 µin)', '1.4 µm (0.0000552 in)')
    """
    limit_um = two_digits_up(held_um)
    return roughness_held(limit_um) if name == "finish" else zone_held(limit_um)


def _by_energy(demand: Demanded, requirement: Requirement, technology: Technology) -> str:
    """Say what sparks would leave the surface asked, where any do; nothing for a tolerance."""
    if demand.name == "tolerance":
        return ""
    of_finish = demand.name == "finish"
    try:
        chosen = choose_energies(
            material=requirement.material,
            law=technology.spark,
            ra_um=demand.limit_um if of_finish else None,
            max_recast_um=None if of_finish else demand.limit_um,
        )
    except RangeError:
        # A table of the shop's in which no energy follows from another: there is nothing to say.
        return ""
    least_uj = chosen.passes[-1].surface.energy_mj * 1000
    if chosen.findings:
        return f" No wire spark leaves it: it needs less than {least_uj:.2g} µJ."
    free = requirement.machine.has_free_energies
    return (
        f" By the energy of a spark {len(chosen.passes)} passes down to {least_uj:.2g} µJ would "
        f"leave it: {'set that energy' if free else 'if the machine has such a step'}, cut a "
        "sample and put its row in passes.toml."
    )


def beyond_heights(height_mm: float, *, technology: Technology) -> list[Finding]:
    """Remark on work lower or taller than the rate law is trusted for.

    Parameters
    ----------
    height_mm : float
    technology : Technology
    """
    low, high = technology.limits.least_known_height_mm, technology.limits.most_known_height_mm
    if low <= height_mm <= high:
        return []
    is_low = height_mm < low
    what, end = ("lower", low) if is_low else ("taller", high)
    how = "how fast the table and the servo may go" if is_low else "how water gets to the middle"
    return [
        Finding(
            code="height-beyond-data",
            severity=Severity.NOTE,
            message=(
                f"The feeds are drawn on: work of {both_sizes(height_mm)} is {what} than "
                f"{both_sizes(end)}, to where the curve of the rate is trusted by common practice; "
                f"{how} decides instead. Gap, finish, recast layer and tolerance are those of the "
                "heights of the pass table too. The ranges count for work within and may be too "
                "narrow here, that of the price with them."
            ),
            remedy="Cut a short length first and record it; quote with a margin until then.",
            data={"height_mm": height_mm, "least_mm": low, "most_mm": high},
        )
    ]


def both_sizes(value_mm: float) -> str:
    """Write a height of the work in both unit systems.

    >>> both_sizes(35.12)
    '35.12 mm (1.38 in)'
    """
    return f"{value_mm:g} mm ({value_mm / MM_PER_INCH:.3g} in)"
