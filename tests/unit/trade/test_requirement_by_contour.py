"""Demands on single contours."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kerfwright.foundation.errors import InputError
from kerfwright.trade.requirement import Demand, Requirement


def test_what_a_contour_leaves_out_is_the_jobs(requirement: Requirement) -> None:
    wanted = replace(
        requirement,
        tolerance_um=5.0,
        ra_um=0.8,
        max_recast_um=4.0,
        contours={"H7": Demand(tolerance_um=2.5)},
    )
    assert wanted.demand_on("H7") == Demand(tolerance_um=2.5, ra_um=0.8, max_recast_um=4.0)
    assert wanted.demand_on("H1") == wanted.demand


def test_a_contour_may_ask_less_than_the_job(requirement: Requirement) -> None:
    wanted = replace(requirement, contours={"H1": Demand(tolerance_um=50.0, ra_um=6.3)})
    assert wanted.demand_on("H1").tolerance_um == 50.0


@pytest.mark.parametrize("value", [0.0, -1.0, float("nan"), float("inf")])
@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("tolerance_um", "the tolerance of the wall is given as .* µm; it must be above 0"),
        ("ra_um", "the finish is given as .* µm Ra; it must be above 0"),
        ("max_recast_um", "the recast layer allowed is given as .* µm; it must be above 0"),
    ],
)
def test_a_demand_is_above_zero(name: str, said: str, value: float) -> None:
    with pytest.raises(InputError, match=said):
        Demand(**{name: value})


def test_an_unknown_contour_is_refused_with_those_that_exist(requirement: Requirement) -> None:
    wanted = replace(requirement, contours={"H9": Demand(ra_um=0.4)})
    with pytest.raises(InputError, match=r"H9.*it has P1, H1") as caught:
        wanted.require_known(["P1", "H1"])
    assert caught.value.code == "contour-unknown"


def test_a_demand_is_said_in_both_unit_systems() -> None:
    assert Demand(tolerance_um=5.08, ra_um=0.8).said == "±5.08 µm (0.0002 in), Ra 0.8 µm (31 µin)"
    assert Demand().said == "nothing"
