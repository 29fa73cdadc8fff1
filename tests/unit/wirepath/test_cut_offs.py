"""Cut-offs that take longer than somebody stands by: said before the proof refuses them."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import ezdxf
import pytest

from kerfwright.adapters.tables import load_tables
from kerfwright.app.records import JobRequest, JobResult
from kerfwright.foundation.findings import Finding
from kerfwright.process.technology import Flushing
from kerfwright.proof.pieces import ATTENDED_S
from kerfwright.wiring import plan_job


@pytest.fixture(scope="module")
def tall(tmp_path_factory: pytest.TempPathFactory) -> JobRequest:
    """A carbide punch for a clock's pallets, so high that a nozzle cannot close on it."""
    document = ezdxf.new(units=4)
    corners = [(0, 0), (12, 0), (12, 20), (0, 20)]
    document.modelspace().add_lwpolyline(corners, close=True)
    place: Path = tmp_path_factory.mktemp("tall") / "punch.dxf"
    document.saveas(place)
    return JobRequest(
        drawing=place,
        material="WC",
        height="150 mm",
        tolerance="±0.01 mm",
        nozzles=Flushing.ONE_OPEN,
    )


def slow(job: JobResult) -> list[Finding]:
    return [f for f in job.findings if f.code == "cut-off-too-slow"]


def test_the_wait_of_the_rules_is_that_of_the_proof() -> None:
    assert load_tables().rules.cut_off_wait_min * 60 == ATTENDED_S


def test_a_slow_cut_off_is_said_with_a_tab_that_is_through_in_time(tall: JobRequest) -> None:
    refused = plan_job(tall)
    assert refused.proof is not None
    assert "piece-falls-unattended" in {f.code for f in refused.proof.findings}
    (said,) = slow(refused)
    assert said.data["minutes"] > said.data["limit_min"]
    (width,) = re.findall(r"--tab-width 'P1: ([\d.]+ mm)'", said.remedy)
    mended = plan_job(replace(tall, tab_widths={"P1": width}))
    assert slow(mended) == []
    assert mended.proof is not None
    assert mended.proof.passed


def test_a_quick_cut_off_has_no_word(tall: JobRequest) -> None:
    assert slow(plan_job(replace(tall, height="20 mm", nozzles=Flushing.SEALED))) == []
