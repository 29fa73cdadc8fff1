"""Small-hole work that several tests share."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import kerfwright
from kerfwright.adapters.drills import load_drill
from kerfwright.adapters.hole_tables import load_hole_tables
from kerfwright.adapters.tables import load_tables
from kerfwright.app.drill_job import claim_of
from kerfwright.nc.hole_writer import write_hole_program
from kerfwright.planning.hole_plan import HolePlan
from kerfwright.planning.hole_planner import plan_holes
from kerfwright.planning.hole_rules import HoleRules
from kerfwright.process.technology import SmallHoleLaw
from kerfwright.proof.hole_records import HoleClaim
from kerfwright.trade.drill import DrillMachine
from kerfwright.trade.hole_work import Hole, HoleList, HoleWork, leaning
from kerfwright.trade.part import LengthUnit

SAMPLES = Path(kerfwright.__file__).parent / "data" / "samples"
SLEEVE = SAMPLES / "vented_sleeve.toml"
PLATE = SAMPLES / "pivot_plate_oil.csv"


def law() -> SmallHoleLaw:
    return load_tables().technology.small_hole


def rules() -> HoleRules:
    return load_hole_tables()[0]


def hole(name: str, x: float, y: float, **more: object) -> Hole:
    fields: dict[str, object] = {"z": 0.0, "diameter_mm": 0.6, "depth_mm": 8.0} | more
    z = fields.pop("z")
    return Hole(id=name, mouth_mm=(x, y, z), **fields)  # type: ignore[arg-type]


def work(*holes: Hole, machine: DrillMachine | None = None, **more: object) -> HoleWork:
    return HoleWork(
        source=HoleList(name="test", sha256="0" * 64, unit=LengthUnit.MILLIMETRE, holes=holes),
        material=load_tables().catalogue.material("D2"),
        machine=machine or load_drill(),
        **more,  # type: ignore[arg-type]
    )


def planned(*holes: Hole, machine: DrillMachine | None = None, **more: object) -> HolePlan:
    return plan_holes(
        work(*holes, machine=machine, **more), law=law(), rules=rules(), pause_min=0.08
    )


def mixed() -> tuple[Hole, ...]:
    """Return upright, leaning, blind and larger holes."""
    lean = leaning(30.0, heading_deg=0.0)
    return (
        hole("A1", 0.0, 0.0),
        hole("A2", 12.0, 0.0, into=lean, depth_mm=9.2),
        hole("A3", 24.0, 6.0),
        hole("B1", 30.0, 10.0, is_through=False, depth_mm=5.0),
        hole("C1", 5.0, 20.0, diameter_mm=1.0, room_mm=5.0),
        hole("C2", 15.0, 20.0, diameter_mm=1.0),
    )


def with_holder(machine: DrillMachine, **more: object) -> DrillMachine:
    return replace(machine, tubes=replace(machine.tubes, **more))  # type: ignore[arg-type]


def program_of(plan: HolePlan) -> tuple[str, HoleClaim]:
    return write_hole_program(plan, title="test"), claim_of(plan, law=law())
