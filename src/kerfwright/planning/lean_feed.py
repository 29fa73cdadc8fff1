"""What a leaning wire takes off the feeds of one contour, and how sure that is."""

from __future__ import annotations

from dataclasses import dataclass, field

from kerfwright.foundation.sources import Reason
from kerfwright.planning.flushing_state import FlushingState
from kerfwright.process.experience import Loadings


@dataclass(frozen=True, slots=True, kw_only=True)
class LeaningMouths:
    """How the mouths of the nozzles stand where they lean with the wire.

    Attributes
    ----------
    upper_gap_mm, lower_gap_mm : float
        From the near edge of each mouth to its face.
    lean_deg : float
        Of the mouths.
    """

    upper_gap_mm: float
    lower_gap_mm: float
    lean_deg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LeanFeed:
    """What the angle of a wall takes off the feeds of its passes.

    Attributes
    ----------
    lean_deg : float
        Greatest angle of the wall.
    lift_mm : float
        How far a mouth that leans with the wire lifts in the mean.
    skim_factor : float
        On the feed of skims: the figure of the angle.
    rough_factor : float
        On the rough feed, beside ``along_factor``: what of that figure the lift of the mouths has
        not taken already.
    rough_total : float
        Of the rough pass away from the edge, lift and angle together.
    skim_loadings, rough_loadings : Loadings
        Spread of the logarithm of the two factors by cause.
    reasons : tuple of Reason
    upright : FlushingState or None
        How the water would reach an upright wall; None where the wall is that.
    """

    lean_deg: float = 0.0
    lift_mm: float = 0.0
    skim_factor: float = 1.0
    rough_factor: float = 1.0
    rough_total: float = 1.0
    skim_loadings: Loadings = ()
    rough_loadings: Loadings = ()
    reasons: tuple[Reason, ...] = ()
    upright: FlushingState | None = field(default=None, repr=False)


UPRIGHT = LeanFeed()
