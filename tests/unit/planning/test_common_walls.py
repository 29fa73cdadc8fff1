"""When one kerf could serve two parts, and when not, by the numbers of the job."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tests.conftest import PartMaker, box
from tests.part_strings import planned, row

from kerfwright.adapters.tables import Tables
from kerfwright.geometry.contour import Contour
from kerfwright.planning.common_walls import common_wall_finding, longest_facing
from kerfwright.trade.requirement import Requirement


def test_walls_face_over_the_length_they_share_and_at_their_distance(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    part = row(make_part, [box(0, 0, 12, 20), box(0, 0, 10, 14)], web_mm=3.0)
    one = longest_facing(planned(part, requirement, tables))
    assert one is not None
    assert (one.length_mm, one.gap_mm) == pytest.approx((14.0, 3.0))


@pytest.mark.parametrize(("tolerance_um", "does"), [(40.0, True), (5.0, False)])
def test_one_pass_decides_whether_a_common_wall_would_do(
    tolerance_um: float,
    does: bool,
    make_part: PartMaker,
    requirement: Requirement,
    tables: Tables,
) -> None:
    wanted = replace(requirement, tolerance_um=tolerance_um, ra_um=None)
    plan = planned(row(make_part, [box(0, 0, 12, 20)] * 2), wanted, tables)
    said = common_wall_finding(plan)
    assert said is not None
    assert bool(said.data["does"]) is does
    assert ("would do" in said.message) is does
    assert said.data["needed_mm"] == pytest.approx(2 * plan.passes[0].offset_mm)
    feed = plan.contours[0].feed_mm_per_min(plan.passes[0])
    assert said.data["spared_min"] == pytest.approx(20.0 / feed)


def test_round_parts_and_parts_far_apart_have_no_common_wall(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    disc = Contour.circle((0.0, 0.0), radius_mm=8.0)
    far = row(make_part, [box(0, 0, 12, 20)] * 2, web_mm=12.0)
    for part in (row(make_part, [disc] * 2), far):
        assert common_wall_finding(planned(part, requirement, tables)) is None
