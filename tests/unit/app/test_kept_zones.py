"""A step of a tolerance to one side of the line asks for a zone on that side."""

from __future__ import annotations

from dataclasses import replace
from importlib.resources import files
from pathlib import Path

import pytest

from kerfwright.app.kept_zones import OneSided
from kerfwright.app.records import JobRequest, JobResult
from kerfwright.app.requirements import ZONE_OFF_THE_LINE
from kerfwright.app.what_if import WhatIf
from kerfwright.foundation.units import tolerance
from kerfwright.wiring import plan_job, what_if

DIE = Path(str(files("kerfwright") / "data/samples")) / "click.dxf"
ASKED = JobRequest(
    drawing=DIE,
    material="D2",
    height="20 mm",
    tolerance="±0.02 mm",
    contours={"H1": "tolerance=+0.006/0 mm"},
    quantities=(5,),
)


@pytest.fixture(scope="module")
def job() -> JobResult:
    return plan_job(ASKED)


@pytest.fixture(scope="module")
def found(job: JobResult) -> WhatIf:
    given = what_if(job)
    assert given is not None
    return given


def test_a_step_keeps_the_limit_nearer_the_line_and_costs_what_it_says(found: WhatIf) -> None:
    steps = [a for a in found.alternatives if "contour H1" in dict(a.asks)]
    assert steps
    for one in steps:
        said = dict(one.asks)["contour H1"].removeprefix("tolerance=")
        zone = tolerance(said)
        assert zone.shift_um == pytest.approx(zone.half_um, rel=1e-4), said
        assert said in one.sentence
        assert said in one.step
    loosest = max(steps, key=lambda a: a.saved_each)
    again = plan_job(replace(ASKED, contours={"H1": dict(loosest.asks)["contour H1"]}))
    assert again.estimate is not None
    assert again.estimate.prices[0].each == loosest.offer.each
    # Whoever applies it is told as before that the wall is cut to the drawn line.
    assert ZONE_OFF_THE_LINE in {f.code for f in again.findings}


def test_every_row_of_the_front_keeps_the_side_too(found: WhatIf) -> None:
    asks = [text for one in found.front for line, text in one.asks if line == "contour H1"]
    assert not [text for text in asks if "±" in text]


def test_a_zone_of_the_whole_job_keeps_its_side_and_its_contours_theirs() -> None:
    other = replace(ASKED, tolerance="0/-0.03 mm", contours={"H1": "tolerance=±0.004 mm"})
    given = what_if(plan_job(other))
    assert given is not None
    lines = [pair for one in given.alternatives for pair in one.asks if "tolerance" in str(pair)]
    whole = [text for line, text in lines if line == "tolerance"]
    own = [text for line, text in lines if line == "contour H1"]
    assert own
    assert whole
    assert all("±" in text for text in own)
    assert all(tolerance(text).shift_um < 0 for text in whole)


@pytest.mark.parametrize(
    ("shift", "lower", "upper"),
    [(3.0, 0.0, 10.0), (5.0, 2.0, 12.0), (-3.0, -10.0, 0.0), (-1.0, -6.0, 4.0)],
)
def test_what_stays_is_the_limit_nearer_the_line_or_the_middle_where_it_lies_within(
    shift: float, lower: float, upper: float
) -> None:
    zone = OneSided("", 3.0, shift)
    assert zone.with_half(5.0) == pytest.approx((lower, upper))
