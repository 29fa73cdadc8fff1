"""Bottom and top in one drawing, one above the other."""

from __future__ import annotations

from pathlib import Path

import ezdxf
import pytest

from kerfwright.adapters.dxf import read_drawing
from kerfwright.cli.run import run
from kerfwright.foundation.errors import DrawingError
from kerfwright.trade.part import Face

LOW = [(0, 0), (16, 0), (16, 10), (0, 10)]
HIGH = [(2, 1), (15, 1), (15, 9), (2, 9)]


def drawn(path: Path, *faces: tuple[float, list[tuple[float, float]]], units: int = 4) -> Path:
    drawing = ezdxf.new(units=units)
    for z, rows in faces:
        attributes = {"elevation": z}
        drawing.modelspace().add_lwpolyline(rows, close=True, dxfattribs=attributes)
    drawing.saveas(path)
    return path


def test_each_face_is_read_by_itself(tmp_path: Path) -> None:
    path = drawn(tmp_path / "two.dxf", (5, LOW), (25, HIGH))
    bottom, top = (read_drawing(path, face=face) for face in (Face.BOTTOM, Face.TOP))
    assert [c.contour.bounds_mm for c in bottom.contours] == [(0, 0, 16, 10)]
    assert [c.contour.bounds_mm for c in top.contours] == [(2, 1, 15, 9)]
    for part, z in ((bottom, 5.0), (top, 25.0)):
        (note,) = [f for f in part.findings if f.code == "read-at-elevation"]
        assert note.data == {"elevation_mm": z, "apart_mm": 20.0}
    # Without a face all of it is read, flattened, as ever.
    assert len(read_drawing(path).contours) == 2


def test_one_elevation_is_read_whole_and_three_are_refused(tmp_path: Path) -> None:
    flat = drawn(tmp_path / "flat.dxf", (7, LOW), (7, [(30, 0), (40, 0), (40, 9)]))
    assert len(read_drawing(flat, face=Face.TOP).contours) == 2
    three = drawn(tmp_path / "three.dxf", (0, LOW), (10, HIGH), (20, HIGH))
    with pytest.raises(DrawingError, match="3 elevations, Z 0 mm, 10 mm, 20 mm;") as caught:
        read_drawing(three, face=Face.BOTTOM)
    assert caught.value.code == "elevations-unclear"


def test_elevations_are_in_the_unit_of_the_drawing(tmp_path: Path) -> None:
    inch = drawn(tmp_path / "inch.dxf", (0, LOW), (1, HIGH), units=1)
    (note,) = [
        f for f in read_drawing(inch, face=Face.TOP).findings if f.code == "read-at-elevation"
    ]
    assert note.data["apart_mm"] == pytest.approx(25.4)


def test_the_drawing_itself_is_the_top_on_the_command_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path, job = drawn(tmp_path / "two.dxf", (0, LOW), (20, HIGH)), tmp_path / "job"
    call = ["plan", str(path), "--top", str(path), "--material", "D2", "--taper", "P1: top=P1"]
    assert run([*call, "--height", "20mm", "-o", str(job)]) == 0
    assert "matched by corners: both have 4 corners" in capsys.readouterr().out
    assert run(["prove", "--job", str(job), str(job / "program.nc")]) == 0
    assert run(["price", str(job)]) == 0
    capsys.readouterr()
    assert run([*call, "--height", "1in", "-o", str(tmp_path / "other")]) == 1
    said = " ".join(capsys.readouterr().out.split())
    assert "bottom and top are drawn 20 mm (0.7874 in) apart" in said
    assert not (tmp_path / "other" / "program.nc").exists()
