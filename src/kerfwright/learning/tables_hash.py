"""The name of the figures that experience moves."""

from __future__ import annotations

import hashlib
from dataclasses import replace

from kerfwright.process.technology import Technology
from kerfwright.trade.catalogue import Catalogue


def tables_sha256(technology: Technology, catalogue: Catalogue) -> str:
    """Return the hash of the figures that experience moves, experience itself left out."""
    text = repr((replace(technology, experience=None), catalogue))
    # Figures kept before factors of nozzles had a spread have the hash that they had then.
    if technology.rough.flushing_sigma_log:
        text += repr(technology.rough.flushing_sigma_log)
    if technology.scaling.gap_diameter_exponent_sigma:
        text += repr(technology.scaling.gap_diameter_exponent_sigma)
    if technology.feed_spread.later:
        text += repr(technology.feed_spread.later)
    return hashlib.sha256(text.encode()).hexdigest()
