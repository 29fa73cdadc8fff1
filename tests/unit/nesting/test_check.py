"""The check sees every way in which a nest may be wrong, and only those."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.nest_samples import DISC, LINK, RING, RING_HOLE, ROOM, box, ring, sheet
from tests.soak import some

from kerfwright.geometry.contour import Contour
from kerfwright.nesting.check import check, check_moved
from kerfwright.nesting.records import Instance, Kind, Placement, Sheet, Solution, Turns

SQUARE = Kind(id="square", outline=box(0, 0, 10, 10), quantity=2, turns=Turns.ALONG)


def at(x: float, y: float, *, kind: str = "square", copy: int = 1, turn: float = 0.0,
       inside: tuple[str, int] | None = None, on: int = 0) -> Placement:  # fmt: skip
    return Placement(kind=kind, copy=copy, sheet=on, turn_deg=turn, x_mm=x, y_mm=y, inside=inside)


def codes(kinds: tuple[Kind, ...], where: Sheet, *places: Placement, **left: int) -> list[str]:
    instance = Instance(kinds=kinds, sheets=(where,), room=ROOM)
    solution = Solution(sheets=(where.id,), placements=places, unplaced=left)
    return [f.code for f in check(instance, solution).findings]


PLATE = sheet(100, 60)


def test_a_nest_that_holds_gives_its_least_distances() -> None:
    instance = Instance(kinds=(SQUARE,), sheets=(PLATE,), room=ROOM)
    found = check(
        instance,
        Solution(sheets=(PLATE.id,), placements=(at(3, 4), at(27.5, 14.5, copy=2, turn=180))),
    )
    assert found.holds
    assert not found.findings
    assert found.measured.edge_mm == pytest.approx(3.0)
    assert found.measured.between_mm == pytest.approx(
        4.5
    )  # 17.5 - 13 in X, 0.5 in Y is less than nothing


@pytest.mark.parametrize(
    ("places", "expected"),
    [
        ((at(3, 3), at(14.9, 3, copy=2)), ["nest-too-close"]),
        ((at(3, 3), at(9, 9, copy=2)), ["nest-too-close"]),
        ((at(3, 3), at(3, 3, copy=2)), ["nest-too-close"]),
        ((at(2.9, 3), at(40, 20, copy=2)), ["nest-too-close"]),
        ((at(-5, 3), at(40, 20, copy=2)), ["nest-outside"]),
        ((at(140, 3), at(40, 20, copy=2)), ["nest-outside"]),
        ((at(13, 3, turn=90), at(40, 20, copy=2)), ["nest-turn"]),
        ((at(3, 3), at(40, 20)), ["nest-count", "nest-count"]),
        ((at(3, 3), at(40, 20, copy=3)), ["nest-count"]),
        ((at(3, 3), at(40, 20, kind="other")), ["nest-count", "nest-count", "nest-left-over"]),
        ((at(3, 3), at(40, 20, copy=2, on=1)), ["nest-sheets"]),
    ],
    ids=[
        "too close", "crossing", "one on the other", "near the edge", "over the edge", "far out",
        "turned", "twice the same", "one too many", "of another kind", "in no sheet",
    ],
)  # fmt: skip
def test_each_fault_is_named(places: tuple[Placement, ...], expected: list[str]) -> None:
    found = codes((SQUARE,), PLATE, *places)
    assert set(expected) <= set(found), found


def test_parts_left_over_are_refused_and_the_rest_may_be_cut() -> None:
    instance = Instance(kinds=(SQUARE,), sheets=(PLATE,), room=ROOM)
    solution = Solution(sheets=(PLATE.id,), placements=(at(3, 3),), unplaced={"square": 1})
    found = check(instance, solution)
    assert [f.code for f in found.findings] == ["nest-left-over"]
    assert found.holds


def test_a_part_on_or_beside_a_clamp_is_refused() -> None:
    clamped = replace(PLATE, clamps=(box(0, 20, 12, 20),))
    one = replace(SQUARE, quantity=1)
    assert codes((one,), clamped, at(18.0, 25)) == []
    assert codes((one,), clamped, at(17.9, 25)) == ["nest-too-close"]
    assert "nest-too-close" in codes((replace(one, outline=box(0, 0, 4, 4)),), clamped, at(4, 28))


def test_a_part_over_a_hole_of_the_sheet_is_refused() -> None:
    eaten = replace(PLATE, holes=(box(40, 20, 5, 5),))
    one = replace(SQUARE, quantity=1)
    assert codes((one,), eaten, at(10, 10)) == []
    assert codes((one,), eaten, at(38, 18)) == ["nest-outside"]
    assert codes((replace(one, outline=box(0, 0, 2, 2)),), eaten, at(41, 21)) == ["nest-outside"]


def test_a_part_in_an_opening_holds_and_on_the_metal_of_a_ring_it_does_not() -> None:
    disc = Kind(id="disc", outline=DISC, quantity=1, turns=Turns.NONE)
    kinds, plate = (ring(), disc), sheet(80, 80)
    guest = at(40, 55, kind="disc", inside=("ring", 1))
    assert codes(kinds, plate, at(40, 40, kind="ring"), guest) == []
    near = replace(guest, y_mm=55.1)
    assert codes(kinds, plate, at(40, 40, kind="ring"), near) == ["nest-too-close"]
    on_metal = Kind(id="disc", outline=Contour.circle((0, 0), radius_mm=1.0), turns=Turns.NONE)
    here = at(40, 66, kind="disc", inside=("ring", 1))
    assert "nest-overlap" in codes((ring(), on_metal), plate, at(40, 40, kind="ring"), here)


def test_a_part_around_an_island_of_its_host_is_refused() -> None:
    host = Kind(
        id="ring", outline=RING, openings=(RING_HOLE,),
        islands=(Contour.circle((0, 0), radius_mm=2.0),),
    )  # fmt: skip
    hoop = Kind(id="hoop", outline=Contour.circle((0, 0), radius_mm=12.0), turns=Turns.NONE)
    found = codes(
        (host, hoop), sheet(80, 80), at(40, 40, kind="ring"),
        at(40, 40, kind="hoop", inside=("ring", 1)),
    )  # fmt: skip
    assert "nest-overlap" in found


def test_more_sheets_than_there_are_is_refused() -> None:
    instance = Instance(kinds=(SQUARE,), sheets=(PLATE,), room=ROOM)
    solution = Solution(sheets=(PLATE.id, PLATE.id), placements=(at(3, 3), at(3, 3, copy=2, on=1)))
    assert [f.code for f in check(instance, solution).findings] == ["nest-sheets"]


def test_arcs_are_measured_as_arcs() -> None:
    # Between the bulges of two links lies 2 mm, between their chords 14 mm.
    link = Kind(id="link", outline=LINK, quantity=2, turns=Turns.NONE)
    pair = (at(20, 10, kind="link"), at(20 + 24 + 12 + 2, 10, kind="link", copy=2))
    assert codes((link,), sheet(120, 40), *pair) == []
    closer = replace(pair[1], x_mm=pair[1].x_mm - 1e-4)
    assert codes((link,), sheet(120, 40), pair[0], closer) == ["nest-too-close"]


@pytest.mark.parametrize("seed", some(range(6)))
def test_parts_that_a_hand_moves_are_judged_as_the_whole_nest_judges_them(seed: int) -> None:
    draw = np.random.default_rng(seed)
    kinds = (
        SQUARE,
        Kind(id="disc", outline=DISC, quantity=3, turns=Turns.FREE),
        ring(),
    )
    instance = Instance(kinds=kinds, sheets=(sheet(90, 60),), room=ROOM)
    names = [(k.id, copy) for k in kinds for copy in range(1, k.quantity + 1)]
    seen = {True: 0, False: 0}
    for _ in range(40):
        places = tuple(
            at(draw.uniform(0, 90), draw.uniform(0, 60), kind=kind, copy=copy)
            for kind, copy in names
        )
        solution = Solution(sheets=(instance.sheets[0].id,), placements=places)
        every = {f.message for f in check(instance, solution).findings}
        # Moved all at once, nothing is left out; moved alone, what names the part is there.
        assert {f.message for f in check_moved(instance, solution, places)} == every
        for place in places:
            mine = {f.message for f in check_moved(instance, solution, (place,))}
            assert mine == {m for m in every if place.name in m}
            seen[not mine] += 1
    assert min(seen.values()) > 0
