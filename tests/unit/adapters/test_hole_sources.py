"""Holes from tables, patterns and drawings: what is read, what is refused and where."""

from __future__ import annotations

import math
from pathlib import Path

import ezdxf
import pytest

from hole_samples import PLATE, SLEEVE
from kerfwright.adapters.hole_csv import Usual, holes_of_text, read_hole_table
from kerfwright.adapters.hole_drawing import read_hole_drawing
from kerfwright.adapters.hole_pattern import read_hole_pattern
from kerfwright.foundation.errors import FileError, InputError
from kerfwright.trade.hole_work import HoleList

PLAIN = Usual(thickness_mm=10.0)
HEAD = "id,x_mm,y_mm,diameter_mm"


def read(*lines: str, usual: Usual = PLAIN) -> HoleList:
    return holes_of_text("\n".join(lines) + "\n", name="t.csv", sha256="", usual=usual)


def test_every_row_is_a_hole_or_refused_with_its_line_and_text() -> None:
    rows = ["A,0,0,0.5", "B,1,1", "C,1,x,0.5", "A,2,2,0.5", "D,3,3,-1", "# remark", "", "E,4,4,0.8"]
    found = read(HEAD, *rows)
    assert [h.id for h in found.holes] == ["A", "E"]
    assert [(u.line, u.text) for u in found.unused] == [
        (3, "B,1,1"), (4, "C,1,x,0.5"), (5, "A,2,2,0.5"), (6, "D,3,3,-1")
    ]  # fmt: skip
    assert [u.finding.code for u in found.unused] == [
        "row-length", "number-unreadable", "hole-id-twice", "hole-value"
    ]  # fmt: skip
    assert all(u.finding.where.line == u.line for u in found.unused)


def test_inches_and_other_separators_come_to_the_same_millimetres() -> None:
    inch = read("id;x_in;y_in;diameter_in;position_in", "A;1;-0,5;0,02;0,002").holes[0]
    assert inch.mouth_mm == pytest.approx((25.4, -12.7, 0.0))
    assert inch.diameter_mm == pytest.approx(0.508)
    assert inch.position_um == pytest.approx(50.8)


def test_a_lean_and_its_vector_say_the_same_and_deepen_a_plate() -> None:
    lean = read(HEAD + ",lean_deg,heading_deg", "A,0,0,0.5,30,90").holes[0]
    vector = read(HEAD + ",i,j,k", f"A,0,0,0.5,0,0.5,{-math.sqrt(3) / 2}").holes[0]
    assert lean.into == pytest.approx(vector.into)
    assert lean.depth_mm == pytest.approx(10 / math.cos(math.radians(30)))
    assert lean.slope_deg == pytest.approx(30.0)


def test_a_leaning_face_has_its_normal_from_straight_up() -> None:
    flat = read(
        HEAD + ",depth_mm,lean_deg,heading_deg,face_lean_deg,face_heading_deg",
        "A,0,0,0.5,4,20,180,20,0",
    ).holes[0]  # fmt: skip
    assert flat.outward == pytest.approx(
        (math.sin(math.radians(20)), 0, math.cos(math.radians(20)))
    )
    assert flat.slope_deg == pytest.approx(0.0, abs=1e-5)


@pytest.mark.parametrize(
    ("head", "code", "says"),
    [
        ("id,x,y_mm,diameter_mm", "columns-unknown", "no unit"),
        ("id,x_mm,y_mm,diamter_mm", "columns-unknown", "diameter_mm"),
        ("id,x_mm,x_in,y_mm,diameter_mm", "columns-twice", "x"),
        ("id,x_mm,diameter_mm", "columns-missing", "y"),
        ("id,x_mm,y_mm,diameter_mm,i,j", "columns-missing", "k"),
        (HEAD + ",lean_deg,heading_deg,i,j,k", "columns-twice", "direction"),
    ],
)
def test_a_header_that_leaves_something_open_is_refused_whole(
    head: str, code: str, says: str
) -> None:
    with pytest.raises(InputError, match=says) as caught:
        read(head, "A,0,0,0.5")
    assert caught.value.code == code


@pytest.mark.parametrize(
    ("head", "row", "code"),
    [
        (",kind", "A,0,0,0.5,blind", "cell-missing"),
        (",kind", "A,0,0,0.5,round", "kind-unknown"),
        (",lean_deg,heading_deg", "A,0,0,0.5,190,0", "hole-value"),
        (",lean_deg,heading_deg", "A,0,0,0.5,20,", "cell-missing"),
        (",i,j,k", "A,0,0,0.5,0,0,0", "vector-zero"),
        (",depth_mm,i,j,k", "A,0,0,0.5,3,0,0,1", "hole-value"),
        (",i,j,k", "A,0,0,0.5,1,0,", "cell-missing"),
        (",room_mm", "A,0,0,0.5,0", "hole-value"),
        (",position_um", "A,0,0,0.5,-5", "hole-value"),
        ("", "A B,0,0,0.5", "hole-id"),
        ("", 'A,"1,500",0,0.5', "number-ambiguous"),
        ("", "A,nan,0,0.5", "hole-value"),
        ("", "A,0,0,", "cell-missing"),
    ],
)
def test_a_row_that_is_no_hole_is_refused_by_its_line(head: str, row: str, code: str) -> None:
    found = read(HEAD + head, row)
    assert found.holes == ()
    assert [(u.line, u.finding.code) for u in found.unused] == [(2, code)]


def test_a_table_of_remarks_only_has_no_header() -> None:
    with pytest.raises(InputError, match="header"):
        read("# nothing")


def test_a_through_hole_without_a_depth_needs_a_plate() -> None:
    found = read(HEAD, "A,0,0,0.5", usual=Usual())
    assert [u.finding.code for u in found.unused] == ["cell-missing"]


def test_a_table_that_is_not_there_or_no_text_is_refused(tmp_path: Path) -> None:
    with pytest.raises(FileError, match="cannot be read"):
        read_hole_table(tmp_path / "no.csv", PLAIN)
    (tmp_path / "odd.csv").write_bytes(b"id,x_mm\n\xff\xfe")
    with pytest.raises(InputError, match="UTF-8"):
        read_hole_table(tmp_path / "odd.csv", PLAIN)


def test_the_sample_tables_hold_only_holes() -> None:
    plate = read_hole_table(PLATE, Usual(thickness_mm=8.0))
    assert (len(plate.holes), plate.unused) == (9, ())
    assert len(read_hole_pattern(SLEEVE, PLAIN).holes) == 28


def test_holes_of_a_sleeve_lie_on_it_and_reach_its_bore() -> None:
    for one in read_hole_pattern(SLEEVE, PLAIN).holes:
        x, y, _ = one.mouth_mm
        assert math.hypot(x, y) == pytest.approx(32.0)
        ends = [m + one.depth_mm * d for m, d in zip(one.mouth_mm, one.into, strict=True)]
        assert math.hypot(ends[0], ends[1]) == pytest.approx(25.0)
        assert one.room_mm is not None
        far = [e + one.room_mm * d for e, d in zip(ends, one.into, strict=True)]
        assert math.hypot(far[0], far[1]) == pytest.approx(25.0)
        assert one.outward == pytest.approx((x / 32, y / 32, 0.0))


PATTERN = """format = "kerfwright-hole-pattern"
version = 1
unit = "in"
[[cylinder]]
axis = "x"
radius = 1
[[cylinder.row]]
count = 4
along = 2
diameter = 0.02
depth = 0.1
"""


def test_angles_about_x_count_from_y_towards_z_and_inches_are_read(tmp_path: Path) -> None:
    (tmp_path / "p.toml").write_text(PATTERN)
    found = read_hole_pattern(tmp_path / "p.toml", PLAIN)
    mouths = [h.mouth_mm for h in found.holes]
    assert mouths[0] == pytest.approx((50.8, 25.4, 0.0))
    assert mouths[1] == pytest.approx((50.8, 0.0, 25.4), abs=1e-9)
    assert found.holes[1].into == pytest.approx((0, 0, -1), abs=1e-12)
    # Without a bore nobody knows what is beyond: a hole of a given depth is blind.
    assert not found.holes[0].is_through


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("version = 1", "version = 2", "version"),
        ('unit = "in"', 'unit = "ft"', "unit"),
        ('axis = "x"', 'axis = "w"', "axis"),
        ("radius = 1", "radius = -1", "radius"),
        ("count = 4", "count = 0", "count"),
        ("count = 4", "count = 4\nlean = 3", "lean"),
        ("depth = 0.1", "", "depth"),
        ("[[cylinder.row]]", "[[cylinder.rows]]", "row"),
        ("diameter = 0.02", 'diameter = "thin"', "diameter"),
    ],
)
def test_a_broken_pattern_is_refused_by_its_key(
    tmp_path: Path, old: str, new: str, says: str
) -> None:
    assert old in PATTERN
    (tmp_path / "p.toml").write_text(PATTERN.replace(old, new))
    with pytest.raises(InputError, match=says) as caught:
        read_hole_pattern(tmp_path / "p.toml", PLAIN)
    assert caught.value.code == "pattern-broken"


def drawing(folder: Path) -> Path:
    document = ezdxf.new("R2010", units=4)
    space = document.modelspace()
    space.add_lwpolyline([(0, 0), (60, 0), (60, 40), (0, 40)], close=True)
    for x, y, d, layer in ((10, 10, 0.8, "OIL"), (30, 10, 0.8, "OIL"), (50, 30, 6.0, "BORE")):
        space.add_circle((x, y), d / 2, dxfattribs={"layer": layer})
    document.saveas(folder / "plate.dxf")
    return folder / "plate.dxf"


def test_circles_are_chosen_by_layer_or_size_and_the_others_are_counted(tmp_path: Path) -> None:
    path = drawing(tmp_path)
    for layers, sizes in (((), (0.3, 3.0)), (("OIL",), None)):
        found = read_hole_drawing(path, PLAIN, unit=None, layers=layers, diameters_mm=sizes)
        assert [h.mouth_mm for h in found.holes] == [(10, 10, 0), (30, 10, 0)]
        assert all(h.depth_mm == 10 and h.diameter_mm == 0.8 for h in found.holes)
        (note,) = (f for f in found.findings if f.code == "circles-passed-over")
        assert note.data["circles"] == 1


def test_a_layer_of_circles_alone_and_one_with_other_lines_give_the_same(tmp_path: Path) -> None:
    alone = ezdxf.new("R2010", units=4)
    alone.modelspace().add_circle((10, 10), 0.4, dxfattribs={"layer": "OIL"})
    alone.saveas(tmp_path / "alone.dxf")
    mixed = ezdxf.readfile(drawing(tmp_path))
    square = [(20, 20), (24, 20), (24, 24), (20, 24)]
    mixed.modelspace().add_lwpolyline(square, close=True, dxfattribs={"layer": "OIL"})
    mixed.saveas(tmp_path / "mixed.dxf")
    for name, count in (("alone.dxf", 1), ("plate.dxf", 2), ("mixed.dxf", 2)):
        path = tmp_path / name
        found = read_hole_drawing(path, PLAIN, unit=None, layers=("OIL",), diameters_mm=None)
        assert len(found.holes) == count
        assert {(h.diameter_mm, h.group) for h in found.holes} == {(0.8, "OIL")}


def test_a_drawing_without_such_circles_or_height_is_refused(tmp_path: Path) -> None:
    path = drawing(tmp_path)
    for usual, layers, sizes, code in (
        (Usual(), (), None, "height-missing"),
        (PLAIN, (), (1.0, 2.0), "no-holes"),
        (PLAIN, ("0",), None, "layer-without-circles"),
    ):
        with pytest.raises(InputError) as caught:
            read_hole_drawing(path, usual, unit=None, layers=layers, diameters_mm=sizes)
        assert caught.value.code == code
