"""What a worker remembers changes how fast an answer comes, never the answer."""

from __future__ import annotations

from dataclasses import replace
from importlib.resources import files
from pathlib import Path

import pytest

from kerfwright.app.records import JobRequest
from kerfwright.trade.part import ContourUse
from kerfwright.workbench import memories, read_parts, tasks

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
    for name in ("drafts", "results", "grounds", "whole", "savings"):
        getattr(tasks, f"_{name}").clear()
    read_parts._parts.clear()
    memories._memories.clear()
    memories._shapes.clear()


@pytest.fixture(scope="module")
def in_turn() -> list[tuple[tasks.Drafted, dict[str, dict[str, object]]]]:
    """Return what one worker answers to all steps, each asked after those before it."""
    forget()
    return [(drafted(**step), reasons(**step)) for step in STEPS]


@pytest.mark.parametrize("step", range(1, len(STEPS)))
def test_a_draft_after_others_is_the_draft_of_a_fresh_worker(
    in_turn: list[tuple[tasks.Drafted, dict[str, dict[str, object]]]], step: int
) -> None:
    after_others, reasons_after = in_turn[step]
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


def counted(monkeypatch: pytest.MonkeyPatch) -> list[JobRequest]:
    """Return the requests that are planned from now on."""
    planned: list[JobRequest] = []
    real = tasks.plan_job

    def plan(request: JobRequest, **given: object) -> object:
        planned.append(request)
        return real(request, **given)  # type: ignore[arg-type]

    monkeypatch.setattr(tasks, "plan_job", plan)
    return planned


def test_a_job_of_the_same_drawing_is_proved_once_and_written_for_both(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    forget()
    planned = counted(monkeypatch)
    shop = tmp_path / "shop"
    shop.mkdir()
    texts = []
    for name in ("one", "other"):
        folder = tmp_path / name
        folder.mkdir()
        drawing = folder / WHEEL.name
        drawing.write_bytes(WHEEL.read_bytes())
        request = replace(made_from({})[0], drawing=drawing, shop=shop)
        verdict = tasks.prove(request, folder, "same", {}, unheard).verdict
        assert verdict["is_proved"]
        texts.append((folder / "program.nc").read_text(encoding="utf-8"))
        assert (folder / "job.toml").exists()
    assert texts[0] == texts[1]
    assert len(planned) == 1
    # What is asked, or a figure of the shop, is another: it is proved anew.
    tasks.prove(replace(request, tolerance="±9 µm"), folder, "same", {}, unheard)
    assert len(planned) == 2
    (shop / "note.toml").write_text("", encoding="utf-8")
    tasks.prove(request, folder, "same", {}, unheard)
    assert len(planned) == 3


def test_what_the_demands_cost_is_worked_out_once_for_one_drawing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    forget()
    planned = counted(monkeypatch)
    drawing = tmp_path / WHEEL.name
    drawing.write_bytes(WHEEL.read_bytes())
    request = made_from({})[0]
    first = tasks.savings(request, "same", unheard)
    assert first is not None
    assert tasks.savings(replace(request, drawing=drawing), "same", unheard) == first
    assert len(planned) == 1
    assert tasks.savings(replace(request, height="3 mm"), "same", unheard) != first
    assert len(planned) == 2
