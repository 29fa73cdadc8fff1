"""Mouths that lean with the wire: gap, feed, breaks and instruction, one effect counted once."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from kerfwright.adapters.tables import Tables
from kerfwright.adapters.wire_physics import load_wire_physics
from kerfwright.app.records import JobResult
from kerfwright.geometry.contour import Contour
from kerfwright.planning.flushing import nozzle_factor
from kerfwright.planning.leaning_water import LeaningWater
from kerfwright.planning.plan import ContourPlan, OperationKind
from kerfwright.planning.taper_effects import taper_effect
from kerfwright.process.flushing import BreakRisk, face_gap_mm
from kerfwright.process.technology import Flushing
from kerfwright.trade.part import Part, Role
from leaning_jobs import leaning_job, square, tool_steel

PartMaker = Callable[..., Part]
PHYSICS = load_wire_physics()
ANGLES = [0.5, 1.0, 3.0, 5.0, 8.0, 15.0]


@pytest.fixture
def upright(make_part: PartMaker, tables: Tables) -> JobResult:
    part = make_part([(Role.OPENING, square(20), None)])
    return leaning_job(part, tool_steel(tables, tolerance_um=20), tables, {})


@pytest.fixture
def die(make_part: PartMaker, tables: Tables) -> JobResult:
    part = make_part(
        [
            (Role.OUTLINE, Contour.from_rows([(-40, -40), (40, -40), (40, 40), (-40, 40)]), None),
            (Role.OPENING, square(20), "P1"),
        ]
    )
    wanted = tool_steel(tables, tolerance_um=20)
    return leaning_job(part, wanted, tables, {"H1": "taper=8° out from top"})


def leaning(
    upright: JobResult,
    tables: Tables,
    lean_deg: float,
    *,
    mouths: float = 1.0,
    physics: bool = True,
) -> ContourPlan:
    water = LeaningWater(
        requirement=upright.plan.requirement,
        technology=tables.technology,
        rules=replace(tables.rules, taper_mouth_lean=mouths),
        physics=PHYSICS if physics else None,
    )
    return water.leaning(upright.plan.contours[0], lean_deg)


def lift_alone(upright: JobResult, tables: Tables, lean_deg: float) -> float:
    """Return the factor of nozzles that stand level at the mean gap of the leaning mouths."""
    law = tables.technology.flushing
    gap_mm = face_gap_mm(law.nozzle.usual_gap_mm, lean_deg=lean_deg, law=law)
    level = replace(tables.rules, upper_gap_mm=gap_mm, lower_gap_mm=gap_mm)
    plan = upright.plan
    return nozzle_factor(
        Flushing.BOTH_OPEN, plan.requirement, plan.choice, tables.technology, level
    )


@pytest.mark.parametrize("lean_deg", ANGLES)
def test_lift_and_figure_of_an_angle_are_never_multiplied(
    upright: JobResult, tables: Tables, lean_deg: float
) -> None:
    contour = leaning(upright, tables, lean_deg)
    figure = taper_effect(lean_deg, height_mm=20.0, rules=tables.rules)
    rough, skim = contour.passes[:2]
    slow = min(lift_alone(upright, tables, lean_deg), figure.rate_factor)
    assert contour.feed_mm_per_min(rough) == pytest.approx(rough.feed_mm_per_min * slow)
    assert contour.feed_mm_per_min(skim) == pytest.approx(skim.feed_mm_per_min * figure.rate_factor)
    before = upright.plan.contours[0].flushing
    by_lift = contour.flushing.breaks_by_heat * contour.flushing.breaks_by_dirt
    most = max(by_lift, before.breaks * figure.breaks_factor)
    assert contour.flushing.breaks == pytest.approx(most)


@pytest.mark.parametrize("lean_deg", [0.5, 1.0, 2.0, 3.0, 4.0, 5.0])
def test_up_to_five_degrees_the_lift_says_what_shops_say(
    upright: JobResult, tables: Tables, lean_deg: float
) -> None:
    """The feed 0.8 at 5 degrees is common practice, no source; the lift was not set on it."""
    figure = taper_effect(lean_deg, height_mm=20.0, rules=tables.rules)
    assert lift_alone(upright, tables, lean_deg) == pytest.approx(figure.rate_factor, abs=0.02)


def test_a_mouth_at_eight_degrees_is_open_and_the_dirt_has_its_range(
    upright: JobResult, tables: Tables
) -> None:
    contour = leaning(upright, tables, 8.0)
    state = contour.flushing
    # 3 mm tan 8° = 0.42 mm of lift, and 0.1 mm to the near edge: above the 0.2 mm that close.
    assert contour.lean.lift_mm == pytest.approx(0.4216, abs=1e-4)
    assert state.nozzles is Flushing.BOTH_OPEN
    assert state.risk is BreakRisk.RAISED
    assert state.breaks_by_dirt > 1.3
    assert state.along_loadings
    assert state.beside_loadings == state.along_loadings


def test_a_mouth_at_one_degree_still_closes(upright: JobResult, tables: Tables) -> None:
    state = leaning(upright, tables, 1.0).flushing
    assert state.nozzles is Flushing.SEALED
    assert state.risk is BreakRisk.USUAL
    assert "which still closes" in state.advice
    # As unsure as open nozzles, in proportion to what the feed loses.
    (share,) = (sigma for _, sigma in state.along_loadings)
    (whole,) = (sigma for _, sigma in leaning(upright, tables, 8.0).flushing.along_loadings)
    assert 0 < share < whole / 5


def test_mouths_that_stay_square_lift_nothing(upright: JobResult, tables: Tables) -> None:
    contour = leaning(upright, tables, 8.0, mouths=0.0)
    before = upright.plan.contours[0].flushing
    assert contour.lean.lift_mm == 0
    assert contour.flushing.nozzles is Flushing.SEALED
    assert contour.flushing.along_factor == before.along_factor
    assert contour.flushing.advice == before.advice
    assert contour.lean.rough_factor == contour.lean.skim_factor
    figure = taper_effect(8.0, height_mm=20.0, rules=tables.rules)
    assert contour.flushing.breaks_by_taper == pytest.approx(figure.breaks_factor)


def test_without_the_physics_of_the_wire_the_figures_hold(
    upright: JobResult, tables: Tables
) -> None:
    contour = leaning(upright, tables, 8.0, physics=False)
    assert contour.lean.rough_total == pytest.approx(lift_alone(upright, tables, 8.0))
    assert not contour.flushing.has_wire


def test_the_instruction_of_the_rough_cut_is_that_of_the_lean(die: JobResult) -> None:
    told = {o.contour_id: o.flushing for o in die.plan.operations if o.kind is OperationKind.ROUGH}
    assert "0.52 mm in the mean, which does not close" in told["H1"]
    assert told["P1"].startswith("Both nozzles about 0.1 mm off")
    (lifted,) = (f for f in die.findings if f.code == "mouths-lifted")
    assert lifted.where.contour_id == "H1"
    assert "lift by 0.42 mm" in lifted.message
    # The estimate counts with the very factor that the finding names.
    wall = die.plan.contours[0]
    assert f"about {wall.flushing.breaks:.2g} times as often" in lifted.message


def test_a_tilted_wall_is_surer_of_nothing_than_an_upright_one(
    die: JobResult, upright: JobResult
) -> None:
    assert die.estimate is not None
    assert upright.estimate is not None
    wide, narrow = (
        next(line for line in r.estimate.times if line.operation == "skim pass 2")  # type: ignore[union-attr]
        for r in (die, upright)
    )
    assert wide.minutes.high / wide.minutes.likely > narrow.minutes.high / narrow.minutes.likely
