"""Every number without a range says why it has none, on the page and in documents."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from starlette.testclient import TestClient

from described_client import DescribedClient
from kerfwright.adapters.json_shapes import estimate_shape, plan_shape, reason_shape
from kerfwright.app.plan_job import Extent
from kerfwright.app.records import JobRequest
from kerfwright.app.sure_words import UNKNOWN, range_why
from kerfwright.foundation.ranges import Range
from kerfwright.foundation.sources import COMMON_PRACTICE, Reason
from kerfwright.wiring import plan_job
from kerfwright.workbench.app import Settings, create_app
from page_client import CLICK, changed, dropped, waited

RANGE = Range(low=1.0, likely=2.0, high=3.0)


def reason(quantity: str, span: Range | None = None, value: float = 2.0) -> Reason:
    return Reason(
        quantity=quantity, value=value, formula="f", inputs=(), source=COMMON_PRACTICE, range=span
    )


def test_a_number_with_a_range_needs_no_word_and_one_without_has_one() -> None:
    assert range_why(reason("feed_mm_per_min", RANGE)) == ""
    assert "range_why" not in reason_shape(reason("feed_mm_per_min", RANGE))
    assert range_why(reason("offset_mm")) == "set, no prediction"
    assert reason_shape(reason("offset_mm"))["range_why"] == "set, no prediction"


def test_a_prediction_without_its_range_is_told_from_a_setting() -> None:
    assert range_why(reason("sparks_khz")) == UNKNOWN
    assert range_why(reason("sparks_khz", Range.exact(2.0))) == UNKNOWN


def bare(document: Any) -> Iterator[str]:
    """Yield the numbers with a formula whose missing range is not explained."""
    if isinstance(document, dict):
        if "formula" in document:
            span = document["range"]
            if span is None or span["low"] == span["high"]:
                said = document.get("range_why", "")
                if said in {"", UNKNOWN}:
                    yield document["quantity"]
            elif document.get("range_why"):
                yield f"{document['quantity']} has both"
        for value in document.values():
            yield from bare(value)
    elif isinstance(document, list):
        for value in document:
            yield from bare(value)


@pytest.mark.parametrize("stack", [None, "8"])
def test_no_null_of_a_plan_or_an_estimate_is_without_its_word(stack: str | None) -> None:
    result = plan_job(
        JobRequest(
            drawing=CLICK,
            material="C270",
            height="6 mm",
            tolerance="±5 µm",
            quantities=(1, 40),
            stack=stack,
        ),
        extent=Extent.PRICED,
    )
    assert result.estimate is not None
    found = [plan_shape(result.plan), estimate_shape(result.estimate)]
    assert list(bare(found)) == []
    spans = {r["quantity"]: r["range"] for r in found[1]["reasons"]}
    for name in ("cutting_min", "wire_kg"):
        assert spans[name]["low"] < spans[name]["likely"] < spans[name]["high"]


def test_no_null_of_the_page_is_without_its_word(tmp_path_factory: pytest.TempPathFactory) -> None:
    app = create_app(Settings(jobs=tmp_path_factory.mktemp("jobs")))
    with DescribedClient(app, base_url="http://127.0.0.1") as found:
        client: TestClient = found
        job = dropped(client)["job"]["id"]
        at = f"/api/jobs/{job}"
        lines = {"material": "C270 brass", "height": "2 mm", "quantity": "6, 40", "stack": "auto"}
        lines |= {"tolerance": "±5 µm", "recast": "3 µm"}
        changed(client, job, client.get(at).json()["revision"], **lines)
        waited(client, job, "draft")
        client.post(f"{at}/stacks", json={"quantity": 6})
        waited(client, job, "stacks")
        client.post(f"{at}/savings")
        waited(client, job, "savings")
        reasons = client.get(f"{at}/reasons").json()
    titles = " ".join(reasons)
    for what in ("finding 1", "saving 1", "way 1", "stack of 6"):
        assert what in titles, what
    assert list(bare(reasons)) == []
