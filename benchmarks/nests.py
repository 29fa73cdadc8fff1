"""Nests of the public instances beside the best densities published for them.

Strip packing, as published: all parts in a band of given width, as short as can be; density is
the area of the parts over that of the band.  Instances and best layouts are those of the open
project sparrow (MIT) and of ESICUP (CC0), see the readme of ``shared/corpus/nesting``.  A row is an
instance; the ratio is ours over the best, and a second number in the note is the time on the clock
and on the processor, for a busy machine gives the engine fewer steps in the same time.

The usual budget is short; ``KERFWRIGHT_NEST_S`` gives another (60 is what the goal says), and
``KERFWRIGHT_NEST_ONLY`` names instances.
"""

from __future__ import annotations

import csv
import json
import os
import resource
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from kerfwright.adapters.packing.engine import has_engine, pack
from kerfwright.geometry.contour import Contour
from kerfwright.nesting.check import check
from kerfwright.nesting.records import Instance, Kind, Placement, Problem, Room, Sheet, Solution
from kerfwright.nesting.records import Item as PackItem

CORPUS = Path(__file__).parents[2] / "shared" / "corpus" / "nesting"
BUDGET_S = float(os.environ.get("KERFWRIGHT_NEST_S", "5"))
ONLY = [n for n in os.environ.get("KERFWRIGHT_NEST_ONLY", "").split(",") if n]
SEED = 0


def rows() -> Iterator[dict[str, Any]]:
    """Yield a row for each instance; say so where engine or corpus are not here."""
    if not has_engine() or not CORPUS.is_dir():
        print("nests: the packing engine or ../shared/corpus/nesting is not here")
        return
    with (CORPUS / "BEST.csv").open(encoding="utf-8") as stream:
        best = {row["name"]: float(row["density_pct"]) for row in csv.DictReader(stream)}
    for name, published in best.items():
        if not ONLY or name in ONLY:
            yield row_of(name, published)


def row_of(name: str, published: float) -> dict[str, Any]:
    """Pack one instance, check it by other code, and compare."""
    document = json.loads((CORPUS / "instances" / f"{name}.json").read_text(encoding="utf-8"))
    items = tuple(
        PackItem(
            id=str(item["id"]),
            points=Contour.from_rows(item["shape"]["data"]).vertices[:, :2],
            demand=item["demand"],
            angles_deg=tuple(item["allowed_orientations"]),
        )
        for item in document["items"]
    )
    width = float(document["strip_height"])
    problem = Problem(items=items, width_mm=width, between_mm=0.0, budget_s=BUDGET_S, seed=SEED)
    begin, used = time.monotonic(), _children_s()
    packed = pack(problem, lambda _what, _share: None, lambda: False).bands[-1]
    clock, cpu = time.monotonic() - begin, _children_s() - used
    area = sum(abs(Contour.from_rows(i.points.tolist()).area_mm2) * i.demand for i in items)
    density = 100 * area / (width * packed.length_mm)
    count = sum(item.demand for item in items)
    return {
        "name": f"density of {name}, {count} parts, {BUDGET_S:g} s",
        "ours": f"{density:.2f} %",
        "peer": f"{published:.2f} %",
        "ratio": density / published,
        "note": f"best published; {clock:.0f} s, {cpu:.0f} s of processor; "
        + _held(packed, items, width),
    }


def _children_s() -> float:
    return resource.getrusage(resource.RUSAGE_CHILDREN).ru_utime


def _held(packed: Any, items: tuple[PackItem, ...], width: float) -> str:
    """Check the band with the check of nests: parts may touch, not overlap."""
    kinds = tuple(
        Kind(id=i.id, outline=Contour.from_rows(i.points.tolist()), quantity=i.demand)
        for i in items
    )
    band = Contour.from_rows([(0, 0), (packed.length_mm, 0), (packed.length_mm, width), (0, width)])
    copies: dict[str, int] = {}
    placements = []
    for spot in packed.spots:
        copies[spot.item] = copies.get(spot.item, 0) + 1
        placements.append(
            Placement(kind=spot.item, copy=copies[spot.item], sheet=0, turn_deg=spot.turn_deg,
                      x_mm=spot.x_mm, y_mm=spot.y_mm)
        )  # fmt: skip
    instance = Instance(
        kinds=kinds,
        sheets=(Sheet(id="band", outline=band),),
        room=Room(between_mm=0.0, edge_mm=0.0, clamp_mm=0.0),
    )
    solution = Solution(sheets=("band",), placements=tuple(placements))
    codes = {f.code for f in check(instance, solution).findings}
    return "checked" if not codes else f"CHECK: {', '.join(sorted(codes))}"
