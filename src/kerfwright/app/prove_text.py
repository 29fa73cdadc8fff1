"""Check a program that came from anywhere against a drawing."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType

from kerfwright.app.requirements import read_height_mm
from kerfwright.foundation.counts import counted
from kerfwright.foundation.errors import InputError
from kerfwright.foundation.places import signed_mm
from kerfwright.foundation.units import length_mm
from kerfwright.proof.records import Claim, StartPlace
from kerfwright.proof.slack import proof_tolerance_um
from kerfwright.trade.catalogue import Catalogue
from kerfwright.trade.clamps import Clamps
from kerfwright.trade.machine import Machine
from kerfwright.trade.part import ContourUse, LayerUse, LengthUnit, Part


@dataclass(frozen=True, slots=True, kw_only=True)
class ProofRequest:
    """What a program is to be checked against, as a person writes it.

    Attributes
    ----------
    drawing : Path
    material, height, wire : str
        Texts with units.
    gaps : mapping of int to str
        Spark gap on one side by pass number.
    starts : tuple of (str, str, str)
        X, Y and diameter of holes beyond those the drawing gives.
    cut_ids : tuple of str
        Contours the program cuts; empty for all.
    pass_counts : mapping of str to int
        How many of the passes with a gap a contour has, where not all.
    machine, tables, units, layer_uses, roles
        As in :class:`kerfwright.app.records.JobRequest`.
    """

    drawing: Path
    material: str
    height: str
    wire: str
    gaps: Mapping[int, str]
    starts: tuple[tuple[str, str, str], ...] = ()
    cut_ids: tuple[str, ...] = ()
    pass_counts: Mapping[str, int] = field(default_factory=lambda: MappingProxyType({}))
    machine: str | None = None
    tables: Path | None = None
    units: LengthUnit | None = None
    layer_uses: Mapping[str, LayerUse] = field(default_factory=lambda: MappingProxyType({}))
    roles: Mapping[str, ContourUse] = field(default_factory=lambda: MappingProxyType({}))


def read_claim(
    request: ProofRequest,
    part: Part,
    *,
    catalogue: Catalogue,
    machine: Machine,
    clamp_reach_mm: float,
) -> Claim:
    """Return the claim of a request.

    Parameters
    ----------
    request : ProofRequest
    part : Part
    catalogue : Catalogue
    machine : Machine
    clamp_reach_mm : float
        How far the wire centre stays from every clamp of the drawing.

    Raises
    ------
    InputError
        If a text cannot be read, no gap is given or a named contour is not in the drawing.
    UnknownNameError
        If material or wire is in no table.
    """
    if not request.gaps:
        raise InputError(
            "no spark gap is given",
            code="gap-missing",
            remedy="Give the gap of each pass, such as --gap 1=35um --gap 2=12um.",
        )
    known = [c.id for c in part.contours]
    odd = [name for name in (*request.cut_ids, *request.pass_counts) if name not in known]
    if odd:
        raise InputError(
            f"{part.name} has no contour {', '.join(odd)}; it has {', '.join(known)}",
            code="contour-unknown",
        )
    numbers = sorted(request.gaps)
    for name, count in request.pass_counts.items():
        if not 1 <= count <= len(numbers):
            raise InputError(
                f"contour {name} is said to have {counted(count, 'pass', 'passes')}; "
                f"gaps are given of {len(numbers)}",
                code="gap-missing",
                remedy="Give the gap of every pass, such as --gap 1=35um --gap 2=12um.",
            )
    wire = catalogue.wire(request.wire)
    given = [
        StartPlace(x_mm=s.x_mm, y_mm=s.y_mm, diameter_mm=s.diameter_mm) for s in part.given_starts
    ]
    named = [
        StartPlace(
            x_mm=signed_mm(x, what="X of a start"),
            y_mm=signed_mm(y, what="Y of a start"),
            diameter_mm=length_mm(diameter, what="diameter of a start"),
        )
        for x, y, diameter in request.starts
    ]
    return Claim(
        contours=part.contours,
        cut_ids=frozenset(request.cut_ids or (c.id for c in part.to_cut)),
        kerf_radius_mm={
            number: wire.radius_mm + length_mm(gap, what=f"gap of pass {number}")
            for number, gap in request.gaps.items()
        },
        height_mm=read_height_mm(request.height),
        density_kg_per_m3=catalogue.material(request.material).density_kg_per_m3,
        starts=(*given, *named),
        stock=part.stock,
        machine=machine,
        wire_diameter_mm=wire.diameter_mm,
        tolerance_um=proof_tolerance_um(machine),
        pass_numbers={name: tuple(numbers[:n]) for name, n in request.pass_counts.items()},
        clamps=Clamps(zones=part.clamps, reach_mm=clamp_reach_mm) if part.clamps else None,
    )
