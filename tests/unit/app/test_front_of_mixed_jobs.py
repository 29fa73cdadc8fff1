"""Where contours ask different things, each row of the front costs what it says, typed again."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import pytest
from tests.conftest import PartMaker, box
from tests.unit.app.test_front_and_effects import ask
from tests.unit.app.test_what_if import asked, price_of

from kerfwright.adapters.tables import Tables
from kerfwright.app.front import stands_as
from kerfwright.app.offers import Offer
from kerfwright.geometry.contour import Contour
from kerfwright.trade.part import Part, Role
from kerfwright.trade.requirement import Demand, Requirement

Limits = Mapping[str, float]
MIXED = (
    ({"tolerance_um": 10.0, "max_recast_um": 6.0}, {"H1": {"max_recast_um": 1.5}}),
    (
        {"tolerance_um": 10.0, "ra_um": 0.8, "max_recast_um": 2.5},
        {"H1": {"tolerance_um": 4.0, "max_recast_um": 1.5}},
    ),
    ({"tolerance_um": 10.0, "ra_um": 0.8}, {"H1": {"tolerance_um": 2.5, "ra_um": 0.4}}),
    ({"tolerance_um": 5.0}, {"H1": {"tolerance_um": 20.0}}),
    ({}, {"P1": {"tolerance_um": 5.0}, "H1": {"ra_um": 0.8}}),
    ({"tolerance_um": 25.0, "ra_um": 2.0}, {"P1": {"tolerance_um": 25.0, "ra_um": 3.8}}),
)


@pytest.fixture(scope="module")
def plate(make_part: PartMaker) -> Part:
    return make_part(
        [
            (Role.OUTLINE, box(0, 0, 40, 30), None),
            (Role.OPENING, Contour.circle((10, 15), radius_mm=2), "P1"),
            (Role.OPENING, Contour.circle((28, 15), radius_mm=5), "P1"),
        ]
    )


def mixed(requirement: Requirement, of_job: Limits, own: Mapping[str, Limits]) -> Requirement:
    contours = {name: Demand(**limits) for name, limits in own.items()}
    return replace(ask(requirement, **of_job), contours=contours)


def typed(row: Offer, wanted: Requirement, tables: Tables) -> Requirement:
    """Return the job with what a row says of its contours, and with its wire."""
    wires = {(w.diameter_mm, w.name): w for w in tables.catalogue.wires}
    own = dict.fromkeys(row.asked_on, row.asked)
    return replace(
        wanted,
        contours={**wanted.contours, **own},
        wire=wires[row.wire_diameter_mm, row.wire_name],
    )


@pytest.mark.parametrize(("of_job", "own"), MIXED)
def test_what_a_row_says_of_its_contours_typed_again_costs_what_the_row_says(
    of_job: Limits, own: Mapping[str, Limits], plate: Part, requirement: Requirement, tables: Tables
) -> None:
    wanted = mixed(requirement, of_job, own)
    found = asked(plate, wanted, tables)
    assert len(found.front) > 3
    for row in found.front:
        assert price_of(plate, typed(row, wanted, tables), tables) == row.each, row


@pytest.mark.parametrize(("of_job", "own"), MIXED)
def test_the_front_speaks_of_contours_that_ask_the_same_and_has_the_job_as_asked(
    of_job: Limits, own: Mapping[str, Limits], plate: Part, requirement: Requirement, tables: Tables
) -> None:
    wanted = mixed(requirement, of_job, own)
    found = asked(plate, wanted, tables)
    assert found.as_asked is not None
    (group,) = {row.asked_on for row in found.front}
    assert {wanted.demand_on(name) for name in group} == {found.as_asked.asked}
    (marked,) = (row for row in found.front if stands_as(row, found.as_asked))
    assert marked.each == found.as_asked.each
    for name in ("P1", "H1", "H2"):
        assert name in found.front_is_of
    others = [name for name in ("P1", "H1", "H2") if name not in group]
    keeps = "keeps" if len(others) == 1 else "keep"
    assert f"{others[-1]} {keeps} what is asked" in found.front_is_of


def test_a_step_of_recast_on_other_contours_is_no_row(
    plate: Part, requirement: Requirement, tables: Tables
) -> None:
    of_job, own = MIXED[0]
    wanted = mixed(requirement, of_job, own)
    found = asked(plate, wanted, tables)
    elsewhere = [a for a in found.alternatives if a.demand == "recast" and " on H1 " in a.sentence]
    assert elsewhere
    assert not {a.offer.each for a in elsewhere} & {row.each for row in found.front}
