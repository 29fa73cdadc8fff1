"""Remnants of sheets as files that a person can read, one each, in a folder of the shop.

A file is never written over.  One that was used goes into the folder ``used``, so that it can be
put back.
"""

from __future__ import annotations

import json
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from kerfwright.adapters.owned_files import digest
from kerfwright.adapters.whole_files import one_writer, write_whole
from kerfwright.foundation.errors import FileError, InputError
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.crossing import self_crossings
from kerfwright.nesting.remnants import Left

_FORMAT: Final = "kerfwright-remnant"
_VERSION: Final = 1
USED: Final = "used"
_SAME_MM: Final = 0.01
"""Thicknesses nearer than this are one."""
_DECIMALS: Final = 3


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Remnant:
    """A piece of sheet at hand.

    Attributes
    ----------
    id : str
        Name of its file without the ending.
    material : str
        Name as in the tables.
    thickness_mm : float
    outline : Contour
    holes : tuple of Contour
    made_from : str
        Where it comes from, in words.
    """

    id: str
    material: str
    thickness_mm: float
    outline: Contour
    holes: tuple[Contour, ...]
    made_from: str = ""

    @property
    def area_mm2(self) -> float:
        """Area of the metal, mm²."""
        return abs(self.outline.area_mm2) - sum(abs(c.area_mm2) for c in self.holes)


def remnant_text(left: Left, *, material: str, thickness_mm: float, made_from: str) -> str:
    """Return the file of a remnant, its corner moved to the zero point.

    Rows of ``outline`` and ``holes`` are x, y and bulge (tan of a quarter of the arc's sweep).
    """
    x0, y0, x1, y1 = left.outline.bounds_mm

    def rows(contour: Contour) -> str:
        moved = contour.transformed(shift_mm=(-x0, -y0))
        lines = [
            f"  [{x:.{_DECIMALS}f}, {y:.{_DECIMALS}f}, {bulge:.6g}]"
            for x, y, bulge in moved.vertices.tolist()
        ]
        return "[\n" + ",\n".join(lines) + ",\n]"

    holes = ", ".join(rows(c) for c in left.holes)
    return (
        "# A piece of sheet left over; `kerfwright nest --remnants FOLDER` offers it.\n"
        f'format = "{_FORMAT}"\n'
        f"version = {_VERSION}\n"
        f"material = {_quoted(material)}\n"
        f"thickness_mm = {thickness_mm:g}\n"
        f"made_from = {_quoted(made_from)}\n"
        f"# {x1 - x0:.1f} x {y1 - y0:.1f} mm, {left.area_mm2 / 100:.1f} cm2.\n"
        "# Usable metal by its true outline: x, y in mm and bulge of each corner. Measure it\n"
        "# before use: the skeleton around it may be cut off elsewhere.\n"
        f"outline = {rows(left.outline)}\n"
        f"holes = [{holes}]\n"
    )


def read_remnants(
    folder: Path, *, material: str | None = None, thickness_mm: float | None = None
) -> tuple[Remnant, ...]:
    """Return the remnants of a folder, the smallest first, of one material and thickness if asked.

    Raises
    ------
    FileError
        Code ``remnant-unreadable``.
    InputError
        Code ``remnant-broken``: names the file and what is wrong with it.
    """
    if not folder.is_dir():
        raise FileError(
            f"there is no folder {folder}",
            code="remnant-unreadable",
            remedy="Make it, or name another.",
        )
    found = [read_remnant(path) for path in sorted(folder.glob("*.toml"))]
    fit = [
        r
        for r in found
        if (material is None or r.material == material)
        and (thickness_mm is None or abs(r.thickness_mm - thickness_mm) <= _SAME_MM)
    ]
    return tuple(sorted(fit, key=lambda r: (r.area_mm2, r.id)))


def read_remnant(path: Path) -> Remnant:
    """Return the remnant of a file.

    Raises
    ------
    FileError, InputError
        As :func:`read_remnants`.
    """
    try:
        document = tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as fault:
        raise FileError(
            f"cannot be read: {fault.strerror}", code="remnant-unreadable", where=str(path)
        ) from fault
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as fault:
        raise _broken(path, f"is no TOML: {fault}") from fault
    if (document.get("format"), document.get("version")) != (_FORMAT, _VERSION):
        raise _broken(path, f"is no remnant of version {_VERSION}")
    material, thickness = document.get("material"), document.get("thickness_mm")
    if not isinstance(material, str) or not material.strip():
        raise _broken(path, f"material is {material!r}; expected words")
    if isinstance(thickness, bool) or not isinstance(thickness, int | float) or not thickness > 0:
        raise _broken(path, f"thickness_mm is {thickness!r}; expected a number above 0")
    holes = document.get("holes", [])
    if not isinstance(holes, list):
        raise _broken(path, "holes is no list of outlines")
    return Remnant(
        id=path.stem,
        material=material,
        thickness_mm=float(thickness),
        outline=_contour(document.get("outline"), path, "outline"),
        holes=tuple(_contour(rows, path, f"hole {k}") for k, rows in enumerate(holes, start=1)),
        made_from=str(document.get("made_from", "")),
    )


def book(
    folder: Path, *, new: Sequence[str], used: Sequence[str], again: bool = False
) -> tuple[str, ...]:
    """Put new remnants into a folder and those that were used aside.

    Parameters
    ----------
    folder : Path
        Made if absent.
    new : sequence of str
        Texts of the files; the names follow from the texts.
    used : sequence of str
        Names of remnants that are gone.
    again : bool
        Whether the same nest was cut once more: its remnants are there twice then.

    Returns
    -------
    tuple of str
        Names of the new remnants.

    Raises
    ------
    FileError
        Code ``remnant-gone`` if a remnant that was used is not there, ``remnant-booked`` if a new
        one is there already: then nothing is booked.  ``shop-folder-unwritable`` if the folder
        cannot be written.
    """
    with one_writer(folder):
        missing = [name for name in used if not (folder / f"{name}.toml").is_file()]
        if missing:
            raise FileError(
                f"remnant {', '.join(missing)} is not in the folder",
                code="remnant-gone",
                where=str(folder),
                remedy="It may be booked already, or used by another nest: nest again.",
            )
        names = [_free_name(folder, text, again=again) for text in new]
        for name, text in zip(names, new, strict=True):
            write_whole(folder / f"{name}.toml", text)
        try:
            (folder / USED).mkdir(exist_ok=True)
            for name in used:
                (folder / f"{name}.toml").replace(folder / USED / f"{name}.toml")
        except OSError as fault:
            raise FileError(
                f"cannot be written: {fault.strerror}",
                code="shop-folder-unwritable",
                where=str(folder),
                remedy="Choose a folder that you may write to.",
            ) from fault
    return tuple(names)


def _free_name(folder: Path, text: str, *, again: bool) -> str:
    first = f"R-{digest(text)[:8].upper()}"
    number = 1
    while True:
        name = first if number == 1 else f"{first}-{number}"
        if not any((place / f"{name}.toml").exists() for place in (folder, folder / USED)):
            return name
        if not again:
            raise FileError(
                f"remnant {name} is booked already",
                code="remnant-booked",
                where=str(folder),
                remedy="Book it with --again if the same nest was cut once more.",
            )
        number += 1


def _contour(rows: Any, path: Path, what: str) -> Contour:
    good = isinstance(rows, list) and all(
        isinstance(row, list)
        and len(row) in (2, 3)
        and all(isinstance(v, int | float) and not isinstance(v, bool) for v in row)
        for row in rows
    )
    if not good or len(rows) < 3:
        raise _broken(path, f"{what} is no list of rows [x, y, bulge]")
    try:
        contour = Contour.from_rows(rows)
    except InputError as fault:
        raise _broken(path, f"{what}: {fault.message}") from fault
    if self_crossings(contour) or not abs(contour.area_mm2) > 0:
        raise _broken(path, f"{what} crosses itself or has no area")
    return contour if contour.area_mm2 > 0 else contour.reversed()


def _broken(path: Path, message: str) -> InputError:
    return InputError(
        message,
        code="remnant-broken",
        where=str(path),
        remedy="Mend it, or take it out of the folder.",
    )


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
