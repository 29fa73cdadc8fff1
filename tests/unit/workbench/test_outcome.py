"""What a job shows of its price, and when it shows none."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from types import MappingProxyType
from typing import Any

import pytest

from kerfwright.app.enquiries import Enquiry
from kerfwright.foundation.errors import DrawingError, InputError, KerfwrightError
from kerfwright.workbench.computed import Drafted
from kerfwright.workbench.outcome import (
    attention_of,
    draft_offered,
    outcome_of,
    savings_offered,
    trouble_of,
)

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


def drafted(**own: Any) -> Drafted:
    return Drafted(draft={**DRAFT, "currency": "EUR"} | own, geometry=b"", wire=b"")


GOUGE = {
    "severity": "refusal",
    "message": "pass 3 cuts 41 µm into the part",
    "remedy": "Prove it anew",
    "remedy_inch": "Prove it anew",
}
FAILED = {"is_proved": False, "findings": [GOUGE | {"severity": "note", "remedy": "Look"}, GOUGE]}


def test_a_program_that_fails_its_proof_takes_the_savings_back_and_says_why() -> None:
    for before in ({"alternatives": [{}]}, None):
        found = savings_offered(before, drafted(), FAILED)
        assert found is not None
        assert (found["alternatives"], found["front"], found["as_asked"]) == ([], [], None)
        (why,) = found["front_remarks"]
        assert "what is refused is the program itself" in why["metric"]
        assert why["inch"].endswith("Prove it anew.")
        assert "Look" not in why["metric"]


def test_savings_stand_with_the_proof_and_of_a_job_refused_before_its_program() -> None:
    lifts = {"alternatives": [{}]}
    assert savings_offered(lifts, drafted(), None) is lifts
    assert savings_offered(lifts, drafted(), {"is_proved": True, "findings": []}) is lifts
    refused = drafted(not_offered="too high", prices=[])
    assert savings_offered(lifts, refused, FAILED) is lifts
    assert savings_offered(None, refused, FAILED) is None


def test_the_list_counts_findings_that_say_the_same_once_as_the_page_of_the_job_does() -> None:
    enquiry = Enquiry(
        id="a", title="a", drawing="a.dxf", drawing_sha256="", added="2026-01-01"
    )  # fmt: skip
    corners = [{"severity": "warning", "alike": "corner"} for _ in range(20)]
    others = [{"severity": s, "alike": s} for s in ("warning", "note", "refusal")]
    draft = DRAFT | {
        "findings": [*corners, *others, {"severity": "refusal"}, {"severity": "refusal"}],
        "shape_key": "", "contours": [{}], "currency": "EUR",
    }  # fmt: skip
    found = outcome_of(enquiry, draft)
    assert (found["warnings"], found["refusals"]) == ("2", "3")


UNIT = DrawingError(
    "the drawing does not say its unit. Read in millimetres …", code="units-unknown"
)


@pytest.mark.parametrize("fault", [UNIT, None])
def test_the_list_asks_for_a_unit_in_a_word_and_keeps_the_sentence(
    fault: KerfwrightError | None,
) -> None:
    # None: as kept, by a server that was started anew since.
    kept = {"unusable": UNIT.message, "unusable_code": UNIT.code}
    enquiry = Enquiry(
        id="a", title="a", drawing="a.dxf", drawing_sha256="", added="2026-01-01",
        outcome=MappingProxyType({} if fault else kept),
    )  # fmt: skip
    assert attention_of(enquiry, today=date(2026, 1, 2), fault=fault) == ["unit?"]
    assert trouble_of(enquiry, fault=fault) == UNIT.message


@pytest.mark.parametrize(
    ("due", "said"),
    [
        ("2026-01-05", ["due in 3 days"]),
        ("2027-03-31", []),
        ("2032-01-02", ["wanted only in 6 years: look at the date"]),
        ("9999-12-31", ["wanted only in 7979 years: look at the date"]),
    ],
)
def test_a_day_that_nobody_means_is_looked_at(due: str, said: list[str]) -> None:
    asked = {"material": "D2", "height": "6 mm", "due": due}
    enquiry = Enquiry(
        id="a", title="a", drawing="a.dxf", drawing_sha256="", added="2026-01-01",
        asked=MappingProxyType(asked),
    )  # fmt: skip
    assert attention_of(enquiry, today=date(2026, 1, 2), fault=None) == said


def test_a_drawing_that_is_being_read_lacks_nothing_yet() -> None:
    enquiry = Enquiry(
        id="a", title="a", drawing="a.dxf", drawing_sha256="", added="2026-01-01"
    )  # fmt: skip
    day = date(2026, 1, 2)
    assert attention_of(enquiry, today=day, fault=None, is_reading=True) == ["being read"]
    assert attention_of(enquiry, today=day, fault=None) == ["needs material and height"]
    read = replace(enquiry, outcome=MappingProxyType({"shape": "abc"}))
    assert attention_of(read, today=day, fault=None, is_reading=True) == [
        "needs material and height"
    ]


def test_a_damaged_drawing_is_named_plainly_on_the_list_and_in_full_at_the_job() -> None:
    fault = DrawingError(
        "the drawing is damaged and cannot be read: DXFStructureError: missing 'AcDbSpline' "
        "subclass in SPLINE().",
        code="drawing-damaged",
    )
    enquiry = Enquiry(
        id="a", title="a", drawing="a.dxf", drawing_sha256="", added="2026-01-01"
    )  # fmt: skip
    said = attention_of(enquiry, today=date(2026, 1, 2), fault=fault)
    assert said == ["drawing damaged"]
    assert "AcDbSpline" in trouble_of(enquiry, fault=fault)


def test_another_trouble_is_told_whole_on_the_list() -> None:
    enquiry = Enquiry(id="a", title="a", drawing="a.dxf", drawing_sha256="", added="2026-01-01")
    other = InputError("a layer has no lines", code="x")
    assert attention_of(enquiry, today=date(2026, 1, 2), fault=other) == [other.message]
