"""The risk of a break of one wire by itself, for the tests that hold it to what is published."""

from __future__ import annotations

from kerfwright.process.technology import Flushing
from kerfwright.process.wire_break import BreakState, break_current_a, break_state_at
from kerfwright.process.wire_physics import WirePhysics
from kerfwright.trade.material import Wire


def break_risk(
    wire: Wire,
    *,
    height_mm: float,
    mean_a: float,
    tension_n: float,
    peak_a: float,
    physics: WirePhysics,
    flushing: Flushing = Flushing.SEALED,
    flow_ratio: float = 1.0,
) -> BreakState:
    """Return the risk of a break: ``P = Phi(ln(I / I_break) / sigma)``.

    Parameters
    ----------
    wire : Wire
    height_mm, mean_a, tension_n, peak_a : float
    physics : WirePhysics
    flushing : Flushing
    flow_ratio : float
        Flow of water over the usual one.

    References
    ----------
    Sato et al. (read): breaks come above a threshold of the mean current, not mainly from sparks
    that cluster (none seen in 5 of 11 breaks).
    """
    threshold = break_current_a(
        wire,
        height_mm=height_mm,
        tension_n=tension_n,
        peak_a=peak_a,
        physics=physics,
        flushing=flushing,
        flow_ratio=flow_ratio,
    )
    return break_state_at(
        wire,
        threshold_a=threshold,
        height_mm=height_mm,
        mean_a=mean_a,
        tension_n=tension_n,
        peak_a=peak_a,
        physics=physics,
        flushing=flushing,
        flow_ratio=flow_ratio,
    )
