"""The risk of a break of one wire by itself, for the tests that hold it to what is published."""

from __future__ import annotations

from typing import Any

from kerfwright.process.wire_break import BreakState, break_current_a, break_state_at
from kerfwright.trade.material import Wire


def break_risk(wire: Wire, *, mean_a: float, **scene: Any) -> BreakState:
    """Return the state at a mean current, its break current worked out for the same scene."""
    threshold_a = break_current_a(wire, **scene)
    return break_state_at(wire, threshold_a=threshold_a, mean_a=mean_a, **scene)
