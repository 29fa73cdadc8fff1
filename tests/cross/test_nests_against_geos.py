"""Nests measured by GEOS on fine chords: apart as the check says, inside, and as dense as told."""

from __future__ import annotations

import itertools
import json
from pathlib import Path

import pytest
import shapely
from tests.nest_samples import ROOM, mixed, polygon, sheet

from kerfwright.adapters.packing.engine import has_engine, pack
from kerfwright.geometry.contour import Contour
from kerfwright.nesting.check import check
from kerfwright.nesting.records import (
    Instance,
    Item,
    Kind,
    Placement,
    Problem,
    Room,
    Sheet,
    Solution,
)
from kerfwright.nesting.solve import nest


def test_the_least_distance_of_a_nest_is_that_of_geos() -> None:
    instance = Instance(kinds=mixed(angles=6, links=6), sheets=(sheet(220, 130),), room=ROOM)
    found = nest(instance, packer=None, budget_s=1.0, seed=2)
    measured = check(instance, found).measured
    bodies = [polygon(instance.kind(p.kind).placed(p)) for p in found.placements]
    least = min(one.distance(other) for one, other in itertools.combinations(bodies, 2))
    # Chords within 0.1 um lie inside round outlines: GEOS may see a little more room.
    assert measured.between_mm == pytest.approx(least, abs=3e-4)
    edge = shapely.box(0, 0, 220, 130).exterior
    assert measured.edge_mm == pytest.approx(min(edge.distance(b) for b in bodies), abs=3e-4)


@pytest.mark.corpus
@pytest.mark.skipif(not has_engine(), reason="the packing engine is absent")
@pytest.mark.parametrize("name", ["fu", "shapes0"])
def test_a_public_instance_is_packed_without_overlap(corpus: Path, name: str) -> None:
    place = corpus / "nesting" / "instances" / f"{name}.json"
    document = json.loads(place.read_text(encoding="utf-8"))
    outlines = {str(i["id"]): Contour.from_rows(i["shape"]["data"]) for i in document["items"]}
    demand = {str(i["id"]): i["demand"] for i in document["items"]}
    angles = {str(i["id"]): tuple(i["allowed_orientations"]) for i in document["items"]}
    width = float(document["strip_height"])
    items = tuple(
        Item(id=k, points=c.vertices[:, :2], demand=demand[k], angles_deg=angles[k])
        for k, c in outlines.items()
    )
    problem = Problem(items=items, width_mm=width, between_mm=0.0, budget_s=60, seed=1, steps=40)
    band = pack(problem, lambda _w, _s: None, lambda: False).bands[-1]
    seen: dict[str, int] = {}
    placed = []
    for spot in band.spots:
        seen[spot.item] = seen.get(spot.item, 0) + 1
        placed.append(
            Placement(kind=spot.item, copy=seen[spot.item], sheet=0, turn_deg=spot.turn_deg,
                      x_mm=spot.x_mm, y_mm=spot.y_mm)
        )  # fmt: skip
    kinds = tuple(Kind(id=k, outline=c, quantity=demand[k]) for k, c in outlines.items())
    edge = Contour.from_rows([(0, 0), (band.length_mm, 0), (band.length_mm, width), (0, width)])
    instance = Instance(
        kinds=kinds,
        sheets=(Sheet(id="band", outline=edge),),
        room=Room(between_mm=0.0, edge_mm=0.0, clamp_mm=0.0),
    )
    assert check(instance, Solution(sheets=("band",), placements=tuple(placed))).holds
    bodies = [polygon(instance.kind(p.kind).placed(p)) for p in placed]
    overlap = sum(one.intersection(other).area for one, other in itertools.combinations(bodies, 2))
    assert overlap < 1e-6 * sum(b.area for b in bodies)
