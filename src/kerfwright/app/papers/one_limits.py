"""Sizes of which the drawing writes one limit: ``R5 MAX``, ``Ø6 MIN``."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from kerfwright.app.contour_sizes import reaches
from kerfwright.app.drawing_says import Saying
from kerfwright.app.papers.inspection import FeatureKind, Limits, Measured
from kerfwright.foundation.units import UM_PER_MM
from kerfwright.trade.annotation import Measures
from kerfwright.trade.callout_limits import Side


@dataclass(frozen=True, slots=True, kw_only=True)
class OneLimit:
    """The one limit of a size.

    Attributes
    ----------
    contour_ids : tuple of str
    drawn_mm : float
        Size by which it is found on the sheet: a limit may be written far from it.
    limit_mm : float
    side : Side
    is_radius : bool
    """

    contour_ids: tuple[str, ...]
    drawn_mm: float
    limit_mm: float
    side: Side
    is_radius: bool

    def fits(self, measured: Measured) -> bool:
        """Return whether a size of the sheet is this one."""
        if self.is_radius is not (measured.kind is FeatureKind.RADIUS):
            return False
        away_mm = measured.nominal_mm - self.drawn_mm
        return measured.contour.id in self.contour_ids and reaches(
            away_mm, lower_um=0.0, upper_um=0.0
        )

    def narrowed(self, before: Limits | None, walls_in_it: int) -> Limits:
        """Return the limits of a size with this one among them.

        The other end stays where it was; it is open where nothing else is asked, or where it lies
        beyond this limit, which the drawn line then does not keep.

        Parameters
        ----------
        before : Limits or None
        walls_in_it : int
        """
        low, high = (None, None) if before is None else (before.low_mm, before.high_mm)
        if self.side is Side.MOST:
            high = self.limit_mm if high is None else min(high, self.limit_mm)
            low = low if low is not None and low < high else None
        else:
            low = self.limit_mm if low is None else max(low, self.limit_mm)
            high = high if high is not None and high > low else None
        half_um = math.inf
        if low is not None and high is not None:
            half_um = (high - low) / 2 * UM_PER_MM / walls_in_it
        words = f"{self.side.value} (drawing)"
        if before is not None and before.words:
            words = f"{before.words}, {words}"
        return Limits(
            low_mm=low, high_mm=high, words=words, wall_half_um=half_um, has_one_limit=True
        )


def one_limits(sayings: Iterable[Saying]) -> list[OneLimit]:
    """Return the single limits that the drawing writes, where they have but one meaning.

    Parameters
    ----------
    sayings : iterable of Saying
    """
    found = []
    for one in sayings:
        readings = one.statement.readings
        data = readings[0].data if len(readings) == 1 else {}
        limit = data.get("limit")
        if not limit or not one.contour_ids:
            continue
        names = ("radius_mm", "diameter_mm", "nominal_mm")
        name = next(n for n in names if n in data)
        limit_mm = float(data[name])
        drawn_mm = one.size.drawn_mm if one.size else None
        found.append(
            OneLimit(
                contour_ids=one.contour_ids,
                drawn_mm=limit_mm if drawn_mm is None else drawn_mm,
                limit_mm=limit_mm,
                side=Side(str(limit)),
                is_radius=name == "radius_mm"
                or (one.size is not None and one.size.measures is Measures.RADIUS),
            )
        )
    return found
