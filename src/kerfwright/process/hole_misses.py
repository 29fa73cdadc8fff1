"""The chance that a hole by tube electrode misses what is asked of it."""

from __future__ import annotations

import math
from functools import lru_cache
from statistics import NormalDist
from typing import Final

import numpy as np
from scipy.optimize import brentq

from kerfwright.foundation.ranges import Range

_NORMAL: Final = NormalDist()
_STRATA: Final = 400
"""Equally likely values of the wander that are averaged over."""
_OUTSIDE_A_ZONE: Final = 2 * _NORMAL.cdf(-2.0)
"""What leaves a half zone, which is two standard deviations here as it is for walls."""
_AXIS_SIGMAS: Final = math.sqrt(-2 * math.log(_OUTSIDE_A_ZONE))
"""Half zone of a place over the standard deviation along one axis: as much leaves its circle."""
_SURE_TO_HOLD: Final = 1e-3
"""Of the setting's own spread: no drill comes so near; also how near a limit is sought, µm."""
_LEAST_CHANCE: Final = 1e-9
_MOST_ODDS: Final = 0.55
_NEARLY_ALL: Final = 0.95


def chance_above(limit: float, value: Range) -> float:
    """Return the chance that a lognormal quantity lies above a limit.

    Parameters
    ----------
    limit : float
        In the unit of the range, above 0.
    value : Range
        Of 10 to 90 %.

    Examples
    --------
    >>> round(chance_above(40.0, Range(low=10.0, likely=20.0, high=40.0)), 3)
    0.1
    """
    sigma = value.sigma_log
    if sigma == 0:
        return float(value.likely > limit)
    return _NORMAL.cdf(math.log(value.likely / limit) / sigma)


def above_by(missed: float, value: Range) -> float:
    """Return the limit that a lognormal quantity exceeds by a chance, below 1.

    >>> round(above_by(0.1, Range(low=10.0, likely=20.0, high=40.0)), 6)
    40.0
    """
    return value.likely * math.exp(-_NORMAL.inv_cdf(missed) * value.sigma_log)


@lru_cache(maxsize=256)
def chance_off_place(limit_um: float, *, setting_um: float, wander_um: Range) -> float:
    """Return the chance that an exit lies further than a limit from where it is meant to be.

    The setting is normal along both axes and leaves its half zone as seldom as a wall its own; the
    wander is lognormal, to any side.  Given the wander w the distance follows Rice's distribution,
    and the squares over the variance a noncentral chi square of two degrees of freedom.

    Parameters
    ----------
    limit_um : float
        Radius.
    setting_um : float
        Half zone of the place at the entry.
    wander_um : Range
        Of 10 to 90 %.
    """
    # On demand: it loads more than all of the planning, and few jobs ask for the place of an exit.
    from scipy.stats import ncx2

    sigma = setting_um / _AXIS_SIGMAS
    shares = (np.arange(_STRATA) + 0.5) / _STRATA
    deviates = np.array([_NORMAL.inv_cdf(float(s)) for s in shares])
    wander = wander_um.likely * np.exp(wander_um.sigma_log * deviates)
    return float(np.mean(ncx2.sf((limit_um / sigma) ** 2, 2, (wander / sigma) ** 2)))


def place_held_um(missed: float, *, setting_um: float, wander_um: Range) -> float:
    """Return the distance that no more than a share of the exits lies beyond.

    Parameters
    ----------
    missed : float
    setting_um, wander_um
        As in :func:`chance_off_place`.
    """

    def beyond(limit_um: float) -> float:
        return chance_off_place(limit_um, setting_um=setting_um, wander_um=wander_um) - missed

    most = 10 * (setting_um + wander_um.high)
    return float(brentq(beyond, setting_um * _SURE_TO_HOLD, most, xtol=_SURE_TO_HOLD))


def not_through_chance(way_mm: float, *, lip_mm: float, depth_mm: float, wear: Range) -> float:
    """Return the chance that a tube ends its feed before it comes out of a through hole.

    The tube has come out where ``W - lip - L (1 + k) > 0``, so that it has not where the wear k is
    above ``(W - lip) / L - 1``; k is lognormal.

    Parameters
    ----------
    way_mm : float
        Of the holder from the touch.
    lip_mm, depth_mm : float
    wear : Range
        Length lost per depth, of 10 to 90 %.
    """
    most = (way_mm - lip_mm) / depth_mm - 1
    return chance_above(most, wear) if most > 0 else 1.0


def of_holes(chance: float, *, one: str = "hole") -> str:
    """Return a chance in words.

    >>> of_holes(0.26), of_holes(0.5), of_holes(0.7), of_holes(0.99)
    ('about one hole in 4', 'about one hole in 2', 'about 7 holes in 10', 'nearly every hole')
    >>> of_holes(0.09, one="case")
    'about one case in 11'
    """
    if chance >= _NEARLY_ALL:
        return f"nearly every {one}"
    if chance > _MOST_ODDS:
        return f"about {round(chance * 10)} {one}s in 10"
    return f"about one {one} in {round(1 / max(chance, _LEAST_CHANCE))}"
