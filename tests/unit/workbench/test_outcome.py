"""What a job shows of its price, and when it shows none."""

from __future__ import annotations

from typing import Any

from kerfwright.workbench.outcome import draft_offered

DRAFT: dict[str, Any] = {
    "prices": [{"quantity": 1, "each": "10.00"}],
    "not_offered": "",
    "ledger": [
        {"name": "quantity", "answer": {"metric": "1 at EUR 10.00", "inch": ""}, "why": ["each"],
         "severity": None},
        {"name": "height", "answer": {"metric": "6 mm", "inch": ""}, "why": [], "severity": None},
    ],
}  # fmt: skip


def test_a_program_that_fails_its_proof_takes_the_price_back() -> None:
    gouge = {"severity": "refusal", "message": "pass 3 cuts 41 µm into the part"}
    warning = {"severity": "warning", "message": "look at this"}
    shown = draft_offered(DRAFT, {"is_proved": False, "findings": [warning, gouge]})
    assert shown["prices"] == []
    assert shown["not_offered"] == gouge["message"]
    assert "EUR" not in str(shown["ledger"])
    assert shown["ledger"][1] == DRAFT["ledger"][1]


def test_a_price_stands_while_the_proof_runs_and_when_it_passed() -> None:
    assert draft_offered(DRAFT, None) == DRAFT
    assert draft_offered(DRAFT, {"is_proved": True, "findings": []}) == DRAFT
