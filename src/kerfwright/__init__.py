"""kerfwright: from a drawing to a proved wire-EDM program and an honest price.

The names below are the face for people who script; everything else may move between releases.
They are imported when first used, so that ``kerfwright --version`` stays quick.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from kerfwright.foundation.version import __version__

if TYPE_CHECKING:
    from kerfwright.adapters.hole_folder import write_hole_job
    from kerfwright.adapters.job_result import write_job
    from kerfwright.app.hole_records import HoleRequest, HoleResult
    from kerfwright.app.records import JobRequest, JobResult
    from kerfwright.foundation.errors import KerfwrightError
    from kerfwright.foundation.findings import Finding, Severity
    from kerfwright.trade.machine import OffsetForm
    from kerfwright.trade.part import LayerUse, LengthUnit
    from kerfwright.wiring import check_drawing, drill_holes, plan_job, prove_text, what_if

__all__ = [
    "Finding",
    "HoleRequest",
    "HoleResult",
    "JobRequest",
    "JobResult",
    "KerfwrightError",
    "LayerUse",
    "LengthUnit",
    "OffsetForm",
    "Severity",
    "__version__",
    "check_drawing",
    "drill_holes",
    "plan_job",
    "prove_text",
    "what_if",
    "write_hole_job",
    "write_job",
]

_HOMES = {
    "Finding": ("kerfwright.foundation.findings", "Finding"),
    "HoleRequest": ("kerfwright.app.hole_records", "HoleRequest"),
    "HoleResult": ("kerfwright.app.hole_records", "HoleResult"),
    "JobRequest": ("kerfwright.app.records", "JobRequest"),
    "JobResult": ("kerfwright.app.records", "JobResult"),
    "KerfwrightError": ("kerfwright.foundation.errors", "KerfwrightError"),
    "LayerUse": ("kerfwright.trade.part", "LayerUse"),
    "LengthUnit": ("kerfwright.trade.part", "LengthUnit"),
    "OffsetForm": ("kerfwright.trade.machine", "OffsetForm"),
    "Severity": ("kerfwright.foundation.findings", "Severity"),
    "check_drawing": ("kerfwright.wiring", "check_drawing"),
    "drill_holes": ("kerfwright.wiring", "drill_holes"),
    "plan_job": ("kerfwright.wiring", "plan_job"),
    "prove_text": ("kerfwright.wiring", "prove_text"),
    "what_if": ("kerfwright.wiring", "what_if"),
    "write_hole_job": ("kerfwright.adapters.hole_folder", "write_hole_job"),
    "write_job": ("kerfwright.adapters.job_result", "write_job"),
}


def __getattr__(name: str) -> Any:
    """Import a public name when it is first asked for."""
    if name not in _HOMES:
        raise AttributeError(f"module 'kerfwright' has no attribute {name!r}")
    module, attribute = _HOMES[name]
    return getattr(import_module(module), attribute)


def __dir__() -> list[str]:
    return sorted(__all__)
