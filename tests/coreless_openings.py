"""Small openings whose inside is cut away whole, planned and drawn, for several tests."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import shapely
from tests.conftest import PartMaker

from kerfwright.adapters.tables import Tables
from kerfwright.app.plan_job import claim_of
from kerfwright.geometry.contour import Contour
from kerfwright.motion.moves import Cut, CutKind, Moves, WirePath
from kerfwright.nc.writer import write_program
from kerfwright.planning.plan import Plan
from kerfwright.planning.planner import make_plan
from kerfwright.proof.records import Claim
from kerfwright.trade.coreless import CorelessWish
from kerfwright.trade.part import Role
from kerfwright.trade.requirement import Requirement
from kerfwright.wirepath.builder import build_path


def two_chambers(neck_mm: float = 0.9) -> Contour:
    """Return two rooms of 3 mm joined by a neck."""
    low, high = 1.5 - neck_mm / 2, 1.5 + neck_mm / 2
    return Contour.from_rows(
        [
            (0, 0), (3, 0), (3, low), (6, low), (6, 0), (9, 0),
            (9, 3), (6, 3), (6, high), (3, high), (3, 3), (0, 3),
        ]
    )  # fmt: skip


def bent_chambers() -> Contour:
    """Return two rooms joined by a bent passage: no straight way leads from one to the other."""
    return Contour.from_rows(
        [
            (0, 0), (3, 0), (3, 3), (2, 3), (2, 6), (5, 6), (5, 5), (8, 5),
            (8, 8), (5, 8), (5, 7), (1, 7), (1, 3), (0, 3),
        ]
    )  # fmt: skip


SHAPES = {
    "bore": Contour.circle((0.0, 0.0), radius_mm=1.6),
    "square": Contour.from_rows([(0, 0), (3, 0), (3, 3), (0, 3)]),
    "slot": Contour.from_rows([(0, 0, 0), (5, 0, 1), (5, 2.4, 0), (0, 2.4, 1)]),
    "wedge": Contour.from_rows([(0, 0), (8, 0), (8, 2.5)]),
    "star": Contour.from_rows(
        [
            ((3.4 if k % 2 else 1.4) * math.cos(k * math.pi / 5),
             (3.4 if k % 2 else 1.4) * math.sin(k * math.pi / 5))
            for k in range(10)
        ]
    ),
    "two chambers": two_chambers(),
    "bent chambers": bent_chambers(),
}  # fmt: skip


@dataclass(frozen=True)
class Eroded:
    """One opening, planned without a slug."""

    plan: Plan
    path: WirePath
    claim: Claim
    text: str

    @property
    def rough(self) -> Cut:
        """The cut that takes the inside away."""
        (cut,) = (c for c in self.path.cuts if c.kind is CutKind.ROUGH)
        return cut


def eroded(
    drawn: Contour,
    make_part: PartMaker,
    requirement: Requirement,
    tables: Tables,
    *,
    start: tuple[float, float, float] | None = None,
) -> Eroded:
    """Plan and draw an opening whose inside is cut away."""
    part = make_part([(Role.OPENING, drawn, None)], starts=() if start is None else (start,))
    wanted = replace(requirement, coreless=CorelessWish.ALWAYS)
    plan = make_plan(
        part, wanted, technology=tables.technology, catalogue=tables.catalogue, rules=tables.rules
    )
    path = build_path(plan, physics=None)
    text = write_program(path, machine=wanted.machine, title="CORELESS")
    return Eroded(plan=plan, path=path, claim=claim_of(plan), text=text)


def swept(moves: Moves, radius_mm: float) -> shapely.Geometry:
    """Return what a disc sweeps along moves, by shapely (GEOS)."""
    return chords(moves).buffer(radius_mm, quad_segs=64)


def chords(moves: Moves) -> shapely.LineString:
    """Return moves as lines, 64 an arc."""
    points = [moves.start_mm]
    for k in range(len(moves)):
        here, end, centre = points[-1], moves.end_mm[k], moves.centre_mm[k]
        if moves.turn[k]:
            spoke = here - centre
            turned = math.atan2(*(end - centre)[::-1]) - math.atan2(*spoke[::-1])
            sweep = turned % math.tau if moves.turn[k] > 0 else -(-turned % math.tau)
            for share in np.linspace(0, 1, 65)[1:-1]:
                c, s = math.cos(sweep * share), math.sin(sweep * share)
                points.append(
                    centre + np.array([c * spoke[0] - s * spoke[1], s * spoke[0] + c * spoke[1]])
                )
        points.append(end)
    return shapely.LineString(np.array(points))
