"""Leaning jobs planned, written and proved, for tests."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType

from kerfwright.adapters.machines import load_machine
from kerfwright.adapters.tables import Tables
from kerfwright.adapters.wire_physics import load_wire_physics
from kerfwright.app.plan_job import plan_part
from kerfwright.app.records import JobRequest, JobResult
from kerfwright.app.tapers import read_tapers
from kerfwright.foundation.findings import Severity
from kerfwright.geometry.contour import Contour
from kerfwright.process.wire_physics import WirePhysics
from kerfwright.proof.records import Claim, Proof
from kerfwright.trade.part import Part
from kerfwright.trade.requirement import Requirement

QUARTER = math.tan(math.pi / 8)


def rounded(x0: float, y0: float, x1: float, y1: float, r: float) -> Contour:
    """Return a rectangle with rounded corners."""
    return Contour.from_rows(
        [(x0 + r, y0), (x1 - r, y0, QUARTER), (x1, y0 + r), (x1, y1 - r, QUARTER), (x1 - r, y1),
         (x0 + r, y1, QUARTER), (x0, y1 - r), (x0, y0 + r, QUARTER)]
    )  # fmt: skip


def square(side: float) -> Contour:
    """Return a square about the origin."""
    h = side / 2
    return Contour.from_rows([(-h, -h), (h, -h), (h, h), (-h, h)])


def tool_steel(tables: Tables, *, tolerance_um: float) -> Requirement:
    """Return what is asked of work 20 mm high in D2."""
    return Requirement(
        material=tables.catalogue.material("D2"),
        height_mm=20.0,
        machine=load_machine(),
        tolerance_um=tolerance_um,
    )


def codes(found: JobResult | Proof) -> set[str]:
    """Return the codes of what a job or its proof was refused for."""
    return {f.code for f in found.findings if f.severity is Severity.REFUSAL}


def good(result: JobResult) -> tuple[str, Claim]:
    """Return program and claim of a job of which nothing was refused."""
    assert codes(result) == set(), [f.message for f in result.findings]
    assert result.program is not None
    assert result.claim is not None
    return result.program, result.claim


def leaning_job(
    part: Part,
    requirement: Requirement,
    tables: Tables,
    tapers: dict[str, str],
    *,
    top: Part | None = None,
    physics: WirePhysics | None = None,
) -> JobResult:
    """Do the main job for a part some of whose walls lean."""
    wanted = replace(requirement, walls=MappingProxyType(read_tapers(tapers)))
    return plan_part(
        JobRequest(drawing=Path("test.dxf"), material="D2", height="20mm", tapers=tapers),
        part,
        wanted,
        catalogue=tables.catalogue,
        technology=tables.technology,
        rates=tables.rates,
        rules=tables.rules,
        wire_physics=physics or load_wire_physics(),
        top=top,
    )
