"""What holds the stock, and how near to it the nozzles may come."""

from __future__ import annotations

from dataclasses import dataclass

from kerfwright.foundation.errors import InputError
from kerfwright.geometry.contour import Contour


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Clamps:
    """The places that clamps take, seen along the wire, and the room that the nozzles need.

    Attributes
    ----------
    zones : tuple of Contour
        Closed, counter-clockwise, mm.
    reach_mm : float
        The wire centre keeps at least this far from every zone: half the nozzle and the clearance
        beside it.

    Raises
    ------
    InputError
        Code ``clamp-value`` if a zone is open or has no area, or the reach is not above 0.
    """

    zones: tuple[Contour, ...]
    reach_mm: float

    def __post_init__(self) -> None:
        if not self.reach_mm > 0:
            raise InputError(
                f"nozzles keep {self.reach_mm:g} mm from a clamp; it must be above 0",
                code="clamp-value",
            )
        for zone in self.zones:
            if not zone.is_closed or abs(zone.area_mm2) <= 0:
                raise InputError("a clamp is a closed contour with an area", code="clamp-value")
