"""Rows of the front cost what they say, and sentences on demands are true in every case."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import cache

import pytest
from tests.conftest import PartMaker, box
from tests.unit.app.test_what_if import asked, demands, price_of

from kerfwright.adapters.tables import Tables
from kerfwright.adapters.what_if_shape import what_if_shape
from kerfwright.app.demand_kinds import KINDS
from kerfwright.app.offers import Offer
from kerfwright.app.what_if import WhatIf
from kerfwright.cli.words import Show
from kerfwright.foundation.ranges import Range
from kerfwright.geometry.contour import Contour
from kerfwright.process.experience import Learned, Shipped
from kerfwright.trade.material import Wire
from kerfwright.trade.part import LengthUnit, Part, Role
from kerfwright.trade.requirement import Demand, Requirement


@pytest.fixture(scope="module")
def part(make_part: PartMaker) -> Part:
    return make_part([(Role.OPENING, box(0, 0, 12, 8), None)])


@pytest.fixture
def plate(make_part: PartMaker) -> Part:
    return make_part(
        [
            (Role.OUTLINE, box(0, 0, 60, 40), None),
            (Role.OPENING, Contour.circle((15, 20), radius_mm=4), "P1"),
            (Role.OPENING, Contour.circle((40, 20), radius_mm=8), "P1"),
        ]
    )


def ask(requirement: Requirement, **limits_um: float | None) -> Requirement:
    nothing = {"tolerance_um": None, "ra_um": None, "max_recast_um": None}
    return replace(requirement, **{**nothing, **limits_um})  # type: ignore[arg-type]


def said(found: WhatIf, start: str) -> str:
    (one,) = [a.sentence for a in found.alternatives if a.sentence.startswith(start)]
    return one


@pytest.fixture(scope="module")
def told(part: Part, requirement: Requirement, tables: Tables) -> Callable[..., WhatIf]:
    """Return a way to ask what limits in micrometres cost; the same are asked once."""

    @cache
    def of(**limits_um: float) -> WhatIf:
        return asked(part, ask(requirement, **limits_um), tables)

    return of


ASKS = (
    {"tolerance_um": 30.0, "ra_um": 1.1},
    {"tolerance_um": 10.0},
    {"ra_um": 0.8},
    {"tolerance_um": 5.0, "max_recast_um": 1.5},
    {},
)


@pytest.mark.parametrize("limits_um", ASKS)
def test_asking_for_what_a_row_of_the_front_says_costs_what_the_row_says(
    limits_um: Mapping[str, float],
    told: Callable[..., WhatIf],
    part: Part,
    requirement: Requirement,
    tables: Tables,
) -> None:
    wanted = ask(requirement, **limits_um)
    found = told(**limits_um)
    assert len(found.front) > 3
    wires = {(w.diameter_mm, w.name): w for w in tables.catalogue.wires}
    for row in found.front:
        row_asks = replace(
            wanted,
            tolerance_um=row.asked.tolerance_um,
            ra_um=row.asked.ra_um,
            max_recast_um=row.asked.max_recast_um,
            wire=wires[row.wire_diameter_mm, row.wire_name],
        )
        assert price_of(part, row_asks, tables) == row.each


def test_a_row_promises_no_more_than_it_is_paid_for(told: Callable[..., WhatIf]) -> None:
    # Three passes by the finish hold +-5 um; asking for that takes more measuring.
    found = told(tolerance_um=30.0, ra_um=1.1)
    three = [o for o in found.front if o.passes == 3]
    assert [o.asked.tolerance_um for o in three] == [30.0, 5.0]
    assert three[0].each == found.as_asked.each < three[1].each
    (remark,) = found.front_remarks
    assert remark.startswith("The job as asked promises what is asked and no more.")
    # The ledger has the likely Ra: the word for what all but the allowed share keep is another.
    assert "Its walls hold ±5 µm (0.000197 in)" in remark
    assert " surely, and likely better; neither is promised" in remark
    assert what_if_shape(found)["front"][2]["asked"]["tolerance_um"] == 30.0


@pytest.mark.parametrize("unit", [LengthUnit.MILLIMETRE, LengthUnit.INCH])
def test_a_limit_as_the_table_shows_it_is_never_tighter_and_hardly_looser(unit: LengthUnit) -> None:
    show = Show(unit=unit)
    for um in (25.0, 10.0, 5.08, 3.2, 2.54, 1.1, 0.59, 0.086):
        shown = float(show.limit(um)) * (25400.0 if unit is LengthUnit.INCH else 1.0)
        assert um * (1 - 1e-9) <= shown <= um * 1.01
        rough = float(show.limit(um, is_roughness=True))
        shown = rough * (0.0254 if unit is LengthUnit.INCH else 1.0)
        assert um * (1 - 1e-9) <= shown <= max(um * 1.01, um + 0.0254)
    # With the digits of the sentences beside it.
    for kind, um, is_roughness in (("tolerance", 7.1, False), ("finish", 1.1, True)):
        told = next(one for one in KINDS if one.name == kind).offered(um)
        figure = show.limit(um, is_roughness=is_roughness)
        assert f" {figure} µm" in f" {told.lstrip('±Ra ')}" or f"({figure} " in told
    assert show.limit(None) == "–"


def test_every_step_of_recast_that_a_sentence_offers_is_a_row_or_beaten_by_one(
    told: Callable[..., WhatIf],
) -> None:
    found = told(tolerance_um=10.0, max_recast_um=4.5)
    steps = [a for a in found.alternatives if a.demand == "recast"]
    assert len(steps) == 2

    def worth(offer: Offer) -> tuple[float, ...]:
        said = offer.asked.tolerance_um, offer.asked.ra_um, offer.asked.max_recast_um
        return float(offer.each), *(math.inf if um is None else um for um in said)

    for step in steps:
        assert any(
            all(a <= b for a, b in zip(worth(row), worth(step.offer), strict=True))
            for row in found.front
        ), step.sentence
    # The tighter one is no row of passes: recast alone is asked, for less than with all the rest.
    (tighter,) = (a for a in steps if a.saved_each < 0)
    (row,) = (o for o in found.front if worth(o) == worth(tighter.offer))
    assert row.asked.ra_um is None
    assert [line for line in row.asks if "recast" in line[0]], row.asks


def test_recast_stands_in_the_front_where_it_is_limited(told: Callable[..., WhatIf]) -> None:
    limited = told(tolerance_um=10.0, max_recast_um=4.5)
    recast = [o.asked.max_recast_um for o in limited.front]
    assert None not in recast
    # Rows of passes ask for all that they hold; those of recast alone leave the finish open.
    whole = [o.asked.max_recast_um for o in limited.front if o.asked.ra_um is not None]
    assert whole == sorted(whole, reverse=True)  # type: ignore[type-var]
    free = told(tolerance_um=10.0)
    assert {o.asked.max_recast_um for o in free.front} == {None}


def test_several_demands_at_once_give_up_no_more_than_the_saving_takes(
    told: Callable[..., WhatIf], part: Part, requirement: Requirement, tables: Tables
) -> None:
    found = told(tolerance_um=10.0, ra_um=1.1, max_recast_um=4.5)
    (together,) = [a for a in found.alternatives if " and " in a.demand]
    # Two passes hold the 10 um asked: conceding it would save nothing.
    assert together.demand == "finish and recast"
    wider = ask(requirement, tolerance_um=25.0, ra_um=1.9, max_recast_um=8.3)
    assert together.offer.each == price_of(part, wider, tables)


def test_a_wider_tolerance_goes_no_further_than_measuring_gets_cheaper(
    part: Part, requirement: Requirement, tables: Tables
) -> None:
    # At 80 mm two passes hold 12.6 um; from 10 um on a tolerance costs no measuring.
    tall = ask(replace(requirement, height_mm=80.0), tolerance_um=8.0, ra_um=1.1)
    # It saves less than prices tell apart, which is marked.
    to_the_cent = replace(tables, rates=replace(tables.rates, same_price_share=0.0))
    small, wider = (
        next(a for a in demands(asked(part, tall, some), "tolerance") if a.saved_each > 0)
        for some in (tables, to_the_cent)
    )
    assert (small.is_small, wider.is_small) == (True, False)
    assert wider.instead.startswith("±10 µm")
    further = replace(tall, tolerance_um=13.0)
    assert wider.offer.each == price_of(part, further, tables)


def test_only_a_demand_that_needs_the_work_by_itself_is_said_to_need_it(
    told: Callable[..., WhatIf],
) -> None:
    # 4.5 um of recast and Ra 1.1 um take three passes, 10 um of tolerance two.
    found = told(tolerance_um=10.0, ra_um=1.1, max_recast_um=4.5)
    assert said(found, "A finish of Ra 1.9").endswith(": the recast asked needs the same work.")
    assert said(found, "A recast layer up to 8.3").endswith(
        ": the finish asked needs the same work."
    )
    wider = said(found, "A tolerance of ±25")
    assert wider.endswith(": the finish asked and the recast asked need the same work.")


def test_a_tolerance_that_saves_measuring_only_is_said_to_be_off_the_machine(
    told: Callable[..., WhatIf],
) -> None:
    found = told(tolerance_um=5.0, max_recast_um=1.5)
    wider = said(found, "A tolerance of ±10")
    assert wider.endswith("off the machine only: the recast asked needs the same work there.")


def test_what_the_passes_hold_beyond_what_is_asked_is_offered_for_the_cost_of_measuring_it(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    """At 70 mm four passes hold 3.6 um: who asks 5 gets 3.6 without a minute of the machine."""
    part = make_part([(Role.OPENING, box(0, 0, 20, 15), None)])
    tall = replace(ask(requirement, tolerance_um=5.0), height_mm=70.0)
    found = asked(part, tall, tables)
    steps = {a.instead.partition(" (")[0]: a for a in demands(found, "tolerance")}
    same, next_pass = steps["±3.6 µm"], steps["±2.5 µm"]
    assert same.machine_minutes_saved_each == 0
    assert same.sentence.endswith("off the machine only: the same passes hold it.")
    assert 0 < -same.saved_each < -next_pass.saved_each / 3
    assert same.offer.each == price_of(part, replace(tall, tolerance_um=3.6), tables)
    assert next_pass.machine_minutes_saved_each < 0


def test_another_recast_layer_is_offered_with_its_spread_and_that_as_asked(
    told: Callable[..., WhatIf],
) -> None:
    words = said(told(max_recast_um=4.5), "A recast layer up to 8.3")
    ends = re.search(
        r"comes out at ([\d.]+) µm .* to ([\d.]+) µm .*10–90 %\), as asked at ([\d.]+) µm", words
    )
    assert ends is not None
    low, high, asked_low = map(float, ends.groups())
    # Nine walls in ten are to be within 8.3 (allowed_miss of the tables).
    assert low < high <= 8.3 * 1.01
    assert asked_low < low


def test_time_too_short_to_tell_for_a_piece_is_told_for_the_order(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    slot = make_part([(Role.OPENING, box(0, 0, 2, 1.5), None)])
    many = replace(ask(requirement, tolerance_um=5.0), height_mm=2.0, quantities=(40,))
    found = asked(slot, many, tables)
    wider = next(a for a in demands(found, "tolerance") if a.offer.passes == 2)
    assert 1 / 40 < wider.machine_minutes_saved_each < 1
    assert "off the machine" not in wider.sentence
    assert wider.sentence.endswith(" of machine time less for all 40 pieces.")


def test_contours_that_share_a_demand_are_priced_each_by_itself(
    plate: Part, requirement: Requirement, tables: Tables
) -> None:
    found = asked(plate, ask(requirement, tolerance_um=5.0), tables)
    alone = [a for a in demands(found, "one shape only") if " alone " in a.sentence]
    assert {a.sentence.partition(" alone")[0].rpartition(" on ")[2] for a in alone} == {
        "P1", "H1", "H2"
    }  # fmt: skip
    bore = next(a for a in alone if " on H1 alone " in a.sentence)
    own = {"H1": Demand(tolerance_um=10.0)}
    base = ask(requirement, tolerance_um=5.0)
    assert bore.offer.each == price_of(plate, replace(base, contours=own), tables)
    assert bore.saved_each > 0


def test_contours_with_one_demand_of_their_own_are_priced_apart_looser_and_tighter(
    plate: Part, requirement: Requirement, tables: Tables
) -> None:
    own = {name: Demand(tolerance_um=5.0) for name in ("H1", "H2")}
    wanted = replace(ask(requirement, tolerance_um=25.0), contours=own)
    found = asked(plate, wanted, tables)
    assert said(
        found, "A tolerance of ±10 µm (0.000394 in) instead of ±5 µm (0.000196 in) on H1 and H2"
    )
    for name in ("H1", "H2"):
        for um in (10.0, 3.0):
            (one,) = [
                a
                for a in found.alternatives
                if a.instead.startswith(f"±{um:g} µm") and f" on {name} alone " in a.sentence
            ]
            changed = {**own, name: Demand(tolerance_um=um)}
            assert one.offer.each == price_of(plate, replace(wanted, contours=changed), tables)


class _Slower:
    """A shop that measured one wire, and cut slower with it than the tables say."""

    sha256 = "0" * 64

    def learned(
        self,
        passes: Sequence[Shipped],
        *,
        wire: Wire,
        **_others: object,
    ) -> tuple[Learned, ...]:
        is_measured = wire.diameter_mm == 0.25
        return tuple(
            Learned(
                experience=self.sha256,
                records=12 if is_measured else 0,
                feed_factor=0.7 if is_measured else 1.0,
                feed_loadings=(("machine", 0.1),),
                feed_job_log=0.1,
                feed_scatter_log=0.1,
                feed_shares=(("machine", 1.0),),
                ra_factor=1.0,
                ra_sigma_log=0.1,
                ra_shares=(("cut", 1.0),),
                size_bias_um=0.0,
                size_sigma_um=one.tolerance_um / 2,
                is_size_proven=False,
                wire_factor=1.0,
                wire_sigma_log=0.1,
                breaks_per_h=Range(low=0.0, likely=0.1, high=0.3),
            )
            for one in passes
        )


def test_a_wire_that_nobody_measured_here_is_said_to_be_so(
    part: Part, requirement: Requirement, tables: Tables
) -> None:
    wanted = ask(requirement, tolerance_um=10.0)
    shipped = asked(part, wanted, tables)
    assert not any(a.not_measured for a in shipped.alternatives)
    slower = replace(tables, technology=replace(tables.technology, experience=_Slower()))
    found = asked(part, wanted, slower)
    other = [a for a in found.alternatives if a.offer.wire_diameter_mm != 0.25]
    assert other
    for one in other:
        end = "mm (0.0098 in) hard brass ran 30% slower than shipped."
        assert one.not_measured.endswith(end)
        assert "are shipped, not measured here; yours with 0.25" in one.not_measured
        assert one.not_measured in one.sentence
    same = [a for a in found.alternatives if a.offer.wire_diameter_mm == 0.25]
    assert not any(a.not_measured for a in same)
    rows = {(o.wire_diameter_mm, o.wire_name) for o in found.front if o.wire_diameter_mm != 0.25}
    assert rows
    told = sum("not measured here" in text for text in found.front_remarks)
    assert told == len(rows)
