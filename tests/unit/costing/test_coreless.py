"""What it costs to leave no slug: lines of the estimate, and the minutes both ways."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tests.conftest import PartMaker
from tests.coreless_openings import SHAPES

from kerfwright.adapters.tables import Tables
from kerfwright.costing.coreless import (
    CORELESS,
    coreless_answers,
    coreless_findings,
    two_ways,
)
from kerfwright.costing.times import Times, job_times
from kerfwright.motion.moves import CutKind, WirePath
from kerfwright.motion.tally import tally
from kerfwright.planning.plan import Plan
from kerfwright.planning.planner import make_plan
from kerfwright.trade.coreless import CorelessWish
from kerfwright.trade.part import Role
from kerfwright.trade.requirement import Requirement
from kerfwright.wirepath.builder import build_path


@pytest.fixture
def both(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> tuple[tuple[Plan, WirePath, Times], tuple[Plan, WirePath, Times]]:
    """Plan two squares without slugs, and with them."""
    part = make_part(
        [
            (Role.OPENING, SHAPES["square"].transformed(shift_mm=(12.0 * k, 0.0)), None)
            for k in range(2)
        ]
    )
    found = []
    for wish in (CorelessWish.ALWAYS, CorelessWish.NEVER):
        plan = make_plan(
            part,
            replace(requirement, coreless=wish),
            technology=tables.technology,
            catalogue=tables.catalogue,
            rules=tables.rules,
        )
        path = build_path(plan)
        found.append((plan, path, job_times(plan, path, rates=tables.rates)))
    return found[0], found[1]


def minutes(times: Times, operation: str) -> float:
    return sum(t.minutes for t in times.lines if t.line.operation.startswith(operation))


def test_nobody_stops_the_machine_and_nothing_is_taken_out(both) -> None:
    (_, _, without), (_, _, slugs) = both
    assert minutes(without, "attended stops") == 0
    assert minutes(without, "removal") == 0
    assert minutes(without, "cut-off") == 0
    assert minutes(slugs, "attended stops") > 0
    assert minutes(without, "inspection") == minutes(slugs, "inspection")
    assert minutes(without, "threading") < minutes(slugs, "threading")


def test_the_line_of_such_cuts_is_wider_than_that_of_a_rough_pass(both, tables: Tables) -> None:
    (plan, path, without), _ = both
    (line,) = (t for t in without.lines if t.line.operation == CORELESS)
    sigma = plan.passes[0].feed_sigma_log
    extra = tables.rules.coreless_feed_sigma_log
    assert line.sigma_log == pytest.approx((sigma**2 + extra**2) ** 0.5)
    rough = [c for c in path.cuts if c.kind is CutKind.ROUGH]
    added = tally(rough, idle_mm_per_min=1000.0)
    assert line.minutes == pytest.approx(float((added.wall_min + added.return_min).sum()))


def test_the_slugs_way_that_is_told_is_near_the_slugs_way_that_is_planned(
    both, tables: Tables
) -> None:
    (plan, path, _), (_, _, slugs) = both
    ways = two_ways(plan, path, rates=tables.rates)
    assert [one.contour_id for one in ways] == [c.target.id for c in plan.contours]
    told = sum(one.slug_machine_min for one in ways)
    planned = minutes(slugs, "rough pass") + minutes(slugs, "cut-off")
    # Two threadings of the rates: for the cut-offs.
    planned += 2 * tables.rates.minutes.threading_automatic
    assert told == pytest.approx(planned, rel=0.1)
    people = minutes(slugs, "attended stops") + minutes(slugs, "removal")
    assert sum(one.slug_people_min for one in ways) == pytest.approx(people)


def test_the_finding_and_the_answers_tell_the_same_minutes(both, tables: Tables) -> None:
    (plan, path, _), _ = both
    ways = two_ways(plan, path, rates=tables.rates)
    (said,) = coreless_findings(plan, path, rates=tables.rates)
    assert said.code == "inside-cut-away"
    assert said.data["openings"] == 2
    assert said.data["machine_min"] == pytest.approx(sum(one.machine_min for one in ways))
    answers = list(coreless_answers(plan, path, rates=tables.rates))
    assert len(answers) == 3 * len(ways)
    by_title = {a.title: a.reason.value for a in answers}
    for one in ways:
        name = one.contour_id
        assert by_title[f"{name} coreless machine time"] == one.machine_min
        assert by_title[f"{name} coreless people's time saved"] == one.slug_people_min


def test_a_plan_with_slugs_says_nothing_of_it(both, tables: Tables) -> None:
    _, (plan, path, times) = both
    assert coreless_findings(plan, path, rates=tables.rates) == []
    assert not [t for t in times.lines if t.line.operation == CORELESS]
