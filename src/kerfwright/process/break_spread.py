"""How sure the breaks an hour of a cut are, against those of a usual rough cut."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from kerfwright.foundation.ranges import Z_10_90, Range
from kerfwright.foundation.sources import Shares
from kerfwright.process.technology import Curve
from kerfwright.process.wire_physics import BreakLaw

Floats = NDArray[np.float64]

CHARGE: Final = "charge for a volume"
OWN: Final = "feed, and where this wire parts"
OWN_ELSEWHERE: Final = "feed, this material's charge, and where this wire parts"


@dataclass(frozen=True, slots=True, kw_only=True)
class BreakSpread:
    """How sure a factor on the breaks an hour by heat is.

    Attributes
    ----------
    range : Range
        Of a single cut; likely is what the curve has for its share.
    mean : float
        Over single cuts.
    sigma_log : float
        Of the logarithm in a single cut.
    shares : Shares
    """

    range: Range
    mean: float
    sigma_log: float
    shares: Shares


def usual_share(curve: Curve) -> float:
    """Return the share of the break current of a usual rough cut, of which the curve is 1."""
    return float(np.interp(1.0, [y for _, y in curve], [x for x, _ in curve]))


def log_factor(curve: Curve, share: float, common: Floats) -> Floats:
    """Return the logarithm of breaks over those of a usual cut that shares an error.

    The curve by straight lines; beyond its last point its logarithm goes on as steep as before, so
    that a current far above that of a break is told from one just there.

    Parameters
    ----------
    curve : Curve
    share : float
        Of the break current, as reckoned.
    common : (n,) float
        Logarithm by which the current is off, in this cut and in the usual one alike.

    Examples
    --------
    >>> curve = ((0.5, 1.0), (0.9, 2.0), (1.0, 4.0))
    >>> [float(np.exp(log_factor(curve, u, np.zeros(1)))[0].round(3)) for u in (0.7, 1.0, 1.1)]
    [1.5, 4.0, 8.0]
    """
    off = np.exp(common)
    found: Floats = _log_beyond(curve, share * off) - _log_beyond(curve, usual_share(curve) * off)
    return found


def _log_beyond(curve: Curve, share: Floats) -> Floats:
    (x0, y0), (x1, y1) = curve[-2:]
    slope = math.log(y1 / y0) / (x1 - x0)
    found: Floats = np.log(_read(curve, share)) + slope * np.maximum(share - x1, 0.0)
    return found


def _read(curve: Curve, share: Floats) -> Floats:
    found: Floats = np.interp(share, [x for x, _ in curve], [y for _, y in curve])
    return found


def break_spread(
    law: BreakLaw, share: float, *, feed_sigma_log: float, charge_more_log: float = 0.0
) -> BreakSpread:
    """Return how sure the breaks by heat of a cut are: ``b = R(u e^(c+o)) / E R(u_0 e^(c+o))``.

    The charge for a volume ``c`` is one for all cuts: if it is off, so is that of the usual cuts
    of which the breaks were counted.  The feed of a cut and where its wire parts, ``o``, are its
    own; what was counted of usual cuts is the mean over theirs, taken to be as unsure.  Usual cuts
    are of steel: by what the charge is less sure in another material only this cut is off.

    Parameters
    ----------
    law : BreakLaw
    share : float
        Of the break current.
    feed_sigma_log : float
    charge_more_log : float
        By which the charge is less sure than in steel.
    """
    usual = math.hypot(law.sigma_log, feed_sigma_log)
    low, high, mean, charge, rest = _spread(
        law.relative_rate,
        share,
        law.charge_sigma_log,
        math.hypot(usual, charge_more_log),
        usual,
    )
    likely = float(_read(law.relative_rate, np.array([share]))[0])
    total = charge + rest
    return BreakSpread(
        range=Range(low=min(low, likely), likely=likely, high=max(high, likely)),
        mean=mean,
        sigma_log=math.log(high / low) / (2 * Z_10_90),
        shares=((CHARGE, charge / total), (OWN_ELSEWHERE if charge_more_log else OWN, rest / total))
        if total > 0
        else (),
    )


def spread_of_factor(
    law: BreakLaw, factor: float, *, feed_sigma_log: float, charge_more_log: float = 0.0
) -> BreakSpread:
    """Return how sure a factor by heat is, at the share of the break current that it stands for.

    Parameters
    ----------
    law : BreakLaw
    factor : float
        On the breaks an hour of a usual rough cut.
    feed_sigma_log : float
        Of a single rough cut.
    charge_more_log : float
        By which the charge is less sure than in steel.
    """
    curve = law.relative_rate
    share = float(np.interp(factor, [y for _, y in curve], [x for x, _ in curve]))
    # Rounded, so that contours alike ask for one spread.
    found = break_spread(
        law, round(share, 6), feed_sigma_log=feed_sigma_log, charge_more_log=charge_more_log
    )
    return replace(found, range=found.range * (factor / found.range.likely))


@lru_cache(maxsize=512)
def _spread(
    curve: Curve, share: float, charge: float, own: float, usual_own: float
) -> tuple[float, float, float, float, float]:
    """Return 10 and 90 % quantile and mean of the factor, and its variance by either cause."""
    c, o, usual_o = (sigma * _NODES for sigma in (charge, own, usual_own))
    off, usual_off = (np.exp(c[:, None] + each[None, :]) for each in (o, usual_o))
    usual = _read(curve, usual_share(curve) * usual_off) @ _WEIGHTS
    found = _read(curve, share * off) / usual[:, None]
    order = np.argsort(found, axis=None)
    weights = _WEIGHTS[:, None] * _WEIGHTS[None, :]
    ranked = weights.ravel()[order]
    middle = np.cumsum(ranked) - ranked / 2
    low, high = np.interp([0.1, 0.9], middle, found.ravel()[order])
    logs = np.log(found)
    by_charge = logs @ _WEIGHTS
    mean = float((found * weights).sum())
    charge_part = _variance(by_charge)
    rest = float((logs - by_charge[:, None]) ** 2 @ _WEIGHTS @ _WEIGHTS)
    return float(low), float(high), mean, charge_part, rest


def _variance(values: Floats) -> float:
    return float((values - float(values @ _WEIGHTS)) ** 2 @ _WEIGHTS)


_NODES: Final = np.linspace(-4.0, 4.0, 121)
_WEIGHTS: Final = np.exp(-(_NODES**2) / 2) / np.exp(-(_NODES**2) / 2).sum()
