"""Cutting physics and technology: rates, passes, consumption."""

from __future__ import annotations

from kerfwright.process.passes import choose_passes, passes_for
from kerfwright.process.rough import rough_feed
from kerfwright.process.technology import Pass, PassChoice, Technology

__all__ = ["Pass", "PassChoice", "Technology", "choose_passes", "passes_for", "rough_feed"]
