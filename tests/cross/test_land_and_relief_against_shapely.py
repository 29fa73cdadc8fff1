"""A die opening with land and relief against shapely and closed forms, read without our reader.

The opening is a box grown by its corner radius: at every height the wanted section is the same box
grown by another radius (Minkowski sum, shapely's distance to the box).  The relief's wire stands
off by o / cos α in the plane of a section beside planes and cones of one angle α.
"""

from __future__ import annotations

import math
import re

import numpy as np
import pytest
import shapely
from tests.conftest import PartMaker
from tests.leaning_jobs import leaning_job, rounded

from kerfwright.adapters.machines import load_machine
from kerfwright.adapters.tables import Tables
from kerfwright.app.records import JobResult
from kerfwright.trade.part import Role
from kerfwright.trade.requirement import Requirement

RADIUS = 2.0
CORE = shapely.box(2, 2, 22, 14)
HEIGHT = 20.0
WORD = re.compile(r"([GXYUVIJ])(-?[0-9.]+)")
DIGITS_MM = 1.5e-4
CHORD_MM = 0.5e-3


@pytest.fixture(scope="module", params=[("3", "0.5"), ("5", "1"), ("4", "3")])
def die(
    request: pytest.FixtureRequest, make_part: PartMaker, tables: Tables
) -> tuple[JobResult, float, float]:
    part = make_part([(Role.OPENING, rounded(0, 0, 24, 16, RADIUS), None)])
    wanted = Requirement(
        material=tables.catalogue.material("D2"),
        height_mm=HEIGHT,
        machine=load_machine(),
        tolerance_um=5.0,
    )
    land, angle = request.param
    result = leaning_job(part, wanted, tables, {"H1": f"land={land}mm, relief={angle}°"})
    return result, HEIGHT - float(land), math.radians(float(angle))


def cuts(program: str) -> dict[tuple[str, int], np.ndarray]:
    """Return for each cut the wire in both planes at close points, (n, 4) mm: X Y and U V added."""
    found: dict[tuple[str, int], list[np.ndarray]] = {}
    key, at, turn = None, dict.fromkeys("XYUV", 0.0), 1
    for line in program.splitlines():
        head = re.match(r"\(CUT (\S+) PASS (\d+)", line)
        if head:
            key = head[1], int(head[2])
        if key is None or line.startswith(("(", "M")):
            continue
        words = {k: float(v) for k, v in WORD.findall(re.sub(r"\(.*?\)", "", line))}
        turn = int(words.pop("G", turn))
        if not words:
            continue
        before = dict(at)
        at.update({k: v for k, v in words.items() if k in at})
        share = np.linspace(0.0, 1.0, 65)[:, None]
        a, b = (np.array([p[k] for k in "XYUV"]) for p in (before, at))
        rows = a + (b - a) * share
        if turn in (2, 3):
            centre = a[:2] + np.array([words["I"], words["J"]])
            spoke = a[:2] - centre
            end = b[:2] - centre
            sweep = math.atan2(spoke[0] * end[1] - spoke[1] * end[0], float(spoke @ end))
            sweep = sweep % (2 * math.pi) if turn == 3 else -(-sweep % (2 * math.pi))
            cos, sin = np.cos(sweep * share), np.sin(sweep * share)
            rows[:, :2] = centre + spoke * cos + np.array([-spoke[1], spoke[0]]) * sin
        rows[:, 2:] += rows[:, :2]
        if turn != 0:
            found.setdefault(key, []).append(rows)
    return {name: np.vstack(rows) for name, rows in found.items()}


def beyond_core(rows: np.ndarray, height_mm: float) -> np.ndarray:
    """Return how far the wire lies outside the box at a height, mm."""
    points = rows[:, :2] + (rows[:, 2:] - rows[:, :2]) * height_mm / HEIGHT
    return np.asarray(shapely.distance(CORE, shapely.points(points)))


def test_each_cut_stands_off_its_wall_by_its_offset_at_every_height(
    die: tuple[JobResult, float, float],
) -> None:
    result, edge, angle = die
    assert result.program is not None
    assert result.claim is not None
    seen = 0
    for (name, number), rows in cuts(result.program).items():
        offset = result.claim.offset_mm[name, number]
        for z in (0.0, 0.4 * edge, edge, (edge + HEIGHT) / 2, HEIGHT):
            leans = name == "H1"
            wall = RADIUS + ((edge - z) * math.tan(angle) if leans else 0.0)
            furthest = wall - offset / (math.cos(angle) if leans else 1.0)
            away = beyond_core(rows, z)
            assert away.max() == pytest.approx(furthest, abs=DIGITS_MM + CHORD_MM)
            seen += 1
    assert seen >= 25


def test_the_opening_is_the_land_above_its_edge_and_the_relief_below(
    die: tuple[JobResult, float, float],
) -> None:
    result, edge, angle = die
    assert result.program is not None
    assert result.claim is not None
    radius = result.claim.kerf_radius_mm
    every = cuts(result.program)
    for z in np.linspace(0.0, HEIGHT, 9):
        wanted = RADIUS + max(edge - z, 0.0) * math.tan(angle)
        nominal = CORE.buffer(wanted, quad_segs=512)
        reached = max(
            float(beyond_core(rows, z).max())
            + radius[number] / (math.cos(angle) if name == "H1" else 1.0)
            for (name, number), rows in every.items()
        )
        assert reached == pytest.approx(wanted, abs=DIGITS_MM + CHORD_MM)
        # And all round: the kerf of the part's own cut meets the whole wall.
        own = "H1-LAND" if z > edge else "H1"
        last = max(n for name, n in every if name == own)
        rows = every[own, last]
        points = rows[:, :2] + (rows[:, 2:] - rows[:, :2]) * z / HEIGHT
        line = shapely.LineString(points)
        wide = radius[last] / (math.cos(angle) if own == "H1" else 1.0)
        ring = np.array(nominal.exterior.segmentize(0.2).coords)
        gap = shapely.distance(line, shapely.points(ring)) - wide
        assert np.abs(gap).max() < 2e-3


def test_what_the_relief_leaves_on_the_land_is_land_times_tangent(
    die: tuple[JobResult, float, float],
) -> None:
    result, edge, angle = die
    assert result.program is not None
    assert result.claim is not None
    (second,) = result.plan.seconds
    assert second.follows is not None
    every = cuts(result.program)
    last = max(n for name, n in every if name == "H1")
    kerf = result.claim.kerf_radius_mm[last] / math.cos(angle)
    left = RADIUS - (float(beyond_core(every["H1", last], HEIGHT).max()) + kerf)
    assert left == pytest.approx((HEIGHT - edge) * math.tan(angle), abs=DIGITS_MM + CHORD_MM)
    assert second.follows.left_um == pytest.approx(left * 1000, abs=1.0)
    assert left < 2 * result.claim.kerf_radius_mm[second.follows.first_pass]
