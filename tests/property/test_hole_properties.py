"""Small holes of any kind: what is planned is proved, and plans keep their relations."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.soak import tries

from hole_samples import hole, law, planned, program_of
from kerfwright.adapters.drills import load_drill
from kerfwright.adapters.hole_shapes import claim_from, plan_shape
from kerfwright.adapters.json_shapes import to_text
from kerfwright.planning.hole_plan import HolePlan
from kerfwright.proof.holes import prove_holes
from kerfwright.trade.drill import DrillMachine
from kerfwright.trade.hole_work import Hole, leaning

HOLES = st.lists(
    st.tuples(
        st.integers(0, 20), st.integers(0, 20), st.integers(-3, 6),
        st.sampled_from((0.3, 0.5, 0.8, 1.0, 1.5, 3.0)), st.floats(2.0, 40.0),
        st.sampled_from((0.0, 0.0, 7.5, 30.0, 55.0)), st.floats(-180.0, 180.0), st.booleans(),
    ),
    min_size=1, max_size=12, unique_by=lambda row: row[:2],
)  # fmt: skip


def drawn(rows: list[tuple]) -> list[Hole]:  # type: ignore[type-arg]
    return [
        hole(
            f"H{n}", 8.0 * x, 8.0 * y, z=float(z), diameter_mm=d, depth_mm=depth,
            into=leaning(lean, heading_deg=heading), is_through=through,
        )
        for n, (x, y, z, d, depth, lean, heading, through) in enumerate(rows)
    ]  # fmt: skip


def machines() -> list[DrillMachine]:
    wide = replace(load_drill(), travel_x_mm=5000.0, travel_y_mm=5000.0, travel_z_mm=5000.0)
    inch = replace(wide, dialect=load_drill("generic-drill-inch").dialect)
    itself = replace(wide, tubes=replace(wide.tubes, changes_itself=True, finds_breakthrough=False))
    left = replace(wide, axes=tuple(replace(a, is_right_handed=False) for a in wide.axes))
    return [wide, inch, itself, left]


@settings(max_examples=tries(40), deadline=None)
@given(HOLES, st.sampled_from(range(4)), st.tuples(*[st.floats(-50, 50)] * 3))
def test_whatever_is_planned_passes_its_proof(
    rows: list[tuple],  # type: ignore[type-arg]
    which: int,
    centre: tuple[float, float, float],
) -> None:
    plan = planned(*drawn(rows), machine=machines()[which], centre_mm=centre)
    kept = {p.hole.id for p in plan.holes}
    assert kept | {h.id for h in plan.left_out} == {f"H{n}" for n in range(len(rows))}
    if not kept:
        return
    text, claim = program_of(plan)
    proof = prove_holes(text, claim)
    assert proof.passed, proof.findings
    assert proof.holes == len(kept)
    # The plan as it is kept says the same of the program.
    kept_plan = json.loads(
        to_text(plan_shape(plan, claim=claim, program=None, program_sha256=None))
    )
    again = claim_from(kept_plan, usual_tolerance_um=law().tolerance_um)
    assert prove_holes(text, again).passed


def strokes(plan: HolePlan) -> dict[str, tuple[float, ...]]:
    return {
        p.hole.id: (p.stroke.feed_way_mm, p.stroke.minutes, p.stroke.used_mm) for p in plan.holes
    }


@settings(max_examples=tries(20), deadline=None)
@given(HOLES, st.integers(-40, 40), st.integers(-40, 40))
def test_moving_the_work_moves_the_holes_and_nothing_else(
    rows: list[tuple],  # type: ignore[type-arg]
    x: int,
    y: int,
) -> None:
    flat = [h for h in drawn(rows) if h.into[2] == -1.0]
    machine = machines()[0]
    moved = [
        replace(h, mouth_mm=(h.mouth_mm[0] + x, h.mouth_mm[1] + y, h.mouth_mm[2])) for h in flat
    ]
    one, other = planned(*flat, machine=machine), planned(*moved, machine=machine)
    assert strokes(one) == strokes(other)
    assert [p.hole.id for p in one.holes] == [p.hole.id for p in other.holes]
    for a, b in zip(one.holes, other.holes, strict=True):
        assert b.at_mm == pytest.approx((a.at_mm[0] + x, a.at_mm[1] + y, a.at_mm[2]))


@settings(max_examples=tries(20), deadline=None)
@given(st.floats(1.0, 60.0), st.floats(1.0, 10.0))
def test_a_deeper_hole_takes_longer_and_more_tube(depth: float, more: float) -> None:
    (less,) = planned(hole("A", 0, 0, depth_mm=depth, diameter_mm=1.0)).holes
    (deep,) = planned(hole("A", 0, 0, depth_mm=depth + more, diameter_mm=1.0)).holes
    assert deep.stroke.minutes > less.stroke.minutes
    assert deep.stroke.used_mm > less.stroke.used_mm
    assert math.isclose(less.stroke.run_on_mm, deep.stroke.run_on_mm)
