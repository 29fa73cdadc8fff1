"""Order of cuts."""

from __future__ import annotations

import itertools
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.conftest import PartMaker, box

from kerfwright.adapters.tables import Tables
from kerfwright.geometry.contour import Contour
from kerfwright.planning.order import shortest_tour
from kerfwright.planning.plan import OperationKind, Plan, Span
from kerfwright.planning.planner import make_plan
from kerfwright.trade.part import Role
from kerfwright.trade.requirement import Requirement

POINTS = st.lists(
    st.tuples(st.floats(-100, 100), st.floats(-100, 100)), min_size=1, max_size=12, unique=True
)


def length(points: list[tuple[float, float]], tour: list[int]) -> float:
    return sum(math.dist(points[a], points[b]) for a, b in itertools.pairwise(tour))


@given(POINTS)
def test_a_tour_visits_every_point_once_and_begins_at_the_first(
    points: list[tuple[float, float]],
) -> None:
    tour = shortest_tour(points)
    assert sorted(tour) == list(range(len(points)))
    assert tour[0] == 0


@given(POINTS)
def test_turning_any_stretch_of_a_tour_round_makes_it_no_shorter(
    points: list[tuple[float, float]],
) -> None:
    tour = shortest_tour(points)
    for i in range(1, len(tour)):
        for j in range(i + 1, len(tour)):
            other = tour[:i] + tour[i : j + 1][::-1] + tour[j + 1 :]
            assert length(points, other) >= length(points, tour) - 1e-5


def test_points_in_a_row_are_visited_along_the_row() -> None:
    assert shortest_tour([(0, 0), (3, 0), (1, 0), (2, 0)]) == [0, 2, 3, 1]


@pytest.fixture
def plan(make_part: PartMaker, requirement: Requirement, tables: Tables) -> Plan:
    part = make_part(
        [
            (Role.OUTLINE, box(0, 0, 60, 40), None),
            (Role.OPENING, box(5, 5, 25, 25), "P1"),
            (Role.OUTLINE, box(9, 9, 21, 21), "H1"),
            (Role.OPENING, Contour.circle((45, 20), radius_mm=6), "P1"),
        ]
    )
    return make_plan(
        part,
        requirement,
        technology=tables.technology,
        catalogue=tables.catalogue,
        rules=tables.rules,
    )


def test_every_rough_comes_before_every_other_cut(plan: Plan) -> None:
    kinds = [o.kind for o in plan.operations]
    assert kinds[:4] == [OperationKind.ROUGH] * 4
    assert OperationKind.ROUGH not in kinds[4:]


def test_exactly_the_cuts_through_a_tab_and_on_a_freed_part_are_attended(plan: Plan) -> None:
    assert all(o.attended == (o.span is Span.TAB) for o in plan.operations)
    assert all(o.instruction for o in plan.operations if o.kind is OperationKind.CUT_OFF)


def test_openings_are_skimmed_after_their_slug_is_out_and_outlines_before(plan: Plan) -> None:
    def first(contour_id: str, kind: OperationKind) -> int:
        return next(
            o.number for o in plan.operations if (o.contour_id, o.kind) == (contour_id, kind)
        )

    for name in ("H1", "H2"):
        assert first(name, OperationKind.CUT_OFF) < first(name, OperationKind.SKIM)
    for name in ("P1", "P2"):
        assert first(name, OperationKind.SKIM) < first(name, OperationKind.CUT_OFF)


def test_a_part_inside_a_slug_is_finished_before_the_slug_is_cut_free(plan: Plan) -> None:
    inner = max(o.number for o in plan.operations if o.contour_id == "P2")
    slug = min(
        o.number for o in plan.operations if (o.contour_id, o.kind) == ("H1", OperationKind.CUT_OFF)
    )
    assert inner < slug


def test_the_tab_span_of_an_outline_is_skimmed_after_its_cut_off(plan: Plan) -> None:
    spans = [(o.kind, o.span) for o in plan.operations if o.contour_id == "P1"]
    passes = len(plan.passes)
    assert spans == (
        [(OperationKind.ROUGH, Span.BODY)]
        + [(OperationKind.SKIM, Span.BODY)] * (passes - 1)
        + [(OperationKind.CUT_OFF, Span.TAB)]
        + [(OperationKind.SKIM, Span.TAB)] * (passes - 1)
    )
