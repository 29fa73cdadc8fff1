"""The tolerances of the geometry, in one record, each with its reason."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

TINY: Final = 1e-300
"""Guards a division by a length or a square that may be 0: far below anything measured, and a
finite number divided by it is still finite or thrown away afterwards."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tolerances:
    """Lengths in millimetres below which the geometry treats things as equal.

    Attributes
    ----------
    merge_mm : float
        Vertices nearer than this are one: a hundredth of the finest program step (0.1 µm is
        seen by no control), yet far above the rounding of doubles at 1 m (2e-13 mm).
    flat_sagitta_mm : float
        An arc that leaves its chord by less is a line; its radius would be numerically void.
    validity_mm : float
        Slack when a point of a raw offset is tested against the offset distance: an offset
        keeps within 1e-6 mm, so its steps must err by less, yet more than doubles do at 1 m.
    node_mm : float
        Ends of offset pieces within this are one node; four times the validity slack.
    sliver_mm : float
        Pieces shorter than this are dropped from an offset.
    gap_mm : float
        Gaps in a drawing up to this are mended, each with a finding.  0.001 to 0.0017 mm are
        common in real files (measured on the corpus); 0.005 mm is half a usual wire-EDM tolerance.
    fit_mm : float
        Largest distance between a spline or ellipse and the arcs that replace it.
    """

    merge_mm: float = 1e-5
    flat_sagitta_mm: float = 1e-6
    validity_mm: float = 1e-7
    node_mm: float = 4e-7
    sliver_mm: float = 1e-7
    gap_mm: float = 0.005
    fit_mm: float = 5e-4


DEFAULT_TOLERANCES = Tolerances()
