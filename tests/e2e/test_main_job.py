"""The main job on real drawings: a program that its proof passes, or a refusal one can act on."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from tests.soak import SOAK, some

from kerfwright.app.records import JobRequest, JobResult
from kerfwright.foundation.errors import KerfwrightError
from kerfwright.foundation.findings import Severity
from kerfwright.trade.machine import OffsetForm
from kerfwright.trade.part import LengthUnit
from kerfwright.wiring import plan_job

CORPUS = Path(__file__).resolve().parents[3] / "shared" / "corpus" / "dxf"
FEW = {
    "cq_gear", "cq_vslot_mm", "do_gear", "hr_case_dims", "jv_mounting_plate_mm", "lj_full_plate",
    "odri_pulley_wire_edm_rev2", "op_ring_r12", "os_ellipse_rot", "s76_fan120_dup",
    "sk_121_splines_in", "tm_ae_r2013_binary", "tm_cycloidal_in", "tm_wrench_in",
    "wd_nema34_in_clean", "os_decimal_comma", "fe_im",
}  # fmt: skip


def drawings() -> Iterator[Path]:
    for path in sorted(CORPUS.glob("*.dxf")):
        if path.stem in FEW or SOAK:
            yield path


def job(drawing: Path, **changes: object) -> JobResult:
    request = JobRequest(drawing=drawing, material="D2", height="10 mm", tolerance="0.005 mm")
    request = replace(request, **changes)  # type: ignore[arg-type]
    try:
        return plan_job(request)
    except KerfwrightError as error:
        if not error.code.startswith("unit"):
            raise
    unit = LengthUnit.INCH if "_in" in drawing.stem else LengthUnit.MILLIMETRE
    return plan_job(replace(request, units=unit))


def attempted(drawing: Path, **changes: object) -> JobResult | KerfwrightError:
    try:
        return job(drawing, **changes)
    except KerfwrightError as error:
        return error


needs_corpus = pytest.mark.skipif(
    not CORPUS.is_dir(), reason="the corpus of real drawings is not beside this checkout"
)


@needs_corpus
@pytest.mark.corpus
@pytest.mark.parametrize(
    ("drawing", "machine"),
    [
        *((drawing, "generic-mm") for drawing in drawings()),
        *((drawing, "generic-inch") for drawing in some(list(drawings()))),
    ],
    ids=lambda p: p.stem if isinstance(p, Path) else p,
)
def test_a_real_drawing_gives_a_proved_program_or_a_refusal(drawing: Path, machine: str) -> None:
    result = attempted(drawing, machine=machine)
    if isinstance(result, KerfwrightError):
        assert result.code
        assert drawing.name in str(result)
        return
    refused = [f for f in result.findings if f.severity is Severity.REFUSAL]
    assert all(f.message and f.remedy for f in refused), refused
    if result.proof is None:
        assert refused
        assert result.program is None
        return
    assert result.proof.passed, [f for f in result.proof.findings if f.severity is Severity.REFUSAL]
    assert result.program
    # 0.1 µm and half the last digit of the program (0.05 µm, or 0.13 µm in inches).
    assert result.proof.max_gouge_um <= 0.1 + (0.05 if machine == "generic-mm" else 0.13)
    cut = {c.target.id for c in result.plan.contours}
    said = {f.where.contour_id for f in refused}
    assert {c.id for c in result.part.contours} <= cut | said


@needs_corpus
@pytest.mark.corpus
@pytest.mark.parametrize("name", ["cq_vslot_mm", "jv_mounting_plate_mm", "s76_fan120_dup"])
def test_the_controller_form_of_a_real_drawing_is_proved_too(name: str) -> None:
    result = job(CORPUS / f"{name}.dxf", offset_form=OffsetForm.CONTROLLER)
    assert result.proof is not None
    assert result.proof.passed
    assert result.program is not None
    assert "G42 D1" in result.program
