"""What a worker remembers changes how fast an answer comes, never the answer."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

import pytest

from kerfwright.app.records import JobRequest
from kerfwright.trade.part import ContourUse
from kerfwright.workbench import tasks

WHEEL = Path(str(files("kerfwright") / "data" / "samples" / "escape_wheel.dxf"))
STEPS: list[dict[str, object]] = [
    {},
    {"tolerance": "±9 µm"},
    {"tolerance": "±9 µm", "starts": {"H7": "1 mm, 0 mm"}},
    {"tolerance": "±5 µm", "contours": {"H1": "finish=Ra 0.4 µm"}},
    {"wire": "0.2 mm"},
    {"roles": {"H7": ContourUse.NOT_CUT}},
    {"stock_margin": "12 mm"},
    {"height": "9 mm"},
]


def drafted(**asked: object) -> tasks.Drafted:
    given = {"material": "C270 brass", "height": "6 mm"} | asked
    request = JobRequest(drawing=WHEEL, **given)  # type: ignore[arg-type]
    lines = {f"role {name}": str(use) for name, use in request.roles.items()}
    return tasks.draft(request, lines, WHEEL, "same", lambda _step, _share: None)


def forget() -> None:
    for kept in (tasks._drafts, tasks._parts, tasks._memories, tasks._grounds):
        kept.clear()


@pytest.mark.parametrize("step", range(1, len(STEPS)))
def test_a_draft_after_others_is_the_draft_of_a_fresh_worker(step: int) -> None:
    forget()
    for earlier in STEPS[:step]:
        drafted(**earlier)
    after_others = drafted(**STEPS[step])
    forget()
    fresh = drafted(**STEPS[step])
    assert after_others.draft == fresh.draft
    assert after_others.wire == fresh.wire
    assert after_others.reasons == fresh.reasons
