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


def made_from(asked: dict[str, object]) -> tuple[JobRequest, dict[str, str], Path, str]:
    given = {"material": "C270 brass", "height": "6 mm"} | asked
    request = JobRequest(drawing=WHEEL, **given)  # type: ignore[arg-type]
    lines = {f"role {name}": str(use) for name, use in request.roles.items()}
    return request, lines, WHEEL, "same"


def unheard(_step: str, _share: float) -> None:
    pass


def drafted(**asked: object) -> tasks.Drafted:
    return tasks.draft(*made_from(asked), unheard)


def reasons(**asked: object) -> dict[str, dict[str, object]]:
    return tasks.reasons(*made_from(asked), unheard)


def forget() -> None:
    for kept in (tasks._drafts, tasks._parts, tasks._memories, tasks._results, tasks._grounds):
        kept.clear()


@pytest.mark.parametrize("step", range(1, len(STEPS)))
def test_a_draft_after_others_is_the_draft_of_a_fresh_worker(step: int) -> None:
    forget()
    for earlier in STEPS[:step]:
        drafted(**earlier)
    after_others, reasons_after = drafted(**STEPS[step]), reasons(**STEPS[step])
    forget()
    fresh, fresh_reasons = drafted(**STEPS[step]), reasons(**STEPS[step])
    assert after_others.draft == fresh.draft
    assert after_others.wire == fresh.wire
    assert reasons_after == fresh_reasons
    assert fresh_reasons


def test_reasons_asked_for_late_are_those_asked_for_at_once() -> None:
    forget()
    drafted(**STEPS[1])
    at_once = reasons(**STEPS[1])
    for later in STEPS[2:]:
        drafted(**later)
    assert reasons(**STEPS[1]) == at_once
