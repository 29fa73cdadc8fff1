"""From a STEP file to a part: the walls that a straight wire makes of its solid.

Open CASCADE reads it, in a child process with limits on time and memory
(:mod:`kerfwright.adapters.step.worker`): a damaged file may end that process, and no more.
"""

from __future__ import annotations

import hashlib
import json
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Any, Final

import numpy as np

from kerfwright.adapters.solids_here import has_reader
from kerfwright.adapters.step.kept import keep_answer, kept_answer, kept_key
from kerfwright.foundation.errors import (
    DrawingError,
    FileError,
    InputError,
    KerfwrightError,
    MissingPackageError,
)
from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.ruled import RuledWall
from kerfwright.geometry.segments import Floats, Segments
from kerfwright.trade.drawing_files import is_solid_name
from kerfwright.trade.part import LengthUnit, Part, PartContour, Role
from kerfwright.trade.solids import Solid, SolidSpots
from kerfwright.trade.walls import GivenWall

LAYER: Final = "SOLID"
"""In place of a layer: a solid has none."""
MOST_BYTES: Final = 100 * 1024**2
MOST_SECONDS: Final = 270.0
"""Less than any task of a server may be silent."""
_COMMAND: Final = ("-m", "kerfwright.adapters.step.worker")
_MARK: Final = b"ISO-10303-21"
_HEAD: Final = 4096
_END: Final = b"END-ISO-10303-21"
_POINT_MM: Final = 1e-7
_FIT_UM: Final = 0.5
"""Arcs in place of free curves, see :mod:`kerfwright.adapters.step.rulings`, and corners."""
_EXACT_UM: Final = 0.05
"""Corners of sections are known to some 1e-7 mm; followed to the faces they err some times that."""
_MOST_WORDS: Final = 200


def is_solid_file(path: Path) -> bool:
    """Return whether a file is a STEP file by its name."""
    return is_solid_name(path)


def read_solid(
    path: Path,
    *,
    unit: LengthUnit | None = None,
    number: int | None = None,
    along: str | None = None,
    kept_in: Path | None = None,
) -> Part:
    """Read the walls of a solid that a straight wire makes.

    Parameters
    ----------
    path : Path
        A STEP file (ISO 10303-21).
    unit : LengthUnit, optional
        What the numbers of the file are, whatever it says itself.
    number : int, optional
        Which solid, from 1, where the file holds several.
    along : str, optional
        Direction of the wire in the axes of the file, ``z``, ``-x``, ``0 0.5 1``; without it the
        one for which most of the surface is.
    kept_in : Path, optional
        Folder in which what was read is kept for the next time.

    Returns
    -------
    Part
        In millimetres: the contours lie in the underside; what the solid gives besides is in
        ``solid``, and what no wire makes among the findings.

    Raises
    ------
    MissingPackageError
        Code ``solids-need-reader``.
    FileError
        If the file cannot be read.
    DrawingError
        If it is no whole STEP file or holds no solid with a wall for a wire.
    """
    data = _content(path)
    if not has_reader():
        raise MissingPackageError(
            "what reads solids, Open CASCADE, is not installed",
            code="solids-need-reader",
            where=path.name,
            remedy="pip install 'kerfwright[solids]', or give a drawing as DXF.",
        )
    request = {"unit": unit.value if unit else None, "number": number, "along": along}
    try:
        return _part(path, data, _solid_in(path, data, request, kept_in))
    except (KeyError, TypeError, InputError) as fault:
        if isinstance(fault, DrawingError):
            raise
        raise DrawingError(
            f"its walls are no contours: {fault}",
            code="solid-not-understood",
            where=path.name,
            remedy="Please report it with the file; a drawing as DXF can be planned.",
        ) from None


def _content(path: Path) -> bytes:
    try:
        size = path.stat().st_size
        if size > MOST_BYTES:
            raise DrawingError(
                f"the file has {size / 1024**2:.0f} MB; {MOST_BYTES / 1024**2:.0f} MB are read",
                code="drawing-too-large",
                where=path.name,
                remedy="Ask for the part alone.",
            )
        data = path.read_bytes()
    except OSError as fault:
        if isinstance(fault, KerfwrightError):
            raise
        raise FileError(
            f"the file cannot be read: {fault.strerror or fault}.",
            code="drawing-not-readable",
            where=path.name,
            remedy="Check its path and permissions.",
        ) from None
    if _MARK not in data[:_HEAD]:
        raise DrawingError(
            "this is no STEP file: it does not begin with ISO-10303-21",
            code="not-a-drawing",
            where=path.name,
            remedy="Give a STEP file, or a DXF drawing under its own name.",
        )
    if _END not in data[-_HEAD:]:
        raise DrawingError(
            "the file breaks off: it does not end with END-ISO-10303-21",
            code="drawing-damaged",
            where=path.name,
            remedy="Send or download it again.",
        )
    return data


def _solid_in(
    path: Path, data: bytes, request: Mapping[str, Any], kept_in: Path | None
) -> dict[str, Any]:
    """Return what is said of the solid, that of an earlier time where it is kept."""
    key = kept_key(hashlib.sha256(data).hexdigest(), request)
    answer = None if kept_in is None else kept_answer(kept_in, key)
    if answer is None:
        answer = _asked(path, {"path": str(path.resolve()), **request})
        if kept_in is not None and "failed" not in answer:
            keep_answer(kept_in, key, answer)
    if "refused" in answer:
        refused = answer["refused"]
        raise DrawingError(
            refused["message"], code=refused["code"], where=path.name, remedy=refused["remedy"]
        )
    if "failed" in answer:
        raise _given_up(path, f"Open CASCADE gave up: {answer['failed']}")
    solid: dict[str, Any] = answer["solid"]
    return solid


def _asked(path: Path, request: Mapping[str, Any]) -> dict[str, Any]:
    """Return what the child process answers."""
    try:
        done = subprocess.run(  # noqa: S603 our own module
            [sys.executable, *_COMMAND],
            input=json.dumps(request),
            capture_output=True,
            text=True,
            encoding="utf-8",
            errors="replace",
            timeout=MOST_SECONDS,
            check=False,
        )
    except subprocess.TimeoutExpired:
        raise _given_up(
            path, f"reading it takes more than {MOST_SECONDS / 60:.0f} minutes"
        ) from None
    try:
        answer: dict[str, Any] = json.loads(done.stdout)
    except ValueError:
        said = " ".join(done.stderr.split())[-_MOST_WORDS:]
        why = f"the process that read it ended with {done.returncode}"
        raise _given_up(path, f"{why}: {said}" if said else why) from None
    return answer


def _given_up(path: Path, why: str) -> DrawingError:
    return DrawingError(
        why,
        code="drawing-damaged",
        where=path.name,
        remedy="Let the sender check the solid and export it again, or ask for a drawing as DXF.",
    )


def _part(path: Path, data: bytes, said: Mapping[str, Any]) -> Part:
    height = float(said["height_mm"])
    contours: list[PartContour] = []
    walls: dict[str, GivenWall] = {}
    bend: dict[str, float] = {}
    slack: dict[str, float] = {}
    outermost = next((f"P{1}" for row in said["walls"] if row["is_outer"]), None)
    for row in said["walls"]:
        role = Role.OUTLINE if row["is_outer"] else Role.OPENING
        number = 1 + sum(c.role is role for c in contours)
        name = f"{'P' if role is Role.OUTLINE else 'H'}{number}"
        lower, upper = np.array(row["lower"]), np.array(row["upper"])
        contour = _contour(lower)
        contours.append(
            PartContour(
                id=name,
                role=role,
                contour=contour,
                layer=LAYER,
                entities=(f"{row['faces']} {'face' if row['faces'] == 1 else 'faces'}",),
                parent_id=None if role is Role.OUTLINE else outermost,
            )
        )
        bend[name] = float(row["bend_um"])
        slack[name] = bend[name] + (_FIT_UM if row["is_fitted"] else _EXACT_UM)
        if not row["is_upright"]:
            walls[name] = GivenWall(
                lower=contour,
                upper=_contour(upper),
                ruled=RuledWall(
                    lower=_side(lower), upper=_side(upper), lower_mm=0.0, upper_mm=height
                ),
                reason=f"is that of the solid: {_faces(row['faces'])}, matched by their edges",
            )
    names = [c.id for c in contours]
    return Part(
        name=path.name,
        sha256=hashlib.sha256(data).hexdigest(),
        drawing_unit=LengthUnit(said["unit"]),
        contours=tuple(contours),
        given_starts=(),
        stock=None,
        construction=tuple(Contour.from_rows(ring) for ring in said["outlines"]),
        left_out=MappingProxyType({str(k): int(v) for k, v in said["left_out"].items()}),
        findings=tuple(_finding(row) for row in said["findings"]),
        solid=Solid(
            height_mm=height,
            volume_mm3=float(said["volume_mm3"]),
            walls=walls,
            bend_um=bend,
            slack_um=slack,
            spots=tuple(_spots(row, names) for row in said["sections"]),
        ),
    )


def _faces(count: int) -> str:
    return f"{count} {'face' if count == 1 else 'faces'}"


def _side(rows: Floats) -> Segments:
    return Segments.from_ends(rows[:, :2], np.roll(rows[:, :2], -1, axis=0), rows[:, 2])


def _contour(rows: Floats) -> Contour:
    """Return a chain as a contour, its points left out."""
    real = np.hypot(*(np.roll(rows[:, :2], -1, axis=0) - rows[:, :2]).T) > _POINT_MM
    return Contour(rows[real])


def _spots(row: Mapping[str, Any], names: list[str]) -> SolidSpots:
    points, normals = np.array(row["points"]), np.array(row["normals"])
    if not (np.isfinite(points).all() and np.isfinite(normals).all()):
        raise InputError("a section of the solid is not finite", code="solid-not-understood")
    wall = int(row["wall"])
    return SolidSpots(
        contour_id=names[wall] if wall >= 0 else None,
        height_mm=float(row["height_mm"]),
        points=points,
        normals=normals,
    )


def _finding(row: Mapping[str, Any]) -> Finding:
    return Finding(
        code=row["code"],
        severity=Severity(row["severity"]),
        message=row["message"],
        where=Place(x_mm=row["x_mm"], y_mm=row["y_mm"]),
        remedy=row["remedy"],
        data=row["data"],
    )
