"""Relations that hold for every part: turned, mirrored, in inches, in both forms."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.soak import SOAK

from kerfwright.adapters.machines import load_machine
from kerfwright.adapters.tables import load_tables
from kerfwright.app.plan_job import plan_part
from kerfwright.app.records import JobRequest, JobResult
from kerfwright.foundation.findings import Severity
from kerfwright.geometry.contour import Contour
from kerfwright.trade.machine import OffsetForm
from kerfwright.trade.part import LengthUnit, Part, PartContour, Role
from kerfwright.trade.requirement import Requirement
from kerfwright.wirepath.builder import build_path

TABLES = load_tables()
few = settings(max_examples=300 if SOAK else 12, deadline=None)


@st.composite
def rounded_polygons(draw: st.DrawFn) -> Contour:
    """Return a star-shaped polygon of 10 to 20 mm with some corners rounded."""
    count = draw(st.integers(3, 9))
    radii = [draw(st.floats(8, 14)) for _ in range(count)]
    turn = draw(st.floats(0, 2 * math.pi))
    points = [
        np.array(
            [
                r * math.cos(turn + 2 * math.pi * k / count),
                r * math.sin(turn + 2 * math.pi * k / count),
            ]
        )
        for k, r in enumerate(radii)
    ]
    rows: list[tuple[float, float, float]] = []
    for k, v in enumerate(points):
        radius = draw(st.sampled_from([0.0, 0.3, 1.0, 2.0]))
        a, b = points[k - 1] - v, points[(k + 1) % count] - v
        a, b = a / np.hypot(*a), b / np.hypot(*b)
        cross = a[0] * b[1] - a[1] * b[0]
        inner = math.atan2(abs(cross), float(a @ b))
        cut = radius / math.tan(inner / 2)
        if radius == 0.0 or cut > 2.0 or inner > math.pi - 0.05:
            rows.append((*v, 0.0))
            continue
        bulge = math.tan((math.pi - inner) / 4) * (1 if cross < 0 else -1)
        rows += [(*(v + a * cut), bulge), (*(v + b * cut), 0.0)]
    return Contour.from_rows(rows)


def part_of(outline: Contour, *, hole_mm: float) -> Part:
    if outline.area_mm2 < 0:
        outline = outline.reversed()
    hole = Contour.circle((0.0, 0.0), radius_mm=hole_mm).reversed()
    named = [("P1", Role.OUTLINE, outline, None), ("H1", Role.OPENING, hole, "P1")]
    return Part(
        name="drawn",
        sha256="0" * 64,
        drawing_unit=LengthUnit.MILLIMETRE,
        contours=tuple(
            PartContour(id=i, role=r, contour=c, layer="0", entities=(), parent_id=p)
            for i, r, c, p in named
        ),
        given_starts=(),
        stock=None,
        construction=(),
        left_out={},
        findings=(),
    )


def result_of(
    part: Part, *, machine: str = "generic-mm", form: OffsetForm | None = None
) -> JobResult:
    shop = load_machine(machine)
    if form is not None:
        shop = replace(shop, dialect=replace(shop.dialect, offset_form=form))
    requirement = Requirement(
        material=TABLES.catalogue.material("D2"),
        height_mm=20.0,
        machine=shop,
        tolerance_um=5.0,
        wire=TABLES.catalogue.wire("0.25 hard brass"),
    )
    request = JobRequest(drawing=Path("part.dxf"), material="D2", height="20 mm")
    return plan_part(
        request, part, requirement, catalogue=TABLES.catalogue, technology=TABLES.technology,
        rates=TABLES.rates, rules=TABLES.rules,
    )  # fmt: skip


@few
@given(rounded_polygons(), st.floats(1.2, 4.0))
def test_every_part_gets_a_program_that_its_proof_passes(outline: Contour, hole: float) -> None:
    result = result_of(part_of(outline, hole_mm=hole))
    assert not result.is_refused, [f for f in result.findings if f.severity is Severity.REFUSAL]
    assert result.proof is not None
    assert result.proof.max_gouge_um <= 0.15


@few
@given(rounded_polygons(), st.floats(1.2, 4.0))
def test_a_control_that_offsets_by_itself_gets_a_proved_program_or_is_refused_one(
    outline: Contour, hole: float
) -> None:
    part = part_of(outline, hole_mm=hole)
    centre = result_of(part)
    if all(cut.nominal is not None for cut in build_path(centre.plan).cuts):
        result = result_of(part, form=OffsetForm.CONTROLLER)
        assert result.proof is not None
        assert result.proof.passed, result.proof.findings


@few
@given(rounded_polygons(), st.floats(0, 6.28), st.floats(-200, 200), st.booleans())
def test_turning_shifting_or_mirroring_a_part_changes_nothing_but_its_place(
    outline: Contour, turn: float, shift: float, mirrored: bool
) -> None:
    moved = outline.transformed(turn_rad=turn, shift_mm=(shift, -shift), mirror_x=mirrored)
    one, other = (result_of(_outline_only(c)).plan for c in (outline, moved))
    for a, b in zip(one.contours[0].loops, other.contours[0].loops, strict=True):
        assert a.contour.length_mm == pytest.approx(b.contour.length_mm, abs=1e-6)
        assert abs(a.contour.area_mm2) == pytest.approx(abs(b.contour.area_mm2), abs=1e-6)
    assert one.contours[0].slug.mass_kg == pytest.approx(other.contours[0].slug.mass_kg)


def _outline_only(outline: Contour) -> Part:
    part = part_of(outline, hole_mm=2.0)
    return replace(part, contours=part.contours[:1])


@few
@given(rounded_polygons(), st.floats(1.2, 4.0))
def test_an_inch_machine_cuts_the_same_wall_as_a_millimetre_machine(
    outline: Contour, hole: float
) -> None:
    part = part_of(outline, hole_mm=hole)
    mm, inch = (result_of(part, machine=m) for m in ("generic-mm", "generic-inch"))
    assert mm.proof is not None
    assert inch.proof is not None
    assert inch.proof.passed
    assert inch.proof.path_length_mm == pytest.approx(mm.proof.path_length_mm, abs=0.01)
