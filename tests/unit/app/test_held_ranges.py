"""What a pass holds has its range wherever it is shown: table, documents, page and sheets."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from importlib.resources import files
from pathlib import Path

import pytest

from kerfwright.adapters.json_shapes import plan_shape
from kerfwright.app.plan_job import Extent
from kerfwright.app.records import JobRequest, JobResult
from kerfwright.cli.run import run
from kerfwright.foundation.ranges import Range
from kerfwright.wiring import answers, plan_job
from kerfwright.wiring.stacks import sheets_of
from kerfwright.workbench.tasks import draft

CLICK = Path(str(files("kerfwright") / "data/samples/click.dxf"))
ASKED = JobRequest(drawing=CLICK, material="304", height="0.8 mm", tolerance="±2.5 µm")


@cache
def job(stack: str | None = None) -> JobResult:
    return plan_job(replace(ASKED, quantities=(90,), stack=stack), extent=Extent.PRICED)


def test_the_range_of_what_a_pass_holds_is_that_of_its_reason() -> None:
    found = {a.path: a.reason.range for a in answers(job())}
    written = plan_shape(job().plan)["passes"]
    for one, shape in zip(job().plan.passes, written, strict=True):
        span = one.tolerance_range_um
        assert span == found[f"plan/passes/{one.number}/tolerance_um"]
        assert span.low <= one.tolerance_um <= span.high
        assert shape["ranges"]["tolerance_um"]["high"] == pytest.approx(span.high, abs=1e-6)
    # A factor of 1.6 either way (tolerance_sigma_log of passes.toml), floors aside.
    rough = job().plan.passes[0].tolerance_range_um
    assert rough.high / rough.likely == pytest.approx(1.6, abs=0.05)


def test_no_pass_is_expected_to_hold_better_than_the_machine_s_best() -> None:
    best = job().requirement.machine.best_tolerance_um
    assert all(one.tolerance_range_um.low >= best for one in job().plan.passes)


def test_a_pass_of_which_nothing_says_how_sure_it_is_has_a_range_of_no_width() -> None:
    one = replace(job().plan.passes[0], reasons=())
    assert one.tolerance_range_um == Range.exact(one.tolerance_um)


def test_a_sheet_of_a_stack_is_as_sure_as_a_single_one_off_by_its_wall() -> None:
    single = job().plan.passes[-1].tolerance_range_um
    for sheet in sheets_of(job("90")):
        off = abs(sheet.wall_um)
        assert sheet.range_um.likely == pytest.approx(sheet.holds_um)
        assert sheet.range_um.low == pytest.approx(single.low + off)
        assert sheet.range_um.high == pytest.approx(single.high + off)


def test_the_table_of_passes_has_the_range_below_what_it_holds(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["--material", "304", "--height", "0.8mm", "--tolerance", "0.0025mm"]
    run(["plan", str(CLICK), *words, "-o", str(tmp_path / "job")])
    text = capsys.readouterr().out
    table = next(part for part in text.split("10–90 % ")[2:] if "wall off by" in part)
    assert "holds ± µm" in table.splitlines()[0]
    span = job().plan.passes[0].tolerance_range_um
    assert f"{span.low:.1f}–{span.high:.1f}" in table


def test_the_page_has_the_range_of_what_each_pass_holds() -> None:
    made = draft(ASKED, {"tolerance": "±2.5 µm"}, CLICK, "held", lambda _step, _share: None).draft
    for shown, one in zip(made["passes"], job().plan.passes, strict=True):
        span = shown["tolerance_range_um"]
        assert span["low"] <= shown["tolerance_um"] == span["likely"] <= span["high"]
        assert span["high"] == pytest.approx(one.tolerance_range_um.high, abs=1e-6)
