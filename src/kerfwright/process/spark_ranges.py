"""How sure the spark of a pass is: energy, peak and length of its current, and how many a second.

The energy is read back from the roughness, ``E = (Ra / (f K))^(1/p)``.  What is not known of it:
the roughness of the pass; ``K``, one for all passes; and the power ``p``, about the full pulse that
``K`` was set on; with a thin wire the power of the diameter too.  The factor ``f`` of the
material is in ``Ra`` as in ``f K`` and falls out.
"""

from __future__ import annotations

import math
from typing import Final, TypedDict

from kerfwright.foundation.ranges import Z_10_90, Range
from kerfwright.foundation.sources import Shares
from kerfwright.foundation.spread import Outcome
from kerfwright.process.fine_spark import WireSeed
from kerfwright.process.loadings import spread_of, together
from kerfwright.process.pass_spread import FINE_SPARK
from kerfwright.process.spark_law import SparkLaw

SCALE: Final = "roughness of 1 mJ"
POWER: Final = "power of the energy in the roughness"
PEAK: Final = "peak current of the generator"
_HALF: Final = 0.5


def energy_of(row: WireSeed, *, law: SparkLaw) -> Outcome:
    """Return the energy per spark of a pass with its distribution, mJ.

    Parameters
    ----------
    row : WireSeed
    law : SparkLaw

    Returns
    -------
    Outcome
        Its loadings are what is left of each cause where the smallest spark holds the energy up.

    References
    ----------
    Spread of ``K``: common practice, no source.  That of ``p``: the lowest that a published table
    supports as its lower end (``ra_exponent_low``).
    """
    surface = law.surface
    power = surface.ra_exponent
    pulse = law.pulse
    full_mj = pulse.peak_current_a * pulse.on_time_us * pulse.voltage_v / 2 / _UJ_PER_MJ
    of_power = max(power - surface.ra_exponent_low, 0.0) / Z_10_90
    above = math.log(row.energy_mj / row.wanted_mj) if row.is_least else 0.0
    causes: Shares = (
        (f"roughness of pass {row.seed.number}", row.seed.ra_sigma_log / power),
        (SCALE, -surface.ra_scale_sigma_log / power),
        (POWER, -math.log(row.energy_mj / full_mj) / power * of_power),
        (FINE_SPARK, row.wanted_sigma_log / power),
    )
    causes = tuple((name, slope) for name, slope in causes if slope)
    if not row.is_least:
        return lognormal_of(row.energy_mj, causes)
    # Held up by the smallest spark: what lies below it has no part in what comes, and the causes
    # together lift the energy above it, each by its part.
    spread = spread_of(causes)
    left = max(spread - above, 0.0) / 2 / spread if spread else 0.0
    high = row.wanted_mj * math.exp(Z_10_90 * spread)
    if not left or high <= row.energy_mj:
        return lognormal_of(row.energy_mj, ())
    told = tuple((name, slope * left) for name, slope in causes)
    return Outcome(
        value=row.energy_mj,
        sigma=spread_of(told),
        range=Range(low=row.energy_mj, likely=row.energy_mj, high=high),
        loadings=told,
    )


class _Told(TypedDict, total=False):
    range: Range
    shares: Shares


def told_spread(outcome: Outcome) -> _Told:
    """Return range and shares for a reason; none where nothing is uncertain.

    Parameters
    ----------
    outcome : Outcome
    """
    if not outcome.shares:
        return {}
    return {"range": outcome.range, "shares": outcome.shares}


def lognormal_of(value: float, loadings: Shares) -> Outcome:
    """Return a lognormal outcome by the slopes of its logarithm.

    Parameters
    ----------
    value : float
    loadings : Shares

    Examples
    --------
    >>> lognormal_of(8.0, (("a", 0.3), ("b", 0.4))).sigma
    0.5
    """
    sigma = spread_of(loadings)
    span = Range.lognormal(value, sigma_log=sigma) if sigma else Range.exact(value)
    return Outcome(value=value, sigma=sigma, range=span, loadings=loadings)


def peak_of(value_a: float, *, energy: Shares, rough: Shares, sigma_log: float) -> Outcome:
    """Return the peak of the current, A: ``I_ref (E/E_1)^(1/2)``.

    Parameters
    ----------
    value_a : float
    energy, rough : Shares
        Slopes of the energy of this spark and of the rough one.
    sigma_log : float
        Of the peak from generator to generator.
    """
    own: Shares = ((PEAK, sigma_log),) if sigma_log else ()
    return lognormal_of(value_a, _told((_HALF, energy), (-_HALF, rough), (1.0, own)))


def length_of(value_us: float, *, energy: Shares, peak: Outcome) -> Outcome:
    """Return the length of a spark, µs: ``2 E / (u I_p)``; the voltage counts as known.

    Parameters
    ----------
    value_us : float
    energy : Shares
    peak : Outcome
    """
    return lognormal_of(value_us, _told((1.0, energy), (-1.0, peak.loadings)))


def per_spark(amount: Outcome, *, energy: Shares) -> Outcome:
    """Return a lognormal amount over the energy of a spark, in units of the likely one.

    Parameters
    ----------
    amount : Outcome
    energy : Shares
    """
    return lognormal_of(amount.value, _told((1.0, amount.loadings), (-1.0, energy)))


def _told(*weighted: tuple[float, Shares]) -> Shares:
    return tuple((name, slope) for name, slope in together(*weighted) if abs(slope) > _NOUGHT)


_NOUGHT: Final = 1e-12
"""Slopes that cancel but for rounding: a rough spark over itself."""
_UJ_PER_MJ: Final = 1000
