"""Reading drawings written for the purpose: kinds of entities, versions, insertions, layers."""

from __future__ import annotations

import math
import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import ezdxf
import pytest

from kerfwright.adapters.dxf import read_drawing
from kerfwright.foundation.errors import DrawingError, InputError, UnknownNameError
from kerfwright.foundation.findings import Severity
from kerfwright.foundation.tolerances import Tolerances
from kerfwright.trade.part import LayerUse, LengthUnit, Part, Role

MM = LengthUnit.MILLIMETRE
Build = Callable[[Any], None]


@pytest.fixture
def draw(tmp_path: Path) -> Callable[..., Path]:
    """Write a drawing: ``draw(build, version=, binary=, insunits=, measurement=)``."""
    counter = iter(range(1000))

    def write(
        build: Build,
        *,
        version: str = "R2010",
        binary: bool = False,
        insunits: int | None = 4,
        measurement: int | None = 1,
    ) -> Path:
        document = ezdxf.new(version)
        for name, value in (("$INSUNITS", insunits), ("$MEASUREMENT", measurement)):
            if value is None:
                document.header.custom_vars.clear()
                if name in document.header:
                    del document.header[name]
            else:
                document.header[name] = value
        build(document)
        path = tmp_path / f"drawing{next(counter)}.dxf"
        document.saveas(path, fmt="bin" if binary else "asc")
        return path

    return write


def square(space: Any, x: float = 0.0, y: float = 0.0, side: float = 40.0, **attribs: Any) -> None:
    corners = [(x, y), (x + side, y), (x + side, y + side), (x, y + side)]
    for p, q in zip(corners, corners[1:] + corners[:1], strict=True):
        space.add_line(p, q, dxfattribs=attribs)


def plate(document: Any) -> None:
    space = document.modelspace()
    square(space)
    space.add_circle((10, 10), 3)
    space.add_arc((30, 30), 4, 0, 180)
    space.add_line((26, 30), (34, 30))


def codes(part: Part) -> list[str]:
    return [finding.code for finding in part.findings]


VERSIONS = ["R12", "R2000", "R2004", "R2007", "R2010", "R2013", "R2018"]


@pytest.mark.parametrize("binary", [False, True], ids=["ascii", "binary"])
@pytest.mark.parametrize("version", VERSIONS)
def test_every_version_gives_the_same_part(
    draw: Callable[..., Path], version: str, binary: bool
) -> None:
    part = read_drawing(draw(plate, version=version, binary=binary), unit=MM)
    assert [c.id for c in part.contours] == ["P1", "H1", "H2"]
    assert [c.role for c in part.contours] == [Role.OUTLINE, Role.OPENING, Role.OPENING]
    assert [c.parent_id for c in part.contours] == [None, "P1", "P1"]
    areas = [c.contour.area_mm2 for c in part.contours]
    assert areas == pytest.approx([1600.0, -9 * math.pi, -8 * math.pi])
    assert part.contours[1].entities[0].startswith("CIRCLE ")


def test_reading_twice_gives_equal_results(draw: Callable[..., Path]) -> None:
    path = draw(plate)
    one, two = read_drawing(path), read_drawing(path)
    assert one.sha256 == two.sha256
    assert one.findings == two.findings
    for a, b in zip(one.contours, two.contours, strict=True):
        assert (a.id, a.entities, a.layer) == (b.id, b.entities, b.layer)
        assert (a.contour.vertices == b.contour.vertices).all()


def test_an_inch_drawing_is_25_4_times_as_large(draw: Callable[..., Path]) -> None:
    metric = read_drawing(draw(plate))
    inch = read_drawing(draw(plate, insunits=1, measurement=0))
    assert inch.drawing_unit is LengthUnit.INCH
    for a, b in zip(metric.contours, inch.contours, strict=True):
        assert b.contour.area_mm2 == pytest.approx(a.contour.area_mm2 * 25.4**2)


def stuttering(document: Any) -> None:
    points = [(0, 0), (0, 0), (60, 0), (60, 40), (60, 40), (60, 40), (0, 40)]
    document.modelspace().add_lwpolyline(points, close=True)


def test_doubled_points_of_an_entity_are_counted_in_one_finding(draw: Callable[..., Path]) -> None:
    part = read_drawing(draw(stuttering))
    (note,) = [f for f in part.findings if f.code == "zero-length-mended"]
    assert re.fullmatch(r"LWPOLYLINE \w+ has 3 doubled points, taken once\.", note.message)
    assert note.data["count"] == 3
    assert note.where.contour_id == part.contours[0].id


def curves(document: Any) -> None:
    space = document.modelspace()
    space.add_lwpolyline([(0, 0), (50, 0, 0, 0, 0.5), (50, 40), (0, 40)], close=True)
    space.add_ellipse((15, 20), major_axis=(8, 3), ratio=0.5)
    space.add_ellipse((35, 20), major_axis=(5, 0), ratio=1.0)
    space.add_open_spline([(40, 5), (46, 5), (46, 12), (40, 12), (38, 9), (40, 5)])


def test_ellipses_and_splines_become_arcs_and_a_circular_ellipse_a_circle(
    draw: Callable[..., Path],
) -> None:
    part = read_drawing(draw(curves))
    assert [c.id for c in part.contours] == ["P1", "H1", "H2", "H3"]
    ellipse, circle = part.contours[1].contour, part.contours[2].contour
    a = math.hypot(8, 3)
    assert -ellipse.area_mm2 == pytest.approx(math.pi * a * a / 2, rel=1e-5)
    assert len(circle) == 2
    assert -circle.area_mm2 == pytest.approx(25 * math.pi, rel=1e-12)
    (note,) = [f for f in part.findings if f.code == "curves-replaced"]
    assert note.data["curves"] == 2
    assert 0 < float(note.data["deviation_um"]) <= 0.5


def test_a_polyline_of_r12_keeps_its_bulges(draw: Callable[..., Path]) -> None:
    def build(document: Any) -> None:
        document.modelspace().add_polyline2d(
            [(0, 0, 0), (20, 0, 1), (20, 10, 0), (0, 10, 1)], format="xyb", close=True
        )

    part = read_drawing(draw(build, version="R12"), unit=MM)
    assert part.contours[0].contour.area_mm2 == pytest.approx(200 + 25 * math.pi)


def test_the_frame_of_a_spline_fit_polyline_is_not_part_of_the_curve(
    draw: Callable[..., Path],
) -> None:
    def build(document: Any) -> None:
        polyline = document.modelspace().add_polyline2d(
            [(0, 0), (10, 0), (10, 10), (0, 10)], close=True
        )
        polyline.dxf.flags |= 4
        polyline.append_vertices([(50, 50), (90, 90)], dxfattribs={"flags": 16})

    part = read_drawing(draw(build))
    assert part.contours[0].contour.bounds_mm == pytest.approx((0, 0, 10, 10))


def test_a_spline_given_by_points_only_is_read_with_a_warning(draw: Callable[..., Path]) -> None:
    def build(document: Any) -> None:
        space = document.modelspace()
        space.add_spline(fit_points=[(0, 0), (10, 6), (20, 0)])
        space.add_line((20, 0), (0, 0))

    part = read_drawing(draw(build))
    assert len(part.contours) == 1
    assert "spline-from-fit-points" in codes(part)


def test_a_rational_spline_that_is_a_circle_encloses_a_circle(draw: Callable[..., Path]) -> None:
    def build(document: Any) -> None:
        w = math.sqrt(0.5)
        points = [(5, 0), (5, 5), (0, 5), (-5, 5), (-5, 0), (-5, -5), (0, -5), (5, -5), (5, 0)]
        document.modelspace().add_rational_spline(
            points,
            [1, w, 1, w, 1, w, 1, w, 1],
            degree=2,
            knots=[0, 0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 4],
        )

    part = read_drawing(draw(build))
    assert part.contours[0].contour.area_mm2 == pytest.approx(25 * math.pi, rel=1e-9)


def keyed_block(document: Any) -> None:
    block = document.blocks.new("KEYED", base_point=(1, 1))
    block.add_lwpolyline([(1, 1), (11, 1), (11, 5, 0, 0, 1.0), (1, 5)], close=True)
    block.add_circle((4, 3), 1)


@pytest.mark.parametrize("scale", [(1, 1, 1), (2, 2, 0), (-1, 1, 1), (1, -3, 1), (2, 2, -1)])
def test_an_insertion_scales_and_mirrors_its_area(
    draw: Callable[..., Path], scale: tuple[float, float, float]
) -> None:
    def build(document: Any) -> None:
        keyed_block(document)
        document.modelspace().add_blockref(
            "KEYED",
            (100, 50),
            dxfattribs={
                "xscale": scale[0],
                "yscale": scale[1],
                "zscale": scale[2],
                "rotation": 33.0,
            },
        )

    part = read_drawing(draw(build))
    factor = abs(scale[0] * scale[1])
    outline, hole = (c.contour for c in part.contours)
    # A fitted curve may leave the exact one by 0.5 µm all along.
    assert outline.area_mm2 == pytest.approx(
        factor * (40 + 12.5 * math.pi), abs=0.0005 * outline.length_mm
    )
    assert -hole.area_mm2 == pytest.approx(factor * math.pi, abs=0.0005 * hole.length_mm)
    near = part.contours[0].contour.vertices[:, :2] - (100, 50)
    assert min(math.hypot(*p) for p in near) < 1e-9


def test_nested_insertions_multiply(draw: Callable[..., Path]) -> None:
    def build(document: Any) -> None:
        keyed_block(document)
        outer = document.blocks.new("OUTER")
        outer.add_blockref("KEYED", (10, 0), dxfattribs={"xscale": 2, "yscale": 2})
        document.modelspace().add_blockref(
            "OUTER", (0, 0), dxfattribs={"xscale": -1.5, "yscale": 1.5}
        )

    part = read_drawing(draw(build))
    assert part.contours[1].contour.area_mm2 == pytest.approx(-9 * math.pi)
    box = part.contours[1].contour.bounds_mm
    assert ((box[0] + box[2]) / 2, (box[1] + box[3]) / 2) == pytest.approx((-24.0, 6.0))


def test_an_array_of_insertions_gives_every_copy(draw: Callable[..., Path]) -> None:
    def build(document: Any) -> None:
        block = document.blocks.new("HOLE")
        block.add_circle((0, 0), 1)
        document.modelspace().add_blockref(
            "HOLE",
            (0, 0),
            dxfattribs={
                "column_count": 3,
                "row_count": 2,
                "column_spacing": 10,
                "row_spacing": 20,
                "rotation": 90,
            },
        )

    part = read_drawing(draw(build))
    centres = sorted(
        (round((b[0] + b[2]) / 2, 6), round((b[1] + b[3]) / 2, 6))
        for b in (c.contour.bounds_mm for c in part.contours)
    )
    assert centres == [(-20, 0), (-20, 10), (-20, 20), (0, 0), (0, 10), (0, 20)]


def test_a_block_that_holds_itself_ends_in_a_finding(draw: Callable[..., Path]) -> None:
    def build(document: Any) -> None:
        block = document.blocks.new("LOOP")
        block.add_circle((0, 0), 1)
        block.add_blockref("LOOP", (5, 0))
        document.modelspace().add_blockref("LOOP", (0, 0))

    part = read_drawing(draw(build))
    assert len(part.contours) == 1
    assert part.left_out == {"INSERT": 1}
    assert "kind-not-read" in codes(part)


def test_entities_seen_from_below_are_mirrored(draw: Callable[..., Path]) -> None:
    def build(document: Any) -> None:
        space = document.modelspace()
        below = {"extrusion": (0, 0, -1)}
        space.add_lwpolyline(
            [(0, 0), (10, 0, 0, 0, 0.5), (10, 5), (0, 5)], close=True, dxfattribs=below
        )
        space.add_arc((3, 2), 1, 0, 180, dxfattribs=below)
        space.add_line((-2, 2), (-4, 2))

    part = read_drawing(draw(build))
    outline, hole = part.contours
    # A bulge of 0.5 over a chord of 5: R = 3.125, sweep = 4 atan 0.5.
    sweep = 4 * math.atan(0.5)
    assert outline.contour.area_mm2 == pytest.approx(50 + 3.125**2 / 2 * (sweep - math.sin(sweep)))
    assert outline.contour.bounds_mm[2] == pytest.approx(0.0)
    assert hole.contour.bounds_mm == pytest.approx((-4, 2, -2, 3))


def test_annotation_is_left_out_by_kind_and_count(draw: Callable[..., Path]) -> None:
    def build(document: Any) -> None:
        plate(document)
        space = document.modelspace()
        space.add_text("2 PLACES")
        space.add_mtext("D2, 60 HRC")
        space.add_point((1, 1))
        space.add_hatch().paths.add_polyline_path([(0, 0), (1, 0), (1, 1)])

    part = read_drawing(draw(build))
    assert part.left_out == {"TEXT": 1, "MTEXT": 1, "POINT": 1, "HATCH": 1}
    (note,) = [f for f in part.findings if f.code == "annotation-left-out"]
    assert note.severity is Severity.NOTE
    assert "1 HATCH" in note.message
    assert len(part.contours) == 3


def test_kinds_that_may_bound_material_are_warned_of(draw: Callable[..., Path]) -> None:
    def build(document: Any) -> None:
        plate(document)
        document.modelspace().add_3dface([(0, 0), (1, 0), (1, 1), (0, 1)])
        document.modelspace().add_ray((0, 0), (1, 1))

    part = read_drawing(draw(build))
    (warning,) = [f for f in part.findings if f.code == "kind-not-read"]
    assert warning.severity is Severity.WARNING
    assert "1 3DFACE, 1 RAY" in warning.message


def test_axes_and_hidden_edges_are_left_out_by_line_type(draw: Callable[..., Path]) -> None:
    def build(document: Any) -> None:
        document.linetypes.add("GAPPY", [3.0, 2.0, -1.0])
        document.linetypes.add("CENTER", [2.0, 1.25, -0.25, 0.25, -0.25])
        document.layers.add("AXES", linetype="CENTER")
        plate(document)
        space = document.modelspace()
        space.add_line((-5, 20), (45, 20), dxfattribs={"layer": "AXES"})
        space.add_circle((20, 20), 15, dxfattribs={"linetype": "GAPPY"})

    part = read_drawing(draw(build))
    assert len(part.contours) == 3
    assert part.left_out == {"LINE": 1, "CIRCLE": 1}
    assert "line-type-left-out" in codes(part)
    assert len(part.construction) == 2


def test_hidden_layers_are_left_out_until_a_person_names_them(draw: Callable[..., Path]) -> None:
    def build(document: Any) -> None:
        plate(document)
        document.layers.add("Old").freeze()
        document.layers.add("Off").off()
        document.modelspace().add_circle((20, 20), 2, dxfattribs={"layer": "Old"})
        document.modelspace().add_circle((20, 30), 1, dxfattribs={"layer": "Off"})
        document.modelspace().add_circle((20, 35), 1, dxfattribs={"layer": "Defpoints"})

    path = draw(build)
    part = read_drawing(path)
    assert part.left_out == {"CIRCLE": 3}
    assert "hidden-layer-left-out" in codes(part)
    named = read_drawing(path, layer_uses={"old": LayerUse.OPENING})
    assert [c.layer for c in named.contours] == ["0", "0", "0", "Old"]


def test_layers_can_be_given_a_use(draw: Callable[..., Path]) -> None:
    def build(document: Any) -> None:
        space = document.modelspace()
        square(space, layer="Die")
        square(space, x=-20, y=-20, side=80, layer="Blank")
        space.add_circle((20, 20), 1.5, dxfattribs={"layer": "Holes"})
        space.add_point((25, 20), dxfattribs={"layer": "Holes"})
        space.add_line((0, 0), (1, 1), dxfattribs={"layer": "Holes"})
        space.add_circle((5, 5), 1, dxfattribs={"layer": "Notes"})

    path = draw(build)
    uses = {
        "DIE": LayerUse.OPENING,
        "blank": LayerUse.STOCK,
        "holes": LayerUse.START,
        "notes": LayerUse.IGNORE,
    }
    part = read_drawing(path, layer_uses=uses)
    (die,) = part.contours
    assert (die.id, die.role) == ("H1", Role.OPENING)
    assert die.contour.area_mm2 == pytest.approx(-1600.0)
    assert part.stock is not None
    assert part.stock.area_mm2 == pytest.approx(6400.0)
    assert [(s.x_mm, s.y_mm, s.diameter_mm) for s in part.given_starts] == [
        (20, 20, 3),
        (25, 20, 0),
    ]
    assert part.left_out == {"LINE": 1, "CIRCLE": 1}
    assert "no-start-hole" in codes(part)
    assert len(part.construction) == 1


def test_every_closed_contour_on_a_layer_of_clamps_is_one_however_it_is_drawn(
    draw: Callable[..., Path],
) -> None:
    def build(document: Any) -> None:
        space = document.modelspace()
        document.linetypes.add("PHANTOM", [1.0, 0.5, -0.5])
        document.layers.add("Toes").off()
        square(space, layer="Plate")
        square(space, x=60, y=0, side=10, layer="Toes")
        space.add_circle((-20, 5), 4, dxfattribs={"layer": "Toes", "linetype": "PHANTOM"})

    part = read_drawing(draw(build), layer_uses={"toes": LayerUse.CLAMP})
    assert [c.id for c in part.contours] == ["P1"]
    assert sorted(round(z.area_mm2, 3) for z in part.clamps) == [50.265, 100.0]
    assert "clamp-not-closed" not in codes(part)


def test_a_clamp_that_does_not_close_is_refused(draw: Callable[..., Path]) -> None:
    def build(document: Any) -> None:
        space = document.modelspace()
        square(space, layer="Plate")
        space.add_line((60, 0), (70, 0), dxfattribs={"layer": "Toes"})

    part = read_drawing(draw(build), layer_uses={"toes": LayerUse.CLAMP})
    assert part.clamps == ()
    (refused,) = [f for f in part.findings if f.code == "clamp-not-closed"]
    assert refused.severity is Severity.REFUSAL
    assert refused.where.layer == "Toes"


def test_a_layer_named_after_clamps_is_asked_about(draw: Callable[..., Path]) -> None:
    def build(document: Any) -> None:
        space = document.modelspace()
        square(space, layer="Plate")
        square(space, x=60, y=0, side=10, layer="Clamps")

    (asked,) = [
        f for f in read_drawing(draw(build)).findings if f.code == "layer-name-suggests-use"
    ]
    assert "--layer Clamps=clamp" in asked.remedy


def test_parts_on_a_layer_named_after_openings_are_asked_about(draw: Callable[..., Path]) -> None:
    # A die in a plate whose edge is on a layer of stock: what lies in it nests as a part.
    def build(document: Any) -> None:
        space = document.modelspace()
        square(space, layer="Die")
        square(space, x=-20, y=-20, side=80, layer="Blank")

    path = draw(build)
    stock = {"blank": LayerUse.STOCK}
    part = read_drawing(path, layer_uses=stock)
    assert [c.role for c in part.contours] == [Role.OUTLINE]
    (asked,) = [f for f in part.findings if f.code == "layer-name-suggests-use"]
    assert "--layer Die=opening" in asked.remedy
    for use in (LayerUse.OPENING, LayerUse.OUTLINE):
        told = read_drawing(path, layer_uses=stock | {"DIE": use})
        assert "layer-name-suggests-use" not in codes(told)


@pytest.mark.parametrize("layer", ["Diesel", "Soldier", "Cut", "0"])
def test_other_layer_names_are_not_doubted(draw: Callable[..., Path], layer: str) -> None:
    part = read_drawing(draw(lambda document: square(document.modelspace(), layer=layer)))
    assert "layer-name-suggests-use" not in codes(part)


def test_an_unknown_layer_is_answered_with_those_that_exist(draw: Callable[..., Path]) -> None:
    def build(document: Any) -> None:
        square(document.modelspace(), layer="Cut")

    with pytest.raises(UnknownNameError, match="Cut") as error:
        read_drawing(draw(build), layer_uses={"Cuts": LayerUse.OPENING})
    assert error.value.code == "unknown-layer"


def test_a_construction_line_is_left_out_with_its_place(draw: Callable[..., Path]) -> None:
    def build(document: Any) -> None:
        plate(document)
        document.modelspace().add_line((-10, 5), (-10, 35))

    part = read_drawing(draw(build))
    assert len(part.contours) == 3
    (warning,) = [f for f in part.findings if f.code == "open-chain-left-out"]
    assert (warning.where.x_mm, warning.where.y_mm) == (-10, 5)
    assert warning.data["length_mm"] == pytest.approx(30.0)
    assert len(part.construction) == 1


def test_a_broken_contour_beside_whole_ones_is_refused_with_both_ends(
    draw: Callable[..., Path],
) -> None:
    def build(document: Any) -> None:
        plate(document)
        space = document.modelspace()
        space.add_lwpolyline([(60.2, 0), (80, 0), (80, 20), (60, 20), (60, 0)])

    part = read_drawing(draw(build))
    (refusal,) = [f for f in part.findings if f.severity is Severity.REFUSAL]
    assert refusal.code == "contour-gap"
    assert refusal.data["gap_mm"] == pytest.approx(0.2)
    assert "X60.2000 Y0.0000" in refusal.message
    assert "X60.0000 Y0.0000" in refusal.message
    assert [c.id for c in part.contours] == ["P1", "H1", "H2"]


def test_a_gap_between_two_chains_is_refused_once_for_the_contour(
    draw: Callable[..., Path],
) -> None:
    def build(document: Any) -> None:
        plate(document)
        space = document.modelspace()
        space.add_lwpolyline([(60.1, 0), (80, 0), (80, 20)])
        space.add_lwpolyline([(80, 20.1), (60, 20), (60, 0)])

    part = read_drawing(draw(build))
    refusals = [f for f in part.findings if f.severity is Severity.REFUSAL]
    assert [f.code for f in refusals] == ["contour-gap"]


def test_a_branching_is_refused_at_its_place(draw: Callable[..., Path]) -> None:
    def build(document: Any) -> None:
        plate(document)
        square(document.modelspace(), x=60)
        document.modelspace().add_line((60, 0), (55, -5))

    part = read_drawing(draw(build))
    (refusal,) = [f for f in part.findings if f.severity is Severity.REFUSAL]
    assert refusal.code == "contour-branches"
    assert (refusal.where.x_mm, refusal.where.y_mm) == (60, 0)
    assert len(part.contours) == 3


def test_crossing_contours_are_refused_and_others_kept(draw: Callable[..., Path]) -> None:
    def build(document: Any) -> None:
        plate(document)
        space = document.modelspace()
        space.add_circle((100, 0), 10)
        space.add_circle((112, 0), 10)
        space.add_lwpolyline([(60, 0), (80, 20), (80, 0), (60, 20)], close=True)

    part = read_drawing(draw(build))
    refusals = {f.code for f in part.findings if f.severity is Severity.REFUSAL}
    assert refusals == {"contours-cross", "contour-crosses-itself"}
    assert len(part.contours) == 3


def test_a_repair_names_the_contour_and_the_shift(draw: Callable[..., Path]) -> None:
    def build(document: Any) -> None:
        document.modelspace().add_lwpolyline([(0.004, 0), (20, 0), (20, 20), (0, 20), (0, 0)])

    part = read_drawing(draw(build))
    (note,) = part.findings
    assert note.code == "gap-mended"
    assert note.severity is Severity.WARNING
    assert note.where.contour_id == "P1"
    assert note.data["size_mm"] == pytest.approx(0.004)
    assert note.data["shift_um"] == pytest.approx(4.0)
    assert part.contours[0].contour.area_mm2 == pytest.approx(400.0)


def test_many_repairs_of_a_kind_are_counted_together(draw: Callable[..., Path]) -> None:
    def build(document: Any) -> None:
        for k in range(30):
            square(document.modelspace(), x=50 * k)
            document.modelspace().add_line((50 * k, 0), (50 * k + 40, 0))

    part = read_drawing(draw(build))
    (note,) = [f for f in part.findings if f.code == "duplicate-mended"]
    assert note.data["count"] == 30
    assert note.message.startswith("30 times")
    assert len(part.contours) == 30


def test_geometry_off_the_xy_plane_is_flattened_or_left_out(draw: Callable[..., Path]) -> None:
    def build(document: Any) -> None:
        space = document.modelspace()
        space.add_lwpolyline([(0, 0), (20, 0), (20, 20)], close=True, dxfattribs={"elevation": 7.5})
        space.add_line((0, 0, 0), (5, 5, 9))
        space.add_circle((50, 0), 5, dxfattribs={"extrusion": (1, 0, 0)})

    part = read_drawing(draw(build))
    assert len(part.contours) == 1
    assert part.left_out == {"LINE": 1, "CIRCLE": 1}
    assert set(codes(part)) == {"flattened", "not-plane-left-out"}


def test_paper_space_is_left_out_with_a_note(draw: Callable[..., Path]) -> None:
    def build(document: Any) -> None:
        plate(document)
        square(document.paperspace())

    part = read_drawing(draw(build))
    assert len(part.contours) == 3
    assert "paper-space-left-out" in codes(part)


def test_entities_of_a_block_on_layer_0_take_the_layer_of_the_insertion(
    draw: Callable[..., Path],
) -> None:
    def build(document: Any) -> None:
        document.layers.add("Cut")
        block = document.blocks.new("B")
        block.add_circle((0, 0), 2)
        document.modelspace().add_blockref("B", (0, 0), dxfattribs={"layer": "Cut"})

    part = read_drawing(draw(build), layer_uses={"cut": LayerUse.OPENING})
    assert (part.contours[0].layer, part.contours[0].id) == ("Cut", "H1")


def test_a_drawing_of_open_lines_only_is_refused(draw: Callable[..., Path]) -> None:
    def build(document: Any) -> None:
        document.modelspace().add_line((0, 0), (10, 0))

    with pytest.raises(DrawingError) as error:
        read_drawing(draw(build))
    assert error.value.code == "no-closed-contour"
    assert "X0.0000 Y0.0000" in str(error.value)


def test_an_empty_model_space_is_refused(draw: Callable[..., Path]) -> None:
    with pytest.raises(DrawingError) as error:
        read_drawing(draw(lambda document: document.modelspace().add_text("nothing")))
    assert error.value.code == "no-geometry"
    assert "1 TEXT" in str(error.value)


def test_an_outside_reference_is_named_not_lost(draw: Callable[..., Path]) -> None:
    def build(document: Any) -> None:
        plate(document)
        document.add_xref_def("other.dxf", "OTHER")
        document.modelspace().add_blockref("OTHER", (0, 0))

    part = read_drawing(draw(build))
    assert part.left_out == {"INSERT": 1}
    (warning,) = [f for f in part.findings if f.code == "kind-not-read"]
    assert warning.where.entity is not None
    assert "OTHER" in warning.where.entity


def test_a_closed_spline_without_doubled_end_knots_closes(draw: Callable[..., Path]) -> None:
    def build(document: Any) -> None:
        spline = document.modelspace().add_spline()
        spline.set_closed([(0, 0, 0), (30, 0, 0), (40, 20, 0), (15, 35, 0), (-5, 20, 0)])

    part = read_drawing(draw(build))
    (contour,) = part.contours
    turn = contour.contour.segments
    assert (turn.length > 0).all()
    assert contour.contour.bounds_mm[0] > -5.0
    # The seam of a closed spline is as smooth as the rest of it; an arc of less than 1 nm
    # sagitta has become a line.
    cross = turn.end_tangent[-1, 0] * turn.start_tangent[0, 1]
    cross -= turn.end_tangent[-1, 1] * turn.start_tangent[0, 0]
    assert abs(cross) < 1e-5


def test_a_curve_out_of_all_proportion_is_left_out(draw: Callable[..., Path]) -> None:
    def build(document: Any) -> None:
        plate(document)
        document.modelspace().add_open_spline([(0, 0), (9e7, 0), (9e7, 5), (0, 5)])
        document.modelspace().add_circle((0, 1e200), 3)

    part = read_drawing(draw(build), unit=MM)
    assert len(part.contours) == 3
    assert {"curve-unreadable", "entity-invalid"} <= set(codes(part))
    assert part.left_out == {"SPLINE": 1, "CIRCLE": 1}


def test_the_tolerance_of_the_caller_decides_about_gaps_and_arcs(
    draw: Callable[..., Path],
) -> None:
    def build(document: Any) -> None:
        space = document.modelspace()
        space.add_lwpolyline([(0.03, 0), (90, 0), (90, 90), (0, 90), (0, 0)])
        space.add_ellipse((45, 45), major_axis=(20, 0), ratio=0.4)

    path = draw(build)
    strict = read_drawing(path)
    assert [c.id for c in strict.contours] == ["P1"]
    loose = read_drawing(path, tolerances=Tolerances(gap_mm=0.05, fit_mm=0.01))
    assert [c.id for c in loose.contours] == ["P1", "H1"]
    assert len(loose.contours[1].contour) < len(strict.contours[0].contour) / 2


def test_two_levels_of_z_are_flattened_with_a_warning(draw: Callable[..., Path]) -> None:
    def build(document: Any) -> None:
        space = document.modelspace()
        space.add_circle((0, 0, 0), 10)
        space.add_circle((0, 0, 5), 4)

    part = read_drawing(draw(build))
    (finding,) = [f for f in part.findings if f.code == "flattened"]
    assert finding.severity is Severity.WARNING
    assert (finding.data["low_mm"], finding.data["high_mm"]) == (0.0, 5.0)


def test_importing_the_reader_does_not_import_ezdxf_or_scipy() -> None:
    script = (
        "import sys, kerfwright.adapters.dxf; "
        "print([m for m in ('ezdxf', 'scipy') if m in sys.modules])"
    )
    shown = subprocess.run(  # noqa: S603 - our own interpreter
        [sys.executable, "-c", script], capture_output=True, text=True, check=True
    )
    assert shown.stdout.strip() == "[]"


def test_a_layer_name_in_a_wrong_code_page_can_be_printed(draw: Callable[..., Path]) -> None:
    path = draw(lambda document: square(document.modelspace(), layer="KONTXR"))
    path.write_bytes(path.read_bytes().replace(b"KONTXR", b"KONT\xdcR"))
    part = read_drawing(path)
    assert part.contours[0].layer.encode("utf-8") == b"KONT?R"
    named = read_drawing(path, layer_uses={"kont?r": LayerUse.OPENING})
    assert named.contours[0].role is Role.OPENING


def crossed_plate(document: Any) -> None:
    """Draw a plate whose round window has its centre lines on the layer of the walls."""
    plate(document)
    for end in ((82, 40), (80, 42), (78, 40), (80, 38)):
        document.modelspace().add_line((80, 40), end)


def test_single_pieces_are_left_out_of_the_contours_and_said(draw: Callable[..., Path]) -> None:
    path = draw(crossed_plate)
    whole = read_drawing(path)
    (refusal,) = [f for f in whole.findings if f.severity is Severity.REFUSAL]
    assert refusal.code == "contour-branches"
    names = str(refusal.data["loose_pieces"]).split(",")
    assert len(names) == 4
    assert str(refusal.data["pieces"]).split("; ") == names
    assert ",".join(names) in refusal.remedy
    part = read_drawing(path, pieces_out=names)
    assert not [f for f in part.findings if f.severity is Severity.REFUSAL]
    assert [c.id for c in part.contours] == [c.id for c in whole.contours]
    (note,) = [f for f in part.findings if f.code == "piece-left-out"]
    assert "4 LINE" in note.message
    assert str(note.data["pieces"]).split("; ") == names
    # They stay in the picture.
    assert len(part.construction) == 4


def test_only_ways_that_end_in_nothing_are_called_loose(draw: Callable[..., Path]) -> None:
    def build(document: Any) -> None:
        plate(document)
        space = document.modelspace()
        corners = [(60, 0), (80, 0), (80, 20), (60, 20)]
        for one, two in zip(corners, corners[1:] + corners[:1], strict=True):
            space.add_line(one, two)
        space.add_line((60, 0), (55, -5))
        space.add_line((55, -5), (50, -5))

    path = draw(build)
    (refusal,) = [f for f in read_drawing(path).findings if f.severity is Severity.REFUSAL]
    loose = str(refusal.data["loose_pieces"]).split(",")
    assert len(loose) == 2
    assert len(str(refusal.data["pieces"]).split("; ")) == 6
    part = read_drawing(path, pieces_out=loose)
    # Without them the square closes.
    assert len(part.contours) == len(read_drawing(draw(plate)).contours) + 1


def test_a_piece_that_is_not_there_cannot_be_left_out(draw: Callable[..., Path]) -> None:
    with pytest.raises(InputError) as refused:
        read_drawing(draw(plate), pieces_out=["LINE-FFFFF"])
    assert refused.value.code == "piece-unknown"
    assert "LINE-FFFFF" in refused.value.message
