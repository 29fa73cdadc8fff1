"""Dead ends that only a skim would enter: refused by width, and the wire chosen that fits."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from tests.conftest import PartMaker, box
from tests.unit.planning.test_planner import found, planned

from kerfwright.adapters.tables import Tables
from kerfwright.app.plan_job import claim_of
from kerfwright.foundation.findings import Severity
from kerfwright.geometry.contour import Contour
from kerfwright.nc.writer import write_program
from kerfwright.planning.plan import Plan
from kerfwright.proof.prove import prove_program
from kerfwright.proof.records import Proof
from kerfwright.trade.part import Role
from kerfwright.trade.requirement import Requirement
from kerfwright.wirepath.builder import build_path


def slotted(width_mm: float, *, x: float = 0.0) -> Contour:
    """Return a square of 20 mm with a dead-end slot of 5 mm on its right."""
    low, high = 10 - width_mm / 2, 10 + width_mm / 2
    rows = [(0, 0), (20, 0), (20, low), (25, low), (25, high), (20, high), (20, 20), (0, 20)]
    return Contour.from_rows([(x + a, b) for a, b in rows])


def notched(half_deg: float, depth_mm: float) -> Contour:
    """Return a square of 20 mm with a V notch on its right."""
    half = depth_mm * math.tan(math.radians(half_deg))
    rows = [(0, 0), (20, 0), (20, 10 - half), (20 + depth_mm, 10), (20, 10 + half), (20, 20)]
    return Contour.from_rows([*rows, (0, 20)])


def with_wire(requirement: Requirement, tables: Tables, wire: str) -> Requirement:
    return replace(requirement, wire=tables.catalogue.wire(wire))


def proved(plan: Plan) -> Proof:
    path = build_path(plan, physics=None)
    text = write_program(path, machine=plan.requirement.machine, title="SLOT")
    return prove_program(text, claim_of(plan))


@pytest.mark.parametrize("width", [0.38, 0.42, 0.46])
def test_a_dead_end_below_the_rough_kerf_is_refused_with_its_width_and_depth(
    width: float, make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    thick = with_wire(requirement, tables, "0.30")
    plan = planned(make_part([(Role.OPENING, slotted(width), None)]), thick, tables)
    (refusal,) = found(plan, "slot-not-roughed")
    assert refusal.severity is Severity.REFUSAL
    rough, skim = plan.choice.passes[:2]
    assert 2 * skim.offset_mm < width < 2 * rough.offset_mm
    assert refusal.data["width_mm"] == pytest.approx(width, abs=2e-3)
    assert refusal.data["needed_mm"] == pytest.approx(2 * rough.offset_mm)
    # From the corner of the skim's path at the end of the slot to that of the rough one, which
    # dips between the two corners of the mouth; less what the rough pass clears.
    dip = math.sqrt(rough.offset_mm**2 - (width / 2) ** 2)
    away = math.hypot(25 - skim.offset_mm - (20 - dip), width / 2 - skim.offset_mm)
    kerf = plan.choice.wire.radius_mm + rough.gap_um / 1000
    assert refusal.data["depth_mm"] == pytest.approx(away - kerf, abs=1e-6)
    assert refusal.where.pass_number == 2
    assert refusal.where.x_mm == pytest.approx(25 - skim.offset_mm)
    assert not plan.contours


def test_the_wire_that_a_dead_end_is_refused_with_cuts_it_and_passes_its_proof(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    part = make_part([(Role.OPENING, slotted(0.42), None)])
    (refusal,) = found(
        planned(part, with_wire(requirement, tables, "0.30"), tables), "slot-not-roughed"
    )
    named = refusal.remedy.split("ask for a wire of ")[1].split(" mm")[0]
    plan = planned(part, with_wire(requirement, tables, named), tables)
    (contour,) = plan.contours
    kerf = float(refusal.remedy.split("whose rough pass needs ")[1].split(" mm")[0])
    assert kerf == pytest.approx(2 * contour.passes[0].offset_mm, abs=0.01)
    assert kerf >= 2 * contour.passes[0].offset_mm - 1e-9
    assert proved(plan).passed


@pytest.mark.parametrize(("width", "offered"), [(0.38, False), (0.46, True)])
def test_fewer_passes_are_named_only_where_they_rough_the_dead_end(
    width: float, offered: bool, make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    part = make_part([(Role.OPENING, slotted(width), None)])
    thick = with_wire(requirement, tables, "0.30")
    (refusal,) = found(planned(part, thick, tables), "slot-not-roughed")
    assert ("fewer skim passes" in refusal.remedy) == offered
    coarse = replace(thick, tolerance_um=25.0, ra_um=None)
    (contour,) = planned(part, coarse, tables).contours
    assert (2 * contour.passes[0].offset_mm < width) == offered


def test_a_wire_is_chosen_whose_rough_pass_fits_the_dead_end(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    plan = planned(make_part([(Role.OPENING, slotted(0.38), None)]), requirement, tables)
    assert plan.choice.wire.diameter_mm == 0.20
    (note,) = found(plan, "thinner-wire-chosen")
    assert "the slot of H1 is narrower than" in note.message
    assert proved(plan).passed


def test_alike_openings_are_each_refused_at_their_own_place(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    part = make_part(
        [(Role.OPENING, slotted(0.42), None), (Role.OPENING, slotted(0.42, x=40), None)]
    )
    thick = with_wire(requirement, tables, "0.30")
    one, other = found(planned(part, thick, tables), "slot-not-roughed")
    assert (one.where.contour_id, other.where.contour_id) == ("H1", "H2")
    assert other.where.x_mm == pytest.approx((one.where.x_mm or 0) + 40)


def test_a_punch_with_a_dead_end_slot_is_refused_too(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    slot = [(20, 10.21), (25, 10.21), (25, 9.79), (20, 9.79)]
    punch = Contour.from_rows([(20, 0), (40, 0), (40, 20), (20, 20), *slot])
    thick = with_wire(requirement, tables, "0.30")
    plan = planned(make_part([(Role.OUTLINE, punch, None)]), thick, tables)
    (refusal,) = found(plan, "slot-not-roughed")
    assert refusal.where.contour_id == "P1"
    assert refusal.data["width_mm"] == pytest.approx(0.42, abs=2e-3)


@pytest.mark.parametrize(
    ("half_deg", "said"),
    [(45.0, None), (20.0, None), (12.0, "skim-through-tip"), (4.0, "slot-not-roughed")],
)
def test_a_notch_is_judged_by_how_far_the_skim_goes_into_its_tip(
    half_deg: float,
    said: str | None,
    make_part: PartMaker,
    requirement: Requirement,
    tables: Tables,
) -> None:
    """The centre goes (a - b) / sin(half angle) beyond the rough path, less what that clears."""
    asked = with_wire(requirement, tables, "0.25 hard brass")
    part = make_part([(Role.OPENING, notched(half_deg, 4.5), None)])
    plan = planned(part, asked, tables)
    rough, skim = plan.choice.passes[:2]
    kerf = plan.choice.wire.radius_mm + rough.gap_um / 1000
    depth = (rough.offset_mm - skim.offset_mm) / math.sin(math.radians(half_deg)) - kerf
    codes = [f for f in plan.findings if f.code in {"skim-through-tip", "slot-not-roughed"}]
    assert [f.code for f in codes] == ([] if said is None else [said])
    assert (depth > kerf / 2) == (said is not None)
    assert (depth > 2 * kerf) == (said == "slot-not-roughed")
    for one in codes:
        assert one.data["depth_mm"] == pytest.approx(depth, abs=1e-6)
    if said != "slot-not-roughed":
        assert proved(plan).passed


def test_sharp_corners_and_plain_walls_say_nothing(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    plan = planned(make_part([(Role.OPENING, box(0, 0, 20, 10), None)]), requirement, tables)
    codes = {f.code for f in plan.findings}
    assert not codes & {"skim-through-tip", "slot-not-roughed"}
