"""How deep and how wide holes by tube electrode are known, and what is said beyond."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from kerfwright.foundation.findings import Finding, Severity
from kerfwright.process.technology import SmallHoleLaw, read_curve


def deepest_mm(diameter_mm: float, *, law: SmallHoleLaw) -> float:
    """Return the depth to which a hole of a diameter is drilled as a matter of routine."""
    return read_curve(law.depth_to_diameter, diameter_mm) * diameter_mm


def known_to(depth_mm: float, *, diameter_mm: float, law: SmallHoleLaw) -> SmallHoleLaw:
    """Return the law with the spread that it has at a depth.

    Feed and wander are known to the routine depth; beyond it the deviations of their logarithms
    grow with the depth, ``s L / L_routine``: at twice the depth a factor of 1.67 either way becomes
    one of 2.8.

    References
    ----------
    Common practice, no source: a law that is carried beyond what it was taken from is less sure.
    """
    over = depth_mm / deepest_mm(diameter_mm, law=law)
    if over <= 1:
        return law
    return replace(
        law,
        feed_sigma_log=law.feed_sigma_log * over,
        wander_sigma_log=law.wander_sigma_log * over,
    )


def spread_together(parts: Sequence[tuple[float, float]]) -> float:
    """Return the deviation of the logarithm of a sum whose parts share one cause.

    ``sum m s / sum m``, the parts weighed by their size; parts of one spread have just that.

    Parameters
    ----------
    parts : sequence of (float, float)
        Size and deviation of the logarithm of each.

    Examples
    --------
    >>> spread_together([(2.0, 0.4), (2.0, 0.8)])
    0.6
    """
    whole = math.fsum(size for size, _ in parts)
    spreads = {sigma for _, sigma in parts}
    if len(spreads) == 1:
        return spreads.pop()
    # Rounded to where a sum of thousands still gives the same text.
    return round(math.fsum(size * sigma for size, sigma in parts) / whole, 9)


def depth_finding(depth_mm: float, *, diameter_mm: float, law: SmallHoleLaw) -> Finding | None:
    """Return what is to be said of the depth of a hole; None where it is routine.

    Parameters
    ----------
    depth_mm, diameter_mm : float
    law : SmallHoleLaw

    References
    ----------
    Materials 2022, 15, 1152: no effective routine method above 100 diameters, and up to 600 quoted.
    """
    limit = deepest_mm(diameter_mm, law=law)
    ratio = depth_mm / diameter_mm
    what = (
        f"A hole of {diameter_mm:g} mm through {depth_mm:g} mm has a depth of {ratio:.0f} diameters"
    )
    routine = f"{limit:.4g} mm is as deep as is routine"
    data = {"depth_mm": depth_mm, "limit_mm": limit, "excess": depth_mm / limit}
    if ratio > law.deepest_depth_to_diameter:
        return Finding(
            code="hole-too-deep",
            severity=Severity.REFUSAL,
            message=f"{what}; {routine}, and above {law.deepest_depth_to_diameter:g} diameters "
            "none is known to have been drilled, so that no time could be said.",
            remedy="Drill it larger or from both sides, or gun-drill it.",
            data=data,
        )
    if depth_mm > limit:
        at = known_to(depth_mm, diameter_mm=diameter_mm, law=law)
        return Finding(
            code="hole-too-deep",
            severity=Severity.WARNING,
            message=f"{what}; {routine}. Feed and wander are carried beyond what is known, and "
            f"their spread grows with the depth: {at.feed_sigma_log:.2g} in place of "
            f"{law.feed_sigma_log:.2g} (of the logarithm of the feed).",
            remedy="Drill it larger or from both sides, or cut a sample before promising.",
            data=data,
        )
    if ratio > law.published_depth_to_diameter:
        return Finding(
            code="hole-depth-unproved",
            severity=Severity.NOTE,
            message=f"{what}. Shops tell of {limit:.4g} mm at this diameter (common practice, no "
            f"source); a published review knows of no effective method for every day above "
            f"{law.published_depth_to_diameter:g} diameters.",
            remedy="Rely on the deeper figure only if your own machine has drilled it.",
            data=data,
        )
    return None


def size_findings(depth_mm: float, *, diameter_mm: float, law: SmallHoleLaw) -> list[Finding]:
    """Return what is to be said of depth and diameter.

    Parameters
    ----------
    depth_mm, diameter_mm : float
    law : SmallHoleLaw
    """
    deep = depth_finding(depth_mm, diameter_mm=diameter_mm, law=law)
    found = [] if deep is None else [deep]
    smallest, largest = law.feed_mm_per_min[0][0], law.feed_mm_per_min[-1][0]
    if not smallest <= diameter_mm <= largest:
        small = diameter_mm < smallest
        found.append(
            Finding(
                code="hole-diameter-untabled",
                severity=Severity.WARNING,
                message=f"A hole of {diameter_mm:g} mm lies outside the table, {smallest:g} to "
                f"{largest:g} mm; the feed of its end is used.",
                remedy="Drill a sample before promising a time, or allow a larger hole."
                if small
                else "Drill a sample, or cut the hole with the wire from a smaller one.",
                data={
                    "diameter_mm": diameter_mm,
                    "smallest_mm": smallest,
                    "largest_mm": largest,
                    "excess": smallest / diameter_mm if small else diameter_mm / largest,
                    "direction": "small" if small else "large",
                },
            )
        )
    return found
