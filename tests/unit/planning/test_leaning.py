"""Leaning walls of a job against machine and wire, and what an angle does to the cut."""

from __future__ import annotations

from dataclasses import replace
from types import MappingProxyType

import pytest
from tests.conftest import PartMaker, box

from kerfwright.adapters.tables import Tables
from kerfwright.geometry.contour import Contour
from kerfwright.planning.leaning import leaning_walls
from kerfwright.planning.taper_effects import taper_effect
from kerfwright.trade.part import Role
from kerfwright.trade.requirement import Requirement
from kerfwright.trade.walls import Pairing, Reference, Taper


def asked(requirement: Requirement, **walls: Taper | Pairing) -> Requirement:
    return replace(requirement, walls=MappingProxyType(walls))


def taper(angle_deg: float, **changes: object) -> Taper:
    plain = Taper(angle_deg=angle_deg, widens=True, reference=Reference.TOP)
    return replace(plain, **changes)


def test_the_plan_is_made_where_the_wire_has_least_room(
    make_part: PartMaker, requirement: Requirement
) -> None:
    part = make_part([(Role.OPENING, Contour.circle((0, 0), radius_mm=5.0), None)])
    # Wider below: least room at the top, where the circle is as drawn.
    out = leaning_walls(part, asked(requirement, H1=taper(2.0)), top=None)
    assert out.part.contours[0].contour.bounds_mm[2] == pytest.approx(5.0)
    # Narrower below: least room at the underside.
    narrow = leaning_walls(part, asked(requirement, H1=taper(2.0, widens=False)), top=None)
    assert narrow.part.contours[0].contour.bounds_mm[2] == pytest.approx(5 - 20 * 0.0349208)


@pytest.mark.parametrize(
    ("wall", "code"),
    [
        (taper(31.0), "angle-beyond-machine"),
        (taper(1.0, reference=Reference.HEIGHT, reference_mm=21.0), "taper-reference"),
        (taper(20.0, widens=False), "taper-closes-up"),
        (taper(1.0, other_corners=frozenset({1})), None),
        (Pairing(top_id="H9"), "top-unknown"),
    ],
)
def test_what_cannot_lean_is_refused_and_named(
    wall: Taper | Pairing, code: str | None, make_part: PartMaker, requirement: Requirement
) -> None:
    part = make_part([(Role.OPENING, Contour.circle((0, 0), radius_mm=5.0), None)])
    found = leaning_walls(part, asked(requirement, H1=wall), top=None)
    assert {f.code for f in found.findings if f.severity == "refusal"} == (
        {code} if code else set()
    )
    assert found.refused == (frozenset({"H1"}) if code else frozenset())


def test_an_opening_does_not_end_in_an_outline(
    make_part: PartMaker, requirement: Requirement
) -> None:
    part = make_part([(Role.OPENING, box(0, 0, 9, 9), None)])
    top = make_part([(Role.OUTLINE, box(0, 0, 9, 9), None)])
    found = leaning_walls(part, asked(requirement, H1=Pairing(top_id="P1")), top=top)
    assert [f.code for f in found.findings] == ["top-role"]


def test_crossing_rulings_are_refused_with_their_place(
    make_part: PartMaker, requirement: Requirement
) -> None:
    part = make_part([(Role.OUTLINE, box(-5, -5, 5, 5), None)])
    wall = Pairing(top_id="P1", how="given", pairs_mm=((0.0, 20.0),))
    found = leaning_walls(part, asked(requirement, P1=wall), top=part)
    assert [f.code for f in found.findings] == ["rulings-cross"]


def test_rate_falls_and_breaks_rise_with_the_angle(tables: Tables) -> None:
    effects = [taper_effect(a, height_mm=20.0, rules=tables.rules) for a in (0, 2, 5, 15, 30)]
    rates = [e.rate_factor for e in effects]
    assert rates == sorted(rates, reverse=True)
    assert [e.breaks_factor for e in effects] == sorted(e.breaks_factor for e in effects)
    # Common practice, no source: 0.8 of the rate from 5 degrees on.
    assert effects[2].rate_factor == pytest.approx(0.8)
    # A hundredth of a degree over 20 mm is 3.5 um.
    assert effects[0].wall_um == pytest.approx(3.49, abs=0.01)
