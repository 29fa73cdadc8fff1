"""Plates of a tower clock with clamps about them, for several tests."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from tests.conftest import PartMaker, box
from tests.part_strings import planned

from kerfwright.adapters.tables import Tables
from kerfwright.app.plan_job import claim_of
from kerfwright.geometry.contour import Contour
from kerfwright.motion.moves import WirePath
from kerfwright.nc.writer import write_program
from kerfwright.planning.plan import Plan
from kerfwright.proof.records import Claim
from kerfwright.trade.part import Role
from kerfwright.trade.requirement import Requirement
from kerfwright.wirepath.builder import build_path

BETWEEN = box(55, 5, 65, 80)
"""A finger between the two plates, from above; nozzles pass below it."""


@dataclass(frozen=True)
class Clamped:
    """Two plates side by side in a sheet with clamps."""

    plan: Plan
    path: WirePath
    claim: Claim
    text: str


def clamped(
    make_part: PartMaker,
    requirement: Requirement,
    tables: Tables,
    *zones: Contour,
    plates: Sequence[Contour] = (box(20, 15, 40, 35), box(80, 15, 100, 35)),
    stock: Contour | None = None,
) -> Clamped:
    """Plan the plates, draw the path and write the program."""
    part = make_part(
        [(Role.OUTLINE, plate, None) for plate in plates],
        stock=box(0, 0, 120, 60) if stock is None else stock,
    )
    wanted = replace(requirement, height_mm=10.0, clamps=zones)
    plan = planned(part, wanted, tables)
    path = build_path(plan, physics=None, programs_wall=False)
    text = ""
    if path.cuts:
        text = write_program(path, machine=wanted.machine, title="CLAMPED")
    return Clamped(plan=plan, path=path, claim=claim_of(plan), text=text)
