"""Lines of a job changed in any order give what a plan of the last of them alone gives."""

from __future__ import annotations

import tempfile
from functools import cache
from pathlib import Path
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st
from tests.soak import tries

from alike_plates import assert_same, plate
from kerfwright.app.plan_job import Extent
from kerfwright.app.records import JobRequest
from kerfwright.planning.memory import Memory
from kerfwright.process.technology import Flushing
from kerfwright.trade.part import ContourUse, LayerUse
from kerfwright.wiring import plan_job
from kerfwright.workbench import memories, tasks

SAME_DRAWING = "d" * 64
LINES: dict[str, list[Any]] = {
    "material": ["D2", "304"],
    "height": ["3 mm", "9 mm", "30 mm"],
    "tolerance": ["±0.01 mm", "±0.005 mm"],
    "finish": ["Ra 0.6 µm", "Ra 1.6 µm"],
    "wire": ["0.2 mm", "0.3 mm"],
    "quantities": [(4,), (1, 20)],
    "stock_margin": ["1 mm", "30 mm"],
    "contours": [{"H1": "tolerance=±0.005 mm"}, {"H4": "finish=Ra 0.6 µm"}],
    "starts": [{"H1": "0 mm, 0.2 mm"}, {"H5": "14.5 mm, 14 mm"}],
    "coreless": [{"ALL": "unattended"}, {"H4": "always"}],
    "roles": [{"H4": ContourUse.NOT_CUT}, {"H1": ContourUse.NOT_CUT}],
    "nozzles": [Flushing.BOTH_OPEN],
    "clamps": ["-8mm,-8mm,4mm,4mm"],
}
EDITS = st.one_of(
    [st.tuples(st.just(name), st.sampled_from([None, *said])) for name, said in LINES.items()]
)
"""A line that is changed, and to what; None takes it back."""


@cache
def drawing() -> Path:
    """Draw hooks and holes, one with a part in it and three with their start; once a session."""
    folder = Path(tempfile.mkdtemp())
    return plate(folder / "plate.dxf", columns=3, rows=3, islands=[8], starts=[2, 3, 4])


def request(asked: dict[str, Any]) -> JobRequest:
    given = {"material": "C270 brass", "height": "6 mm"} | asked
    return JobRequest(drawing=drawing(), layer_uses={"START": LayerUse.START}, **given)


@settings(max_examples=tries(48), deadline=None)
@given(st.lists(EDITS, min_size=2, max_size=6))
def test_a_plan_after_others_is_the_plan_of_nothing_before(edits: list[tuple[str, Any]]) -> None:
    memories._memories.clear()
    memories._shapes.clear()
    lines: dict[str, Any] = {}
    for name, said in [("height", "6 mm"), *edits]:
        lines = {n: text for n, text in (lines | {name: said}).items() if text is not None}
        asked = request(lines)
        part = tasks.read_part(asked, SAME_DRAWING)
        memory = memories.memory_of(asked, part, ())
        quick = plan_job(asked, part=part, extent=Extent.PRICED, memory=memory)
        assert_same(quick, plan_job(asked, extent=Extent.PRICED, memory=Memory()))
