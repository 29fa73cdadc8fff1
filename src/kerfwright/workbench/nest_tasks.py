"""Nests, laid and looked over in a worker."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Final

from kerfwright.adapters.dxf.nest_writer import layer_of
from kerfwright.adapters.nest_files import contents_of, nest_shape, rows_of, stem_of
from kerfwright.adapters.nest_work import ground_of, laid
from kerfwright.app.enquiries import OF_CONTOURS, ROLE, Asked
from kerfwright.app.nest import Ground, NestResult, judged
from kerfwright.app.nest_wishes import NestRequest
from kerfwright.foundation.recent import Recent
from kerfwright.nesting.check import check_moved
from kerfwright.nesting.records import Kind, Placement, Solution, Turns
from kerfwright.trade.part import Role
from kerfwright.wiring import check_drawing
from kerfwright.workbench.cut_shapes import findings_shape
from kerfwright.workbench.read_parts import HowRead, flat_part
from kerfwright.workbench.tasks import Progress

Document = dict[str, Any]
_MOST_GROUNDS: Final = 6
_BY_HAND: Final = ", then by hand"
_OF_ONE: Final = tuple(name for name in OF_CONTOURS if name != ROLE)
"""Roles are in how the drawing was read."""
_grounds: Recent[str, tuple[Ground, tuple[str, ...]]] = Recent(_MOST_GROUNDS)
_OF_PIECES: Final = ("tolerance", "finish", "recast")
"""Lines of a job that its parts take along into a nest."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PartToLay:
    """The drawing of a job, as somebody said that it is to be read.

    Attributes
    ----------
    job : str
    sha256 : str
        Of the drawing.
    asked : mapping of str to str
        Lines of the job.
    turns : Turns
    """

    job: str
    sha256: str
    asked: Asked
    turns: Turns = Turns.QUARTER


def lay(
    request: NestRequest, parts: tuple[PartToLay, ...], ending: Path, progress: Progress
) -> tuple[Document, Solution]:
    """Nest parts of jobs.

    Parameters
    ----------
    request : NestRequest
        Its drawings are those of the parts, in their order.
    parts : tuple of PartToLay
    ending : Path
        Once this file is there, the search ends with what it has.
    progress : callable
    """
    progress("reading the drawings", 0.0)
    ground, _ = _ground(request, parts)
    result = laid(ground, tell=progress, stop=ending.exists)
    return _shown(result, request, parts), result.solution


def try_moved(
    request: NestRequest,
    parts: tuple[PartToLay, ...],
    solution: Solution,
    moved: tuple[Placement, ...],
    progress: Progress,
) -> Document:
    """Say whether some parts may lie where somebody holds them."""
    progress("looking what lies around", 0.0)
    ground, _ = _ground(request, parts)
    found = check_moved(ground.instance, _with(solution, moved), moved)
    return {"holds": not found, "findings": findings_shape(found, by="nest")}


def move(
    request: NestRequest,
    parts: tuple[PartToLay, ...],
    solution: Solution,
    moved: tuple[Placement, ...],
    progress: Progress,
) -> tuple[Document, Solution]:
    """Lay some parts elsewhere and check the whole nest anew."""
    progress("checking the nest", 0.0)
    ground, _ = _ground(request, parts)
    after = _with(solution, moved)
    return _shown(judged(ground, after), request, parts), after


def files_of(
    request: NestRequest, parts: tuple[PartToLay, ...], solution: Solution, progress: Progress
) -> dict[str, str]:
    """Return the files of a nest by name: picture and drawing of each sheet, and the numbers."""
    progress("drawing the sheets", 0.0)
    ground, _ = _ground(request, parts)
    return contents_of(judged(ground, solution))


def lines_of_sheets(
    request: NestRequest, parts: tuple[PartToLay, ...], solution: Solution, progress: Progress
) -> list[Document]:
    """Return each sheet as a job: its drawing, its lines, and what of its parts does not go along.

    What the job of a part asks of all its contours is asked of the contours of the part; where all
    parts ask the same, of the job.
    """
    progress("drawing the sheets", 0.0)
    ground, owners = _ground(request, parts)
    result = judged(ground, solution)
    owner_of = {k.id: owner for k, owner in zip(ground.instance.kinds, owners, strict=True)}
    files = contents_of(result)
    asked = {one.job: one.asked for one in parts}
    return [
        _sheet_job(
            f"{stem_of(result, number)}.dxf",
            files[f"{stem_of(result, number)}.dxf"],
            {layer_of(place): asked[owner_of[place.kind]] for place, _ in used.parts},
            _lines(request, ground.kerf.material.id),
        )
        | {"left": _left(sorted({owner_of[place.kind] for place, _ in used.parts}), asked)}
        for number, used in enumerate(result.sheets, start=1)
    ]


def _lines(request: NestRequest, material: str) -> dict[str, str]:
    lines = {"material": material, "height": request.thickness, "quantity": "1"}
    return lines | ({"wire": request.wire} if request.wire else {})


def _sheet_job(
    name: str, drawing: str, by_layer: Mapping[str, Asked], lines: dict[str, str]
) -> Document:
    """Return the job of one sheet; ``by_layer`` says what the job of each part asks."""
    wishes = {
        layer: tuple((n, asked[n]) for n in _OF_PIECES if asked.get(n))
        for layer, asked in by_layer.items()
    }
    job: Document = {"name": name, "drawing": drawing, "lines": lines, "own": []}
    if len(set(wishes.values())) == 1:
        return job | {"lines": lines | dict(next(iter(wishes.values())))}
    with TemporaryDirectory() as folder:
        place = Path(folder) / name
        place.write_text(drawing, encoding="utf-8")
        contours = check_drawing(place, unit=None, layer_uses={}, roles={}).contours
    for wish in sorted(set(wishes.values())):
        ids = [c.id for c in contours if wishes.get(c.layer) == wish]
        if wish and ids:
            job["own"].append((ids, dict(wish)))
    return job


def _left(jobs: Sequence[str], asked: Mapping[str, Asked]) -> list[str]:
    """Return what the jobs ask of single contours, which has to be said again of the sheet."""
    return [
        f"{job}: {', '.join(own)}"
        for job in jobs
        if (own := sorted(n for n in asked[job] if n.startswith(_OF_ONE)))
    ]


def _ground(request: NestRequest, parts: Sequence[PartToLay]) -> tuple[Ground, tuple[str, ...]]:
    """Return what is nested in what, and the job that each kind is from."""

    def make() -> tuple[Ground, tuple[str, ...]]:
        read = [
            (
                one.job,
                flat_part(drawing, HowRead.as_asked(one.asked, one.sha256)),
            )
            for one, (drawing, _) in zip(parts, request.parts, strict=True)
        ]
        outer = [
            sum(c.role is Role.OUTLINE and c.parent_id is None for c in part.contours)
            for _, part in read
        ]
        owners = tuple(
            one.job for one, count in zip(parts, outer, strict=True) for _ in range(count)
        )
        ground = ground_of(request, read, turns=[one.turns for one in parts])
        return ground, owners

    return _grounds.once(repr((request, parts)), make)


def _with(solution: Solution, moved: Sequence[Placement]) -> Solution:
    """Return a nest with some parts elsewhere."""
    after = {(p.kind, p.copy): p for p in moved}
    by_hand = solution.method.endswith(_BY_HAND)
    return replace(
        solution,
        placements=tuple(after.get((p.kind, p.copy), p) for p in solution.placements),
        method=solution.method if by_hand else solution.method + _BY_HAND,
    )


def _shown(result: NestResult, request: NestRequest, parts: Sequence[PartToLay]) -> Document:
    _, owners = _ground(request, parts)
    document = nest_shape(result)
    return {
        "holds": not result.is_refused,
        "material": document["material"],
        "wire_mm": document["wire_diameter_mm"],
        "room": document["room"],
        "method": document["method"],
        "stopped": document["stopped"],
        "measured": document["measured"],
        "kinds": [
            {**one, "job": owner, **_outlines(kind), "angles_deg": list(kind.turns.angles_deg)}
            for one, kind, owner in zip(
                document["kinds"], result.instance.kinds, owners, strict=True
            )
        ],
        "sheets": [
            {
                "id": used.sheet.id,
                "outline": rows_of(used.sheet.outline),
                "holes": [rows_of(c) for c in used.sheet.holes],
                "clamps": [rows_of(c) for c in used.sheet.clamps],
                "left": [[rows_of(c) for c in (one.outline, *one.holes)] for one in used.left],
                "area_mm2": used.sheet.area_mm2,
                "parts_mm2": used.parts_mm2,
                "used_mm2": used.used_mm2,
                "density": used.density,
                "mass_kg": result.mass_kg(used.sheet.area_mm2),
            }
            for used in result.sheets
        ],
        "placements": [
            {
                "kind": p.kind,
                "copy_number": p.copy,
                "sheet": p.sheet,
                "turn_deg": p.turn_deg,
                "x_mm": p.x_mm,
                "y_mm": p.y_mm,
                "inside": list(p.inside) if p.inside else None,
            }
            for p in result.solution.placements
        ],
        "findings": findings_shape(result.findings, by="nest"),
    }


def _outlines(kind: Kind) -> Document:
    return {
        "outline": rows_of(kind.outline),
        "openings": [rows_of(c) for c in (*kind.openings, *kind.islands)],
    }
