"""All figures of the process pages."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Final

from tools.figures import cutting, learned
from tools.figures.records import Figure

FOLDER: Final = Path(__file__).parents[2] / "docs" / "images" / "process"
FIGURES: Final[dict[str, Callable[[], Figure]]] = {
    "area-rate": cutting.area_rate,
    "spark-surface": cutting.spark_surface,
    "crater-depth": cutting.crater_depth,
    "wire-temperature": cutting.wire_heat,
    "break-current": cutting.break_current,
    "lag-and-barrel": cutting.lag,
    "corner": cutting.corner,
    "debris": cutting.debris,
    "nozzle-gap": cutting.nozzle_gap,
    "small-holes": cutting.small_holes,
    "learning": learned.learning,
    "coverage": learned.coverage,
}
