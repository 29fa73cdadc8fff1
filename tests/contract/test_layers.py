"""The contract on layers holds, and catches what it is there to catch."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PACKAGE = ROOT / "src" / "kerfwright"


def lint(project: Path) -> subprocess.CompletedProcess[str]:
    program = Path(sys.executable).with_name("lint-imports")
    return subprocess.run(  # noqa: S603 our own tool, of the same environment
        [str(program), "--no-cache"],
        cwd=project,
        env={**os.environ, "PYTHONPATH": str(project / "src")},
        capture_output=True,
        text=True,
        check=False,
    )


def planted(folder: Path, module: str, text: str) -> subprocess.CompletedProcess[str]:
    """Copy the package, add a line or a module, and run the linter there."""
    shutil.copytree(PACKAGE, folder / "src" / "kerfwright", ignore=shutil.ignore_patterns("data"))
    shutil.copy(ROOT / "pyproject.toml", folder)
    target = folder / "src" / "kerfwright" / module
    before = target.read_text(encoding="utf-8") if target.exists() else ""
    target.write_text(f"{before}\n{text}\n", encoding="utf-8")
    return lint(folder)


def test_the_package_keeps_every_contract() -> None:
    done = lint(ROOT)
    assert done.returncode == 0, done.stdout


@pytest.mark.parametrize(
    ("module", "text", "contract"),
    [
        ("proof/__init__.py", "import kerfwright.planning.plan", "The proof never imports a maker"),
        ("geometry/contour.py", "import kerfwright.trade.part", "Layers: imports point down"),
        (
            "nc/reader/__init__.py",
            "import kerfwright.nc.writer",
            "The reader of programs and the writer of programs are apart",
        ),
        ("geometry/contour.py", "import ezdxf", "Input and output libraries live at the edge"),
        (
            "scheduling/check.py",
            "import kerfwright.scheduling.lists",
            "The check of a timetable never imports what makes it",
        ),
        ("planning/plan.py", "import json", "Input and output libraries live at the edge"),
    ],
)
def test_a_planted_import_breaks_its_contract(
    tmp_path: Path, module: str, text: str, contract: str
) -> None:
    done = planted(tmp_path, module, text)
    assert done.returncode != 0
    lines = [line for line in done.stdout.splitlines() if line.startswith(contract)]
    assert any("BROKEN" in line for line in lines), done.stdout


def test_a_new_module_beside_the_layers_is_refused(tmp_path: Path) -> None:
    done = planted(tmp_path, "helpers.py", '"""A drawer for everything."""')
    assert done.returncode != 0
    assert "helpers" in done.stdout + done.stderr
