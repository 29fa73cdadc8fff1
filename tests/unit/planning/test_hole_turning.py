"""Angles that bring holes upright, against SciPy's rotations and the proof's own."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation
from tests.soak import tries

from kerfwright.planning.hole_turning import angles_for, turns_of
from kerfwright.proof.hole_frame import attitude, turned
from kerfwright.trade.drill import AxisLetter, TurningAxis
from kerfwright.trade.hole_work import leaning


def axis(letter: str, low: float = -360.0, high: float = 360.0, *, right: bool = True):
    return TurningAxis(
        letter=AxisLetter(letter), low_deg=low, high_deg=high, is_right_handed=right,
        speed_deg_per_min=1000.0,
    )  # fmt: skip


PAIRS = [("A", "C"), ("A", "B"), ("B", "A"), ("B", "C")]


@settings(max_examples=tries(60), deadline=None)
@given(
    st.sampled_from(PAIRS), st.floats(0.0, 179.0), st.floats(-180.0, 180.0), st.booleans(),
    st.booleans(),
)  # fmt: skip
def test_every_direction_comes_upright_by_scipys_and_the_proofs_reckoning(
    letters: tuple[str, str], lean: float, heading: float, one: bool, other: bool
) -> None:
    axes = (axis(letters[0], right=one), axis(letters[1], right=other))
    into = np.array([leaning(lean, heading_deg=heading)])
    found = angles_for(into, axes)
    assert found.beyond_deg[0] == 0
    angles = found.angles_deg[0]
    signs = [1 if a.is_right_handed else -1 for a in axes]
    # Capital letters turn about axes carried along: the first carries the second.
    by = Rotation.from_euler(
        "".join({"A": "X", "B": "Y", "C": "Z"}[x] for x in letters), angles * signs, degrees=True
    )
    # What leans by less than a millionth of a degree, 1.75e-8 rad, is left as it is.
    np.testing.assert_allclose(by.apply(into[0]), [0, 0, -1], atol=2e-8)
    np.testing.assert_allclose(turns_of(found.angles_deg, axes)[0], by.as_matrix(), atol=1e-12)
    point = (3.0, -4.0, 5.0)
    np.testing.assert_allclose(
        turned(point, attitude(angles.tolist(), axes)), by.apply(point), atol=1e-12
    )


def test_the_way_of_least_turning_within_the_limits_is_taken() -> None:
    into = np.array([leaning(30.0, heading_deg=90.0)])
    tight = (axis("A", -20.0, 45.0), axis("C"))
    assert angles_for(into, (axis("A"), axis("C"))).angles_deg[0] == pytest.approx([-30.0, 0.0])
    assert angles_for(into, tight).angles_deg[0] == pytest.approx([30.0, -180.0])


def test_beyond_a_limit_the_least_excess_is_told() -> None:
    into = np.array([leaning(50.0, heading_deg=90.0)])
    found = angles_for(into, (axis("A", -40.0, 45.0), axis("C")))
    assert np.isnan(found.angles_deg).all()
    assert found.beyond_deg[0] == pytest.approx(5.0)


def test_one_axis_reaches_only_its_own_plane() -> None:
    into = np.array([leaning(30.0, heading_deg=90.0), leaning(30.0, heading_deg=0.0)])
    found = angles_for(into, (axis("A"),))
    assert found.beyond_deg == pytest.approx([0.0, 30.0])
    assert abs(found.angles_deg[0, 0]) == pytest.approx(30.0)


def test_a_machine_that_turns_nothing_takes_upright_holes_only() -> None:
    into = np.array([[0.0, 0.0, -1.0], leaning(10.0, heading_deg=0.0)])
    assert angles_for(into, ()).beyond_deg == pytest.approx([0.0, 10.0])


def test_a_turn_the_other_way_changes_the_sign_of_its_angle_only() -> None:
    into = np.array([leaning(25.0, heading_deg=40.0)])
    right = (axis("A"), axis("C"))
    left = (replace(right[0], is_right_handed=False), right[1])
    one, other = (angles_for(into, axes).angles_deg[0] for axes in (right, left))
    assert other == pytest.approx(one * [-1, 1])
