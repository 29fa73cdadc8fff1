"""An edit of a large job is quick, and its answer is that of a plan from nothing."""

from __future__ import annotations

import math
from dataclasses import replace
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest

from alike_plates import assert_same, plate
from kerfwright.app.plan_job import Extent
from kerfwright.app.records import JobRequest
from kerfwright.planning import alike
from kerfwright.planning.memory import Memory
from kerfwright.planning.plan import StartKind
from kerfwright.trade.part import LayerUse
from kerfwright.wiring import plan_job
from kerfwright.wiring.drawings import part_of
from kerfwright.workbench import memories, read_parts, tasks

WHEEL = Path(str(files("kerfwright") / "data" / "samples" / "escape_wheel.dxf"))
EDITS: list[dict[str, Any]] = [
    {},
    {"height": "9 mm"},
    {"quantities": (7,)},
    {"tolerance": "±0.006 mm"},
    {"contours": {"H1": "tolerance=±0.006 mm"}},
    {"finish": "Ra 0.6 µm"},
    {"wire": "0.2 mm"},
    {"material": "D2"},
]


@pytest.fixture(scope="module")
def hundred(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return plate(tmp_path_factory.mktemp("plates") / "hundred.dxf", columns=10, rows=10)


def request(drawing: Path, **edit: Any) -> JobRequest:
    return JobRequest(drawing=drawing, **({"material": "C270 brass", "height": "6 mm"} | edit))


def forget() -> None:
    for name in ("drafts", "results"):
        getattr(tasks, f"_{name}").clear()
    read_parts._parts.clear()
    memories._memories.clear()
    memories._shapes.clear()


@pytest.mark.parametrize("which", ["wheel", "hundred"])
def test_every_kind_of_edit_gives_what_a_plan_from_nothing_gives(which: str, hundred: Path) -> None:
    forget()
    drawing = WHEEL if which == "wheel" else hundred
    part = part_of(request(drawing))
    # Back at the start too: what came between leaves nothing behind.
    for edit in [*EDITS, EDITS[0]]:
        asked = request(drawing, **edit)
        memory = memories.memory_of(asked, part, ())
        quick = plan_job(asked, part=part, extent=Extent.PRICED, memory=memory)
        assert_same(quick, plan_job(asked, extent=Extent.PRICED))


def test_the_first_answer_has_time_price_range_and_what_moved(hundred: Path) -> None:
    forget()
    before, after = (
        tasks.draft(request(hundred, **edit), {}, hundred, "same", lambda _step, _share: None)
        for edit in EDITS[:2]
    )
    (was,), (price,) = before.draft["prices"], after.draft["prices"]
    assert float(price["low"]) < float(price["each"]) < float(price["high"])
    assert after.draft["strip"]["total_min"] > before.draft["strip"]["total_min"]
    assert price["each"] != was["each"]
    assert before.draft["geometry_key"] == after.draft["geometry_key"]
    assert len(after.wire) == len(before.wire)


def test_a_height_of_a_hundred_openings_works_out_one_of_each_shape(
    hundred: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from kerfwright.planning import each_contour
    from kerfwright.wirepath import builder

    grounds, slowed = [], []
    ground_of, slow = each_contour.ground_of, builder.slowed
    monkeypatch.setattr(
        each_contour, "ground_of", lambda *a, **k: (grounds.append(a), ground_of(*a, **k))[1]
    )
    monkeypatch.setattr(builder, "slowed", lambda *a, **k: (slowed.append(a), slow(*a, **k))[1])
    part, memory = part_of(request(hundred)), Memory()
    for height in ("6 mm", "7 mm"):
        asked = request(hundred, height=height)
        result = plan_job(asked, part=part, extent=Extent.PRICED, memory=memory)
        assert result.path is not None
        # A round opening, a hook and the plate, each once more for what it does at the edge.
        assert len(grounds) <= 6
        assert len(slowed) <= 12 < len(result.path.cuts)
        grounds.clear()
        slowed.clear()


def test_openings_with_their_start_drawn_at_one_place_start_as_the_first_does(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from kerfwright.planning import each_contour

    every = range(36)
    # Those of the last row have none.
    drawing = plate(tmp_path / "drilled.dxf", columns=6, rows=6, starts=every[:30])
    asked = replace(request(drawing), layer_uses={"START": LayerUse.START})
    grounds, ground_of = [], each_contour.ground_of
    monkeypatch.setattr(
        each_contour, "ground_of", lambda *a, **k: (grounds.append(a), ground_of(*a, **k))[1]
    )
    result = plan_job(asked, extent=Extent.PROVED)
    # Those beside the edge of the stock are each looked at by themselves.
    assert len(grounds) < 30
    assert result.proof is not None
    assert result.proof.passed
    starts = {c.target.id: c.start for c in result.plan.contours}
    drawn = {(g.x_mm, g.y_mm) for g in result.part.given_starts}
    given = [s for s in starts.values() if s.kind is StartKind.GIVEN]
    assert len(given) == len(drawn) == 30
    for start in given:
        near = min(math.dist((start.x_mm, start.y_mm), place) for place in drawn)
        assert near <= 1e-6


def test_a_quantity_draws_no_line_anew(hundred: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from kerfwright.wirepath import builder

    part, memory = part_of(request(hundred)), Memory()
    first = plan_job(request(hundred), part=part, extent=Extent.PRICED, memory=memory)
    monkeypatch.setattr(builder, "slowed", None)
    monkeypatch.setattr(builder, "ContourCuts", None)
    asked = request(hundred, quantities=(9,))
    again = plan_job(asked, part=part, extent=Extent.PRICED, memory=memory)
    assert again.path is not None
    assert first.path is not None
    pairs = zip(again.path.cuts, first.path.cuts, strict=True)
    assert all(one.moves is other.moves for one, other in pairs)
    assert again.estimate != first.estimate


def test_openings_worked_out_as_another_are_as_if_each_were_by_itself(
    hundred: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    hooks = request(hundred, tolerance="±0.006 mm")
    together = plan_job(hooks, extent=Extent.PRICED)
    monkeypatch.setattr(alike, "found_alike", lambda _contours: {})
    alone = plan_job(hooks, extent=Extent.PRICED)
    # A circle begins where it pleases a rounding; a hook has one best place for everything.
    ours, theirs = (
        {c.target.id: c for c in r.plan.contours if len(c.target.contour) == 5}
        for r in (together, alone)
    )
    assert len(ours) == 50
    for name, one in ours.items():
        other = theirs[name]
        assert (one.start.x_mm, one.start.y_mm) == pytest.approx(
            (other.start.x_mm, other.start.y_mm), abs=1e-9
        )
        assert one.lead_station_mm == pytest.approx(other.lead_station_mm, abs=1e-9)
        assert one.tab is not None
        assert other.tab is not None
        assert one.tab.start_station_mm == pytest.approx(other.tab.start_station_mm, abs=1e-7)
        assert one.rough_attendance == other.rough_attendance
        assert one.flushing.along_factor == other.flushing.along_factor
        for loop, same in zip(one.loops, other.loops, strict=True):
            assert loop.contour.vertices == pytest.approx(same.contour.vertices, abs=1e-9)
    assert together.path is not None
    assert alone.path is not None
    cuts = {(c.contour_id, c.pass_number, c.kind): c.moves for c in alone.path.cuts}
    looked_at = 0
    for cut in together.path.cuts:
        if cut.contour_id in ours:
            moves = cuts[cut.contour_id, cut.pass_number, cut.kind]
            assert cut.moves.end_mm == pytest.approx(moves.end_mm, abs=1e-7)
            assert cut.moves.feed_mm_per_min == pytest.approx(moves.feed_mm_per_min, rel=1e-9)
            looked_at += 1
    assert looked_at > 100
