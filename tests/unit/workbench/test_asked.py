"""Lines of an enquiry are held to the tables by the server, which loads nothing that computes."""

from __future__ import annotations

import subprocess
import sys

import pytest

from kerfwright.foundation.errors import KerfwrightError
from kerfwright.workbench.asked import check_asked

COMPUTING = (
    "kerfwright.wiring",
    "kerfwright.app.plan_job",
    "kerfwright.proof.prove",
    "kerfwright.workbench.tasks",
    "kerfwright.adapters.json_shapes",
    "ezdxf",
    "scipy.stats",
)


def test_a_line_that_cannot_be_meant_is_refused_with_its_reason() -> None:
    check_asked("height", "6 mm")
    with pytest.raises(KerfwrightError, match="no unit"):
        check_asked("height", "6")


def test_the_first_line_after_a_start_waits_for_nothing_that_computes() -> None:
    code = (
        "import sys\nimport kerfwright.workbench.app\n"
        "from kerfwright.workbench.asked import check_asked\n"
        "for name, text in (('material', 'C270 brass'), ('height', '6 mm'),"
        " ('tolerance', '±0.005 mm'), ('finish', 'Ra 0.8 µm'), ('machine', 'generic-inch')):\n"
        "    check_asked(name, text)\n"
        f"print([m for m in {COMPUTING} if m in sys.modules])"
    )
    done = subprocess.run(  # noqa: S603 our own text
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "[]"
