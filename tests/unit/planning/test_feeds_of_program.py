"""Why a pass runs at another feed in the program than in the pass table."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from kerfwright.adapters.tables import Tables
from kerfwright.adapters.wire_physics import load_wire_physics
from kerfwright.app.explain import asked_for
from kerfwright.app.records import JobResult
from kerfwright.app.rough_feeds import rough_feeds
from kerfwright.foundation.answers import Answer
from kerfwright.geometry.contour import Contour
from kerfwright.planning.plan_answers import plan_answers
from kerfwright.trade.part import Part, Role
from leaning_jobs import leaning_job, square, tool_steel

PartMaker = Callable[..., Part]


@pytest.fixture
def die(make_part: PartMaker, tables: Tables) -> JobResult:
    part = make_part(
        [
            (Role.OUTLINE, Contour.from_rows([(-40, -40), (40, -40), (40, 40), (-40, 40)]), None),
            (Role.OPENING, square(20), "P1"),
        ]
    )
    wanted = tool_steel(tables, tolerance_um=20)
    return leaning_job(part, wanted, tables, {"H1": "taper=8° out from top"})


@pytest.fixture
def answers(die: JobResult, tables: Tables) -> tuple[Answer, ...]:
    return plan_answers(die.plan, technology=tables.technology, physics=load_wire_physics())


def test_a_leaning_contour_has_its_rough_feed_told(die: JobResult) -> None:
    (one,) = rough_feeds(die.plan)
    h1 = next(c for c in die.plan.contours if c.target.id == "H1")
    assert one.contour_ids == ("H1",)
    assert one.feed_mm_per_min == pytest.approx(h1.feed_mm_per_min(h1.passes[0]), abs=1e-4)
    assert "leans by up to 8°" in one.why


def test_the_feed_of_the_program_is_its_factors_multiplied_with_a_range(
    die: JobResult, answers: tuple[Answer, ...]
) -> None:
    h1 = next(c for c in die.plan.contours if c.target.id == "H1")
    for one in h1.passes:
        (answer,) = asked_for(answers, f"H1 pass {one.number} feed in this program")
        inputs = dict(answer.reason.inputs)
        product = float(inputs["pass_mm_per_min"]) * float(inputs["lean_factor"])
        product *= float(inputs.get("along_factor", 1.0))
        assert answer.reason.value == pytest.approx(product)
        assert answer.reason.value == pytest.approx(h1.feed_mm_per_min(one))
        assert answer.reason.range is not None
        # No surer than the feed of an upright wall.
        assert answer.reason.range.high / answer.reason.value > (
            one.feed_range_mm_per_min.high / one.feed_mm_per_min
        )
    assert "P1 pass 1 feed in this program" not in {a.title for a in answers}


def test_the_feed_of_the_table_says_what_the_program_has_instead(
    die: JobResult, answers: tuple[Answer, ...]
) -> None:
    h1 = next(c for c in die.plan.contours if c.target.id == "H1")
    (answer,) = asked_for(answers, "pass 1 feed")
    assert f"in this program H1 {h1.feed_mm_per_min(h1.passes[0]):.4g} mm/min" in (
        answer.reason.formula
    )


def test_the_factors_of_the_lean_have_names_sources_and_ranges(
    die: JobResult, answers: tuple[Answer, ...]
) -> None:
    for name in ("lean factor of the rough pass", "lean factor of skims"):
        (answer,) = asked_for(answers, f"H1 {name}")
        assert answer.reason.value < 0.8
        assert answer.reason.range is not None
        assert answer.reason.range.low < answer.reason.value < answer.reason.range.high
        assert "taper" in answer.also
    (beyond,) = asked_for(answers, "H1 lean factor of the rough pass beyond the water's")
    # No lean makes a cut faster, however unsure the figure of the angle is.
    assert beyond.reason.range is not None
    assert beyond.reason.range.low < beyond.reason.value
    assert beyond.reason.range.high <= 1
    (worst,) = asked_for(answers, "pass 1 feed at the worst place")
    assert dict(worst.reason.inputs)["contour"] in {"H1", "P1"}
