"""How far the set-up keeps the guides off the work, and how far the wire gives way for it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class GuidesOff:
    """How far the set-up keeps the guides off the work.

    Attributes
    ----------
    usual_gap_mm : float
        From a face of the work to its guide, the nozzles closed.
    off_mm : float
        By which the gaps of the set-up keep both guides further off, in all.
    counts_from : float
        How many times as far the wire may give way before its tolerance is not promised.
    """

    usual_gap_mm: float
    off_mm: float
    counts_from: float

    def usual_span_mm(self, height_mm: float) -> float:
        """Return the usual distance of the guides for a height of work, mm."""
        return height_mm + 2 * self.usual_gap_mm

    def span_mm(self, height_mm: float) -> float:
        """Return the distance of the guides for a height of work, mm."""
        return self.usual_span_mm(height_mm) + self.off_mm


def give_factor(height_mm: float, *, guides: GuidesOff) -> float:
    """Return how many times as far the wire gives way as with guides at their usual distance.

    ``(2 L - h) / (2 L_0 - h)``: the bow of a taut string under an even push over the height.

    Parameters
    ----------
    height_mm : float
        Of all work between the guides, above 0.
    guides : GuidesOff

    References
    ----------
    Equilibrium of a string (computed).

    Examples
    --------
    >>> give_factor(40.0, guides=GuidesOff(usual_gap_mm=10.0, off_mm=120.0, counts_from=1.1))
    4.0
    """
    usual = 2 * guides.usual_span_mm(height_mm) - height_mm
    return (usual + 2 * guides.off_mm) / usual


def counted_factor(height_mm: float, *, guides: GuidesOff | None) -> float:
    """Return the factor on the tolerance that passes hold; 1 where the tables cover the set-up.

    Parameters
    ----------
    height_mm : float
    guides : GuidesOff or None
        None: at their usual distance.
    """
    if guides is None:
        return 1.0
    factor = give_factor(height_mm, guides=guides)
    return factor if factor >= guides.counts_from else 1.0
