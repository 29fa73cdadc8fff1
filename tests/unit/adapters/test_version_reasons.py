"""A price of before opens the reason that was kept with it, or says that none was."""

from __future__ import annotations

import json
from collections.abc import Mapping
from decimal import Decimal
from pathlib import Path

import pytest

from kerfwright.adapters.job_folder import write_job
from kerfwright.adapters.job_result import contents_of
from kerfwright.adapters.version_reasons import version_reasons
from kerfwright.app.records import JobRequest, JobResult
from kerfwright.foundation.errors import UnknownNameError
from kerfwright.wiring import plan_job

CLICK = Path(__file__).parents[3] / "src" / "kerfwright" / "data" / "samples" / "click.dxf"


@pytest.fixture(scope="module")
def planned() -> JobResult:
    return plan_job(JobRequest(drawing=CLICK, material="D2", height="20 mm", quantities=(1, 5)))


def kept(folder: Path, estimate: str | None) -> None:
    files: Mapping[str, str] = {"plan.json": "{}"}
    write_job(folder, files if estimate is None else {**files, "estimate.json": estimate})


def test_each_price_and_line_of_a_version_has_the_reason_kept_with_it(
    planned: JobResult, tmp_path: Path
) -> None:
    write_job(tmp_path, contents_of(planned, tmp_path))
    assert planned.estimate is not None
    found = {one.path: one for one in version_reasons(tmp_path, 1)}
    for price in planned.estimate.prices:
        at = f"estimate/prices/{price.quantity}"
        each = found[f"{at}/each"].reason
        assert each.value == float(price.each)
        lines = dict(each.inputs)
        quantity = Decimal(str(lines.pop("quantity")))
        # The lines that are told add up to the price that is told.
        total = sum(Decimal(str(value)) for value in lines.values())
        assert abs(total / quantity - price.each) <= Decimal("0.005")
        assert each.range is not None
        assert each.range.low < each.value < each.range.high
        assert each.shares
        for line in price.lines:
            reason = found[f"{at}/lines/{line.item}"].reason
            assert (reason.value, reason.formula) == (float(line.likely), line.basis)


@pytest.mark.parametrize(
    "estimate",
    [
        None,
        "no JSON",
        json.dumps({"currency": "EUR", "prices": [{"quantity": 5, "each": "12.50"}]}),
        json.dumps({"currency": "EUR", "prices": [{"quantity": 5, "each": "x", "lines": []}]}),
    ],
)
def test_a_version_without_what_its_price_is_made_of_says_so(
    estimate: str | None, tmp_path: Path
) -> None:
    kept(tmp_path, estimate)
    with pytest.raises(UnknownNameError, match="version 1 keeps no reason of its price") as caught:
        version_reasons(tmp_path, 1)
    assert caught.value.code == "version-reason-unknown"
    assert "Ask this version again" in (caught.value.remedy or "")
