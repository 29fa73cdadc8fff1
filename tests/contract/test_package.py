"""What is shipped holds the built page, and nothing that only builds it."""

from __future__ import annotations

import os
import subprocess
import sys
import tarfile
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
STATIC = "kerfwright/workbench/static/"
BUILT = ROOT / "src" / STATIC / "index.html"

pytestmark = pytest.mark.skipif(not BUILT.exists(), reason="the page is not built here")


@pytest.fixture(scope="module")
def shipped(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with a wheel and an sdist that pack the page as it was built."""
    folder = tmp_path_factory.mktemp("dist")
    done = subprocess.run(  # noqa: S603 our own tool
        [sys.executable, "-m", "build", "--no-isolation", "--sdist", "--wheel", "-o", str(folder)],
        cwd=ROOT,
        env={**os.environ, "KERFWRIGHT_PAGE": "as-is"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return folder


def test_a_wheel_holds_the_built_page(shipped: Path) -> None:
    (wheel,) = shipped.glob("*.whl")
    names = zipfile.ZipFile(wheel).namelist()
    assert STATIC + "index.html" in names
    assert STATIC + "licenses.md" in names
    assert any(name.startswith(STATIC + "assets/") and name.endswith(".js") for name in names)


def test_an_sdist_holds_the_page_and_its_sources_but_no_libraries(shipped: Path) -> None:
    (sdist,) = shipped.glob("*.tar.gz")
    with tarfile.open(sdist) as archive:
        names = archive.getnames()
    assert any(name.endswith(STATIC + "index.html") for name in names)
    assert any(name.endswith("frontend/src/App.svelte") for name in names)
    assert any(name.endswith("/build_frontend.py") for name in names)
    assert not [name for name in names if "node_modules" in name]
