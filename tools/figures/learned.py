"""Numbers of the figures on learning: a shop's records move the tables, and ranges hold."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from scipy.special import ndtri
from tests.simulated_shops import RULES, Shop
from tools.figures.cutting import BRASS, CATALOGUE, D2, MACHINE, TABLES
from tools.figures.records import Axis, Figure, Panel, Series, line

from kerfwright.foundation.ranges import Range
from kerfwright.learning.learn import learn
from kerfwright.learning.records import MeasuredCut
from kerfwright.process.passes import passes_for
from kerfwright.process.technology import Flushing, Pass

_TRUE = 0.8
"""The machine of the figure cuts a fifth slower than the tables, in every material."""
_SCATTER = (0.06, -0.10, 0.02, 0.09, -0.04, -0.08, 0.05, 0.00, -0.02, 0.07, -0.06, 0.03)
"""Logarithms of what single jobs add, in order; their mean is near nothing."""
_HEIGHT_MM = 40.0
_SHOPS = 100
_LEVELS = (0.2, 0.4, 0.6, 0.8, 0.9, 0.95)


def _rough(material_name: str, technology: object) -> Pass:
    return passes_for(
        1,
        material=CATALOGUE.material(material_name),
        height_mm=_HEIGHT_MM,
        wire=BRASS,
        machine=MACHINE,
        technology=technology,
    )[0]


def learning() -> Figure:
    """Return the expected rough feed with its range, as jobs in D2 come in."""
    shipped = {name: _rough(name, TABLES.technology) for name in ("D2", "A2", "Ti64")}
    cuts = [
        MeasuredCut(
            job=f"job {n}",
            machine=MACHINE,
            material=D2,
            wire=BRASS,
            height_mm=_HEIGHT_MM,
            pass_number=1,
            length_mm=100.0,
            minutes=100.0 / (shipped["D2"].feed_mm_per_min * _TRUE * math.exp(off)),
        )
        for n, off in enumerate(_SCATTER)
    ]
    found: dict[str, list[Range]] = {name: [] for name in shipped}
    for count in range(len(cuts) + 1):
        known = learn(cuts[:count], technology=TABLES.technology, catalogue=CATALOGUE, rules=RULES)
        technology = replace(TABLES.technology, experience=known)
        for name, one in shipped.items():
            feed = _rough(name, technology).feed_range_mm_per_min
            found[name].append(feed * (1 / one.feed_mm_per_min))
    jobs = range(len(cuts) + 1)
    x = Axis(label="jobs in D2 recorded")
    y = Axis(label="rough feed over that of the tables", low=0.4, high=1.7)
    true = line("this machine in truth", [0, len(cuts)], [_TRUE] * 2, is_reference=True)

    def curve(name: str) -> Series:
        r = found[name]
        return line(
            f"{name}: middle and 10 to 90 % of a later cut",
            jobs,
            [one.likely for one in r],
            low=[one.low for one in r],
            high=[one.high for one in r],
        )

    measured = line(
        "measured", range(1, len(cuts) + 1), [_TRUE * math.exp(o) for o in _SCATTER], is_points=True
    )
    return Figure(
        name="learning",
        title="From the tables to a machine's own feed: it cuts a fifth slower than the tables",
        panels=(
            Panel(title="the material recorded", x=x, y=y, series=(curve("D2"), measured, true)),
            Panel(title="lent to titanium on that machine", x=x, y=y, series=(curve("Ti64"), true)),
        ),
    )


def coverage() -> Figure:
    """How many later cuts lie in their ranges, for simulated shops."""
    panels = []
    for tail, title in (("normal", "scatter normal"), ("student", "scatter Student's t")):
        off: list[float] = []
        for seed in range(_SHOPS):
            shop = Shop(seed=seed, tail=tail)
            known = learn(
                shop.records((2, 8, 25)[seed % 3]),
                technology=TABLES.technology,
                catalogue=CATALOGUE,
                rules=RULES,
            )
            technology = replace(TABLES.technology, experience=known)
            for n in range(6):
                # The feed of a pass is that under closed nozzles; others have a factor beside it.
                scene = replace(shop.scene(f"later {n}"), flushing=Flushing.SEALED)
                for done, one in zip(
                    shop.cuts(scene, passes=3, contours=1),
                    scene.passes(3, technology),
                    strict=True,
                ):
                    log = math.log(done.feed_mm_per_min / one.feed_mm_per_min)
                    off.append(abs(log) / one.feed_sigma_log)
        share = [float(np.mean(np.array(off) < ndtri((1 + p) / 2))) for p in _LEVELS]
        panels.append(
            Panel(
                title=title,
                x=Axis(label="range asked, % of later cuts", low=0, high=100),
                y=Axis(label="found in it, %", low=0, high=100),
                series=(
                    line("found", [100 * p for p in _LEVELS], [100 * s for s in share],
                         is_points=True),
                    line("as many as asked", [0, 100], [0, 100], is_reference=True),
                ),
            )
        )  # fmt: skip
    return Figure(
        name="coverage",
        title=f"Later cuts of {_SHOPS} simulated shops within their ranges",
        panels=tuple(panels),
    )
