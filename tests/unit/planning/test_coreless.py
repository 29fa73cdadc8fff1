"""Which openings have their inside cut away whole, and why."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tests.conftest import PartMaker, box
from tests.coreless_openings import SHAPES, eroded

from kerfwright.adapters.tables import Tables
from kerfwright.foundation.errors import InputError
from kerfwright.foundation.sources import SourceTag
from kerfwright.geometry.contour import Contour
from kerfwright.planning.coreless_loops import Coreless, CorelessWhy
from kerfwright.planning.plan import (
    OperationKind,
    Plan,
    RoughAttendance,
    Span,
)
from kerfwright.planning.plan_answers import plan_answers
from kerfwright.planning.planner import make_plan
from kerfwright.trade.coreless import CorelessWish
from kerfwright.trade.machine import OffsetForm
from kerfwright.trade.part import Part, Role
from kerfwright.trade.placement import Placement
from kerfwright.trade.requirement import Requirement


def planned(part: Part, requirement: Requirement, tables: Tables) -> Plan:
    return make_plan(
        part,
        requirement,
        technology=tables.technology,
        catalogue=tables.catalogue,
        rules=tables.rules,
    )


def bore(make_part: PartMaker, radius_mm: float) -> Part:
    hole = Contour.circle((0.0, 0.0), radius_mm=radius_mm)
    return make_part([(Role.OPENING, hole, None)])


def why(plan: Plan) -> CorelessWhy | None:
    (contour,) = plan.contours
    return None if contour.coreless is None else contour.coreless.why


@pytest.mark.parametrize(
    ("radius_mm", "expected"),
    [
        # Ø1.6 leaves a slug of 0.87 mm at most; those of Ø8 and Ø20 can be caught.
        (0.8, CorelessWhy.TOO_SMALL),
        (4.0, None),
        (10.0, None),
    ],
)
def test_only_a_slug_too_small_to_catch_is_cut_away_unasked(
    make_part: PartMaker,
    requirement: Requirement,
    tables: Tables,
    radius_mm: float,
    expected: CorelessWhy | None,
) -> None:
    assert why(planned(bore(make_part, radius_mm), requirement, tables)) is expected


def test_the_limit_is_the_larger_of_height_and_wire(tables: Tables) -> None:
    rules = tables.rules
    assert rules.coreless_width_mm(5.0, wire_mm=0.25) == pytest.approx(1.0)
    assert rules.coreless_width_mm(5.0, wire_mm=0.30) == pytest.approx(1.2)
    assert rules.coreless_width_mm(25.0, wire_mm=0.25) == pytest.approx(1.5)
    assert rules.coreless_width_mm(80.0, wire_mm=0.25) == pytest.approx(2.0)


def test_the_limits_are_marked_as_common_practice(tables: Tables) -> None:
    names = [n for n in tables.rules.sources if n.startswith("coreless")]
    assert len(names) == 8
    for name in names:
        assert tables.rules.sources[name].tag is SourceTag.COMMON_PRACTICE


def test_what_a_person_wishes_outranks_the_limit(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    small, middle, large = (bore(make_part, r) for r in (0.8, 3.0, 10.0))
    never = replace(requirement, coreless=CorelessWish.NEVER)
    alone = replace(requirement, coreless=CorelessWish.UNATTENDED)
    always = replace(requirement, coreless=CorelessWish.ALWAYS)
    assert why(planned(small, never, tables)) is None
    assert why(planned(middle, requirement, tables)) is None
    assert why(planned(middle, alone, tables)) is CorelessWhy.UNATTENDED
    assert why(planned(large, alone, tables)) is None
    assert why(planned(large, always, tables)) is CorelessWhy.ASKED
    only = replace(requirement, coreless_of={"H1": CorelessWish.ALWAYS})
    assert why(planned(large, only, tables)) is CorelessWhy.ASKED
    but = replace(always, coreless_of={"H1": CorelessWish.NEVER})
    assert why(planned(large, but, tables)) is None


def test_a_slug_too_large_for_an_unattended_job_is_named(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    alone = replace(requirement, coreless=CorelessWish.UNATTENDED)
    plan = planned(bore(make_part, 10.0), alone, tables)
    (said,) = (f for f in plan.findings if f.code == "coreless-too-large")
    assert said.data["limit_mm"] == tables.rules.coreless_unattended_mm
    assert '--coreless "H1: always"' in said.remedy


def test_a_wish_for_a_contour_that_is_not_drawn_is_refused(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    asked = replace(requirement, coreless_of={"H9": CorelessWish.ALWAYS})
    with pytest.raises(InputError) as caught:
        planned(bore(make_part, 3.0), asked, tables)
    assert caught.value.code == "contour-unknown"


def test_nothing_is_cut_off_and_nobody_is_there(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    one = eroded(SHAPES["square"], make_part, requirement, tables)
    kinds = [(o.kind, o.span, o.attended) for o in one.plan.operations]
    assert kinds[0] == (OperationKind.ROUGH, Span.INSIDE, False)
    assert {kind for kind, _, _ in kinds[1:]} == {OperationKind.SKIM}
    assert not any(attended for _, _, attended in kinds)
    (contour,) = one.plan.contours
    assert contour.tab is None
    assert contour.rough_attendance is RoughAttendance.NONE
    assert {"slug-too-small-to-catch", "tab-too-weak"}.isdisjoint(f.code for f in one.plan.findings)


@pytest.mark.parametrize("hindrance", ["inside", "control"])
def test_what_cannot_be_cut_away_keeps_its_slug_and_says_why(
    make_part: PartMaker, requirement: Requirement, tables: Tables, hindrance: str
) -> None:
    drawn = [(Role.OPENING, box(0, 0, 30, 30), None)]
    asked = replace(requirement, coreless=CorelessWish.ALWAYS)
    if hindrance == "inside":
        drawn.append((Role.OUTLINE, box(10, 10, 20, 20), "H1"))
    else:
        dialect = replace(asked.machine.dialect, offset_form=OffsetForm.CONTROLLER)
        asked = replace(asked, machine=replace(asked.machine, dialect=dialect))
    plan = planned(make_part(drawn), asked, tables)
    (said,) = (f for f in plan.findings if f.code == "coreless-not-possible")
    assert said.where.contour_id == "H1"
    assert ("P1 lies inside" if hindrance == "inside" else "control") in said.message
    assert all(c.coreless is None for c in plan.contours)


def test_openings_that_are_alike_have_the_same_loops_at_their_places(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    shape = SHAPES["slot"]
    places = [(0.0, 0.0), (20.0, 0.0), (0.0, 11.5)]
    part = make_part([(Role.OPENING, shape.transformed(shift_mm=by), None) for by in places])
    asked = replace(requirement, coreless=CorelessWish.ALWAYS)
    plan = planned(part, asked, tables)
    found: list[Coreless] = [c.coreless for c in plan.contours if c.coreless is not None]
    assert len(found) == 3
    assert len({one.loops.count for one in found}) == 1
    for contour in plan.contours:
        assert contour.coreless is not None
        gap = contour.coreless.loops.contour.vertices - contour.loops[0].contour.vertices
        assert abs(gap).max() < 1e-9


def test_who_places_a_tab_keeps_the_slug_unless_loops_are_asked_for_too(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    part = bore(make_part, 0.8)
    placed = replace(requirement, placements={"H1": Placement(tab_width_mm=0.3)})
    assert why(planned(part, requirement, tables)) is CorelessWhy.TOO_SMALL
    assert why(planned(part, placed, tables)) is None
    asked = replace(placed, coreless_of={"H1": CorelessWish.ALWAYS})
    assert why(planned(part, asked, tables)) is CorelessWhy.ASKED


def test_a_slug_that_its_start_hole_parts_names_the_limit_it_was_held_against(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    # A slot whose slug of 1.45 mm the hole cuts in two: too small below 3 mm, not below 1 mm.
    part = make_part([(Role.OPENING, box(0, 0, 14, 2.2), None)], starts=[(7.0, 1.1, 0.0)])
    plan = planned(part, requirement, tables)
    assert why(plan) is CorelessWhy.PARTED
    (contour,) = plan.contours
    assert contour.coreless is not None
    assert contour.coreless.limit_mm == tables.rules.small_slug_mm
    (limit,) = [
        a for a in plan_answers(plan, technology=tables.technology) if a.name == "coreless limit"
    ]
    assert limit.reason.value == tables.rules.small_slug_mm
    assert "part the slug" in limit.reason.formula
