"""What the proof says of clamps: good programs pass, each planted fault is named."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace

import pytest
from tests.conftest import PartMaker, box
from tests.part_clamps import BETWEEN, Clamped, clamped

from kerfwright.adapters.json_shapes import plan_shape
from kerfwright.adapters.plan_claims import claim_from
from kerfwright.adapters.tables import Tables
from kerfwright.foundation.findings import Severity
from kerfwright.proof.prove import prove_program
from kerfwright.proof.records import Claim
from kerfwright.trade.clamps import Clamps
from kerfwright.trade.requirement import Requirement

RING = (
    box(60, -20, 64, 70), box(116, -20, 120, 70), box(60, -20, 120, -16), box(60, 66, 120, 70)
)  # fmt: skip


@pytest.fixture
def job(make_part: PartMaker, requirement: Requirement, tables: Tables) -> Clamped:
    return clamped(make_part, requirement, tables, BETWEEN)


@pytest.fixture
def shut(make_part: PartMaker, requirement: Requirement, tables: Tables) -> Clamped:
    return clamped(make_part, requirement, tables, *RING)


def codes(text: str, claim: Claim) -> set[str]:
    proof = prove_program(text, claim)
    return {f.code for f in proof.findings if f.severity is Severity.REFUSAL}


def test_a_program_that_goes_round_its_clamps_passes(job: Clamped) -> None:
    assert codes(job.text, job.claim) == set()


def test_a_program_that_calls_somebody_to_raise_the_head_passes(shut: Clamped) -> None:
    assert codes(shut.text, shut.claim) == set()


def clamp_moved_under_a_cut(job: Clamped) -> tuple[str, Claim]:
    zones = (box(44, 5, 54, 80),)
    return job.text, replace(job.claim, clamps=Clamps(zones=zones, reach_mm=8.0))


def clamp_moved_under_a_way(job: Clamped) -> tuple[str, Claim]:
    # It is longer at the end round which the ways go.
    zones = (box(55, -5, 65, 80),)
    return job.text, replace(job.claim, clamps=Clamps(zones=zones, reach_mm=8.0))


def every_turning_point_removed(job: Clamped) -> tuple[str, Claim]:
    lines = job.text.split("\n")
    kept = [
        line
        for k, line in enumerate(lines)
        if not (line.startswith("G00") and lines[k + 1].startswith("G00"))
    ]
    assert len(kept) < len(lines)
    return "\n".join(kept), job.claim


def one_turning_point_removed(job: Clamped) -> tuple[str, Claim]:
    lines = job.text.split("\n")
    runs = [k for k, line in enumerate(lines) if line.startswith("G00")]
    # The middle ones are on the low side of the clamp.
    low = [k for k in runs if (y := re.search(r"Y(-?[\d.]+)", lines[k])) and float(y[1]) < -2.5]
    del lines[low[0]]
    return "\n".join(lines), job.claim


def larger_nozzle(job: Clamped) -> tuple[str, Claim]:
    assert job.claim.clamps is not None
    return job.text, replace(job.claim, clamps=replace(job.claim.clamps, reach_mm=10.0))


def nobody_at_the_first_way(job: Clamped) -> tuple[str, Claim]:
    return job.text.replace("M00\n", "", 1), job.claim


@pytest.mark.parametrize(
    ("fault", "code"),
    [
        (clamp_moved_under_a_cut, "clamp-in-cut"),
        (clamp_moved_under_a_way, "clamp-in-positioning"),
        (every_turning_point_removed, "clamp-in-positioning"),
        (one_turning_point_removed, "clamp-in-positioning"),
        (larger_nozzle, "clamp-in-positioning"),
        (nobody_at_the_first_way, "clamp-first-way"),
    ],
)
def test_a_planted_fault_is_named(
    fault: Callable[[Clamped], tuple[str, Claim]], code: str, job: Clamped
) -> None:
    text, claim = fault(job)
    assert code in codes(text, claim)


@pytest.mark.parametrize("which", ["before", "after"])
def test_a_way_over_a_clamp_needs_somebody_before_and_after(which: str, shut: Clamped) -> None:
    lines = shut.text.split("\n")
    word = "RAISE THE UPPER HEAD" if which == "before" else "BRING THE UPPER HEAD DOWN"
    at = next(k for k, line in enumerate(lines) if word in line)
    stop = next(k for k in range(at, len(lines)) if lines[k] == "M00")
    del lines[stop]
    assert "clamp-in-positioning" in codes("\n".join(lines), shut.claim)


def test_a_bent_way_of_the_wire_is_measured_along_its_arc(job: Clamped) -> None:
    """The ends of an arc may clear a clamp that its middle does not."""
    lines = job.text.split("\n")
    at = next(k for k, line in enumerate(lines) if "M30" in line)
    head = lines[:at]
    # After all is cut: threaded in the open beside the stock, half a circle out and back.
    bent = [
        "(CUT P1 PASS 1 OFFSET 0.1650)",
        "G00 X10.0000 Y70.0000",
    ]
    thread = next(line for line in lines if line.startswith("M") and line not in ("M00", "M30"))
    arc = ["G01 X45.0000 Y100.0000 F5.00", "G03 X75.0000 Y100.0000 I15.0000 J0.0000"]
    text = "\n".join([*head, *bent, thread, *arc, *lines[at:]])
    proof = prove_program(text, job.claim)
    near = [f for f in proof.findings if f.code == "clamp-in-cut"]
    # Centre X60 Y100, radius 15: its lowest point is 5 mm above the finger's end at Y80.
    assert len(near) == 1
    assert near[0].data["near_mm"] == pytest.approx(5.0, abs=0.006)


def test_the_claim_of_a_kept_plan_has_the_same_clamps(job: Clamped) -> None:
    document = plan_shape(job.plan, claim=job.claim)
    claim = claim_from(document)
    assert claim.clamps is not None
    assert claim.clamps.reach_mm == 8.0
    assert [z.bounds_mm for z in claim.clamps.zones] == [BETWEEN.bounds_mm]
    text, moved = clamp_moved_under_a_way(job)
    assert "clamp-in-positioning" in codes(text, replace(claim, clamps=moved.clamps))
