"""From a request of small holes to the work: source, texts and tables read."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from kerfwright.adapters.drills import load_drill
from kerfwright.adapters.hole_csv import Usual, read_hole_table
from kerfwright.adapters.hole_drawing import holes_of_job, read_hole_drawing
from kerfwright.adapters.hole_pattern import read_hole_pattern
from kerfwright.app.hole_records import HoleRequest
from kerfwright.foundation.errors import InputError
from kerfwright.foundation.units import UM_PER_MM, length_mm, tolerance
from kerfwright.trade.catalogue import Catalogue
from kerfwright.trade.hole_work import HoleList, HoleWork, Vector

_BETWEEN: Final = ".."
ENDINGS: Final = (".dxf", ".csv", ".toml")


def read_work(request: HoleRequest, *, catalogue: Catalogue) -> HoleWork:
    """Read what a request names.

    Raises
    ------
    InputError
        Code ``material-missing``, ``source-unknown``, ``diameters-unreadable``,
        ``centre-unreadable`` or that of what cannot be read.
    KerfwrightError
    """
    usual = Usual(
        thickness_mm=None if request.height is None else length_mm(request.height, what="height"),
        tolerance_um=_half_um(request.tolerance, "tolerance"),
        position_um=_half_um(request.position, "position"),
        max_recast_um=None
        if request.recast is None
        else length_mm(request.recast, what="recast layer") * UM_PER_MM,
    )
    listed, material = _listed(request, usual)
    if material is None:
        raise InputError(
            "nobody says of what the work is",
            code="material-missing",
            remedy="Give --material, such as D2.",
        )
    if not listed.holes and not listed.unused:
        raise InputError("it holds no hole at all", code="no-holes", where=str(request.source))
    return HoleWork(
        source=listed,
        material=catalogue.material(material),
        machine=load_drill(request.machine_used),
        centre_mm=_centre(request.centre),
        clearance_mm=None if request.clear is None else length_mm(request.clear, what="clearance"),
        quantities=request.quantities,
    )


def _listed(request: HoleRequest, usual: Usual) -> tuple[HoleList, str | None]:
    source = request.source
    if source.is_dir():
        listed, said = holes_of_job(source, usual)
        return listed, request.material or said["material"]
    ending = source.suffix.casefold()
    if ending not in ENDINGS:
        raise InputError(
            f"{source.name} is no drawing, table or pattern",
            code="source-unknown",
            where=str(source),
            remedy="Give a .dxf drawing, a .csv table, a .toml pattern, or a wire job's folder "
            "with --from-job.",
        )
    if ending == ".dxf":
        listed = read_hole_drawing(
            source, usual, unit=request.units, layers=request.layers,
            diameters_mm=_diameters(request.diameters),
        )  # fmt: skip
    elif ending == ".csv":
        listed = read_hole_table(source, usual)
    else:
        listed = read_hole_pattern(source, usual)
    return listed, request.material


def _half_um(text: str | None, what: str) -> float | None:
    return None if text is None else tolerance(text, what=what).half_um


def _diameters(text: str | None) -> tuple[float, float] | None:
    """Read ``0.3mm..3mm``."""
    if text is None:
        return None
    low, sign, high = text.partition(_BETWEEN)
    if not sign:
        raise InputError(
            f"the sizes {text!r} are not written as LEAST..MOST",
            code="diameters-unreadable",
            remedy="Write them as 0.3mm..3mm.",
        )
    sizes = length_mm(low, what="least diameter"), length_mm(high, what="largest diameter")
    if not sizes[0] <= sizes[1]:
        raise InputError(
            f"the sizes {text!r} are not ascending",
            code="diameters-unreadable",
            remedy="Write the least first.",
        )
    return sizes


def _centre(text: str | None) -> Vector:
    """Read ``0mm,-5mm,40mm``."""
    if text is None:
        return (0.0, 0.0, 0.0)
    parts = text.split(",")
    if len(parts) != 3:
        raise InputError(
            f"the centre {text!r} is not written as X,Y,Z",
            code="centre-unreadable",
            remedy="Write it as 0mm,0mm,40mm.",
        )
    x, y, z = (_signed_mm(part.strip()) for part in parts)
    return x, y, z


def _signed_mm(text: str) -> float:
    sign = -1.0 if text[:1] in {"-", "\N{MINUS SIGN}"} else 1.0
    return sign * length_mm(text.lstrip("+-\N{MINUS SIGN}"), what="centre")


def source_name(source: Path) -> str:
    """Return the name of a source without its ending, for the folder of its job."""
    return source.name if source.is_dir() else source.stem
