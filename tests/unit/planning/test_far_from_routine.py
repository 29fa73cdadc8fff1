"""Wires in work too tall for them, guides far off, and the pressure that a tab bears."""

from __future__ import annotations

from dataclasses import replace

import pytest
from scipy.integrate import solve_bvp
from tests.conftest import PartMaker, box
from tests.unit.planning.test_wire_states import PHYSICS, RULES, planned

from kerfwright.foundation.findings import Severity
from kerfwright.planning.far_from_routine import guides_factor, routine_height_mm
from kerfwright.planning.plan import Tab
from kerfwright.planning.tab_water import borne_bar
from kerfwright.trade.part import Role


@pytest.fixture(scope="module")
def outline(make_part: PartMaker):
    return make_part([(Role.OUTLINE, box(0, 0, 20, 10), None)])


def found(plan, code):
    return [f for f in plan.findings if f.code == code]


@pytest.mark.parametrize(
    ("wire", "height_mm", "warns"),
    [("0.10", 150.0, True), ("0.10", 30.0, False), ("0.25", 240.0, False), ("0.25", 300.0, True)],
)
def test_a_wire_in_work_far_taller_than_is_routine_for_it_is_warned_of(
    outline, requirement, tables, wire, height_mm, warns
):
    asked = replace(
        requirement,
        height_mm=height_mm,
        wire=tables.catalogue.wire(wire),
        machine=replace(requirement.machine, max_height_mm=400.0),
    )
    plan = planned(outline, asked, tables)
    told = found(plan, "wire-thin-for-height")
    assert bool(told) == warns
    if warns:
        assert f"trails by {plan.wire_states[0].lag_um:.0f} µm" in told[0].message


def test_the_routine_height_goes_with_the_tension(tables):
    fine, thick = (tables.catalogue.wire(name) for name in ("0.10", "0.20"))
    assert routine_height_mm(thick, rules=RULES) == pytest.approx(
        4 * routine_height_mm(fine, rules=RULES)
    )


@pytest.mark.parametrize("off_mm", [10.0, 60.0])
def test_guides_far_off_let_the_wire_give_way_as_a_string_does(off_mm):
    def bow(span: float, height: float) -> float:
        # y'' = -1 over the work, from the middle, where the slope is nought, to the face; beyond
        # it the wire runs straight to the guide.
        free = (span - height) / 2
        solved = solve_bvp(
            lambda x, y: [y[1], -1.0 + 0 * x],
            lambda a, b: [a[1], b[0] + free * b[1]],
            [0.0, height / 2],
            [[0.0, 0.0], [0.0, 0.0]],
            tol=1e-8,
        )
        return float(solved.sol(0.0)[0])

    height_mm = 40.0
    off = PHYSICS.with_nozzles_off((off_mm, off_mm))
    wanted = bow(off.tension.span_mm(height_mm), height_mm) / bow(
        PHYSICS.tension.span_mm(height_mm), height_mm
    )
    assert guides_factor(height_mm, physics=off) == pytest.approx(wanted, rel=1e-6)
    assert guides_factor(height_mm, physics=PHYSICS) == 1


def test_what_guides_close_to_the_work_hold_is_not_promised_of_guides_far_off(
    outline, requirement, tables
):
    asked = replace(requirement, height_mm=40.0, tolerance_um=2.5)
    near = planned(outline, asked, tables)
    assert not found(near, "guides-far-off")
    off = replace(RULES, upper_gap_mm=60.0, lower_gap_mm=60.0)
    far = planned(outline, asked, tables, rules=off)
    (told,) = found(far, "guides-far-off")
    assert told.severity is Severity.REFUSAL
    # Four times as far: 2 x 180 - 40 over 2 x 60 - 40.
    assert told.data["factor"] == pytest.approx(4)
    assert told.data["holds_um"] == pytest.approx(4 * far.passes[-1].tolerance_um)
    assert "536 for 1609 Hz" in told.message
    loose = replace(asked, tolerance_um=4 * 25.0)
    (warned,) = found(
        planned(outline, loose, tables, rules=off),
        "guides-far-off",
    )
    assert warned.severity is Severity.WARNING


def tab(safety: float) -> Tab:
    return Tab(
        start_station_mm=0.0,
        end_station_mm=3.0,
        width_mm=3.0,
        weight_n=1.0,
        flushing_n=9.0,
        safety=safety,
    )


def test_a_tab_bears_the_pressure_at_which_it_keeps_its_safety(tables):
    law = tables.technology.flushing
    usual = 10 * law.water.rough_pressure_mpa
    asked = RULES.tab_safety
    assert borne_bar(tab(asked), rules=RULES, law=law) == pytest.approx(usual)
    # At half the safety weight and push may be 5 N in all, 4 N of them push.
    assert borne_bar(tab(asked / 2), rules=RULES, law=law) == pytest.approx(usual * 4 / 9)
    assert borne_bar(tab(asked / 20), rules=RULES, law=law) == 0


def test_foil_and_fine_wire_are_flushed_low_and_a_plate_high(outline, requirement, tables):
    def said(height_mm: float, wire: str = "0.25") -> str:
        asked = replace(requirement, height_mm=height_mm, wire=tables.catalogue.wire(wire))
        return planned(outline, asked, tables).operations[0].flushing

    assert "high pressure, about 8 to 18 bar" in said(40.0)
    foil = said(0.05)
    assert "low pressure, about 0.3 to 1 bar, for work of 0.05 mm" in foil
    assert "The tab bears no jet" in foil
    assert "low pressure, about 2 to 4.5 bar, for a wire of 0.1 mm" in said(20.0, "0.10")
    assert "less pressure, about 4 to 9 bar" in said(5.0)
