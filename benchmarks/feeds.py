"""Slow zones in 300 000 moves: gentle curves, a corner in ten, and a corner at every joint."""

from __future__ import annotations

import time

import numpy as np

from kerfwright.adapters.wire_physics import load_wire_physics
from kerfwright.motion.moves import Moves, Purpose
from kerfwright.process.feed_advice import FeedLimit
from kerfwright.wirepath.feeds import slowed

COUNT = 300_000


def walk(turn_rad: np.ndarray, *, step_mm: float) -> Moves:
    """Return lines of equal length that turn as told."""
    angle = np.cumsum(turn_rad)
    end = np.cumsum(np.column_stack([np.cos(angle), np.sin(angle)]) * step_mm, axis=0)
    n = len(turn_rad)
    return Moves(
        start_mm=np.zeros(2),
        end_mm=end,
        centre_mm=np.zeros((n, 2)),
        turn=np.zeros(n, dtype=np.int8),
        purpose=np.full(n, Purpose.WALL, dtype=np.int8),
        feed_mm_per_min=np.full(n, 4.0),
    )


def main() -> None:
    """Print moves before and after, and seconds."""
    limit = FeedLimit(
        pass_number=1,
        lag_um=40.0,
        allowed_um=12.5,
        feed_exponent=1.0,
        rules=load_wire_physics().feeds,
    )
    random = np.random.default_rng(1)
    tenth = np.where(np.arange(COUNT) % 10 == 0, random.normal(0, 1.5, COUNT), 0.0)
    cases = {
        "gentle": walk(random.normal(0, 0.01, COUNT), step_mm=0.05),
        "one in ten": walk(tenth, step_mm=0.5),
        "every joint": walk(random.normal(0, 1.0, COUNT), step_mm=0.3),
    }
    for name, moves in cases.items():
        for nominal in (None, moves):
            begun = time.perf_counter()
            made, _ = slowed(
                moves, nominal=nominal, offset_mm=0.0, offset_on_left=True, limit=limit
            )
            spent = time.perf_counter() - begun
            both = "path and wall" if nominal is not None else "path"
            print(f"{name:12} {both:14} {COUNT} -> {len(made)} moves {spent:.2f} s")


if __name__ == "__main__":
    main()
