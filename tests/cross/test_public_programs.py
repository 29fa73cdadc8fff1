"""Milling programs of NIST's SMS Test Bed (../shared/corpus/nc, public domain): three axes and a
dialect of their own.  A wire machine must refuse them, at a place and for a reason.
"""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest

from kerfwright.adapters.machines import load_machine
from kerfwright.foundation.errors import ProgramError
from kerfwright.nc.reader import read_program

_FOLDER = Path(__file__).parents[3] / "shared" / "corpus" / "nc"
_NAMES = [f"nist_d2mi_827-9999-904_{n}.NC" for n in ("FIXT", "OP1", "OP2")]


def _text(name: str) -> str:
    file = _FOLDER / name
    if not file.is_file():
        pytest.skip(f"no {name} in ../shared/corpus/nc")
    return file.read_text(encoding="latin-1")


def _refusal(text: str) -> ProgramError:
    with pytest.raises(ProgramError) as caught:
        read_program(text, machine=load_machine("generic-inch"))
    return caught.value


@pytest.mark.corpus
@pytest.mark.parametrize("name", _NAMES)
def test_a_public_milling_program_is_refused_at_its_program_number(name: str) -> None:
    text = _text(name)
    assert _refusal(text).code == "character-not-ascii"
    error = _refusal(text.encode("ascii", "replace").decode("ascii"))
    assert (error.code, error.line, error.column) == ("word-unknown", 2, 1)
    assert error.message.startswith("O100")


@pytest.mark.corpus
@pytest.mark.parametrize(
    ("name", "arcs", "mismatch_in"),
    [(_NAMES[0], 40, 0.000041), (_NAMES[1], 197, 0.000099), (_NAMES[2], 509, 0.000091)],
)
def test_the_arcs_of_a_public_program_have_the_mismatch_counted_for_it(
    name: str, arcs: int, mismatch_in: float
) -> None:
    """Counts and largest radius mismatch are those of ../shared/corpus/nc/README.md.

    Of each line only N, G00 to G03, X, Y, I, J are kept; heights and offsets are left out, so the
    programmed path of the plane is what is read.
    """
    line = read_program(_plane_only(_text(name)), machine=load_machine("generic-inch"))
    is_arc = line.turn != 0
    first = np.hypot(*(line.start_mm - line.centre_mm)[is_arc].T)
    last = np.hypot(*(line.end_mm - line.centre_mm)[is_arc].T)
    assert int(is_arc.sum()) == arcs
    assert float(np.abs(first - last).max()) / 25.4 == pytest.approx(mismatch_in, abs=1e-6)


def _plane_only(text: str) -> str:
    """Return the moves in the plane, each as a feed move, between our own head and end."""
    kept = ["G20 G90", "G00 X0 Y0", "M101", "G01 F1"]
    motion, is_incremental = 0, False
    for line in text.splitlines():
        words = re.findall(r"([A-Z])([+-]?[0-9.]+)", re.sub(r"\([^)]*\)|[#O].*", "", line))
        codes = [float(v) for letter, v in words if letter == "G"]
        is_incremental = 91 in codes or (is_incremental and 90 not in codes)
        motion = next((int(c) for c in codes if c in {0, 1, 2, 3}), motion)
        if {10, 28, 43, 53} & set(codes) or is_incremental:
            continue
        axes = [letter + v for letter, v in words if letter in "XYIJ"]
        if axes:
            kept.append(" ".join([f"G{max(motion, 1):02d}", *axes]))
    return "\n".join([*kept, "M102", "M30", ""])
