"""The chance that a demand is missed although the likely value meets it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from statistics import NormalDist
from typing import Final

import numpy as np

from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.foundation.ranges import Z_10_90
from kerfwright.foundation.units import both_roughness
from kerfwright.foundation.zones import zone_asked, zone_held
from kerfwright.process.held import two_digits_up
from kerfwright.process.hurt_layer import ra_left_um, recast_left_um
from kerfwright.process.left_draws import ra_left_draws_um, recast_left_draws_um
from kerfwright.process.size_records import rests_words
from kerfwright.process.spark_law import SurfaceLaw
from kerfwright.process.technology import Pass
from kerfwright.trade.requirement import Demand

_NORMAL: Final = NormalDist()
_SAID_FROM: Final = _NORMAL.cdf(-Z_10_90) * 1.01
"""Chance from which it is said: that the limit lies below the high end of the range.

A limit that is that end itself, as the what-if proposes, is met: a percent covers the draws.
"""
MISSED: Final = {
    "tolerance-may-be-missed": "tolerance",
    "finish-may-be-missed": "finish",
    "recast-may-be-missed": "recast layer",
}
"""Codes of this module with what they are about."""
_AT_LIMIT: Final = 1e-9
"""Relative slack of a limit that is met exactly: 0.0001 in must not fail on its conversion."""


def chance_outside(half_zone: float, *, bias: float, sigma: float) -> float:
    """Return the chance that a normal error leaves a zone about 0.

    Parameters
    ----------
    half_zone, bias, sigma : float
        In one unit.

    Examples
    --------
    >>> round(chance_outside(5.0, bias=0.0, sigma=2.5), 4)
    0.0455
    """
    if sigma == 0:
        return float(abs(bias) > half_zone * (1 + _AT_LIMIT))
    error = NormalDist(bias, sigma)
    return error.cdf(-half_zone) + 1 - error.cdf(half_zone)


def miss_findings(
    demand: Demand, passes: Sequence[Pass], *, law: SurfaceLaw, contour_ids: Sequence[str] = ()
) -> list[Finding]:
    """Return a warning for each demand that the last pass meets, but not at the end of its range.

    Passes are chosen so that a demand is met there; this says where no passes are so sure, or a
    shop chose to count the likely value.  A tolerance is held by two standard deviations and needs
    no word, unless the shop's own cuts say otherwise.

    Parameters
    ----------
    demand : Demand
    passes : sequence of Pass
        After the last of which the demands count.
    law : SurfaceLaw
    contour_ids : sequence of str
        Contours that the findings name; none where the demand is that of all.

    Returns
    -------
    list of Finding
        Codes ``finish-may-be-missed``, ``recast-may-be-missed``, ``tolerance-may-be-missed`` with
        the chance, the range and what could be promised instead.
    """
    found, last = [], passes[-1]
    if demand.ra_um is not None:
        found += _finish(demand.ra_um, passes, law)
    if demand.max_recast_um is not None:
        found += _recast(demand.max_recast_um, passes, law)
    if demand.tolerance_um is not None:
        found += _outside(demand.tolerance_um, last)
    if not contour_ids:
        return found
    place, names = Place(contour_id=contour_ids[0]), ", ".join(contour_ids)
    return [replace(f, where=place, message=f"{names}: {f.message}") for f in found]


def _recast(limit_um: float, passes: Sequence[Pass], law: SurfaceLaw) -> list[Finding]:
    """Judge the layer that all passes together leave: old layers count, with their spread."""
    likely_um = recast_left_um(passes, law=law)
    if likely_um > limit_um * (1 + _AT_LIMIT):
        return []
    draws = recast_left_draws_um(passes, law=law)
    chance = float((draws > limit_um).mean())
    if chance <= _SAID_FROM:
        return []
    low_um, high_um = (float(v) for v in np.quantile(draws, (0.1, 0.9)))
    return [
        Finding(
            code="recast-may-be-missed",
            severity=Severity.WARNING,
            message=(
                f"The recast layer asked, {zone_asked(limit_um)}, is met by the likely value of "
                f"pass {passes[-1].number}, {likely_um:.2g} µm; with what older layers may leave "
                f"the range is {low_um:.2g}–{high_um:.2g} µm (10–90 %), and {odds(chance)} would "
                "miss."
            ),
            remedy="Do not promise it before a first piece is sectioned; "
            f"{zone_held(two_digits_up(high_um))} is met by nine in ten.",
            data={
                "asked_um": limit_um,
                "likely_um": likely_um,
                "low_um": low_um,
                "high_um": high_um,
                "chance": chance,
            },
        )
    ]


def _finish(limit_um: float, passes: Sequence[Pass], law: SurfaceLaw) -> list[Finding]:
    """Judge the finish that all passes together leave: peaks that still stand count."""
    likely_um = ra_left_um(passes, law=law)
    draws = ra_left_draws_um(passes, law=law)
    chance = float((draws > limit_um).mean())
    if chance <= _SAID_FROM or likely_um > limit_um * (1 + _AT_LIMIT):
        return []
    low_um, high_um = (float(v) for v in np.quantile(draws, (0.1, 0.9)))
    return [
        Finding(
            code="finish-may-be-missed",
            severity=Severity.WARNING,
            message=(
                f"The finish asked, {both_roughness(limit_um)}, is met by the likely value of pass "
                f"{passes[-1].number}, {likely_um:.2g} µm; the range is {low_um:.2g}–{high_um:.2g} "
                f"µm (10–90 %), and {odds(chance)} would miss."
            ),
            remedy="Do not promise it before a first piece is measured; "
            f"{both_roughness(two_digits_up(high_um))} is met by nine in ten.",
            data={
                "asked_um": limit_um,
                "likely_um": likely_um,
                "low_um": low_um,
                "high_um": high_um,
                "chance": chance,
            },
        )
    ]


def _outside(half_zone_um: float, last: Pass) -> list[Finding]:
    sigma, bias = last.size_sigma_um, last.size_bias_um
    chance = chance_outside(half_zone_um, bias=bias, sigma=sigma)
    beyond = last.tolerance_um > half_zone_um * (1 + _AT_LIMIT)
    if chance <= _SAID_FROM or beyond:
        return []
    span = last.size_error_um
    return [
        Finding(
            code="tolerance-may-be-missed",
            severity=Severity.WARNING,
            message=(
                f"The tolerance asked, ±{zone_asked(half_zone_um)}, is held by pass {last.number}; "
                f"the wall is expected {span.low:+.2g} to {span.high:+.2g} µm off (10–90 %), and "
                f"{odds(chance)} would miss.{rests_words([last], asked_um=half_zone_um)}"
            ),
            remedy="Do not promise it before a first piece is measured and the offset set by it.",
            data={
                "asked_um": half_zone_um,
                "low_um": span.low,
                "high_um": span.high,
                "chance": chance,
            },
        )
    ]


def odds(chance: float) -> str:
    """Return a chance in words: ``"about one piece in 7"``.

    >>> odds(0.137), odds(0.5)
    ('about one piece in 7', 'about one piece in 2')
    """
    return f"about one piece in {max(round(1 / chance), 1)}"
