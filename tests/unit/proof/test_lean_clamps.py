"""Heads that follow a leaning wire beside a clamp: where each stands is trigonometry."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from tests.conftest import PartMaker, box
from tests.leaning_jobs import codes, good, leaning_job, square, tool_steel

from kerfwright.adapters.tables import Tables
from kerfwright.app.records import JobResult
from kerfwright.geometry.contour import Contour
from kerfwright.proof.prove import prove_program
from kerfwright.trade.clamps import Clamps
from kerfwright.trade.part import Role

LEAN = math.radians(5.0)
HALF_MM = 10.0
OUT = "taper=5° out from bottom"
IN = "taper=5° in from bottom"


def job(make_part: PartMaker, tables: Tables, taper: str, *clamps: Contour) -> JobResult:
    part = make_part([(Role.OUTLINE, square(2 * HALF_MM), None)], stock=box(-60, -60, 60, 60))
    wanted = replace(tool_steel(tables, tolerance_um=20.0), clamps=clamps)
    return leaning_job(part, wanted, tables, {"P1": taper})


def beside(x_mm: float) -> Contour:
    return box(x_mm, -5.0, x_mm + 10.0, 5.0)


def reach(tables: Tables) -> float:
    return tables.rules.clamp_reach_mm


def upper_guide_mm(result: JobResult) -> float:
    """How far beside the wall at the underside the upper guide goes, across a side."""
    tilt = result.requirement.machine.tilt
    assert tilt is not None
    up = result.requirement.height_mm + tilt.upper_guide_mm
    return up * math.tan(LEAN)


@pytest.mark.parametrize(("taper", "head"), [(OUT, "the upper head"), (IN, "the lower head")])
def test_a_head_that_goes_further_out_than_the_wall_keeps_off_a_clamp(
    taper: str, head: str, make_part: PartMaker, tables: Tables
) -> None:
    # An upright wire would pass with 1 mm to spare.
    near = job(make_part, tables, taper, beside(HALF_MM + reach(tables) + 1.0))
    (met,) = (f for f in near.findings if f.code == "clamp-in-the-way")
    assert f"the wire of {head} comes" in met.message
    assert met.remedy.startswith("Move the clamp by at least")
    moved = HALF_MM + reach(tables) + 1.0 + met.data["move_mm"]
    # The wire stands a fraction of a millimetre beside the wall.
    assert codes(job(make_part, tables, taper, beside(moved + 0.3))) == set()


def test_the_proof_measures_each_head_at_its_guide(make_part: PartMaker, tables: Tables) -> None:
    result = job(make_part, tables, OUT)
    text, claim = good(result)
    (first, *_) = result.plan.passes
    across = HALF_MM + first.offset_mm / math.cos(LEAN) + upper_guide_mm(result)

    def near(x_mm: float) -> list[float]:
        clamps = Clamps(zones=(beside(x_mm),), reach_mm=8.0)
        proof = prove_program(text, replace(claim, clamps=clamps))
        return [f.data["near_mm"] for f in proof.findings if f.code == "clamp-in-cut"]

    assert min(near(across + 7.5)) == pytest.approx(7.5, abs=0.001)
    assert near(across + 8.05) == []
