"""The library face: a small set of names that stay."""

from __future__ import annotations

import subprocess
import sys

import pytest

import kerfwright

FACE = {
    "Finding",
    "HoleRequest",
    "HoleResult",
    "JobRequest",
    "JobResult",
    "KerfwrightError",
    "LayerUse",
    "LengthUnit",
    "OffsetForm",
    "Severity",
    "__version__",
    "check_drawing",
    "drill_holes",
    "plan_job",
    "prove_text",
    "what_if",
    "write_hole_job",
    "write_job",
}
HEAVY = ("numpy", "scipy", "shapely", "ezdxf", "rich")


def loaded(code: str) -> list[str]:
    """Return the lines that a fresh interpreter prints; the last names what was loaded."""
    show = f"\nimport sys\nprint([m for m in {HEAVY} if m in sys.modules])"
    done = subprocess.run(  # noqa: S603 our own text
        [sys.executable, "-c", code + show], capture_output=True, text=True, check=True
    )
    return done.stdout.splitlines()


def test_the_public_names_are_these() -> None:
    assert set(kerfwright.__all__) == FACE
    assert set(dir(kerfwright)) >= FACE


def test_every_public_name_can_be_had() -> None:
    assert all(getattr(kerfwright, name) is not None for name in FACE)


def test_a_wrong_name_is_an_attribute_error_that_names_it() -> None:
    with pytest.raises(AttributeError, match="plan_jub"):
        _ = kerfwright.plan_jub


def test_importing_the_package_loads_no_heavy_library() -> None:
    assert loaded("import kerfwright") == ["[]"]


def test_asking_for_the_version_or_for_help_loads_no_heavy_library() -> None:
    run = "from kerfwright.cli.run import run\nrun(['--version'])"
    assert loaded(run) == [f"kerfwright, version {kerfwright.__version__}", "[]"]
    assert loaded("from kerfwright.cli.run import run\nrun(['--help'])")[-1] == "[]"
