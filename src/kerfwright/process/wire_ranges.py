"""How sure the current of a pass, the wire's use of its limit, its heat and its margin are."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
from scipy.optimize import brentq
from scipy.special import ndtr

from kerfwright.foundation.ranges import Range
from kerfwright.foundation.sources import Shares
from kerfwright.foundation.spread import Outcome, Uncertain, of_product
from kerfwright.process.loadings import spread_of
from kerfwright.process.shape_ranges import tables_roughness
from kerfwright.process.spark_ranges import per_spark
from kerfwright.process.technology import Pass
from kerfwright.process.wire_break import BreakState, margins_at
from kerfwright.process.wire_scene import WireScene
from kerfwright.process.wire_shape import ENERGY_PER_RA

CHARGE: Final = "charge for a volume"
CHARGE_HERE: Final = "how its charge goes with the material's rate"
PARTS: Final = "current at which a wire parts"
FEED: Final = "feed"
ROUGH_FEED: Final = "feed of the rough pass"


@dataclass(frozen=True, slots=True, kw_only=True)
class UseRanges:
    """How sure current and heat of the wire in one pass are.

    Attributes
    ----------
    current : Outcome
        Mean current, A.
    use : Outcome
        Its share of the current at which the wire parts; where the wire parts cold, the current.
    per_spark : Outcome
        The current over the energy of a spark, in units of the likely energy: A.
    hottest_c, margin : Range
        Both follow from that share alone, so they have its causes.
    """

    current: Outcome
    use: Outcome
    per_spark: Outcome
    hottest_c: Range
    margin: Range

    @property
    def shares(self) -> Shares:
        """Causes of the share of the break current, and so of hottest place and margin."""
        return self.use.shares


def use_ranges(
    this: Pass,
    *,
    rough: Pass,
    scene: WireScene,
    feed_mm_per_min: float,
    near: BreakState,
) -> UseRanges:
    """Return the ranges of current, share of the break current, hottest place and margin.

    The charge for a volume moves every pass; feed and stock move a skim only as far as it is not
    held to its most, which moves with the charge, the rough feed and the two roughnesses.

    Parameters
    ----------
    this, rough : Pass
    scene : WireScene
    feed_mm_per_min : float
    near : BreakState
        At the likely current.

    Notes
    -----
    Wire and heat go with the current: the rise above the water with ``I``, and what the law of
    breaking leaves open is how many amperes that takes.  So temperature and margin are those at
    the ends of the range of ``I / I_break``: no cause is drawn by itself, no heat solved again.
    """
    law = scene.physics.breaking
    parts: tuple[Uncertain, ...] = ()
    if near.threshold_a > 0:
        parts = (Uncertain(name=PARTS, value=near.threshold_a, sigma=law.sigma_log),)
    bounds = _bounds(this, rough, scene, feed_mm_per_min)
    amperes = _least(bounds)
    use = _least(_bounds(this, rough, scene, feed_mm_per_min, parts)) if parts else amperes
    low, high = use.range.low / use.value, use.range.high / use.value
    water_c, rise = scene.physics.heat.water_c, near.hottest_c - scene.physics.heat.water_c
    least, most = margins_at(
        near,
        factors=(high, low),
        wire=scene.wire,
        tension_n=scene.tension_n,
        physics=scene.physics,
    )
    return UseRanges(
        current=amperes,
        use=use,
        per_spark=_least([per_spark(one, energy=this.spark_loadings) for one in bounds]),
        hottest_c=Range(
            low=water_c + rise * low, likely=near.hottest_c, high=water_c + rise * high
        ),
        margin=Range(low=least, likely=near.margin, high=most),
    )


def _least(bounds: Sequence[Outcome]) -> Outcome:
    """Return the least of what a pass draws by its stock and what it draws at most."""
    return bounds[0] if len(bounds) == 1 else of_lesser(*bounds)


def _bounds(
    this: Pass,
    rough: Pass,
    scene: WireScene,
    feed_mm_per_min: float,
    over: tuple[Uncertain, ...] = (),
) -> tuple[Outcome, ...]:
    """Return what a pass draws by its stock, and a skim at most, over what it is compared with."""
    law = scene.physics.breaking
    charge = Uncertain(name=CHARGE, value=law.charge_c_per_mm3, sigma=law.charge_sigma_log)
    feed = Uncertain(name=FEED, value=feed_mm_per_min, sigma=this.feed_sigma_log)
    by = math.prod(one.value for one in over)
    plain = scene.mean_current_a(this, feed_mm_per_min=feed_mm_per_min) / by
    here = Uncertain(name=CHARGE_HERE, value=1.0, sigma=scene.charge_more_log)
    charges = ((charge, 1.0), (here, 1.0)) if here.sigma else ((charge, 1.0),)
    below = tuple((one, -1.0) for one in over)
    if this.is_rough:
        return (of_product(plain, (*charges, (feed, 1.0), *below)),)
    stock = Uncertain(
        name=f"stock of pass {this.number}",
        value=this.stock_um,
        sigma=this.stock_sigma_um / this.stock_um,
    )
    of_rough = Uncertain(name=ROUGH_FEED, value=rough.feed_mm_per_min, sigma=rough.feed_sigma_log)
    power = ENERGY_PER_RA * law.skim_current_exponent
    finish = ((tables_roughness(this), power), (tables_roughness(rough), -power))
    return (
        of_product(plain, (*charges, (feed, 1.0), (stock, 1.0), *below)),
        of_product(
            scene.most_current_a(this, rough=rough) / by,
            (*charges, (of_rough, 1.0), *finish, *below),
        ),
    )


def of_lesser(one: Outcome, other: Outcome) -> Outcome:
    """Return the lesser of two lognormal results that share causes.

    The ends of the range are exact: ``P(min > x)`` is that of two normals with the correlation
    that the common causes give.  Each cause weighs by its chord over a deviation either way, so
    that those of the greater count only as far as they bring it down to the lesser.

    Parameters
    ----------
    one, other : Outcome
        Products of powers of lognormal inputs.

    Examples
    --------
    Of two equal results without a common cause the lesser is below the middle in three of four:

    >>> def equal(name):
    ...     return Outcome(
    ...         value=1.0,
    ...         sigma=0.5,
    ...         range=Range.lognormal(1.0, sigma_log=0.5),
    ...         loadings=((name, 0.5),),
    ...     )
    >>> found = of_lesser(equal("a"), equal("b"))
    >>> round(found.range.low, 3), round(found.range.high, 3), round(dict(found.shares)["a"], 3)
    (0.442, 1.27, 0.5)
    """
    first, second = sorted((one, other), key=lambda outcome: outcome.value)
    gap = math.log(second.value / first.value)
    a, b = dict(first.loadings), dict(second.loadings)
    causes = tuple(dict.fromkeys((*a, *b)))
    apart = math.sqrt(math.fsum((a.get(c, 0.0) - b.get(c, 0.0)) ** 2 for c in causes))
    if gap > _FAR * apart:
        return first
    loadings = tuple(
        (
            c,
            (min(a.get(c, 0.0), gap + b.get(c, 0.0)) - min(-a.get(c, 0.0), gap - b.get(c, 0.0)))
            / 2,
        )
        for c in causes
    )
    common = math.fsum(a[c] * b[c] for c in causes if c in a and c in b)
    low, high = (
        first.value * math.exp(_quantile(share, first.sigma, second.sigma, common, gap))
        for share in (_LOW, 1 - _LOW)
    )
    value = first.value
    return Outcome(
        value=value,
        sigma=spread_of(loadings),
        range=Range(low=min(low, value), likely=value, high=max(high, value)),
        loadings=loadings,
    )


@lru_cache(maxsize=1024)
def _quantile(share: float, first: float, second: float, common: float, gap: float) -> float:
    """Return the quantile of the lesser of N(0, first) and N(gap, second) of a covariance."""
    slope = common / first**2
    rest = math.sqrt(max(second**2 - slope * common, (_ALIKE * second) ** 2))

    def beyond(x: float) -> float:
        begin = max(x / first, -_DEVIATIONS)
        half = (_DEVIATIONS - begin) / 2
        z = begin + half * (1 + _NODES)
        other = ndtr((gap + slope * first * z - x) / rest)
        return float(half * (_WEIGHTS * np.exp(-(z**2) / 2) * other).sum() / _ROOT) - (1 - share)

    span = _DEVIATIONS * max(first, second)
    return float(brentq(beyond, -span, min(span, _DEVIATIONS * first * 0.9), xtol=_CLOSE))


_FAR: Final = 4.0
"""Standard deviations from which the lesser of two results is the lesser in all but 1 in 30 000."""
_LOW: Final = 0.1
_ALIKE: Final = 1e-6
_DEVIATIONS: Final = 8.0
_CLOSE: Final = 1e-5
_ROOT: Final = math.sqrt(2 * math.pi)
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(48)
