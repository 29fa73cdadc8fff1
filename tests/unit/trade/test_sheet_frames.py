"""Frames of sheets are left out with a warning; a part that looks like one is not."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import ezdxf
import pytest

from kerfwright.adapters.dxf import read_drawing
from kerfwright.trade.part import ContourUse, Part, Role
from kerfwright.trade.roles import with_roles
from kerfwright.trade.sheet_frames import SHEET_FRAME, frames_of

TITLES = ("TITLE: ARBOR PLATE", "DRAWN BY: K.L.", "SCALE 1:1", "MATERIAL: D2", "REV B")


def box(space: Any, x: float, y: float, wide: float, high: float, layer: str = "0") -> None:
    corners = [(x, y), (x + wide, y), (x + wide, y + high), (x, y + high)]
    space.add_lwpolyline(corners, close=True, dxfattribs={"layer": layer})


def words(space: Any, x: float, y: float, texts: tuple[str, ...] = TITLES) -> None:
    for k, text in enumerate(texts):
        space.add_text(text, height=3, dxfattribs={"insert": (x + 3, y + 4 + 6 * k)})


class Sheet:
    """A drawing of a plate with two holes, to which a frame is added."""

    def __init__(self, folder: Path, *, x: float = 120, y: float = 130) -> None:
        self._path = folder / "sheet.dxf"
        self.document = ezdxf.new("R2010", units=4)
        self.space = self.document.modelspace()
        box(self.space, x, y, 80, 50)
        self.space.add_circle((x + 20, y + 25), 6)
        self.space.add_circle((x + 60, y + 25), 6)

    def read(self) -> Part:
        self.document.saveas(self._path)
        return read_drawing(self._path)


@pytest.fixture
def sheet(tmp_path: Path) -> Sheet:
    return Sheet(tmp_path)


def roles(part: Part) -> list[tuple[float, Role]]:
    """Return the widths of what is cut, with roles."""
    return sorted((c.contour.bounds_mm[2] - c.contour.bounds_mm[0], c.role) for c in part.to_cut)


PLATE = [(12.0, Role.OPENING), (12.0, Role.OPENING), (80.0, Role.OUTLINE)]


def test_the_frame_of_a_sheet_and_its_title_block_are_left_out_with_a_warning(
    sheet: Sheet,
) -> None:
    # An A3 sheet, its frame by ISO 5457, and a title block inside it.
    box(sheet.space, 0, 0, 420, 297)
    box(sheet.space, 20, 10, 390, 277)
    box(sheet.space, 225, 12, 183, 45)
    words(sheet.space, 225, 12)
    part = with_roles(sheet.read(), {})
    assert [round(found, 3) for found, _ in roles(part)] == [12, 12, 80]
    assert [role for _, role in roles(part)] == [role for _, role in PLATE]
    warnings = [f for f in part.findings if f.code == SHEET_FRAME]
    assert {f.where.contour_id for f in warnings} == {c.id for c in part.set_aside}
    assert len(warnings) == 3
    assert "a sheet A3" in warnings[0].message
    assert "neither cut nor priced" in warnings[0].message


def test_a_person_takes_a_frame_back(sheet: Sheet) -> None:
    box(sheet.space, 20, 10, 390, 277)
    words(sheet.space, 225, 12)
    part = sheet.read()
    (name,) = frames_of(part)
    taken = with_roles(part, {name: ContourUse.OUTLINE})
    assert name in {c.id for c in taken.to_cut}
    assert not [f for f in taken.findings if f.code == SHEET_FRAME]
    # All is read as it lies then.
    assert {c.id: c.role for c in taken.contours} == {c.id: c.role for c in part.contours}


@pytest.mark.parametrize("wide", [333.0, 390.0])
def test_a_rectangle_that_a_dimension_measures_is_the_part(sheet: Sheet, wide: float) -> None:
    box(sheet.space, 20, 10, wide, 277)
    words(sheet.space, 225, 12)
    assert frames_of(sheet.read())
    sheet.space.add_linear_dim(base=(20, 250), p1=(20, 200), p2=(20 + wide, 200)).render()
    assert not frames_of(sheet.read())


def test_a_large_part_is_no_frame(sheet: Sheet) -> None:
    # As large as a sheet, and nothing of a title block in it.
    box(sheet.space, 0, 0, 420, 297)
    assert not frames_of(sheet.read())
    sheet.space.add_text("1", height=3, dxfattribs={"insert": (50, 50)})
    assert not frames_of(sheet.read())
    # A word of a title block beside it: the words are not in the frame.
    words(sheet.space, 500, 0)
    assert not frames_of(sheet.read())


def test_a_plate_with_its_notes_written_in_it_is_no_frame(tmp_path: Path) -> None:
    sheet = Sheet(tmp_path, x=0, y=0)
    words(sheet.space, 30, 5, ("MATERIAL: D2", "REV B"))
    assert not frames_of(sheet.read())


def test_the_name_of_a_layer_says_frame(sheet: Sheet) -> None:
    box(sheet.space, 100, 50, 140, 150, layer="BORDER")
    sheet.space.add_text("SCALE 1:1", height=3, dxfattribs={"insert": (110, 60)})
    (warning,) = frames_of(sheet.read()).values()
    assert "on layer BORDER" in warning.message


def test_what_a_person_says_of_its_layer_outranks_the_look(sheet: Sheet, tmp_path: Path) -> None:
    from kerfwright.trade.part import LayerUse

    box(sheet.space, 20, 10, 390, 277, layer="PLATE")
    words(sheet.space, 225, 12)
    sheet.document.saveas(tmp_path / "said.dxf")
    uses = {"PLATE": LayerUse.OUTLINE}
    assert not frames_of(read_drawing(tmp_path / "said.dxf", layer_uses=uses))
