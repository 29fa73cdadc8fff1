"""A string: outlines whose kerfs hang together, so that one threading serves them all."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Channel:
    """A cut through the waste from the kerf of one part to the lead-in of the next.

    Attributes
    ----------
    from_id, to_id : str
    branch_station_mm : float
        Arc length of the rough path of the first at which the channel leaves it.
    branch_mm, end_mm : (float, float)
        Where it begins on that path, and where it ends, square off the lead-in of the second.
    length_mm : float
    """

    from_id: str
    to_id: str
    branch_station_mm: float
    branch_mm: tuple[float, float]
    end_mm: tuple[float, float]
    length_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PartString:
    """Outlines that are roughed one after the other with the wire threaded once.

    Where a part has been cut off and taken out, the wire is threaded in the room that it leaves.

    Attributes
    ----------
    contour_ids : tuple of str
        The first has the start.
    channels : tuple of Channel
        From each to the next.
    """

    contour_ids: tuple[str, ...]
    channels: tuple[Channel, ...]

    @property
    def length_mm(self) -> float:
        """Length of all channels together."""
        return sum(c.length_mm for c in self.channels)


def string_of(strings: tuple[PartString, ...], contour_id: str) -> PartString | None:
    """Return the string that a contour belongs to, if any."""
    return next((s for s in strings if contour_id in s.contour_ids), None)
