"""Which tube makes a hole, how far it is fed, and when it is used up."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from kerfwright.foundation.ranges import Range
from kerfwright.planning.hole_plan import ChangeKind, Electrode, PlannedHole, Stroke, TubeChange
from kerfwright.planning.hole_rules import HoleRules
from kerfwright.process.hole_misses import not_through_chance
from kerfwright.process.small_hole import SmallHole
from kerfwright.process.technology import SmallHoleLaw
from kerfwright.trade.drill import TubeHolder
from kerfwright.trade.hole_work import Hole
from kerfwright.trade.material import Material

_UM_PER_MM: Final = 1000.0
_SIZE_DECIMALS: Final = 9
"""Drops the rounding of a sum of diameters."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TubeChoice:
    """The tube nearest to a hole.

    Attributes
    ----------
    diameter_mm, overcut_mm : float
    off_um : float
        Size of the hole that comes out less that asked.
    """

    diameter_mm: float
    overcut_mm: float
    off_um: float


def choose_tube(
    diameter_mm: float, *, diameters_mm: Sequence[float], rules: HoleRules, usual_mm: float
) -> TubeChoice:
    """Choose the tube that makes a hole with the least error, then the most usual overcut.

    ``hole = tube + 2 overcut``; the condition sets the overcut between two limits.

    Parameters
    ----------
    diameter_mm : float
        Of the hole.
    diameters_mm : sequence of float
        Tubes at hand.
    rules : HoleRules
    usual_mm : float
        The overcut that needs no care.

    Examples
    --------
    A hole of 1 mm, tubes of 0.8 and 0.9 mm, overcut 0.03 to 0.06 mm: the 0.9 mm tube at 0.05 mm.
    """

    def choice(tube_mm: float) -> TubeChoice:
        wanted = (diameter_mm - tube_mm) / 2
        overcut = min(max(wanted, rules.overcut_low_mm), rules.overcut_high_mm)
        off = tube_mm + 2 * overcut - diameter_mm
        return TubeChoice(
            diameter_mm=tube_mm,
            overcut_mm=round(overcut, _SIZE_DECIMALS),
            off_um=round(off * _UM_PER_MM, 6),
        )

    return min(
        (choice(tube) for tube in diameters_mm),
        key=lambda c: (abs(c.off_um), abs(c.overcut_mm - usual_mm), -c.diameter_mm),
    )


def stroke_of(
    hole: Hole,
    *,
    electrode: Electrode,
    predicted: SmallHole,
    gap_mm: float,
    holder: TubeHolder,
    material: Material,
    law: SmallHoleLaw,
    rules: HoleRules,
    rate_factor: float,
) -> Stroke:
    """Return how far the tube is fed and what that uses up.

    The holder goes ``lip + L (1 + k) + (b d + lip)`` from the touch: the tube loses ``k L`` on its
    way and, through, runs on ``b d`` and the lip beyond.  Through holes are fed for the wear at its
    90th percentile, blind ones for the likely wear.  The lip of a tube d on a slope f is
    ``d/2 tan f``.

    Parameters
    ----------
    hole : Hole
    electrode : Electrode
    predicted : SmallHole
        At the depth and size of the hole.
    gap_mm : float
        Guide to face.
    holder : TubeHolder
    material : Material
    law : SmallHoleLaw
    rules : HoleRules
    rate_factor : float
        Of the machine.
    """
    tube_mm, depth_mm = electrode.diameter_mm, hole.depth_mm
    wear = wear_range(material, law)
    lip_mm = tube_mm / 2 * math.tan(math.radians(hole.slope_deg))
    run_on_mm = law.breakthrough_diameters * tube_mm + lip_mm if hole.is_through else 0.0
    fed_for = wear.high if hole.is_through else wear.likely
    feed_way_mm = lip_mm + depth_mm * (1 + fed_for) + run_on_mm
    likely_way_mm = lip_mm + depth_mm * (1 + wear.likely) + run_on_mm
    # The law's time covers depth and breakthrough of a square through hole.
    of_law_mm = depth_mm + law.breakthrough_diameters * tube_mm
    cut_mm = lip_mm + depth_mm + run_on_mm
    minutes = predicted.drilled.minutes.likely * cut_mm / of_law_mm / rate_factor
    spare_mm = 0.0 if holder.finds_breakthrough else depth_mm * (wear.high - wear.low)
    return Stroke(
        lip_mm=lip_mm,
        feed_way_mm=feed_way_mm,
        run_on_mm=run_on_mm,
        beyond_mm=run_on_mm + spare_mm if hole.is_through else 0.0,
        used_mm=wear.likely * depth_mm + run_on_mm,
        used_most_mm=wear.high * depth_mm + run_on_mm,
        not_through_chance=not_through_chance(
            feed_way_mm, lip_mm=lip_mm, depth_mm=depth_mm, wear=wear
        )
        if hole.is_through
        else 0.0,
        needs_mm=holder.guide_length_mm + gap_mm + lip_mm + depth_mm + run_on_mm,
        minutes=minutes,
        feed_mm_per_min=likely_way_mm / minutes,
        dressed_mm=0.0 if hole.is_through else rules.dress_diameters * tube_mm,
    )


def wear_range(material: Material, law: SmallHoleLaw) -> Range:
    """Return the length a tube loses per depth."""
    return Range.lognormal(law.wear_ratio[material.family], sigma_log=law.wear_sigma_log)


def fits_a_new_tube(stroke: Stroke, holder: TubeHolder) -> bool:
    """Return whether a new tube is long enough for one hole."""
    free_mm = holder.length_mm - holder.held_mm
    return free_mm - stroke.dressed_mm - stroke.used_most_mm >= stroke.needs_mm


def changes_of(holes: Sequence[PlannedHole], holder: TubeHolder) -> tuple[TubeChange, ...]:
    """Return when a new tube is needed, holes being in order.

    A tube is changed where, at the 90th percentile of the wear so far, it would end too short for
    the next hole.
    """
    new_mm = holder.length_mm - holder.held_mm
    changes: list[TubeChange] = []
    tube, least_mm, likely_mm = 0, 0.0, 0.0
    for one in holes:
        stroke = one.stroke
        kind = None
        if one.electrode.tube != tube:
            kind = ChangeKind.GUIDE if changes else ChangeKind.FIRST
        elif least_mm - stroke.dressed_mm - stroke.used_most_mm < stroke.needs_mm:
            kind = ChangeKind.TUBE
        if kind is not None:
            changes.append(
                TubeChange(
                    kind=kind,
                    before=one.number,
                    tube=one.electrode.tube,
                    diameter_mm=one.electrode.diameter_mm,
                    left_mm=max(likely_mm, 0.0),
                )
            )
            tube, least_mm, likely_mm = one.electrode.tube, new_mm, new_mm
        least_mm -= stroke.dressed_mm + stroke.used_most_mm
        likely_mm -= stroke.dressed_mm + stroke.used_mm
    return tuple(changes)
