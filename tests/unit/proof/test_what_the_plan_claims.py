"""Offsets, feeds, conditions and starts of the plan: consistent programs that are wrong."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from tests.conftest import box
from tests.small_programs import (
    OFFSET,
    PUNCH,
    WINDOW,
    Program,
    Text,
    claim_for,
    cut,
    good_programs,
)

from kerfwright.adapters.machines import load_machine
from kerfwright.foundation.findings import Severity
from kerfwright.proof.claimed import check_starts
from kerfwright.proof.prove import prove_program
from kerfwright.proof.records import Claim, StartPlace
from kerfwright.proof.slack import proof_tolerance_um
from kerfwright.proof.wall import Wall
from kerfwright.trade.machine import OffsetForm

PROGRAMS = {p.name: p for p in good_programs()}


@pytest.fixture
def window() -> Program:
    return PROGRAMS["window"]


def refusals(text: str, claim: Claim) -> set[str]:
    proof = prove_program(text, claim)
    found = {f.code for f in proof.findings if f.severity is Severity.REFUSAL}
    assert proof.passed == (not found)
    return found


@pytest.mark.parametrize(
    ("number", "offset_mm"),
    [(1, 0.165), (1, 0.300), (2, 0.145)],
    ids=["rough-leaves-too-little", "rough-leaves-too-much", "skim-at-its-finished-size"],
)
def test_a_pass_at_another_offset_is_refused_though_header_and_path_agree(
    window: Program, monkeypatch: pytest.MonkeyPatch, number: int, offset_mm: float
) -> None:
    monkeypatch.setitem(OFFSET, number, offset_mm)
    text = Text()
    cut(text, WINDOW)
    assert f"PASS {number} OFFSET {offset_mm:.4f}" in text.text()
    assert "offset-not-planned" in refusals(text.text(), window.claim)


def test_two_headers_of_one_pass_are_each_judged(window: Program) -> None:
    # The second header of the rough pass alone says otherwise.
    first, second, rest = window.text.split("OFFSET 0.2000", 2)
    text = f"{first}OFFSET 0.2000{second}OFFSET 0.1500{rest}"
    assert "offset-not-planned" in refusals(text, window.claim)
    unstated = replace(window.claim, offset_mm={})
    assert "offset-differs" in refusals(text, unstated)
    assert refusals(window.text, unstated) == set()


def test_the_condition_in_force_at_every_move_counts(window: Program) -> None:
    lines = window.text.splitlines()
    call = lines.index("M103 P2")

    def text(*changed: str) -> str:
        return "\n".join([*lines[:call], *changed, *lines[call + 1 :]]) + "\n"

    assert refusals(text("M103 P2", "M103 P2"), window.claim) == set()
    assert refusals(text("M103 P2", "M103 P1"), window.claim) == {"condition-differs"}
    assert refusals(text(), window.claim) == {"condition-differs"}
    within = "\n".join([*lines[: call + 3], "M103 P1", *lines[call + 3 :]]) + "\n"
    assert refusals(within, window.claim) == {"condition-changes"}


def test_conditions_that_nobody_states_must_be_the_same_for_a_pass() -> None:
    two = PROGRAMS["window-and-key"]
    unstated = replace(two.claim, condition={})
    everywhere = two.text.replace("M103 P2", "M103 P7")
    assert refusals(everywhere, unstated) == set()
    assert refusals(everywhere, two.claim) == {"condition-differs"}
    once = two.text.replace("M103 P2", "M103 P7", 1)
    assert refusals(once, unstated) == {"condition-differs"}


@pytest.mark.parametrize(
    ("old", "new", "code"),
    [
        ("F2.5", "F3.1", None),
        ("F2.5", "F3.2", "feed-above-pass"),
        ("F6", "F60", "feed-above-pass"),
        ("F6", "F0.4", None),
        ("F6", "F0.006", "feed-below-pass"),
    ],
)
def test_feeds_stay_near_that_of_the_pass(
    window: Program, old: str, new: str, code: str | None
) -> None:
    assert old in window.text
    assert refusals(window.text.replace(old, new), window.claim) == ({code} if code else set())


def test_the_way_home_through_the_open_kerf_may_be_fast(window: Program) -> None:
    lines = window.text.splitlines()
    home = [k for k, s in enumerate(lines) if s.startswith("G01 X6.0000 Y6.0000")]
    assert len(home) == 3
    for k in home:
        lines[k] = lines[k].split(" F")[0] + " F200"
    assert refusals("\n".join(lines) + "\n", window.claim) == set()


def test_a_lead_in_through_solid_may_not_be_fast(window: Program) -> None:
    lines = window.text.splitlines()
    lead = next(k for k, s in enumerate(lines) if s.startswith("G01"))
    lines[lead] = lines[lead].split(" F")[0] + " F25"
    assert refusals("\n".join(lines) + "\n", window.claim) == {"feed-above-pass"}


@pytest.mark.parametrize(
    ("x_mm", "diameter_mm", "depth_mm"),
    [(0.6, 1.5, 0.15), (-2.0, 1.0, 2.5)],
    ids=["across-the-wall", "in-the-part"],
)
def test_a_start_hole_that_takes_finished_metal_is_refused(
    window: Program, x_mm: float, diameter_mm: float, depth_mm: float
) -> None:
    hole = StartPlace(x_mm=x_mm, y_mm=6.0, diameter_mm=diameter_mm)
    claim = replace(window.claim, starts=(*window.claim.starts, hole))
    proof = prove_program(window.text, claim)
    (finding,) = proof.findings
    assert not proof.passed
    assert finding.code == "start-in-part"
    assert finding.data["depth_mm"] == pytest.approx(depth_mm)


@pytest.mark.parametrize(
    ("x_mm", "diameter_mm", "codes"),
    [
        (-8.0, 1.0, {"start-outside-stock"}),
        (-4.7, 1.0, {"start-outside-stock"}),
        (-4.5, 1.0, set()),
        (-8.0, 0.0, set()),
    ],
    ids=["in-the-air", "across-the-edge", "just-inside", "an-edge-start"],
)
def test_a_hole_drilled_outside_the_stock_is_refused(
    x_mm: float, diameter_mm: float, codes: set[str]
) -> None:
    punch = replace(claim_for([PUNCH]), stock=box(-5, -5, 40, 30))
    hole = StartPlace(x_mm=x_mm, y_mm=6.0, diameter_mm=diameter_mm)
    said = check_starts(Wall(punch.contours), replace(punch, starts=(hole,)))
    assert {f.code for f in said} == codes


def test_rapids_count_for_the_travel(window: Program) -> None:
    far = window.text.replace("M102\n", "M102\nG00 X5000.0 Y-4000.0\n")
    assert refusals(far, window.claim) == {"travel"}


def test_the_first_rapid_may_come_from_anywhere() -> None:
    text = Text()
    cut(text, PUNCH)
    claim = claim_for([PUNCH])
    small = replace(claim.machine, travel_x_mm=30.0, travel_y_mm=25.0)
    assert refusals(text.text(), replace(claim, machine=small)) == set()


@pytest.mark.parametrize(
    ("name", "form", "expected_um"),
    [
        # 0.1 µm + (√½ + 1) digits, half a digit more for the table; the inch is 25.4 mm.
        ("generic-mm", OffsetForm.WIRE_CENTRE, 0.1 + (math.sqrt(0.5) + 1.0) * 0.1),
        ("generic-mm", OffsetForm.CONTROLLER, 0.1 + (math.sqrt(0.5) + 1.5) * 0.1),
    ],
)
def test_the_tolerance_follows_from_the_digits(
    name: str, form: OffsetForm, expected_um: float
) -> None:
    machine = load_machine(name)
    machine = replace(machine, dialect=replace(machine.dialect, decimals=4, offset_form=form))
    assert proof_tolerance_um(machine) == pytest.approx(expected_um)
    assert proof_tolerance_um(machine) < 0.33
