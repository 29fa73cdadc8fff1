"""Small holes: a cooling plate of 5 000 holes, and the order against the optimum of a grid.

There is no peer for the job, so its ratio is goal over ours: above 1 keeps the goal.  The order of
a square grid has a known optimum, one pitch a hole; there the ratio is optimum over ours.
"""

from __future__ import annotations

import tempfile
import time
from pathlib import Path

import numpy as np

from kerfwright.adapters.hole_folder import write_hole_job
from kerfwright.app.hole_records import HoleRequest
from kerfwright.geometry.shortest_order import Ends, shortest_order, way_length
from kerfwright.wiring import drill_holes

_GOAL_S = 5.0
_ACROSS, _ALONG, _PITCH_MM = 100, 50, 2.5


def cooling_plate(folder: Path) -> Path:
    """Write a table of 5 000 staggered holes of two sizes."""
    rows = ["id,x_mm,y_mm,diameter_mm"]
    for j in range(_ALONG):
        for i in range(_ACROSS):
            x = _PITCH_MM * (i + j % 2 / 2)
            rows.append(f"C{len(rows)},{x:g},{_PITCH_MM * j:g},{1.0 if i % 10 == 0 else 0.8}")
    (folder / "cooling.csv").write_text("\n".join(rows) + "\n", encoding="ascii")
    return folder / "cooling.csv"


def rows() -> list[dict[str, float | str]]:
    """Return CPU seconds of the whole job, of its folder, and of the order alone."""
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch)
        request = HoleRequest(source=cooling_plate(folder), material="D2", height="6 mm")
        begin = time.process_time()
        result = drill_holes(request)
        job_s = time.process_time() - begin
        if result.proof is None or not result.proof.passed:
            raise SystemExit("the cooling plate was not proved")
        begin = time.process_time()
        write_hole_job(result, folder / "job")
        folder_s = time.process_time() - begin
        tubes = len(result.plan.changes)
    grid = np.array([(x, y) for x in range(_ACROSS) for y in range(_ALONG)], dtype=float)
    begin = time.process_time()
    way = shortest_order(np.random.default_rng(0).permutation(grid))
    order_s = time.process_time() - begin
    length = way_length(np.random.default_rng(0).permutation(grid), way, ends=Ends.ANYWHERE)
    best = (len(grid) - 1) / length
    return [
        {
            "name": "5 000 holes: table to proved program and price",
            "ours_s": job_s,
            "peer_s": _GOAL_S,
            "ratio": _GOAL_S / job_s,
            "note": f"peer is the goal; {tubes} tubes",
        },
        {
            "name": "their job folder",
            "ours_s": folder_s,
            "peer_s": _GOAL_S,
            "ratio": _GOAL_S / folder_s,
            "note": "peer is the goal; plan, program, picture",
        },
        {
            "name": "order of a grid of 5 000 in random order",
            "ours_s": order_s,
            "peer_s": order_s,
            "ratio": best,
            "note": "ratio is the least way over ours, 1 at best",
        },
    ]


if __name__ == "__main__":
    for row in rows():
        print(row)
