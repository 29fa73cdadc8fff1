"""From words with units to the requirement of a job."""

from __future__ import annotations

from dataclasses import replace

from kerfwright.app.records import JobRequest
from kerfwright.foundation.findings import Finding, Severity
from kerfwright.foundation.units import length_mm, tolerance
from kerfwright.trade import roughness
from kerfwright.trade.catalogue import Catalogue
from kerfwright.trade.machine import Machine
from kerfwright.trade.requirement import Requirement


def read_requirement(
    request: JobRequest, *, catalogue: Catalogue, machine: Machine
) -> tuple[Requirement, tuple[Finding, ...]]:
    """Return the requirement and remarks on how its texts were understood.

    Raises
    ------
    InputError
        If a text cannot be read; the message names the accepted forms.
    UnknownNameError
        If the material or wire is in no table.
    """
    remarks: list[Finding] = []
    half_um = None
    if request.tolerance is not None:
        said = tolerance(request.tolerance)
        half_um = said.half_um
        if said.note:
            remarks.append(_remark("tolerance-read", said.note))
    ra_um = None
    if request.finish is not None:
        finish = roughness.finish(request.finish)
        ra_um = finish.ra_um
        if finish.note:
            remarks.append(_remark("finish-read", finish.note))
    if request.offset_form is not None:
        dialect = replace(machine.dialect, offset_form=request.offset_form)
        machine = replace(machine, dialect=dialect)
    margin = None if request.stock_margin is None else length_mm(request.stock_margin)
    requirement = Requirement(
        material=catalogue.material(request.material),
        height_mm=length_mm(request.height, what="height"),
        machine=machine,
        tolerance_um=half_um,
        ra_um=ra_um,
        max_recast_um=None if request.recast is None else length_mm(request.recast) * 1000,
        wire=None if request.wire is None else catalogue.wire(request.wire),
        quantities=request.quantities,
    )
    if margin is not None:
        requirement = replace(requirement, stock_margin_mm=margin)
    return requirement, tuple(remarks)


def _remark(code: str, message: str) -> Finding:
    return Finding(code=code, severity=Severity.NOTE, message=message)
