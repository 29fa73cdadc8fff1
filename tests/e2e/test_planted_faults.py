"""Every planted fault is caught: by the reader, or by a proof that does not pass."""

from __future__ import annotations

from collections import Counter

import pytest
from tests.planted_faults import MUTATORS, Fault, Mutator
from tests.small_programs import Program, good_programs
from tests.soak import SOAK

from kerfwright.foundation.errors import ProgramError
from kerfwright.proof.prove import prove_program

PROGRAMS = good_programs()
EVERY = 1 if SOAK else 8
"""One fault in so many of each kind and program is planted."""
_OUTCOMES: dict[tuple[str, str], str] = {}


def planted(program: Program, mutator: Mutator) -> list[Fault]:
    return list(mutator(program.text, program.claim))[::EVERY]


def outcome(program: Program, fault: Fault) -> str:
    """Return who caught a fault: ``reader``, ``refusal`` or ``nobody``; a warning is nobody."""
    key = program.name, fault.text
    if key not in _OUTCOMES:
        _OUTCOMES[key] = _outcome(program, fault)
    return _OUTCOMES[key]


def _outcome(program: Program, fault: Fault) -> str:
    try:
        proof = prove_program(fault.text, program.claim)
    except ProgramError:
        return "reader"
    return "nobody" if proof.passed else "refusal"


@pytest.mark.parametrize("program", PROGRAMS, ids=lambda p: p.name)
def test_a_good_program_passes_without_any_finding(program: Program) -> None:
    proof = prove_program(program.text, program.claim)
    assert proof.findings == ()
    assert proof.passed


@pytest.mark.parametrize("mutator", MUTATORS, ids=lambda m: m.__name__)
@pytest.mark.parametrize("program", PROGRAMS, ids=lambda p: p.name)
def test_planted_faults_are_caught(program: Program, mutator: Mutator) -> None:
    faults = planted(program, mutator)
    missed = [(f.kind, f.name) for f in faults if outcome(program, f) == "nobody"]
    assert missed == []


def test_thousands_of_faults_are_planted_and_hundreds_need_the_proof() -> None:
    faults = [(p, f) for p in PROGRAMS for m in MUTATORS for f in m(p.text, p.claim)]
    assert len(faults) > 2000
    kinds = Counter(f.kind for _, f in faults)
    assert len(kinds) >= 30
    # What the reader alone refuses says nothing about the proof.
    caught = Counter(outcome(p, f) for p in PROGRAMS for m in MUTATORS for f in planted(p, m))
    assert caught["nobody"] == 0
    assert caught["refusal"] > 100
