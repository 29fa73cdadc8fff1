"""Any leaning wall either comes out with a proved program or with a refusal that says why."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from tests.conftest import PartMaker
from tests.leaning_jobs import leaning_job

from kerfwright.adapters.tables import Tables
from kerfwright.app.records import JobResult
from kerfwright.foundation.findings import Severity
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.crossing import self_crossings
from kerfwright.trade.part import Role
from kerfwright.trade.requirement import Requirement

KNOWN = {"taper-radius-vanishes", "taper-closes-up", "taper-edge-curved", "wire-blocked",
         "piece-caught"}  # fmt: skip
"""Refusals of shapes that cannot lean as asked."""
AT_SHARP_ARCS = {"uncut-wall", "off-path"}
"""A sharp corner beside an arc is not always cut as well as it could be: the proof then withholds
the program."""


def ring_of(random: np.random.Generator) -> Contour:
    """Return a ring of lines and outside arcs about the origin."""
    while True:
        count = int(random.integers(3, 8))
        angle = 2 * math.pi * np.arange(count) / count
        radii = random.uniform(9.0, 14.0, count)
        bulge = np.where(random.random(count) < 0.5, 0.0, random.uniform(0.1, 0.35, count))
        ring = Contour(np.column_stack([radii * np.cos(angle), radii * np.sin(angle), bulge]))
        if not self_crossings(ring):
            return ring


def refused(result: JobResult) -> dict[str, str]:
    return {f.code: f.message for f in result.findings if f.severity is Severity.REFUSAL}


@pytest.mark.parametrize("seed", range(8))
def test_a_taper_is_proved_or_refused_with_a_reason(
    seed: int, make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    random = np.random.default_rng(seed)
    ring, angle = ring_of(random), random.uniform(0.2, 6.0)
    role = list(Role)[seed % 2]
    sense, place = ["in", "out"][seed // 2 % 2], ["top", "bottom"][seed // 4 % 2]
    name = "P1" if role is Role.OUTLINE else "H1"
    result = leaning_job(
        make_part([(role, ring, None)]),
        replace(requirement, tolerance_um=15.0, ra_um=None),
        tables,
        {name: f"taper={angle:.3f}° {sense} from {place}"},
    )
    if result.program is None:
        has_arcs = bool(ring.segments.is_arc.any())
        allowed = KNOWN | (AT_SHARP_ARCS if has_arcs else set())
        assert refused(result).keys() <= allowed, refused(result)
        return
    assert result.proof is not None
    assert result.claim is not None
    assert result.proof.max_gouge_um <= result.claim.tolerance_um + 0.5


@pytest.mark.parametrize("seed", range(6))
def test_two_contours_are_joined_and_proved_or_refused_with_a_reason(
    seed: int, make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    random = np.random.default_rng(100 + seed)
    ring = ring_of(random)
    top = ring.transformed(scale=random.uniform(0.85, 1.15), turn_rad=random.uniform(-0.08, 0.08))
    result = leaning_job(
        make_part([(Role.OUTLINE, ring, None)]),
        replace(requirement, tolerance_um=None, ra_um=None),
        tables,
        {"P1": "top=P1"},
        top=make_part([(Role.OUTLINE, top, None)]),
    )
    if result.program is None:
        assert refused(result).keys() <= KNOWN, refused(result)
        return
    assert result.proof is not None
    assert result.claim is not None
    allowed = result.claim.tolerance_um + result.claim.lean_allowance_um["P1"]
    assert result.proof.max_gouge_um <= allowed
