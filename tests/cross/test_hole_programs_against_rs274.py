"""Our reader of drilling programs against the RS-274/NGC interpreter of linuxcnc-uspace."""

from __future__ import annotations

import os
import re
import subprocess
from pathlib import Path

import numpy as np
import pytest

from hole_samples import mixed, planned, program_of
from kerfwright.adapters.drills import load_drill
from kerfwright.nc.drill_timeline import DrillMove
from kerfwright.nc.reader.drilling import read_drilling

_ROOT = Path(__file__).parents[2]
_RS274 = Path(os.environ.get("KERFWRIGHT_RS274", _ROOT / ".cache" / "rs274" / "rs274"))
_GOLDEN = sorted((_ROOT / "tests" / "golden" / "holes").glob("*.nc"))
_CANON = re.compile(r"(STRAIGHT_TRAVERSE|STRAIGHT_FEED)\(([^)]*)\)")
_OWN = re.compile(r"^(?:M12[0-9].*|T[0-9]+ M06|M00)$")

pytestmark = [
    pytest.mark.outside,
    pytest.mark.skipif(
        not _RS274.is_file(),
        reason="no rs274 interpreter here: run .ci/rs274, or set KERFWRIGHT_RS274",
    ),
]


def theirs(text: str, folder: Path) -> np.ndarray:
    """Return rapid or feed, X Y Z A B C after each move; words of the machine are blanked."""
    lines = [re.sub(r"\([^)]*\)", "", line) for line in text.splitlines()]
    kept = [line for line in lines if line != "%" and not _OWN.match(line)]
    (folder / "p.ngc").write_text("\n".join(kept) + "\n")
    (folder / "t.tbl").write_text("T1 P1 D1\n")
    (folder / "v.var").write_text("")
    done = subprocess.run(  # noqa: S603 the interpreter named above
        [_RS274, "-g", "-n", "2", "-t", folder / "t.tbl", "-v", folder / "v.var", folder / "p.ngc"],
        env={**os.environ, "HOME": str(folder)}, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert "PROGRAM_END" in done.stdout, done.stderr
    return np.array(
        [
            [float(name == "STRAIGHT_TRAVERSE"), *map(float, inner.split(",")[:6])]
            for name, inner in _CANON.findall(done.stdout)
        ]
    )


def compare(text: str, folder: Path) -> None:
    machine = load_drill()
    ours = [s for s in read_drilling(text, machine=machine) if isinstance(s, DrillMove)]
    outside = theirs(text, folder)
    assert len(ours) == len(outside) > 0
    np.testing.assert_array_equal([m.is_rapid for m in ours], outside[:, 0])
    # A touch changes nothing here: the height it calls is that of the next feed move's start.
    np.testing.assert_allclose(
        [(m.x_mm, m.y_mm, m.z_mm) for m in ours], outside[:, 1:4], rtol=0, atol=6e-5
    )
    letters = [a.letter.value for a in machine.axes]
    columns = [4 + "ABC".index(letter) for letter in letters]
    turned = [(m.angles_deg or (0.0,) * len(letters)) for m in ours]
    np.testing.assert_allclose(turned, outside[:, columns], rtol=0, atol=6e-5)


def test_a_program_of_a_plan_is_read_alike(tmp_path: Path) -> None:
    compare(program_of(planned(*mixed()))[0], tmp_path)


@pytest.mark.parametrize("path", _GOLDEN, ids=lambda p: p.stem)
def test_the_golden_programs_are_read_alike(path: Path, tmp_path: Path) -> None:
    compare(path.read_text(encoding="ascii"), tmp_path)
