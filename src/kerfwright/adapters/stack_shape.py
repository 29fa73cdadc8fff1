"""A stack curve as a document."""

from __future__ import annotations

from typing import Any

from kerfwright.app.stacks import StackCurve


def curve_shape(curve: StackCurve) -> dict[str, Any]:
    """Return the cost of a piece by the number in a stack; money as strings."""
    return {
        "format": "kerfwright-stack",
        "version": 1,
        "currency": curve.currency,
        "quantity": curve.quantity,
        "best": None if curve.best is None else curve.points[curve.best].stack.pieces,
        "why": list(curve.why),
        "points": [
            {
                "pieces": p.stack.pieces,
                "covers": p.stack.covers,
                "holding": p.stack.holding.value,
                "height_mm": p.stack.height_mm,
                "stacks": p.loads,
                "each": str(p.offer.each),
                "machine_minutes_each": p.offer.machine_minutes_each,
                "passes": p.offer.passes,
                "area_rate_mm2_per_min": p.area_rate_mm2_per_min,
                "tolerance_um": p.holds_um,
                "blocks": p.blocks,
            }
            for p in curve.points
        ],
        "sheets": [
            {
                "piece": s.piece,
                "middle_mm": s.middle_mm,
                "wall_um": s.wall_um,
                "lag_um": s.lag_um,
                "holds_um": s.holds_um,
            }
            for s in curve.sheets
        ],
    }
