"""The week of the demo: eight kept jobs of one movement and an observatory on three machines."""

from __future__ import annotations

from datetime import datetime
from importlib import resources
from pathlib import Path
from typing import Any, Final

from kerfwright.adapters.job_result import write_job
from kerfwright.adapters.park_text import PARK
from kerfwright.adapters.whole_files import write_whole
from kerfwright.app.week import WeekResult
from kerfwright.cli import job
from kerfwright.cli.output import progress
from kerfwright.wiring.week import WeekRequest, week_of

_BRASS: Final[dict[str, Any]] = {
    "material": "C270 brass", "height": "2.5 mm", "tolerance": "±0.01 mm"
}  # fmt: skip
_STEEL: Final[dict[str, Any]] = {"material": "D2", "height": "20 mm", "tolerance": "±0.005 mm"}
JOBS: Final[dict[str, dict[str, Any]]] = {
    "escape_wheel": _BRASS | {"height": "6 mm"},
    "back_cock": _BRASS,
    "rack_lever": _BRASS,
    "click": _BRASS,
    "movement_plate": _BRASS,
    "spacer": _BRASS,
    "hand_die": _STEEL,
    "pawl_punch": _STEEL,
}
BEGIN: Final = datetime.fromisoformat("2026-03-02 07:00")
"""A Monday, so that the demo gives the same week on any day."""
_STEPS: Final = 2500


def make_week(out: Path) -> WeekResult:
    """Plan the sample jobs into folders below one, with the park, and put them on machines."""
    samples = resources.files("kerfwright") / "data" / "samples"
    write_whole(out / PARK, (samples / PARK).read_text(encoding="utf-8"))
    for name, wanted in JOBS.items():
        with resources.as_file(samples / f"{name}.dxf") as drawing:
            request = job.request_from(wanted | {"drawing": drawing})
            write_job(job.compute(request), out / name.replace("_", "-"))
    return week_of(WeekRequest(folder=out, begin=BEGIN, steps=_STEPS), tell=progress())
