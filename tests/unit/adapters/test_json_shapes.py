from __future__ import annotations

import json

import pytest

import handmade
from kerfwright.adapters import json_shapes
from kerfwright.foundation.errors import InputError


def test_the_plan_document_carries_the_promised_keys() -> None:
    plan = handmade.plan(handmade.wheel())
    document = json.loads(json_shapes.to_text(json_shapes.plan_shape(plan)))
    assert (document["format"], document["version"], document["units"]) == (
        "kerfwright-plan",
        3,
        "mm",
    )
    assert document["wire_diameter_mm"] == 0.25
    assert document["height_mm"] == 25.0
    assert {"id", "kind", "vertices"} <= set(document["contours"][0])
    assert {c["kind"] for c in document["contours"]} == {"opening", "outline"}
    assert all(len(v) == 3 for c in document["contours"] for v in c["vertices"])
    assert {
        "number", "kind", "offset_mm", "feed_mm_per_min", "gap_um", "stock_um", "ra_um",
        "recast_um", "tolerance_um",
    } <= set(document["passes"][0])  # fmt: skip
    assert [p["kind"] for p in document["passes"]] == ["rough", "skim", "skim", "skim"]
    assert {"id", "contour_id", "kind", "x_mm", "y_mm", "diameter_mm"} <= set(
        document["start_holes"][0]
    )
    assert [o["number"] for o in document["operations"]] == list(range(1, len(plan.operations) + 1))
    assert {s["contour_id"] for s in document["slugs"]} == {"P1", "H1", "H2", "H3", "H4", "H5"}


def test_offsets_in_the_document_obey_the_offset_identity() -> None:
    # o_n = d/2 + g_n + stock of later passes (textbook identity of skim cutting, restated in
    # docs/glossary.md): readers of plan.json may rely on it.
    document = json_shapes.plan_shape(handmade.plan(handmade.wheel()))
    passes = document["passes"]
    for i, one in enumerate(passes):
        later = sum(p["stock_um"] for p in passes[i + 1 :])
        expected = document["wire_diameter_mm"] / 2 + (one["gap_um"] + later) / 1000
        assert one["offset_mm"] == pytest.approx(expected, abs=1e-6)


def test_a_number_that_is_not_finite_is_never_written() -> None:
    with pytest.raises(ValueError, match="JSON"):
        json_shapes.to_text({"x": float("nan")})


def test_money_keeps_its_cents_as_text() -> None:
    document = json_shapes.estimate_shape(handmade.estimate())
    assert document["prices"][0]["likely"] == "120.00"


def test_a_proof_document_says_whether_it_passed_and_where_not() -> None:
    plan = handmade.plan(handmade.wheel())
    document = json_shapes.proof_shape(handmade.proof(plan, passed=False))
    assert document["passed"] is False
    assert document["findings"][0]["where"] == {
        "contour_id": "H1", "x_mm": 1.0, "y_mm": 2.0, "line": 12,
    }  # fmt: skip
    assert document["program_sha256"] == "cd" * 32


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"version": 1}, "json-format"),
        ({"format": "x"}, "json-format"),
        ({"contours": [{"id": "H1"}]}, "json-broken"),
        ({"passes": None}, "json-broken"),
        ({"proof_tolerance_um": None}, "job-refused"),
    ],
)
def test_a_document_of_another_shape_is_an_input_error(
    change: dict[str, object], code: str
) -> None:
    plan = handmade.plan(handmade.wheel())
    document = json_shapes.plan_shape(plan, claim=handmade.claim(plan)) | change
    with pytest.raises(InputError) as caught:
        json_shapes.claim_from(document)
    assert caught.value.code == code
