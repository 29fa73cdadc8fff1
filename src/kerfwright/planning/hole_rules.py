"""Rules of small-hole work: the part of ``holes.toml`` that planning looks up."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from kerfwright.foundation.sources import Source


@dataclass(frozen=True, slots=True, kw_only=True)
class HoleRules:
    """Rules of thumb of small-hole work, each with a source.

    Attributes
    ----------
    overcut_low_mm, overcut_high_mm : float
        Between these the condition sets the overcut.
    approach_mm : float
        Of the tube above the face, before it touches.
    between_mm, turning_mm : float
        Of the tube above the work between holes, and above all it sweeps while it turns.
    guide_gap_mm, guide_spare_mm, guide_gap_most_mm : float
        Guide above the face: usual, spare above a slope, largest.
    least_web_mm : float
        Metal between the walls of two holes.
    slope_usual_deg, slope_most_deg : float
        Angle between the axis and the normal of the face.
    heat_into_work_w : float
        Left in the work after the water.
    rise_limit_k : float
        By how much the next place may be warmer.
    most_rounds : int
        In which the holes are drilled to spread the heat.
    dress_diameters : float
        Cut off the tube before a blind hole.
    touch_off_mm : float
        By how much a touch misses the face, half a zone.
    tip_diameters : float
        By how much the end of a dressed tube is rounded or oblique.
    sources : mapping of str to Source
    into_work_sigma_log : float
        Of the logarithm of ``heat_into_work_w``; 0 in figures kept before there was one.
    """

    overcut_low_mm: float
    overcut_high_mm: float
    approach_mm: float
    between_mm: float
    turning_mm: float
    guide_gap_mm: float
    guide_spare_mm: float
    guide_gap_most_mm: float
    least_web_mm: float
    slope_usual_deg: float
    slope_most_deg: float
    heat_into_work_w: float
    rise_limit_k: float
    most_rounds: int
    dress_diameters: float
    touch_off_mm: float
    tip_diameters: float
    sources: Mapping[str, Source]
    into_work_sigma_log: float = 0.0
