"""Leaning jobs planned, written and proved, for tests."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType

from kerfwright.adapters.tables import Tables
from kerfwright.adapters.wire_physics import load_wire_physics
from kerfwright.app.plan_job import plan_part
from kerfwright.app.records import JobRequest, JobResult
from kerfwright.app.tapers import read_tapers
from kerfwright.geometry.contour import Contour
from kerfwright.process.wire_physics import WirePhysics
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
