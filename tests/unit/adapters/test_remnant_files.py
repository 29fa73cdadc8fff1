"""Remnants as files: written, read, booked once, and refused by name where they are broken."""

from __future__ import annotations

from pathlib import Path

import pytest
from tests.nest_samples import box

from kerfwright.adapters import remnant_files as files
from kerfwright.foundation.errors import FileError, InputError
from kerfwright.geometry.contour import Contour
from kerfwright.nesting.remnants import Left

OUTLINE = Contour.from_rows([(10, 20), (110, 20), (110, 60), (60, 90, 0.2), (10, 90)])
LEFT = Left(outline=OUTLINE, holes=(box(30, 40, 5, 5),), area_mm2=OUTLINE.area_mm2 - 25)


def text(thickness_mm: float = 2.0, material: str = "Brass") -> str:
    return files.remnant_text(
        LEFT, material=material, thickness_mm=thickness_mm, made_from='plate "7"'
    )


def test_a_remnant_is_read_as_it_was_written_with_its_corner_at_zero(tmp_path: Path) -> None:
    (name,) = files.book(tmp_path, new=[text()], used=[])
    (found,) = files.read_remnants(tmp_path)
    assert found.id == name
    assert found.made_from == 'plate "7"'
    assert found.outline.bounds_mm[:2] == pytest.approx((0.0, 0.0))
    assert found.area_mm2 == pytest.approx(LEFT.area_mm2, abs=0.1)


def test_only_the_same_material_and_thickness_is_offered_the_smallest_first(
    tmp_path: Path,
) -> None:
    small = Left(outline=box(0, 0, 50, 50), holes=(), area_mm2=2500.0)
    texts = [text(), text(3.0), text(material="Steel")]
    texts.append(files.remnant_text(small, material="Brass", thickness_mm=2.0, made_from="another"))
    files.book(tmp_path, new=texts, used=[])
    found = files.read_remnants(tmp_path, material="Brass", thickness_mm=2.0)
    assert [round(r.area_mm2) for r in found] == [2500, round(LEFT.area_mm2)]


def test_booking_puts_new_ones_in_and_used_ones_aside(tmp_path: Path) -> None:
    (old,) = files.book(tmp_path, new=[text()], used=[])
    (new,) = files.book(tmp_path, new=[text(3.0)], used=[old])
    assert [r.id for r in files.read_remnants(tmp_path)] == [new]
    assert (tmp_path / "used" / f"{old}.toml").is_file()


def test_a_nest_is_booked_once_unless_it_was_cut_again(tmp_path: Path) -> None:
    files.book(tmp_path, new=[text()], used=[])
    with pytest.raises(FileError) as fault:
        files.book(tmp_path, new=[text()], used=[])
    assert fault.value.code == "remnant-booked"
    assert len(files.book(tmp_path, new=[text()], used=[], again=True)) == 1
    assert len(files.read_remnants(tmp_path)) == 2


def test_nothing_is_booked_where_a_remnant_used_is_gone(tmp_path: Path) -> None:
    with pytest.raises(FileError) as fault:
        files.book(tmp_path, new=[text()], used=["R-00000000"])
    assert fault.value.code == "remnant-gone"
    assert not list(tmp_path.glob("*.toml"))


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        (("thickness_mm = 2", "thickness_mm = -2"), "thickness_mm"),
        (("thickness_mm = 2", "thickness_mm = true"), "thickness_mm"),
        (('material = "Brass"', 'material = ""'), "material"),
        (("version = 1", "version = 9"), "version"),
        (("outline = [", "outline = [[1, 2, 3, 4],"), "outline"),
        (("outline = [", "outline = [[nan, 2, 0],"), "outline"),
        (("[100.000, 0.000, 0]", "[0.0, 55.0, 0]"), "crosses itself"),
        (("holes = [", "holes = 3 #"), "holes"),
        (("format", "format ="), "TOML"),
    ],
    ids=["negative", "truth", "no material", "version", "row", "nan", "crossing", "holes", "toml"],
)
def test_a_broken_remnant_is_refused_by_name(
    tmp_path: Path, change: tuple[str, str], expected: str
) -> None:
    whole = text()
    assert change[0] in whole
    broken = whole.replace(*change, 1)
    if change[1].endswith("#"):
        broken = broken.split("holes = 3")[0] + "holes = 3\n"
    (tmp_path / "R-1.toml").write_text(broken, encoding="utf-8")
    with pytest.raises(InputError, match=expected) as fault:
        files.read_remnants(tmp_path)
    assert fault.value.code == "remnant-broken"
    assert "R-1.toml" in fault.value.where


def test_a_folder_that_is_not_there_is_no_empty_one(tmp_path: Path) -> None:
    with pytest.raises(FileError) as fault:
        files.read_remnants(tmp_path / "none")
    assert fault.value.code == "remnant-unreadable"
