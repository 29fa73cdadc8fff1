"""What the scatter of earlier passes takes of the wall beyond the stock left for the later ones.

The same draws for the same passes.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from statistics import NormalDist
from typing import Final

import numpy as np
from scipy.special import ndtri

from kerfwright.foundation.ranges import Range
from kerfwright.geometry.segments import Floats
from kerfwright.process.technology import Pass

ALLOWED: Final = 2 * NormalDist().cdf(-2.0)
"""Share of walls beyond what is promised: two standard deviations of a normal error."""
_TOLD_FROM: Final = 1.05
"""Factor in what is held from which an undercut is spoken of; less is counted without a word."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PassWall:
    """Where one pass alone would leave the wall, against nominal, positive for metal left.

    Attributes
    ----------
    number : int
    mean_um : float
        The stock left for later passes, and what the pass is off.
    sigma_um : float
    """

    number: int
    mean_um: float
    sigma_um: float


def is_undercut(one: Pass) -> bool:
    """Return whether passes before it take much of what a pass holds."""
    return one.undercut_factor > _TOLD_FROM


def pass_walls(
    passes: Sequence[Pass], *, spread: float = 1.0, of_last: float = 1.0
) -> tuple[PassWall, ...]:
    """Return where each pass would leave the wall, the later ones having their stock.

    Of the last pass the offset is set after a first cut, so that its gap is in its scatter; the
    gaps of those before it nobody measures, and they add to theirs.

    Parameters
    ----------
    passes : sequence of Pass
        Those that are cut, in order, their scatter their own: no undercut in it.
    spread, of_last : float
        As many times as far the passes before the last, and the last one, scatter.
    """
    left_um = 0.0
    walls: list[PassWall] = []
    for one in reversed(passes):
        sigma_um = of_last * one.size_sigma_um
        if walls:
            sigma_um = math.hypot(spread * one.size_sigma_um, one.gap_um * one.gap_sigma_log)
        walls.append(
            PassWall(number=one.number, mean_um=left_um + one.size_bias_um, sigma_um=sigma_um)
        )
        left_um += one.stock_um
    return tuple(reversed(walls))


def walls_left_um(walls: Sequence[PassWall]) -> Floats:
    """Return draws of the finished wall against nominal, µm, ascending.

    A pass takes metal away and puts none back: the wall is the deepest that any pass left it.
    What the last pass scatters all passes share (machine, set-up and heat of the day); what one
    scatters beyond that is its own.

    Parameters
    ----------
    walls : sequence of PassWall

    References
    ----------
    Least of normal values (computed).  What passes share: taken, no source.
    """
    last = walls[-1]
    rows = _deviates(len(walls))
    wall = last.mean_um + last.sigma_um * rows[-1]
    deepest = wall
    for one, row in zip(walls[:-1], rows[:-1], strict=True):
        own_um = math.sqrt(max(one.sigma_um**2 - last.sigma_um**2, 0.0))
        further = wall - last.mean_um + one.mean_um + own_um * row
        deepest = np.minimum(deepest, further)
    found: Floats = np.sort(deepest)
    return found


def really_held_um(left_um: Floats) -> float:
    """Return the half zone that all but the allowed share of finished walls keep, µm.

    Parameters
    ----------
    left_um : (n,) float
        Draws of finished walls.
    """
    return float(np.quantile(np.abs(left_um), 1 - ALLOWED))


def wall_range_um(left_um: Floats) -> Range:
    """Return the 10–50–90 % range of finished walls, µm."""
    low, likely, high = (float(v) for v in np.quantile(left_um, (0.1, 0.5, 0.9)))
    return Range(low=low, likely=likely, high=high)


@lru_cache(maxsize=16)
def _deviates(count: int) -> Floats:
    """Return standard normal deviates (count, n), each row quantiles in an order of its own.

    So what the last pass alone decides has its chance exactly.
    """
    random = np.random.default_rng(_SEED)
    row = ndtri((np.arange(_DRAWS) + 0.5) / _DRAWS)
    made: Floats = random.permuted(np.broadcast_to(row, (count, _DRAWS)), axis=1)
    return made


_DRAWS: Final = 20_000
"""A chance of one in twenty is then known to within 0.2 %, in some milliseconds."""
_SEED: Final = 20_261
"""Any number: one plan must not say two things."""
