"""An edit of the page's ledger to its new price, beside its goal, for small jobs and large ones.

CPU seconds of the worker that drafts; other benchmarks of the page measure an edit with keys and
drawing, on the wall clock.  There is no peer: a ratio is goal over ours, above 1 keeps the goal.
Beside it stands what the same job takes from nothing.
"""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import ezdxf
from benchmarks.pipeline import WHEEL, die_plate, fifty_segments

from kerfwright.adapters.owned_files import digest
from kerfwright.adapters.tables import load_tables
from kerfwright.app.plan_job import Extent
from kerfwright.app.records import JobRequest
from kerfwright.process.left_draws import prepare_draws
from kerfwright.trade.part import LayerUse
from kerfwright.wiring import plan_job
from kerfwright.workbench import tasks

GOAL_S = 0.3
"""As the design has it: from a changed line to time, price, range and what moved."""
EDITS: dict[str, list[dict[str, Any]]] = {
    "height": [{"height": f"{k} mm"} for k in (7, 8, 9)],
    "quantity": [{"quantities": (k,)} for k in (2, 3, 4)],
    "tolerance": [{"tolerance": f"±{k} mm"} for k in ("0.008", "0.007")],
    "tolerance of one contour": [
        {"contours": {"H1": f"tolerance=±{k} mm"}} for k in ("0.008", "0.007")
    ],
    "finish": [{"finish": f"Ra {k} µm"} for k in ("1.6", "0.8")],
    "wire": [{"wire": f"{k} mm"} for k in ("0.2", "0.15", "0.3")],
    "material": [{"material": name} for name in ("D2", "A2", "304")],
    "start hole moved": [{"starts": {"H1": f"11.2 mm, {13.5 + k / 20} mm"}} for k in range(3)],
}
FIRSTS: dict[str, dict[str, Any]] = {
    "tolerance that adds passes": {"tolerance": "±0.004 mm"},
    "finish that adds passes": {"finish": "Ra 0.4 µm"},
}
"""Lines that a worker can measure once only: all that they need is new."""


def hundred_and_one(folder: Path) -> Path:
    """Draw a plate with 100 round and square openings: 101 contours."""
    document = ezdxf.new("R2010", units=4)
    space = document.modelspace()
    for n in range(100):
        x, y = 12 * (n % 10), 12 * (n // 10)
        if n % 2:
            space.add_circle((x, y), 3.0)
        else:
            square = [(x - 3, y - 3), (x + 3, y - 3), (x + 3, y + 3), (x - 3, y + 3)]
            space.add_lwpolyline(square, close=True)
    space.add_lwpolyline([(-12, -12), (120, -12), (120, 120), (-12, 120)], close=True)
    document.saveas(folder / "hundred.dxf")
    return folder / "hundred.dxf"


def _nobody(_step: str, _share: float) -> None:
    """Tell nobody how far it is."""


def _edited_s(drawing: Path, **asked: Any) -> float:
    """CPU seconds of the worker from a changed line of the ledger to the new price."""
    request = JobRequest(drawing=drawing, **asked)
    told = {name: said for name, said in asked.items() if isinstance(said, str)}
    begin = time.process_time()
    tasks.draft(request, told, drawing, digest(drawing.read_bytes()), _nobody)
    return time.process_time() - begin


def _from_nothing_s(drawing: Path, **asked: Any) -> float:
    begin = time.process_time()
    plan_job(JobRequest(drawing=drawing, **asked), extent=Extent.PRICED)
    return time.process_time() - begin


def _of(what: str, drawing: Path, **given: Any) -> Iterator[dict[str, object]]:
    """Yield a row for each kind of edit of one drawing: the middle one of several values."""
    given = {"material": "C270 brass", "height": "6 mm"} | given
    _edited_s(drawing, **given)
    every = {name: [given | one for one in some] for name, some in EDITS.items()}
    every |= {f"first {name}": [given | one] for name, one in FIRSTS.items()}
    for name, some in every.items():
        if "starts" in some[0] and drawing is not WHEEL:
            continue
        times = sorted(_edited_s(drawing, **asked) for asked in some)
        ours_s = times[len(times) // 2]
        before_s = _from_nothing_s(drawing, **some[-1])
        yield {
            "name": f"edit: {name}, {what}",
            "ours_s": ours_s,
            "peer_s": GOAL_S,
            "ratio": GOAL_S / ours_s,
            "note": f"peer is the goal; planned from nothing {before_s * 1000:.0f} ms",
        }


def rows() -> Iterator[dict[str, object]]:
    """Yield the rows."""
    prepare_draws(len(load_tables().technology.passes))
    makers: dict[str, Callable[[Path], Path]] = {
        "48 segments": fifty_segments,
        "wheel, 8 contours": lambda _folder: WHEEL,
        "101 contours": hundred_and_one,
    }
    uses = {"DIE": LayerUse.OPENING, "0": LayerUse.STOCK}
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch)
        for what, make in makers.items():
            yield from _of(what, make(folder))
        yield from _of("die plate, 10 000 segments", die_plate(folder), layer_uses=uses)
