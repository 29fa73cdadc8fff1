"""Nests found hold, whatever parts and sheets are given, and give what is wanted."""

from __future__ import annotations

from dataclasses import replace

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.nest_samples import ANGLE, DISC, ROOM, box, in_a_row, mixed, polygon, ring, sheet
from tests.soak import tries

from kerfwright.foundation.errors import KerfwrightError
from kerfwright.geometry.contour import Contour
from kerfwright.nesting.bands import clear_band
from kerfwright.nesting.check import check
from kerfwright.nesting.records import (
    Instance,
    Kind,
    Packing,
    Placement,
    Problem,
    Sheet,
    Stop,
    Tell,
    Turns,
    Want,
)
from kerfwright.nesting.remnants import remnants_of
from kerfwright.nesting.solve import nest
from kerfwright.nesting.wants import best_of, way_mm

BLOB = Contour.from_rows([(0, 0), (150, 0), (190, 60), (120, 130), (60, 90), (0, 120)])


def asked(*sheets: Sheet, kinds: tuple[Kind, ...] | None = None, want: Want = Want.MATERIAL
          ) -> Instance:  # fmt: skip
    return Instance(kinds=kinds or mixed(), sheets=sheets, room=ROOM, want=want)


def held(instance: Instance, **how: object) -> list[Placement]:
    """Nest, check, and count: every part is either placed or said to be left over."""
    found = nest(instance, packer=None, budget_s=1.0, **how)  # type: ignore[arg-type]
    checked = check(instance, found)
    assert checked.holds, [f.message for f in checked.findings]
    return list(found.placements)


@settings(max_examples=tries(12), deadline=None)
@given(
    counts=st.tuples(*[st.integers(0, 4)] * 4).filter(any),
    width=st.floats(60, 160),
    height=st.floats(50, 160),
    seed=st.integers(0, 5),
)
def test_any_nest_on_the_grid_holds(
    counts: tuple[int, int, int, int], width: float, height: float, seed: int
) -> None:
    kinds = tuple(replace(kind, quantity=n) for kind, n in zip(mixed(), counts, strict=True) if n)
    held(asked(sheet(width, height), kinds=kinds), seed=seed)


@pytest.mark.parametrize(
    "where",
    [
        Sheet(id="remnant", outline=BLOB),
        Sheet(id="eaten", outline=box(0, 0, 200, 120), holes=(box(60, 30, 40, 50),)),
        Sheet(id="clamped", outline=box(0, 0, 200, 120), clamps=(box(0, 40, 20, 30),)),
        Sheet(id="round", outline=Contour.circle((70, 70), radius_mm=70.0)),
    ],
    ids=lambda s: s.id,
)
def test_sheets_of_any_outline_are_filled(where: Sheet) -> None:
    assert len(held(asked(where))) == 15


def test_small_parts_lie_in_openings_unless_that_is_not_wanted() -> None:
    disc = Kind(id="disc", outline=DISC, quantity=6)
    instance = asked(sheet(200, 120), kinds=(ring(), disc))
    assert sum(p.inside == ("ring", 1) for p in held(instance)) == 6
    assert not any(p.inside for p in held(instance, fills_openings=False))


def test_a_part_goes_into_no_opening_whose_turn_would_spoil_its_rolling_direction() -> None:
    disc = Kind(id="disc", outline=DISC, turns=Turns.ALONG)
    free = asked(sheet(100, 100), kinds=(ring(turns=Turns.QUARTER), disc))
    assert not any(p.inside for p in held(free))
    along = asked(sheet(100, 100), kinds=(ring(turns=Turns.ALONG), disc))
    assert any(p.inside for p in held(along))


def test_as_many_sheets_are_used_as_it_takes() -> None:
    where = replace(sheet(90, 90), count=None)
    instance = asked(where, kinds=mixed(rings=3))
    found = nest(instance, packer=None, budget_s=1.0)
    assert check(instance, found).holds
    assert not found.unplaced
    assert len(found.sheets) >= 3


def test_what_finds_no_room_is_counted() -> None:
    instance = asked(sheet(90, 90), kinds=mixed(rings=3))
    found = nest(instance, packer=None, budget_s=1.0)
    assert check(instance, found).holds
    assert sum(found.unplaced.values()) == 17 - len(found.placements) > 0


def test_the_remnant_given_first_is_used_first() -> None:
    instance = asked(Sheet(id="left", outline=box(0, 0, 80, 70), remnant="R-1"), sheet(300, 200))
    found = nest(instance, packer=None, budget_s=1.0)
    assert check(instance, found).holds
    assert found.sheets == ("left", "300x200")


@pytest.mark.parametrize("where", [sheet(700, 80), sheet(80, 700)], ids=["along X", "along Y"])
def test_what_an_engine_packs_lands_in_the_sheet_either_way_round(where: Sheet) -> None:
    instance = asked(where, kinds=mixed(rings=2))
    # The engine answers at once; what is left of the budget is not what is asked here.
    found = nest(instance, packer=in_a_row, budget_s=60.0)
    assert check(instance, found).holds
    assert found.method == "packing engine"
    assert not found.unplaced


def test_an_engine_s_band_that_is_too_long_is_cut_off_and_the_gaps_are_filled() -> None:
    instance = asked(sheet(240, 120), kinds=mixed(angles=8, links=8))
    found = nest(instance, packer=in_a_row, budget_s=1.0)
    assert check(instance, found).holds
    assert not found.unplaced


def test_a_part_that_is_higher_than_the_band_is_kept_from_the_engine() -> None:
    seen: list[str] = []

    def packer(problem: Problem, tell: Tell, stop: Stop) -> Packing:
        seen.extend(i.id for i in problem.items)
        return in_a_row(problem, tell, stop)

    high = Kind(id="high", outline=box(0, 0, 10, 200), turns=Turns.NONE)
    instance = asked(sheet(500, 100), kinds=(*mixed(), high))
    found = nest(instance, packer=packer, budget_s=1.0)
    assert "high" not in seen
    assert found.unplaced == {"high": 1}


def test_stopping_leaves_a_nest_that_holds() -> None:
    instance = asked(sheet(300, 200))
    found = nest(instance, packer=None, budget_s=1.0, stop=lambda: True)
    assert found.stopped
    assert check(instance, found).holds
    assert len(found.placements) + sum(found.unplaced.values()) == 15


def test_who_stops_before_the_engine_found_anything_gets_the_first_order_of_the_grid() -> None:
    def nothing(_problem: Problem, _tell: Tell, _stop: Stop) -> Packing:
        return Packing(bands=(), stopped=True)

    instance = asked(sheet(300, 200))
    found = nest(instance, packer=nothing, budget_s=20.0, stop=lambda: True)
    assert found.stopped
    assert not found.unplaced
    assert found.method == "grid"
    assert check(instance, found).holds


def test_the_same_seed_gives_the_same_nest_and_another_seed_may_not() -> None:
    instance = asked(sheet(150, 110), kinds=mixed(angles=9, links=9))
    one, two = (nest(instance, packer=None, budget_s=9.0, seed=3) for _ in range(2))
    assert one == two


def test_clamps_are_cut_off_where_most_is_left() -> None:
    where = replace(sheet(300, 200), clamps=(box(0, 80, 15, 40), box(140, 190, 20, 10)))
    band = clear_band(where, ROOM)
    assert band is not None
    assert band.box_mm == (15 + 6, 3, 297, 190 - 6)
    assert clear_band(Sheet(id="blob", outline=BLOB), ROOM) is None


def test_of_nests_as_short_the_one_wanted_is_taken() -> None:
    def lie(*points: tuple[float, float]) -> list[Placement]:
        return [
            Placement(kind="a", copy=k, sheet=0, turn_deg=0, x_mm=x, y_mm=y)
            for k, (x, y) in enumerate(points)
        ]

    far, close = lie((5, 50), (95, 50), (50, 5)), lie((50, 50), (60, 50), (70, 50))
    nests = [close, far, lie((1, 1))]
    lengths = [100.5, 100.0, 140.0]
    assert best_of(nests, lengths, want=Want.MATERIAL) == 1
    assert best_of(nests, lengths, want=Want.WAY) == 0
    assert way_mm(close) == pytest.approx(20)


def test_a_remnant_is_metal_that_no_kerf_reaches_and_keeps_the_corners_of_the_sheet() -> None:
    plate = sheet(200, 100)
    part = Kind(id="angle", outline=ANGLE.transformed(shift_mm=(5, 5)))
    (left,) = remnants_of(plate, [part], kerf_mm=0.4, least_width_mm=20, least_area_mm2=1000)
    rest = polygon(Kind(id="left", outline=left.outline, openings=left.holes))
    assert shapely.box(0, 0, 200, 100).covers(rest)
    assert rest.distance(polygon(part)) >= 0.4
    assert rest.contains(shapely.box(180, 80, 199.7, 99.7))
    assert left.area_mm2 == pytest.approx(rest.area)
    assert left.area_mm2 > 0.93 * 20000


def test_bands_too_narrow_and_scraps_too_small_are_no_remnants() -> None:
    plate, part = sheet(100, 40), Kind(id="bar", outline=box(0, 0, 60, 21))
    placed = Kind(id="bar", outline=part.outline.transformed(shift_mm=(1, 1)))
    found = remnants_of(plate, [placed], kerf_mm=0.4, least_width_mm=20, least_area_mm2=500)
    assert len(found) == 1
    x0, _, _, y1 = found[0].outline.bounds_mm
    assert 50 < x0 < 62
    assert not remnants_of(plate, [placed], kerf_mm=0.4, least_width_mm=20, least_area_mm2=5000)
    assert y1 < 40


def test_where_the_engine_fails_the_grid_lays_and_it_is_said() -> None:
    def broken(problem: Problem, tell: Tell, stop: Stop) -> Packing:
        raise KerfwrightError("no strip so short", code="packing-failed")

    def lost(problem: Problem, tell: Tell, stop: Stop) -> Packing:
        raise KerfwrightError("not installed", code="nest-needs-engine")

    instance = Instance(kinds=mixed(), sheets=(sheet(300, 200),), room=ROOM)
    found = nest(instance, packer=broken, budget_s=5.0, seed=0)
    assert found.method == "grid, for the packing engine failed"
    assert check(instance, found).holds
    assert not any(found.unplaced.values())
    with pytest.raises(KerfwrightError, match="not installed"):
        nest(instance, packer=lost, budget_s=5.0, seed=0)
