"""What is asked of a wall beside what each count of passes leaves of it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from kerfwright.process.held import ra_held_um, recast_held_um
from kerfwright.process.hurt_layer import ra_left_um, recast_left_um
from kerfwright.process.left_draws import ra_left_draws_um, recast_left_draws_um
from kerfwright.process.spark_law import SurfaceLaw
from kerfwright.process.technology import Pass, Technology
from kerfwright.trade.requirement import Demand


@dataclass(frozen=True, slots=True, kw_only=True)
class Demanded:
    """One thing asked of the last pass.

    Attributes
    ----------
    name : str
        ``"tolerance"``, ``"finish"`` or ``"recast"``.
    limit_um : float
    reached_um : tuple of float
        What each pass leaves if it is the last, by the likely values.
    held_um : tuple of float
        What it leaves or less but for the allowed share.
    """

    name: str
    limit_um: float
    reached_um: tuple[float, ...]
    held_um: tuple[float, ...]

    @property
    def is_met_by_any(self) -> bool:
        """Whether the likely value of some pass meets it."""
        return within(min(self.reached_um), self.limit_um)

    @property
    def is_met_surely(self) -> bool:
        """Whether some pass meets it but for the allowed share."""
        return within(min(self.held_um), self.limit_um)

    @property
    def count(self) -> int:
        """Fewest passes that meet it surely, else most surely, or that come as near as any."""
        um = self.held_um if self.is_met_by_any else self.reached_um
        return self._first(um)

    @property
    def likely_count(self) -> int:
        """Fewest passes that meet it by the likely value, or that come as near as any."""
        return self._first(self.reached_um)

    def _first(self, values_um: tuple[float, ...]) -> int:
        goal_um = max(self.limit_um, min(values_um))
        return next(n for n, um in enumerate(values_um, start=1) if within(um, goal_um))


def within(value_um: float, limit_um: float) -> bool:
    """Compare with a limit; 0.0001 in must not fail on the rounding of its conversion.

    >>> within(2.54, 0.0001 * 25400), within(2.6, 2.54)
    (True, False)
    """
    return value_um <= limit_um or math.isclose(value_um, limit_um)


def demanded_of(demand: Demand, every: Sequence[Pass], *, technology: Technology) -> list[Demanded]:
    """Return what is asked beside what every count of passes leaves and holds.

    Parameters
    ----------
    demand : Demand
    every : sequence of Pass
        All passes of the table.
    technology : Technology
    """
    law = technology.spark.surface
    # What older passes hurt and the later ones did not reach counts as well.
    so_far = [every[: n + 1] for n in range(len(every))]
    found = []
    if demand.tolerance_um is not None:
        zones = tuple(p.tolerance_um for p in every)
        found.append(
            Demanded(
                name="tolerance", limit_um=demand.tolerance_um, reached_um=zones, held_um=zones
            )
        )
    if demand.ra_um is not None:
        found.append(
            Demanded(
                name="finish",
                limit_um=demand.ra_um,
                reached_um=tuple(ra_left_um(these, law=law) for these in so_far),
                held_um=tuple(ra_held_um(these, technology=technology) for these in so_far),
            )
        )
    if demand.max_recast_um is not None:
        found.append(
            Demanded(
                name="recast",
                limit_um=demand.max_recast_um,
                reached_um=tuple(recast_left_um(these, law=law) for these in so_far),
                held_um=tuple(recast_held_um(these, technology=technology) for these in so_far),
            )
        )
    return found


def chance_of_miss(demand: Demanded, passes: Sequence[Pass], *, law: SurfaceLaw) -> float:
    """Return the chance that passes miss a finish or a recast layer; of a tolerance 1 or 0.

    Parameters
    ----------
    demand : Demanded
    passes : sequence of Pass
        Those that will be cut.
    law : SurfaceLaw
    """
    if demand.name == "tolerance":
        return float(not within(passes[-1].tolerance_um, demand.limit_um))
    draws = ra_left_draws_um if demand.name == "finish" else recast_left_draws_um
    return float((draws(passes, law=law) > demand.limit_um).mean())


def fewest(demands: Sequence[Demanded]) -> tuple[int, str]:
    """Return the count that serves every demand and the demand that needs it.

    Parameters
    ----------
    demands : sequence of Demanded
    """
    if not demands:
        return 1, "none"
    hardest = max(demands, key=lambda d: d.count)
    return hardest.count, hardest.name if hardest.count > 1 else "none"
