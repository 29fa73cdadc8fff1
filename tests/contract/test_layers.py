"""The contract on layers holds, and catches what it is there to catch."""

from __future__ import annotations

import os
import re
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


def copied(folder: Path) -> Path:
    """Copy the package with its contract, and return it."""
    package = folder / "src" / "kerfwright"
    shutil.copytree(PACKAGE, package, ignore=shutil.ignore_patterns("data", "static"))
    shutil.copy(ROOT / "pyproject.toml", folder)
    return package


def test_the_package_keeps_every_contract() -> None:
    done = lint(ROOT)
    assert done.returncode == 0, done.stdout


PLANTED = (
    ("proof/__init__.py", "kerfwright.planning.plan", "The proof never imports a maker"),
    ("geometry/contour.py", "kerfwright.trade.part", "Layers: imports point down"),
    (
        "nc/reader/__init__.py",
        "kerfwright.nc.writer",
        "The reader of programs and the writer of programs are apart",
    ),
    ("geometry/contour.py", "ezdxf", "Input and output libraries live at the edge"),
    (
        "scheduling/check.py",
        "kerfwright.scheduling.lists",
        "The check of a timetable never imports what makes it",
    ),
    ("planning/plan.py", "json", "Input and output libraries live at the edge"),
)
"""Where a line is added, what it imports, and the contract that it breaks."""


@pytest.fixture(scope="module")
def said(tmp_path_factory: pytest.TempPathFactory) -> str:
    """Return what the linter says of the package with every import planted."""
    folder = tmp_path_factory.mktemp("planted")
    package = copied(folder)
    for module, imported, _ in PLANTED:
        with (package / module).open("a", encoding="utf-8") as text:
            text.write(f"\nimport {imported}\n")
    done = lint(folder)
    assert done.returncode != 0
    return done.stdout


@pytest.mark.parametrize(("module", "imported", "contract"), PLANTED)
def test_a_planted_import_breaks_its_contract(
    said: str, module: str, imported: str, contract: str
) -> None:
    results, _, reasons = said.partition("Broken contracts")
    lines = [line for line in results.splitlines() if line.startswith(contract)]
    assert any("BROKEN" in line for line in lines), said
    # Told below the contract's own head, for one import may break several.
    _, _, told = reasons.partition(f"\n{contract}")
    own = re.split(r"\n[^\n]+\n-{5,}\n", told.partition("---\n")[2])[0]
    name = "kerfwright." + module.removesuffix(".py").removesuffix("/__init__").replace("/", ".")
    assert f"{name} -> {imported} (" in own, said


def test_a_new_module_beside_the_layers_is_refused(tmp_path: Path) -> None:
    (copied(tmp_path) / "helpers.py").write_text('"""A drawer for everything."""\n', "utf-8")
    done = lint(tmp_path)
    assert done.returncode != 0
    assert "helpers" in done.stdout + done.stderr
