"""How far open nozzles take the rough feed, and how sure that is."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from kerfwright.foundation.ranges import Range
from kerfwright.process.expected import ExpectedPass
from kerfwright.process.experience import Learned, Loadings
from kerfwright.process.loadings import spread_of, together
from kerfwright.process.technology import Flushing, Pass, RoughLaw

NOZZLES: Final = "nozzles"
"""Begins the name of the cause; every cut under the same state of the nozzles shares it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NozzleRate:
    """What a state of the nozzles does to the rough feed.

    Attributes
    ----------
    factor : float
        On the feed under closed ones.
    loadings : Loadings
        Spread of its logarithm by cause.
    learned_factor : float
        Part of the factor that the shop's cuts brought.
    """

    factor: float = 1.0
    loadings: Loadings = ()
    learned_factor: float = 1.0


def nozzle_rate(
    state: Flushing,
    *,
    law: RoughLaw,
    learned: Learned | None = None,
    factor: float | None = None,
) -> NozzleRate:
    """Return the factor of a state of the nozzles, what was learned in it, with its spread.

    Parameters
    ----------
    state : Flushing
    law : RoughLaw
    learned : Learned or None
        Of the rough pass.
    factor : float or None
        That of the flow model or the bath for nozzles that stand so; None for the table's.

    Notes
    -----
    A factor that is not the table's is moved, and as unsure, by ``w = ln(factor)/ln(table's)`` of
    what that is: nozzles that all but close do not have the spread of open ones.  Common practice,
    no source.
    """
    table = law.flushing[state] / law.flushing[Flushing.SEALED]
    taken = table if factor is None else factor
    if state is Flushing.SEALED or not law.flushing_sigma_log.get(state):
        return NozzleRate(factor=taken)
    weight = math.log(taken) / math.log(table) if table != 1 else 1.0
    known = (
        None if learned is None else next((n for n in learned.nozzles if n.state == state), None)
    )
    if known is None:
        loadings: Loadings = ((cause_of(state), law.flushing_sigma_log[state]),)
        moved = 1.0
    else:
        loadings, moved = known.loadings, known.factor**weight
    return NozzleRate(
        factor=taken * moved,
        loadings=tuple((cause, weight * sigma) for cause, sigma in loadings) if weight else (),
        learned_factor=moved,
    )


def cause_of(state: str) -> str:
    """Name what every cut under a state of the nozzles shares.

    Examples
    --------
    >>> cause_of(Flushing.BOTH_OPEN)
    'nozzles both-open'
    """
    return f"{NOZZLES} {state}"


def rough_range_mm_per_min(one: Pass | ExpectedPass, state: Flushing, *, law: RoughLaw) -> Range:
    """Return the 10–50–90 % range of the feed of a single cut under a state of the nozzles.

    Parameters
    ----------
    one : Pass or ExpectedPass
        A skim knows no nozzles.
    state : Flushing
    law : RoughLaw
    """
    if not one.is_rough:
        return one.feed_range_mm_per_min
    known = one.learned
    rate = nozzle_rate(state, law=law, learned=known)
    if known is None:
        sigma = math.hypot(one.feed_sigma_log, spread_of(rate.loadings))
    else:
        shared = together((1.0, known.feed_loadings), (1.0, rate.loadings))
        sigma = math.hypot(spread_of(shared), known.feed_job_log, known.feed_scatter_log)
    return Range.lognormal(one.feed_mm_per_min * rate.factor, sigma_log=sigma)
