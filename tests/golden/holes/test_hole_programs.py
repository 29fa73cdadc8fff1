"""Programs of the sample jobs as they were read through line by line.

``python -m tools.make_hole_programs`` makes them anew; read the difference.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from tools.make_hole_programs import PROGRAMS, made

HERE = Path(__file__).parent


@pytest.mark.parametrize("name", PROGRAMS)
def test_a_sample_gives_the_program_that_was_read_through(name: str) -> None:
    assert made(name) == (HERE / name).read_text(encoding="ascii")
