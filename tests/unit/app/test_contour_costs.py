"""What each contour costs on the machine."""

from __future__ import annotations

from importlib.resources import files

import pytest

from kerfwright.app.records import JobResult
from kerfwright.cli.demo import SAMPLE, WANTED
from kerfwright.cli.job import request_from
from kerfwright.wiring import answers, job_costs, job_strip, plan_job

_OF_CONTOURS = ("threading", "positioning", "rough pass", "cut-off", "attended stops", "skim pass")
"""Lines of a price that stand on the strip beside a contour."""


@pytest.fixture(scope="module")
def wheel() -> JobResult:
    drawing = files("kerfwright") / "data" / "samples" / SAMPLE
    return plan_job(request_from(WANTED | {"drawing": drawing, "quantities": (1,)}))


def test_the_costs_of_all_contours_are_the_machine_lines_of_the_price(wheel: JobResult) -> None:
    assert wheel.estimate is not None
    costs = job_costs(wheel, job_strip(wheel))
    assert set(costs) == {c.target.id for c in wheel.plan.contours}
    lines = [p for p in wheel.estimate.prices[0].lines if p.item.startswith(_OF_CONTOURS)]
    # Each of them is in whole cents.
    cents = 0.005 * (len(costs) + len(lines))
    assert float(sum(costs.values())) == pytest.approx(
        float(sum(p.likely for p in lines)), abs=cents + 0.01
    )


def test_every_cost_has_its_reason_with_range_and_shares(wheel: JobResult) -> None:
    costs = job_costs(wheel, job_strip(wheel))
    told = {a.about: a.reason for a in answers(wheel) if a.name == "cost on the machine"}
    assert set(told) == set(costs)
    for name, reason in told.items():
        assert reason.value == float(costs[name])
        assert reason.range is not None
        assert reason.range.low < reason.value < reason.range.high
        assert reason.shares
        share = dict(reason.inputs)["share_of_the_price_of_a_piece"]
        assert 0 < float(share) < 1


def test_a_job_without_a_price_has_no_costs(wheel: JobResult) -> None:
    assert job_costs(wheel, None) == {}


def test_costs_of_a_stack_that_is_not_full_are_those_of_the_price() -> None:
    drawing = files("kerfwright") / "data" / "samples" / "click.dxf"
    wanted = WANTED | {"drawing": drawing, "quantities": (10,), "stack": "8"}
    stacked = plan_job(request_from(wanted))
    assert stacked.estimate is not None
    costs = job_costs(stacked, job_strip(stacked))
    (price,) = stacked.estimate.prices
    assert price.loads == 2
    lines = [line for line in price.lines if line.item.startswith(_OF_CONTOURS)]
    # Lines are those of all pieces, each in whole cents.
    whole = float(sum(line.likely for line in lines))
    assert float(sum(costs.values())) == pytest.approx(whole / 10, abs=0.005 * len(costs) + 0.02)
    told = {a.about: a.reason for a in answers(stacked) if a.name == "cost on the machine"}
    assert {dict(one.inputs)["pieces_of_a_cut"] for one in told.values()} == {5.0}
