"""From a DXF file to a part: contours with roles, and findings on everything else."""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING

from kerfwright.foundation.errors import DrawingError, KerfwrightError
from kerfwright.foundation.findings import UNIT_DOUBTS, Finding, Severity
from kerfwright.foundation.tolerances import DEFAULT_TOLERANCES, Tolerances
from kerfwright.geometry.assembly import Assembly, Chain, assemble, near_ends
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.crossing import Crossing, CrossingKind, all_crossings
from kerfwright.geometry.nesting import nest
from kerfwright.geometry.spikes import without_spikes
from kerfwright.trade.part import (
    Face,
    GivenStart,
    LayerUse,
    LengthUnit,
    Part,
    PartContour,
    Role,
    RoleFrom,
)

if TYPE_CHECKING:
    from kerfwright.adapters.dxf.document import Opened
    from kerfwright.adapters.dxf.entities import Harvest
    from kerfwright.adapters.dxf.shapes import Drawn
    from kerfwright.adapters.dxf.strands import Strands

_BROKEN_MM = 0.5
"""Free ends nearer than this belong together: no drafter ends a line so near on purpose."""
_BROKEN_SHARE = 0.02
"""So do the two ends of one chain nearer than this share of its length."""
_ROLE = {LayerUse.OPENING: Role.OPENING, LayerUse.OUTLINE: Role.OUTLINE}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sketch:
    """A drawing that is no part yet.

    Attributes
    ----------
    lines : tuple of Contour
        Open or closed, in millimetres; in the drawing's own unit where that is not clear.
    findings : tuple of Finding
        None where the unit is not clear: every length in them would be a guess.
    """

    lines: tuple[Contour, ...]
    findings: tuple[Finding, ...]


def read_drawing(
    path: Path | str,
    *,
    unit: LengthUnit | None = None,
    layer_uses: Mapping[str, LayerUse] | None = None,
    pieces_out: Collection[str] = (),
    face: Face | None = None,
    tolerances: Tolerances = DEFAULT_TOLERANCES,
) -> Part:
    """Read a DXF drawing.

    Parameters
    ----------
    path : Path or str
    unit : LengthUnit, optional
        Unit to read the drawing in; needed where the drawing does not say it clearly.
    layer_uses : mapping of str to LayerUse, optional
        What layers are for; names in any case.  Other layers hold contours, whose roles
        follow from their depth: the outermost are outlines, those in them openings.
    pieces_out : collection of str
        Single pieces that are no contour, ``"LINE-12E"``: kept for the picture only.
    face : Face, optional
        Face to read where the geometry lies at two elevations; where it lies at one, or without
        this, all of it is read.
    tolerances : Tolerances

    Returns
    -------
    Part
        In millimetres.  What was mended, refused or left out is in its findings.

    Raises
    ------
    FileError
        If the file cannot be read.
    DrawingError
        If it is no whole DXF file, its unit is not clear (``units-unknown``), nothing in it is a
        closed contour, or a face is asked of more than two elevations (``elevations-unclear``).
    UnknownNameError
        If `layer_uses` names a layer that the drawing does not have.
    InputError
        ``piece-unknown`` if `pieces_out` names a piece that it does not have.
    """
    from kerfwright.adapters.dxf import document, faces, nothing, pieces, shapes, units
    from kerfwright.adapters.dxf.annotations import words_on_units
    from kerfwright.adapters.dxf.around_the_part import AROUND

    path = Path(path)
    data = document.read_bytes(path)
    opened, found = _harvested(path, data, layer_uses)
    pieces.leave_out(found, pieces_out)
    size = shapes.extent(d for d in found.drawn if d.use not in AROUND)
    if size is None:
        raise nothing.no_geometry(path, found)
    chosen, unit_findings = units.decide_unit(
        opened.header, size, asked=unit, name=path.name, noted=words_on_units(found.notes)
    )
    scale = units.millimetres_per(chosen)
    _leave_out_of_plane(found, scale, tolerances)
    findings = [*opened.findings, *unit_findings]
    if face is not None:
        same_mm = tolerances.gap_mm
        findings += faces.take_face(found.drawn, face, scale=scale, same_mm=same_mm, name=path.name)
    return _part(path, data, found, unit=chosen, findings=findings, tolerances=tolerances)


def _part(
    path: Path,
    data: bytes,
    found: Harvest,
    *,
    unit: LengthUnit,
    findings: list[Finding],
    tolerances: Tolerances,
) -> Part:
    """Make contours of what was found and put the part together, in millimetres."""
    from kerfwright.adapters.dxf import annotations, nothing, report, strands, units
    from kerfwright.adapters.dxf.around_the_part import AROUND, clamps_of, stock_of

    scale = units.millimetres_per(unit)
    findings = [
        *findings,
        *report.about_harvest(found, scale=scale),
        *report.about_planes(found.drawn, scale=scale, tolerances=tolerances),
        *annotations.about_notes(found.notes, unit=unit, scale=scale),
    ]
    wall = [d for d in found.drawn if d.use not in AROUND]
    walls = strands.strands_of(wall, scale=scale, tolerances=tolerances)
    made = _contours(walls, tolerances)
    findings.extend(made.findings)
    if not made.contours:
        raise nothing.nothing_closed(path, findings, found)
    named = frozenset(d.layer.lower() for d in wall if d.use is not None)
    findings.extend(report.about_roles(made.contours, given=named))
    stock, of_stock = stock_of(found.drawn, scale=scale, tolerances=tolerances)
    clamps, of_clamps = clamps_of(found.drawn, scale=scale, tolerances=tolerances)
    pictured = strands.strands_of(found.pictured, scale=scale, tolerances=tolerances)
    return Part(
        name=path.name,
        sha256=hashlib.sha256(data).hexdigest(),
        drawing_unit=unit,
        contours=made.contours,
        given_starts=tuple(
            GivenStart(
                x_mm=hole.x * scale, y_mm=hole.y * scale, diameter_mm=hole.diameter_drawn * scale
            )
            for hole in found.holes
        ),
        stock=stock,
        clamps=clamps,
        construction=(*made.construction, *strands.contours_of(pictured)),
        left_out=MappingProxyType(
            dict(
                Counter(entry.kind for entry in found.left_out)
                + Counter(entity.name.split()[0] for entity in walls.unread)
            )
        ),
        findings=report.grouped(
            sorted([*findings, *of_stock, *of_clamps], key=lambda f: f.code not in UNIT_DOUBTS)
        ),
        annotations=found.notes.annotations(unit=unit, scale=scale),
    )


def sketch_drawing(
    path: Path | str,
    *,
    unit: LengthUnit | None = None,
    layer_uses: Mapping[str, LayerUse] | None = None,
    pieces_out: Collection[str] = (),
    tolerances: Tolerances = DEFAULT_TOLERANCES,
) -> Sketch:
    """Return the lines of a drawing of which no part can be made, and what is wrong with them.

    Parameters
    ----------
    path, unit, layer_uses, pieces_out, tolerances
        As of :func:`read_drawing`.

    Raises
    ------
    FileError, DrawingError, UnknownNameError, InputError
        As :func:`read_drawing`, where there is nothing to draw either.
    """
    from kerfwright.adapters.dxf import document, nothing, pieces, report, shapes, strands, units
    from kerfwright.adapters.dxf.around_the_part import AROUND

    path = Path(path)
    opened, found = _harvested(path, document.read_bytes(path), layer_uses)
    pieces.leave_out(found, pieces_out)
    size = shapes.extent(d for d in found.drawn if d.use not in AROUND)
    if size is None:
        raise nothing.no_geometry(path, found)
    try:
        chosen, _ = units.decide_unit(opened.header, size, asked=unit, name=path.name)
    except DrawingError:
        drawn = strands.strands_of(found.drawn, scale=1.0, tolerances=tolerances)
        return Sketch(lines=strands.contours_of(drawn), findings=())
    scale = units.millimetres_per(chosen)
    _leave_out_of_plane(found, scale, tolerances)
    wall = [d for d in found.drawn if d.use not in AROUND]
    walls = strands.strands_of(wall, scale=scale, tolerances=tolerances)
    findings = [*report.about_harvest(found, scale=scale), *_contours(walls, tolerances).findings]
    return Sketch(lines=strands.contours_of(walls), findings=report.grouped(findings))


def layer_names(path: Path) -> frozenset[str]:
    """Return the names of the layers that a drawing has or uses, in lower case.

    Raises
    ------
    FileError, DrawingError
        As :func:`read_drawing`.
    """
    from kerfwright.adapters.dxf import document
    from kerfwright.adapters.dxf.layers import names_of

    return frozenset(names_of(document.open_drawing(path, document.read_bytes(path)).document))


def _harvested(
    path: Path, data: bytes, layer_uses: Mapping[str, LayerUse] | None
) -> tuple[Opened, Harvest]:
    """Open a drawing and collect what it holds."""
    from ezdxf.lldxf.const import DXFError

    from kerfwright.adapters.dxf import copies, document, entities
    from kerfwright.adapters.dxf.layers import Layers, declared_uses

    opened = document.open_drawing(path, data)
    try:
        # What a person says of a layer outranks what the file declares.
        said = {name.lower(): use for name, use in (layer_uses or {}).items()}
        declared = declared_uses(opened.document)
        uses = {n: u for n, u in declared.items() if n.lower() not in said} | dict(layer_uses or {})
        copies.check_copies(opened.document, file=path.name)
        return opened, entities.harvest(opened.document, Layers.of(opened.document, uses))
    except KerfwrightError:
        raise
    except (DXFError, LookupError, AttributeError) as error:
        # What the strict reader took may still lack tables or refer to nothing.
        raise document.damaged(path, error) from None


def _leave_out_of_plane(found: Harvest, scale: float, tolerances: Tolerances) -> None:
    """Move entities that rise along Z from what is used to what is left out."""
    from kerfwright.adapters.dxf.entities import LeftOut
    from kerfwright.adapters.dxf.layers import Reason
    from kerfwright.adapters.dxf.shapes import anchor

    stay: list[Drawn] = []
    for entity in found.drawn:
        if (entity.high - entity.low) * scale <= tolerances.gap_mm:
            stay.append(entity)
            continue
        x, y = anchor(entity)
        found.left_out.append(
            LeftOut(
                kind=entity.name.split()[0],
                x=x,
                y=y,
                name=entity.name,
                layer=entity.layer,
                reason=Reason.NOT_PLANE,
            )
        )
    found.drawn[:] = stay
    found.pictured[:] = [d for d in found.pictured if (d.high - d.low) * scale <= tolerances.gap_mm]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Made:
    """Contours with roles, leftovers for the picture, and what was found on the way."""

    contours: tuple[PartContour, ...]
    construction: tuple[Contour, ...]
    findings: tuple[Finding, ...]


def _contours(strands: Strands, tolerances: Tolerances) -> _Made:
    from kerfwright.adapters.dxf import report

    assembly, spikes = _blunted(
        assemble(strands.chains, tolerances=tolerances), strands, tolerances
    )
    near = near_ends(
        [chain.contour for chain in assembly.open_chains],
        reach_mm=_BROKEN_MM,
        share=_BROKEN_SHARE,
    )
    usable, refused, refusals = _usable_loops(assembly, strands, tolerances)
    contours = _with_roles(usable, strands)
    owner = {
        strand: contour.id
        for contour, chain in zip(contours, usable, strict=True)
        for strand in chain.strands
    }
    return _Made(
        contours=_in_order(contours),
        construction=(
            *(chain.contour for chain in assembly.open_chains),
            *(contour for network in assembly.branched for contour in network.chains),
            *(chain.contour for chain in refused),
        ),
        findings=(
            *strands.findings,
            *report.about_repairs(assembly.repairs, strands, owner),
            *spikes,
            *report.about_branchings(assembly.branched, strands),
            *report.about_open_chains(assembly, near, strands),
            *refusals,
        ),
    )


def _blunted(
    assembly: Assembly, strands: Strands, tolerances: Tolerances
) -> tuple[Assembly, list[Finding]]:
    """Take spikes off the closed loops, each with its finding."""
    loops, findings = [], []
    for loop in assembly.loops:
        contour, spikes = without_spikes(loop.contour, reach_mm=2 * tolerances.gap_mm)
        loops.append(replace(loop, contour=contour))
        findings += [
            Finding(
                code="spike-mended",
                severity=Severity.WARNING,
                message=f"The line doubles back on itself for {1000 * spike.length_mm:.2f} µm; the "
                "tip was taken off.",
                where=replace(strands.place(loop.strands[0]), x_mm=spike.x_mm, y_mm=spike.y_mm),
                remedy="Look at the corner there; redraw it if a notch was meant.",
                data={"length_mm": spike.length_mm},
            )
            for spike in spikes
        ]
    return replace(assembly, loops=tuple(loops)), findings


def _usable_loops(
    assembly: Assembly, strands: Strands, tolerances: Tolerances
) -> tuple[list[Chain], list[Chain], list[Finding]]:
    """Part loops that bound material from those that cross or bound nothing."""
    from kerfwright.adapters.dxf import report

    every = all_crossings([loop.contour for loop in assembly.loops], tolerances=tolerances)
    void = _void_loops(assembly, every, tolerances)
    crossings = [c for c in every if not {c.first_contour, c.second_contour} & void]
    findings = report.about_crossings(crossings, assembly.loops, strands)
    crossed = {
        loop
        for crossing in crossings
        if crossing.kind is not CrossingKind.TOUCHING
        for loop in (crossing.first_contour, crossing.second_contour)
    }
    usable, refused = [], []
    for number, loop in enumerate(assembly.loops):
        if number in void:
            findings.append(report.without_area(loop.contour, strands.place(loop.strands[0])))
        if number in void or number in crossed:
            refused.append(loop)
        else:
            usable.append(loop)
    return usable, refused, findings


def _void_loops(
    assembly: Assembly, crossings: Sequence[Crossing], tolerances: Tolerances
) -> set[int]:
    """Return the loops that bound nothing: a line there and back.

    A loop that crosses itself may have no net area either, but is a fault of its own.
    """
    twisted = {
        c.first_contour
        for c in crossings
        if c.first_contour == c.second_contour and c.kind is CrossingKind.CROSSING
    }
    # Mean width of a strip of this outline; below the gap tolerance it is no opening.
    return {
        number
        for number, loop in enumerate(assembly.loops)
        if abs(loop.contour.area_mm2) < tolerances.gap_mm * loop.contour.length_mm / 2
    } - twisted


def _with_roles(loops: Sequence[Chain], strands: Strands) -> list[PartContour]:
    """Give each loop its role, sense, number and parent."""
    nesting = nest([loop.contour for loop in loops])
    numbers = Counter[Role]()
    ids: list[str] = []
    roles: list[Role] = []
    origins: list[RoleFrom] = []
    for loop, depth in zip(loops, nesting.depth, strict=True):
        use = strands.drawn[loop.strands[0]].use
        role = Role.OPENING if depth % 2 else Role.OUTLINE
        if use is not None:
            role = _ROLE.get(use, role)
        numbers[role] += 1
        roles.append(role)
        origins.append(RoleFrom.LAYER if use in _ROLE else RoleFrom.DRAWING)
        ids.append(f"{'P' if role is Role.OUTLINE else 'H'}{numbers[role]}")
    contours = []
    for loop, role, origin, name, parent in zip(
        loops, roles, origins, ids, nesting.parent, strict=True
    ):
        ccw = loop.contour.area_mm2 > 0
        contour = loop.contour if ccw is (role is Role.OUTLINE) else loop.contour.reversed()
        contours.append(
            PartContour(
                id=name,
                role=role,
                contour=contour,
                layer=strands.drawn[loop.strands[0]].layer,
                entities=tuple(strands.drawn[s].name for s in loop.strands),
                parent_id=None if parent is None else ids[parent],
                role_from=origin,
            )
        )
    return contours


def _in_order(contours: Sequence[PartContour]) -> tuple[PartContour, ...]:
    """Outlines first, then openings, each in drawing order."""
    return tuple(sorted(contours, key=lambda c: c.role is Role.OPENING))
