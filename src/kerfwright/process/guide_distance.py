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

    From halfway to ``counts_from`` it rises evenly from 1, so that no tolerance steps where a gap
    grows by a little; from there on it is that of :func:`give_factor`.

    Parameters
    ----------
    height_mm : float
    guides : GuidesOff or None
        None: at their usual distance.

    Examples
    --------
    >>> def counted(off_mm):
    ...     guides = GuidesOff(usual_gap_mm=10.0, off_mm=off_mm, counts_from=1.1)
    ...     return round(counted_factor(40.0, guides=guides), 3)
    >>> counted(2.0), counted(3.0), counted(4.0), counted(8.0)
    (1.0, 1.05, 1.1, 1.2)
    """
    if guides is None:
        return 1.0
    factor, full = give_factor(height_mm, guides=guides), guides.counts_from
    if factor >= full:
        return factor
    begin = (1 + full) / 2
    return 1.0 if factor <= begin else 1 + (factor - begin) * (full - 1) / (full - begin)


def is_covered(factor: float, *, guides: GuidesOff | None) -> bool:
    """Return whether the tables cover a factor on the tolerance, or all but a small part of it."""
    return guides is None or factor < guides.counts_from
