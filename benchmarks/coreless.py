"""Two hundred small openings cut away whole: loops and path, and the proof of the program.

The goal is 2 s for the path; there is no peer.  Once with twenty shapes that come back ten times
each, as drilled plates have them, once with every opening of another size.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from kerfwright.adapters.machines import load_machine
from kerfwright.adapters.tables import load_tables
from kerfwright.app.plan_job import claim_of
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.nested_loops import Pitch
from kerfwright.motion.moves import CutKind
from kerfwright.nc.writer import write_program
from kerfwright.planning.coreless import loops_of
from kerfwright.planning.memory import Memory
from kerfwright.planning.planner import make_plan
from kerfwright.proof.prove import prove_program
from kerfwright.trade.coreless import CorelessWish
from kerfwright.trade.part import LengthUnit, Part, PartContour, Role
from kerfwright.trade.requirement import Requirement
from kerfwright.wirepath.builder import build_path

COUNT = 200
GOAL_S = 2.0
_ROW = 20
_APART_MM = 12.0
_PITCH = Pitch.of_kerf(0.165, overlap_share=0.25, least_share=0.05)


def shape(number: int, size: float) -> Contour:
    """Return a bore, a square, a slot or a cross of about a size, its inside on the right."""
    s = size / 2
    match number % 4:
        case 0:
            return Contour.circle((0.0, 0.0), radius_mm=s).reversed()
        case 1:
            return Contour.from_rows([(-s, -s), (-s, s), (s, s), (s, -s)])
        case 2:
            slot = [(-s, -0.7 * s, 0), (s, -0.7 * s, 1), (s, 0.7 * s, 0), (-s, 0.7 * s, 1)]
            return Contour.from_rows(slot).reversed()
        case _:
            t = 0.5 * s
            return Contour.from_rows(
                [
                    (-t, -s), (t, -s), (t, -t), (s, -t), (s, t), (t, t),
                    (t, s), (-t, s), (-t, t), (-s, t), (-s, -t), (-t, -t),
                ]
            ).reversed()  # fmt: skip


def plate(kinds: int) -> Part:
    """Return openings in rows, of so many kinds."""
    made = []
    for k in range(COUNT):
        kind = k % kinds
        drawn = shape(kind, 2.6 + 2.0 * kind / kinds)
        by = (_APART_MM * (k % _ROW), _APART_MM * (k // _ROW))
        made.append(
            PartContour(
                id=f"H{k + 1}",
                role=Role.OPENING,
                contour=drawn.transformed(shift_mm=by),
                layer="0",
                entities=(),
                parent_id=None,
            )
        )
    return Part(
        name="plate",
        sha256="0" * 64,
        drawing_unit=LengthUnit.MILLIMETRE,
        contours=tuple(made),
        given_starts=(),
        stock=None,
        construction=(),
        left_out={},
        findings=(),
    )


def rows() -> Iterator[dict[str, Any]]:
    """Yield the rows of the table."""
    tables = load_tables()
    asked = Requirement(
        material=tables.catalogue.material("D2"),
        height_mm=20.0,
        machine=load_machine(),
        coreless=CorelessWish.ALWAYS,
    )
    for kinds, name in ((20, "20 kinds"), (COUNT, "all different")):
        part = plate(kinds)
        yield from _one(part, asked, tables, name)


def _one(part: Part, asked: Requirement, tables: Any, name: str) -> Iterator[dict[str, Any]]:
    plan = make_plan(
        part, asked, technology=tables.technology, catalogue=tables.catalogue, rules=tables.rules
    )
    assert all(c.coreless is not None for c in plan.contours)
    begun, memory = time.perf_counter(), Memory()
    for c in plan.contours:
        loops_of(c.loops[0].contour, _PITCH, memory)
    rough = [o for o in plan.operations if o.kind.value == CutKind.ROUGH.value]
    path = build_path(replace(plan, operations=tuple(rough)))
    spent = time.perf_counter() - begun
    moves = sum(len(cut.moves) for cut in path.cuts)
    yield {
        "name": f"coreless path of {COUNT} openings, {name}",
        "ours_s": spent,
        "peer_s": GOAL_S,
        "ratio": GOAL_S / spent,
        "note": f"goal; {moves} moves",
    }
    text = write_program(path, machine=asked.machine, title="BENCH")
    claim = claim_of(plan)
    begun = time.perf_counter()
    proof = prove_program(text, claim)
    whole = time.perf_counter() - begun
    bad = [f.code for f in proof.findings if f.code in {"inside-not-cut-away", "scrap-comes-free"}]
    assert not bad, bad
    yield {
        "name": f"proof of the same program, {name}",
        "ours_s": whole,
        "peer_s": whole,
        "ratio": 1.0,
        "note": "no peer and no goal of its own",
    }
