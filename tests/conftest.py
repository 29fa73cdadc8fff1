"""Parts, tables and machines that many tests share."""

from __future__ import annotations

import gc
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

import pytest

from kerfwright.adapters.machines import load_machine
from kerfwright.adapters.tables import Tables, load_tables
from kerfwright.geometry.contour import Contour
from kerfwright.trade.machine import Machine
from kerfwright.trade.part import GivenStart, LengthUnit, Part, PartContour, Role
from kerfwright.trade.requirement import Requirement

PartMaker = Callable[..., Part]


def pytest_collection_finish(session: pytest.Session) -> None:
    # Some hundred thousand objects of modules and tests stay to the end: not looked at again.
    gc.collect()
    gc.freeze()


def box(x0: float, y0: float, x1: float, y1: float) -> Contour:
    """Return a counter-clockwise rectangle."""
    return Contour.from_rows([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])


@pytest.fixture(scope="session")
def tables() -> Tables:
    return load_tables()


@pytest.fixture(scope="session")
def machine() -> Machine:
    return load_machine()


@pytest.fixture(scope="session")
def make_part() -> PartMaker:
    """Make a part from (role, contour, parent id); ids are given in order, sense is put right."""

    def make(
        contours: Sequence[tuple[Role, Contour, str | None]],
        *,
        starts: Sequence[tuple[float, float, float]] = (),
        stock: Contour | None = None,
    ) -> Part:
        counts = {Role.OUTLINE: 0, Role.OPENING: 0}
        made = []
        for role, drawn, parent in contours:
            counts[role] += 1
            letter = "P" if role is Role.OUTLINE else "H"
            contour = drawn
            if (drawn.area_mm2 > 0) != (role is Role.OUTLINE):
                contour = drawn.reversed()
            made.append(
                PartContour(
                    id=f"{letter}{counts[role]}",
                    role=role,
                    contour=contour,
                    layer="0",
                    entities=("LINE 1",),
                    parent_id=parent,
                )
            )
        return Part(
            name="test.dxf",
            sha256="0" * 64,
            drawing_unit=LengthUnit.MILLIMETRE,
            contours=tuple(made),
            given_starts=tuple(GivenStart(x_mm=x, y_mm=y, diameter_mm=d) for x, y, d in starts),
            stock=stock,
            construction=(),
            left_out={},
            findings=(),
        )

    return make


@pytest.fixture(scope="session")
def requirement(tables: Tables, machine: Machine) -> Requirement:
    """Tool steel, 20 mm, three passes."""
    return Requirement(
        material=tables.catalogue.material("D2"),
        height_mm=20.0,
        machine=machine,
        tolerance_um=5.0,
        ra_um=1.1,
    )


@pytest.fixture(scope="session")
def corpus() -> Path:
    """Folder of real drawings beside the checkout; the test is skipped where it is absent."""
    folder = Path(__file__).resolve().parents[2] / "shared" / "corpus"
    if not folder.is_dir():
        pytest.skip("the corpus of real drawings is not beside this checkout")
    return folder


@pytest.fixture(scope="module")
def cheap_passwords() -> Iterator[None]:
    """Passwords at the least cost there is: that of today is held to its figures by itself."""
    from argon2 import PasswordHasher

    from kerfwright.adapters.seats import passwords

    cheap = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(passwords, "_hasher", lambda: cheap)
        passwords._of_nobody.cache_clear()
        yield
    passwords._of_nobody.cache_clear()


@pytest.fixture(scope="session")
def postgres_server() -> Iterator[str]:
    """Address of a PostgreSQL server of this session; skipped visibly where none is installed."""
    from tests.postgres_server import running

    with running() as address:
        yield address
