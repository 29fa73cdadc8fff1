"""From the drawings and tables of a nest to its result, and the remnants that go in and out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from kerfwright.adapters.dxf import layer_names, read_drawing
from kerfwright.adapters.machines import load_machine
from kerfwright.adapters.nest_files import booking_of
from kerfwright.adapters.packing.engine import has_engine, pack
from kerfwright.adapters.remnant_files import book, read_remnants
from kerfwright.adapters.tables import load_tables
from kerfwright.app import nest, nest_wishes
from kerfwright.app.clamp_zones import zone
from kerfwright.app.nest import Ground, Kerf, NestResult
from kerfwright.app.nest_wishes import NestRequest
from kerfwright.foundation.errors import UnknownNameError
from kerfwright.foundation.findings import Finding
from kerfwright.nesting.records import Kind, Sheet, Stop, Tell, Turns
from kerfwright.trade.part import LayerUse, Part
from kerfwright.trade.roles import with_roles


def nest_parts(
    request: NestRequest, *, tell: Tell = lambda _what, _share: None, stop: Stop = lambda: False
) -> NestResult:
    """Read the drawings of a nest, nest them and check what came out.

    Parameters
    ----------
    request : NestRequest
    tell : callable, optional
        Told each step and the share done.
    stop : callable, optional
        Asked now and then whether to end with what there is.

    Raises
    ------
    KerfwrightError
        If the request, a drawing, a table or a remnant cannot be used.
    """
    uses = _own_layer_uses(request)
    parts = [
        (
            drawing.stem,
            with_roles(read_drawing(drawing, unit=request.units, layer_uses=uses[drawing]), {}),
        )
        for drawing, _ in request.parts
    ]
    return laid(ground_of(request, parts), tell=tell, stop=stop)


def laid(
    ground: Ground, *, tell: Tell = lambda _what, _share: None, stop: Stop = lambda: False
) -> NestResult:
    """Nest what was read, see :func:`nest_parts`."""
    return nest.nest_parts(ground, packer=pack if has_engine() else None, tell=tell, stop=stop)


def ground_of(
    request: NestRequest,
    parts: Sequence[tuple[str, Part]],
    *,
    turns: Sequence[Turns] = (),
) -> Ground:
    """Return what is to be nested in what.

    Parameters
    ----------
    request : NestRequest
    parts : sequence of (str, Part)
        The drawings of its parts, in their order, each with the name that the part is to have.
    turns : sequence of Turns
        How the parts of each drawing may be turned; as the request says where it is empty.

    Raises
    ------
    KerfwrightError
        If the request, the drawing of a sheet, a table or a remnant cannot be used.
    """
    tables = load_tables(request.tables)
    kerf = nest.kerf_of(
        request,
        catalogue=tables.catalogue,
        technology=tables.technology,
        machine=load_machine(request.machine),
    )
    kinds: list[Kind] = []
    remarks: list[Finding] = []
    of_each = turns or [request.part_turns.get(name, request.turns) for name, _ in parts]
    for (name, part), (_, quantity), own in zip(parts, request.parts, of_each, strict=True):
        remarks += list(part.findings)
        kinds += nest_wishes.kinds_of(part, name=name, quantity=quantity, turns=own)
    return nest.ground_of(
        request,
        [replace(k, turns=request.part_turns.get(k.id, k.turns)) for k in kinds],
        _sheets(request, kerf),
        kerf=kerf,
        room=nest.room_of(request, kerf, rules=tables.rules),
        rules=tables.rules,
        remarks=remarks,
    )


def _own_layer_uses(request: NestRequest) -> dict[Path, dict[str, LayerUse]]:
    """Return what is said of the layers that each drawing has.

    Raises
    ------
    UnknownNameError
        Code ``unknown-layer`` for a layer that no drawing has.
    """
    drawings = [drawing for drawing, _ in request.parts]
    if not request.layer_uses:
        return {drawing: {} for drawing in drawings}
    known = {drawing: layer_names(drawing) for drawing in drawings}
    for name in request.layer_uses:
        if not any(name.lower() in names for names in known.values()):
            raise UnknownNameError(
                f'no drawing has a layer "{name}"',
                code="unknown-layer",
                remedy="`kerfwright check` lists the layers of a drawing.",
            )
    return {
        drawing: {n: use for n, use in request.layer_uses.items() if n.lower() in names}
        for drawing, names in known.items()
    }


def _sheets(request: NestRequest, kerf: Kerf) -> list[Sheet]:
    """Return the remnants that fit the job, then the sheets asked, in their order."""
    clamps = tuple(zone(text) for text in request.clamps)
    found: list[Sheet] = []
    if request.remnants is not None:
        found += [
            Sheet(id=r.id, outline=r.outline, holes=r.holes, clamps=clamps, remnant=r.id)
            for r in read_remnants(
                request.remnants, material=kerf.material.name, thickness_mm=kerf.thickness_mm
            )
        ]
    for text in request.sheets:
        name, count = nest_wishes.with_count(text, what="sheet")
        if Path(name).suffix.lower() == ".dxf":
            part = with_roles(read_drawing(Path(name), unit=request.units, layer_uses={}), {})
            stem = Path(name).stem
            found.append(nest_wishes.sheet_of(part, name=stem, count=count, clamps=clamps))
        else:
            outline = nest_wishes.sheet_size(name)
            found.append(Sheet(id=name, outline=outline, clamps=clamps, count=count))
    return found


def book_nest(nest_folder: Path, *, remnants: Path, again: bool = False) -> tuple[str, ...]:
    """Put what a nest leaves among the remnants, and what it used aside; return the new names.

    Raises
    ------
    KerfwrightError
        If the nest does not hold, is booked already, or a folder cannot be used.
    """
    new, used = booking_of(nest_folder)
    return book(remnants, new=new, used=used, again=again)
