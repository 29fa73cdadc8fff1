"""How the inside of an opening is cut away whole, as a record of the plan."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from kerfwright.geometry.nested_loops import NestedLoop
from kerfwright.process.partial_kerf import partial_kerf_factor


class CorelessWhy(StrEnum):
    """Why the inside of an opening is cut away whole."""

    TOO_SMALL = "slug too small to catch"
    PARTED = "start hole parts the slug"
    UNATTENDED = "nobody has to be there"
    ASKED = "asked for"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Coreless:
    """How the inside of an opening is cut away, so that no slug is left.

    Attributes
    ----------
    why : CorelessWhy
    slug_width_mm : float
        Of the slug that there would be.
    limit_mm : float
        Below which a slug is cut away.
    loops : NestedLoop
        Path of the wire centre; the outermost is that of the rough pass.
    kerf_mm : float
        Width of the rough kerf.
    pitch_mm : float
        Between loops where nothing is left at it; closer elsewhere.
    most_feed_factor : float
        Largest factor on the rough feed of a loop that has metal on a part of its kerf only.
    sure_hole_mm : float
        Radius about the start within which its hole surely is, wander taken off.
    """

    why: CorelessWhy
    slug_width_mm: float
    limit_mm: float
    loops: NestedLoop
    kerf_mm: float
    pitch_mm: float
    most_feed_factor: float
    sure_hole_mm: float

    @property
    def overlap_share(self) -> float:
        """Share of the kerf by which neighbouring loops overlap."""
        return 1.0 - self.pitch_mm / self.kerf_mm

    def feed_factor(self, engaged_mm: float) -> float:
        """Return the factor on the rough feed where so much of the kerf is in metal."""
        return partial_kerf_factor(engaged_mm, kerf_mm=self.kerf_mm, most=self.most_feed_factor)
