"""Short ways against optima that others published, that arithmetic gives, or that are exact."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.sparse.csgraph import minimum_spanning_tree
from scipy.spatial.distance import cdist
from tests.soak import tries

from kerfwright.geometry.shortest_order import Ends, shortest_order, way_length

# TSPLIB, berlin52 (G. Reinelt 1991): 52 places in Berlin; both table and optimum from memory.
BERLIN52 = (
    "565 575 25 185 345 750 945 685 845 655 880 660 25 230 525 1000 580 1175 650 1130 1605 620 "
    "1220 580 1465 200 1530 5 845 680 725 370 145 665 415 635 510 875 560 365 300 465 520 585 480 "
    "415 835 625 975 580 1215 245 1320 315 1250 400 660 180 410 250 420 555 575 665 1150 1160 700 "
    "580 685 595 685 610 770 610 795 645 720 635 760 650 475 960 95 260 875 920 700 500 555 815 "
    "830 485 1170 65 830 610 605 625 595 360 1340 725 1740 245"
)
BERLIN52_OPTIMUM = 7542.0
"""With distances rounded to whole numbers, as TSPLIB has them."""


def test_the_way_through_berlin52_is_within_a_few_per_cent_of_the_published_optimum() -> None:
    places = np.array(BERLIN52.split(), dtype=float).reshape(-1, 2)
    way = shortest_order(places, ends=Ends.BACK)
    assert sorted(way.tolist()) == list(range(52))
    pairs = zip(way, np.roll(way, -1), strict=True)
    rounded = sum(round(math.dist(places[a], places[b])) for a, b in pairs)
    assert BERLIN52_OPTIMUM <= rounded <= 1.03 * BERLIN52_OPTIMUM


@pytest.mark.parametrize(("columns", "rows"), [(7, 5), (20, 30), (50, 40)])
def test_a_grid_is_walked_in_the_least_that_arithmetic_allows(columns: int, rows: int) -> None:
    # Every step is at least one pitch, and a way to and fro takes no longer one.
    grid = np.array([(x, y) for x in range(columns) for y in range(rows)], dtype=float)
    way = shortest_order(grid)
    assert way_length(grid, way, ends=Ends.ANYWHERE) == pytest.approx(columns * rows - 1)


def exact(points: np.ndarray, *, ends: Ends) -> float:
    """Try every order of a few points."""
    return min(
        way_length(points, [0, *rest], ends=ends)
        for rest in itertools.permutations(range(1, len(points)))
    )


@settings(max_examples=tries(25), deadline=None)
@given(
    st.lists(
        st.tuples(st.integers(0, 60), st.integers(0, 60)), min_size=3, max_size=7, unique=True
    ),
    st.sampled_from(Ends),
)
def test_a_few_points_are_visited_as_no_other_order_beats_by_much(
    places: list[tuple[int, int]], ends: Ends
) -> None:
    points = np.array(places, dtype=float)
    way = shortest_order(points, ends=ends)
    assert way[0] == 0
    assert sorted(way.tolist()) == list(range(len(points)))
    best = exact(points, ends=ends)
    assert best - 1e-9 <= way_length(points, way, ends=ends) <= 1.15 * best + 1e-9


def test_many_random_points_stay_near_the_bound_of_a_spanning_tree() -> None:
    # A way is a spanning tree: no way is shorter than the least of them (SciPy's).  The shortest
    # way is about 0.7124 sqrt(n A), the tree about 0.6331 sqrt(n A): 1.125 times (from memory).
    points = np.random.default_rng(3).uniform(0, 100, (600, 2))
    tree = minimum_spanning_tree(cdist(points, points)).sum()
    length = way_length(points, shortest_order(points), ends=Ends.ANYWHERE)
    assert tree <= length <= 1.25 * tree


def test_points_that_coincide_and_single_points_are_taken() -> None:
    same = np.zeros((5, 2))
    assert sorted(shortest_order(same).tolist()) == [0, 1, 2, 3, 4]
    assert shortest_order(np.zeros((1, 2))).tolist() == [0]
    assert shortest_order(np.zeros((0, 2))).tolist() == []


def test_the_same_points_give_the_same_way() -> None:
    points = np.random.default_rng(5).uniform(0, 10, (200, 3))
    assert shortest_order(points).tolist() == shortest_order(points.copy()).tolist()
