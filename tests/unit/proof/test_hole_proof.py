"""The proof of small holes: good programs pass, each planted fault is named."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace

import pytest

from hole_samples import hole, mixed, planned, program_of, with_holder
from kerfwright.adapters.drills import load_drill
from kerfwright.foundation.errors import ProgramError
from kerfwright.proof.hole_records import HoleClaim
from kerfwright.proof.holes import prove_holes

Change = Callable[[str], str]


@pytest.fixture(scope="module")
def good() -> tuple[str, HoleClaim]:
    return program_of(planned(*mixed()))


def found(text: str, claim: HoleClaim) -> set[str]:
    proof = prove_holes(text, claim)
    assert proof.passed == (not proof.findings)
    return {f.code for f in proof.findings}


def block(text: str, name: str) -> str:
    """Return the lines of one hole."""
    begin = text.index(f"(HOLE {name} ")
    end = text.find("(HOLE", begin + 1)
    return text[begin : end if end > 0 else text.index("\nM30") + 1]


def in_hole(name: str, pattern: str, instead: str) -> Change:
    def change(text: str) -> str:
        old = block(text, name)
        new, count = re.subn(pattern, instead, old, count=1, flags=re.MULTILINE)
        assert count == 1, old
        return text.replace(old, new)

    return change


def without(name: str) -> Change:
    return lambda text: text.replace(block(text, name), "")


def twice(name: str) -> Change:
    return lambda text: text.replace(block(text, name), block(text, name) * 2)


def shallower(name: str, by: float) -> Change:
    def change(text: str) -> str:
        old = block(text, name)
        end = float(re.search(r"G01 Z(\S+)", old)[1])  # type: ignore[index]
        return text.replace(old, old.replace(f"G01 Z{end:.3f}", f"G01 Z{end + by:.3f}"))

    return change


def test_a_program_of_a_plan_passes_with_nothing_off(good: tuple[str, HoleClaim]) -> None:
    text, claim = good
    proof = prove_holes(text, claim)
    assert proof.passed, proof.findings
    assert proof.holes == len(mixed())
    assert proof.most_off_place_um < 1.0
    assert 0 <= proof.least_spare_mm < 0.002
    assert proof.least_tube_mm > 0


PLANTED: dict[str, tuple[Change, str]] = {
    "a hole left out": (without("A3"), "hole-missing"),
    "a hole twice": (twice("A3"), "hole-drilled-twice"),
    "a hole nobody wants": (in_hole("A3", r"HOLE A3", "HOLE Z9"), "hole-unknown"),
    "two names exchanged": (
        lambda t: t.replace("HOLE A1 ", "HOLE X ").replace("HOLE A3 ", "HOLE A1 ")
        .replace("HOLE X ", "HOLE A3 "),
        "hole-off-place",
    ),
    "moved by a tenth": (in_hole("C1", r"X5\.000", "X5.100"), "hole-off-place"),
    "moved by five micrometres": (in_hole("C1", r"X5\.000", "X5.005"), "hole-off-place"),
    "not turned": (in_hole("A2", r"^G00 A.*$", "G00 A0 C0"), "hole-not-upright"),
    "turned the wrong way": (
        in_hole("A2", r"^G00 A(-?)([0-9.]+)", r"G00 A-\1\2"), "number-malformed-or-lean",
    ),
    "an angle off by a tenth of a degree": (
        in_hole("A2", r"A(-?)30\.0000", r"A\g<1>30.1000"), "hole-not-upright",
    ),
    "too shallow": (shallower("A3", 0.5), "hole-too-shallow"),
    "too far": (shallower("A3", -3.0), "hole-too-deep-fed"),
    "blind too deep": (shallower("B1", -1.0), "blind-depth-wrong"),
    "blind too shallow": (shallower("B1", 1.0), "blind-depth-wrong"),
    "blind with a worn end": (in_hole("B1", r"^M126\n", ""), "blind-with-worn-tube"),
    "the wrong tube": (lambda t: t.replace("T2 M06", "T1 M06"), "hole-size-wrong"),
    "a tube of no job": (lambda t: t.replace("T2 M06", "T7 M06"), "tube-unknown"),
    "a header of another tube": (in_hole("C1", r"TUBE 2\)", "TUBE 1)"), "tube-not-of-header"),
    "no tube at all": (lambda t: t.replace("T1 M06\n", ""), "no-tube"),
    "a change with nobody there": (
        lambda t: t.replace("M00\nT2 M06", "T2 M06"), "change-unattended",
    ),
    "a change with the sparks on": (
        lambda t: t.replace("T2 M06", "M124\nT2 M06\nM125"), "change-with-sparks",
    ),
    "the condition of the other": (in_hole("C1", r"M123 P2", "M123 P1"), "condition-wrong"),
    "a feed of its own": (in_hole("C1", r"F[0-9.]+", "F99.00"), "feed-wrong"),
    "no touch": (in_hole("A3", r"^M122 .*\n", ""), "hole-without-touch"),
    "a face misnamed": (in_hole("A3", r"^M122 Q0\.000", "M122 Q1.000"), "face-misnamed"),
    "sparks forgotten": (in_hole("A3", r"^M124\n", ""), "feed-without-sparks"),
    "sparks left on": (in_hole("A3", r"^M125\n", ""), "rapid-with-sparks"),
    "no retract": (in_hole("A1", r"^M125\nG00 Z.*\n", "M125\n"), "not-clear"),
    "retract too low": (in_hole("A1", r"(?<=M125\n)G00 Z.*", "G00 Z-1.000"), "not-clear"),
    "turned while low": (
        lambda t: re.sub(r"G00 Z[0-9.]+\n(?=G00 A)", "", t), "not-clear",
    ),
    "a rapid into the face": (
        in_hole("A3", r"G00 Z0\.[0-9]+\n(?=M122)", "G00 Z-2.000\n"), "rapid-into-work",
    ),
    "sideways and down at once": (
        in_hole("C2", r"(G00 X\S+ Y\S+)\n", r"\1 Z0.500\n"), "slanting-rapid",
    ),
    "a feed sideways": (in_hole("A3", r"G01 Z", "G01 X25.000 Z"), "feed-sideways"),
    "the guide on the slope": (
        lambda t: re.sub(r"^M121 Q(?!1\.000).*$", "M121 Q1.000", t, flags=re.MULTILINE),
        "guide-hits-work",
    ),
    "ends in the work": (
        lambda t: re.sub(r"G00 Z\S+\n(G00 Z\S+\n)?(?=M30)", "", t), "ends-in-the-work",
    ),
    "ends with sparks": (lambda t: t.replace("\nM30", "\nM124\nM30"), "spark-left-on"),
    "a stop with sparks": (in_hole("A3", r"^M124\n", "M124\nM00\n"), "stop-with-sparks"),
    "a feed before any header": (
        lambda t: t.replace("(HOLE A1 TUBE 1)", "(NO NAME)", 1), "hole-missing",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", PLANTED)
def test_a_planted_fault_is_named(good: tuple[str, HoleClaim], name: str) -> None:
    text, claim = good
    change, code = PLANTED[name]
    spoilt = change(text)
    assert spoilt != text
    if code == "number-malformed-or-lean":
        spoilt = spoilt.replace("A--", "A")
        code = "hole-not-upright"
    assert code in found(spoilt, claim)


def test_a_tube_that_would_run_out_is_seen() -> None:
    machine = with_holder(load_drill(), length_mm=100.0)
    plan = planned(*(hole(f"H{n}", 3.0 * n, 0) for n in range(12)), machine=machine)
    text, claim = program_of(plan)
    assert found(text, claim) == set()
    again = re.sub(r"\(TUBE 1[^\n]*\n\(STOP: put[^\n]*\nM00\nT1 M06\n", "", text)
    assert again != text
    assert found(again, claim) == {"tube-runs-out"}


def test_a_machine_that_changes_tubes_itself_needs_no_stop_for_a_tube_but_for_a_guide() -> None:
    machine = with_holder(load_drill(), length_mm=100.0, changes_itself=True)
    plan = planned(*(hole(f"H{n}", 3.0 * n, 0) for n in range(12)), machine=machine)
    text, claim = program_of(plan)
    assert text.count("M00") == 1
    assert found(text, claim) == set()
    assert "change-unattended" in found(text.replace("M00\n", ""), claim)


def test_room_that_shrank_is_seen(good: tuple[str, HoleClaim]) -> None:
    text, claim = good
    less = tuple(replace(h, room_mm=0.3) if h.id == "C1" else h for h in claim.holes)
    assert found(text, replace(claim, holes=less)) == {"no-room-beyond"}


def test_limits_of_angles_and_travel_are_seen(good: tuple[str, HoleClaim]) -> None:
    text, claim = good
    axes = tuple(replace(a, low_deg=-10.0, high_deg=10.0) for a in claim.machine.axes)
    assert "angle-limit" in found(text, replace(claim, machine=replace(claim.machine, axes=axes)))
    short = replace(claim.machine, travel_x_mm=5.0, travel_z_mm=20.0)
    assert found(text, replace(claim, machine=short)) == {"travel-exceeded"}


@pytest.mark.parametrize(
    ("old", "new", "code"),
    [
        ("G21 G90", "G20 G90", "g-unknown"),
        ("G21 G90", "G21 G91", "g-unknown"),
        ("M124", "M199", "word-unknown"),
        ("M30", "M30\nG00 X0", "block-after-end"),
        ("\nM30", "", "end-missing"),
        ("G00 X0.000", "G00 X0.000 X1.000", "word-repeated"),
        ("G00 X0.000", "G00 W0.000", "word-unknown"),
        ("(HOLE A3 TUBE 1)", "(HOLE A3 TUBE one)", "header-malformed"),
        ("T1 M06", "T1.5 M06", "number-not-whole"),
        ("G00 X0.000", "G00 X0.0.0", "number-malformed"),
        ("G00 X0.000", "G00 G01 X0.000", "word-repeated"),
    ],
)
def test_a_text_outside_the_language_is_refused_with_its_place(
    good: tuple[str, HoleClaim], old: str, new: str, code: str
) -> None:
    text, claim = good
    assert old in text
    with pytest.raises(ProgramError) as caught:
        prove_holes(text.replace(old, new, 1), claim)
    assert caught.value.code == code
    assert caught.value.line > 0
