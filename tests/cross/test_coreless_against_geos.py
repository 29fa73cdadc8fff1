"""Insides cut away in drawings that nobody here made: the swept area against shapely (GEOS)."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
import shapely
from tests.coreless_openings import swept
from tests.soak import SOAK

from kerfwright.adapters.dxf import read_drawing
from kerfwright.adapters.tables import Tables
from kerfwright.app.plan_job import claim_of
from kerfwright.foundation.errors import KerfwrightError
from kerfwright.geometry.regions import flattened
from kerfwright.motion.moves import CutKind
from kerfwright.nc.writer import write_program
from kerfwright.planning.planner import make_plan
from kerfwright.proof.prove import prove_program
from kerfwright.trade.coreless import CorelessWish
from kerfwright.trade.requirement import Requirement
from kerfwright.wirepath.builder import build_path

pytestmark = pytest.mark.corpus
CORPUS = Path(__file__).resolve().parents[3] / "shared" / "corpus" / "dxf"
MOST_MM = 12.0
"""Openings up to this size: what somebody might want cut away."""
CHORD_MM = 1e-5
DRAWINGS, OPENINGS = 4, 10
"""At least so many, or the corpus has changed; a soak looks at all."""
FILES = (
    sorted(CORPUS.glob("*.dxf"), key=lambda p: (p.stat().st_size, p.name))
    if CORPUS.is_dir()
    else []
)


def small_openings(drawing: Path) -> set[str]:
    part = read_drawing(drawing)
    found = set()
    for one in part.to_cut:
        x0, y0, x1, y1 = one.contour.bounds_mm
        has_inside = any(c.parent_id == one.id for c in part.contours)
        if one.role.value == "opening" and max(x1 - x0, y1 - y0) <= MOST_MM and not has_inside:
            found.add(one.id)
    return found


@pytest.mark.skipif(not FILES, reason="the corpus of drawings is not beside this checkout")
def test_the_inside_of_small_openings_of_real_drawings_is_swept_whole(
    requirement: Requirement, tables: Tables
) -> None:
    openings = drawings = 0
    for drawing in FILES:
        if not SOAK and drawings >= DRAWINGS and openings >= OPENINGS:
            break
        try:
            part, names = read_drawing(drawing), small_openings(drawing)
        except KerfwrightError:
            continue
        if not names or len(part.contours) > 60:
            continue
        wish = dict.fromkeys(sorted(names)[:4], CorelessWish.ALWAYS)
        try:
            plan = make_plan(
                part,
                replace(requirement, height_mm=5.0, coreless_of=wish),
                technology=tables.technology,
                catalogue=tables.catalogue,
                rules=tables.rules,
            )
        except KerfwrightError:
            continue
        eroded = [c for c in plan.contours if c.target.id in wish and c.coreless is not None]
        if not eroded:
            continue
        path = build_path(plan)
        drawings += 1
        for contour in eroded:
            assert contour.coreless is not None
            (cut,) = (
                c
                for c in path.cuts
                if c.contour_id == contour.target.id and c.kind is CutKind.ROUGH
            )
            wall = shapely.Polygon(flattened(contour.target.contour, chord_error_mm=CHORD_MM))
            radius = contour.coreless.kerf_mm / 2
            within = wall.buffer(-contour.passes[0].offset_mm, quad_segs=64)
            kerf = swept(cut.moves, radius)
            where = f"{drawing.name} {contour.target.id}"
            assert within.difference(kerf).area < 1e-5, where
            reachable = within.buffer(radius, quad_segs=64)
            assert kerf.difference(reachable).area < 3e-4 * wall.length, where
            openings += 1
        said = prove_program(
            write_program(path, machine=requirement.machine, title="CORPUS"), claim_of(plan)
        )
        codes = {f.code for f in said.findings}
        assert {"inside-not-cut-away", "scrap-comes-free"}.isdisjoint(codes), drawing.name
    assert drawings >= DRAWINGS
    assert openings >= OPENINGS
