"""A solid read in a worker, and kept beside its file for all that is computed of it."""

from __future__ import annotations

from pathlib import Path

from kerfwright.app.enquiries import Asked
from kerfwright.workbench.read_parts import HowRead, read_drawn
from kerfwright.workbench.solids_read import READING_LINES
from kerfwright.workbench.workers import Report


def read(drawing: Path, asked: Asked, sha256: str, progress: Report) -> None:
    """Read a solid as its lines ask.

    Raises
    ------
    KerfwrightError
        As :func:`kerfwright.adapters.step.read_solid`.
    """
    progress("reading the solid", 0.0)
    lines = {name: asked[name] for name in READING_LINES if name in asked}
    read_drawn(drawing, HowRead.as_asked(lines, sha256))
