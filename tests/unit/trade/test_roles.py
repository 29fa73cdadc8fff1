"""What contours are where a person says so, and what follows for those inside them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.conftest import PartMaker, box

from kerfwright.foundation.errors import InputError
from kerfwright.geometry.contour import Contour
from kerfwright.trade.part import ContourUse, Part, PartContour, Role, RoleFrom
from kerfwright.trade.roles import parted, with_roles
from kerfwright.trade.shapes import same_shapes, shape_key


@pytest.fixture
def plate(make_part: PartMaker) -> Part:
    """Return a plate P1 with an opening H1 that has a part P2 in it, and a round hole H2."""
    return make_part(
        [
            (Role.OUTLINE, box(0, 0, 60, 40), None),
            (Role.OPENING, box(5, 5, 30, 35), "P1"),
            (Role.OUTLINE, box(10, 10, 25, 30), "H1"),
            (Role.OPENING, Contour.circle((45, 20), radius_mm=5), "P1"),
        ]
    )


def by_id(part: Part) -> dict[str, PartContour]:
    return {c.id: c for c in (*part.contours, *part.set_aside)}


def test_without_a_word_the_part_is_as_read(plate: Part) -> None:
    assert with_roles(plate, {}) is plate


def test_a_given_role_is_told_from_a_read_one_and_turns_the_contour_round(plate: Part) -> None:
    after = by_id(with_roles(plate, {"H2": ContourUse.OUTLINE}))
    assert after["H2"].role is Role.OUTLINE
    assert after["H2"].role_from is RoleFrom.PERSON
    # The part stays on the left of travel: outlines run counter-clockwise.
    assert after["H2"].contour.area_mm2 > 0
    assert after["H1"].role_from is RoleFrom.DRAWING


def test_what_lies_inside_follows(plate: Part) -> None:
    part = with_roles(plate, {"P1": ContourUse.REFERENCE})
    after = by_id(part)
    assert {name: c.role for name, c in after.items() if name != "P1"} == {
        "H1": Role.OUTLINE,
        "H2": Role.OUTLINE,
        "P2": Role.OPENING,
    }
    assert after["H1"].parent_id is None
    assert after["P2"].parent_id == "H1"
    assert [f.code for f in part.findings].count("role-follows") == 3
    assert after["P1"] in part.set_aside
    assert after["P1"].contour in part.construction


def test_a_word_on_an_inner_contour_outranks_what_would_follow(plate: Part) -> None:
    after = by_id(with_roles(plate, {"P1": ContourUse.REFERENCE, "H2": ContourUse.OPENING}))
    assert after["H2"].role is Role.OPENING
    assert after["H1"].role is Role.OUTLINE


def test_a_contour_that_is_not_cut_stays_a_wall_and_changes_nothing_inside(plate: Part) -> None:
    part = with_roles(plate, {"P1": ContourUse.NOT_CUT})
    assert [c.id for c in part.to_cut] == ["H1", "P2", "H2"] or len(part.to_cut) == 3
    assert by_id(part)["H1"].role is Role.OPENING
    assert "P1" in [c.id for c in part.contours]


def test_a_circle_may_be_a_start_hole_and_a_square_may_not(plate: Part) -> None:
    part = with_roles(plate, {"H2": ContourUse.START})
    (hole,) = part.given_starts
    assert (hole.x_mm, hole.y_mm, hole.diameter_mm) == pytest.approx((45, 20, 10))
    with pytest.raises(InputError, match="no circle"):
        with_roles(plate, {"H1": ContourUse.START})


def test_the_edge_of_the_stock_is_one_contour_that_holds_parts(plate: Part) -> None:
    part = with_roles(plate, {"P1": ContourUse.STOCK})
    assert part.stock is not None
    assert part.stock.area_mm2 == pytest.approx(2400)
    assert by_id(part)["H1"].role is Role.OUTLINE
    with pytest.raises(InputError) as refused:
        with_roles(plate, {"P1": ContourUse.STOCK, "H1": ContourUse.STOCK})
    assert refused.value.code == "stock-twice"


@pytest.mark.parametrize(
    ("uses", "code"),
    [
        ({"H9": ContourUse.OPENING}, "contour-unknown"),
        (dict.fromkeys(("P1", "H1", "P2", "H2"), ContourUse.REFERENCE), "no-contour-left"),
        (dict.fromkeys(("P1", "H1", "P2", "H2"), ContourUse.NOT_CUT), "no-contour-left"),
    ],
)
def test_roles_without_sense_are_refused(
    plate: Part, uses: dict[str, ContourUse], code: str
) -> None:
    with pytest.raises(InputError) as refused:
        with_roles(plate, uses)
    assert refused.value.code == code


def test_contours_of_one_length_and_area_are_one_shape(make_part: PartMaker) -> None:
    part = make_part(
        [
            (Role.OPENING, box(0, 0, 10, 5), None),
            (Role.OPENING, box(20, 0, 25, 10), None),
            (Role.OPENING, box(40, 0, 47, 8), None),
        ]
    )
    # The last has the same length, but another area.
    assert [sorted(c.id for c in group) for group in same_shapes(part.contours)] == [
        ["H1", "H2"],
        ["H3"],
    ]


def turned(part: Part, angle_rad: float, shift: tuple[float, float]) -> list[PartContour]:
    """Return the contours of a part, turned and moved."""
    c, s = np.cos(angle_rad), np.sin(angle_rad)
    found = []
    for one in part.contours:
        rows = one.contour.vertices.copy()
        rows[:, :2] = rows[:, :2] @ np.array([[c, s], [-s, c]]) + shift
        found.append(replace(one, contour=Contour(vertices=rows)))
    return found


def test_a_part_that_is_moved_and_turned_has_the_same_key(plate: Part) -> None:
    key = shape_key(plate.contours)
    assert shape_key(turned(plate, 0.7, (123.4, -56.7))) == key
    assert shape_key(plate.contours[:3]) != key
    assert shape_key([]) == ""


def test_the_same_holes_at_other_places_have_another_key(make_part: PartMaker) -> None:
    def key(x: float) -> str:
        hole = Contour.circle((x, 20), radius_mm=5)
        made = make_part([(Role.OUTLINE, box(0, 0, 60, 40), None), (Role.OPENING, hole, "P1")])
        return shape_key(made.contours)

    assert key(30.0) != key(31.0)


def test_a_single_piece_can_only_be_a_reference_line() -> None:
    said = {"H1": ContourUse.NOT_CUT, "LINE-12E": ContourUse.REFERENCE}
    assert parted(said) == ({"H1": ContourUse.NOT_CUT}, frozenset({"LINE-12E"}))
    with pytest.raises(InputError) as refused:
        parted({"LWPOLYLINE-2A": ContourUse.NOT_CUT})
    assert refused.value.code == "piece-role"
