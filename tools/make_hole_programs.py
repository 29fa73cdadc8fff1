"""Make the golden programs of small holes: ``python -m tools.make_hole_programs``."""

from __future__ import annotations

from pathlib import Path

import kerfwright
from kerfwright.app.hole_records import HoleRequest
from kerfwright.wiring import drill_holes

SAMPLES = Path(kerfwright.__file__).parent / "data" / "samples"
HERE = Path(__file__).parents[1] / "tests" / "golden" / "holes"
PROGRAMS = {
    "vented-sleeve.nc": HoleRequest(source=SAMPLES / "vented_sleeve.toml", material="D2"),
    "pivot-plate-oil.nc": HoleRequest(
        source=SAMPLES / "pivot_plate_oil.csv", material="C270", height="8 mm"
    ),
}


def made(name: str) -> str:
    """Return the program of a sample."""
    program = drill_holes(PROGRAMS[name]).program
    if program is None:
        raise SystemExit(f"{name}: the sample gives no program")
    return program


if __name__ == "__main__":
    for one in PROGRAMS:
        (HERE / one).write_text(made(one), encoding="ascii")
