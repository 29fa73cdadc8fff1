"""Time of learning from five thousand measured cuts, and of a price with its range after it.

The peer is Bayesian ridge regression of scikit-learn on the same effects, for one measure; it knows
one variance for all inputs and normal scatter only.  Where there is no peer, the other column is
the goal.
"""

from __future__ import annotations

import itertools
import tempfile
from collections.abc import Callable
from dataclasses import replace
from importlib import resources
from pathlib import Path
from types import MappingProxyType

import numpy as np
from benchmarks.spent import Spent, spent

from kerfwright.adapters.dxf import read_drawing
from kerfwright.adapters.learning_rules import load_learning_rules
from kerfwright.adapters.machines import load_machine
from kerfwright.adapters.shop_folder import ShopFolder
from kerfwright.adapters.tables import Tables, load_tables
from kerfwright.app.record_cuts import LearningTables, record_cuts, with_experience
from kerfwright.costing.estimate import estimate
from kerfwright.learning.batch import CutBatch
from kerfwright.learning.fitting import fit_measure
from kerfwright.learning.learn import learn
from kerfwright.learning.posterior import Posterior
from kerfwright.learning.records import LearningRules, Measure, MeasuredCut, levels
from kerfwright.planning.planner import make_plan
from kerfwright.process.passes import passes_for
from kerfwright.trade.material import Material
from kerfwright.trade.requirement import Requirement
from kerfwright.wirepath.builder import build_path
from kerfwright.wiring import record_cuts as record_table

RECORDS = 5_000
MATERIALS = 12
RUNS = 25
PEER_RECORDS = 1_000
"""The peer's time grows with the cube of the effects."""
KEPT = ("_asked", "_columns", "_factor", "_index", "_size_books")
"""What an experience keeps from one question to the next."""
OF_MATERIAL = ("material ", "family ", "together ")
"""How levels begin that another material has others of."""
HEIGHTS_MM = (10.0, 15.0, 25.0, 40.0, 60.0, 80.0, 120.0)


def cuts(count: int) -> list[MeasuredCut]:
    """Return records of four machines, twelve materials and four wires, all fields filled."""
    generator = np.random.default_rng(7)
    tables, machine = load_tables(), load_machine()
    machines = [replace(machine, id=f"machine-{n}") for n in range(4)]
    found: list[MeasuredCut] = []
    while len(found) < count:
        on = machines[generator.integers(4)]
        material = tables.catalogue.materials[generator.integers(MATERIALS)]
        wire = tables.catalogue.wires[generator.integers(4)]
        height = float(generator.choice(HEIGHTS_MM))
        passes = passes_for(
            int(generator.integers(1, 6)),
            material=material,
            height_mm=height,
            wire=wire,
            machine=on,
            technology=tables.technology,
        )
        job = f"job {len(found)}"
        for one in (p for p in passes for _ in range(3)):
            feed, ra, kg = np.exp(0.3 * generator.standard_normal(3))
            found.append(
                MeasuredCut(
                    job=job,
                    machine=on,
                    material=material,
                    wire=wire,
                    height_mm=height,
                    pass_number=one.number,
                    length_mm=100.0,
                    minutes=100 / (one.feed_mm_per_min * feed),
                    ra_um=one.ra_um * ra,
                    size_error_um=float(generator.normal(0, one.tolerance_um / 2)),
                    wire_kg=0.005 * 100 / one.feed_mm_per_min * kg,
                    breaks=int(generator.poisson(0.05)),
                )
            )
    return found[:count]


def _row(
    name: str, ours: Spent, peer_s: float, note: str = "the peer is the goal"
) -> dict[str, object]:
    return {
        "name": name,
        "ours_s": ours.median_s,
        "peer_s": peer_s,
        "ratio": peer_s / ours.median_s,
        "note": f"{ours.words}; {note}",
    }


def _one_measure(records: list[MeasuredCut], rules: LearningRules) -> dict[str, object]:
    """Compare the fit of one measure with that of scikit-learn."""
    from sklearn.linear_model import BayesianRidge

    names = [
        (
            *levels(
                machine=cut.machine,
                material=cut.material,
                wire=cut.wire,
                height_mm=cut.height_mm,
                pass_number=cut.pass_number,
                rules=rules,
            ),
            f"job {cut.job}",
        )
        for cut in records
    ]
    response = np.log([cut.feed_mm_per_min for cut in records])
    response = (response - response.mean()) / response.std()
    seen = {name: i for i, name in enumerate(sorted({n for row in names for n in row}))}
    dense = np.zeros((len(names), len(seen)))
    for number, row in enumerate(names):
        dense[number, [seen[name] for name in row]] = 1
    return _row(
        f"one measure, {len(records)} cuts, {len(seen)} effects",
        spent(lambda: fit_measure(response, names, measure=Measure.FEED, rules=rules), times=3),
        spent(lambda: BayesianRidge(fit_intercept=False).fit(dense, response), times=1).median_s,
        note="scikit-learn BayesianRidge",
    )


def _opened(records: list[MeasuredCut], tables: Tables, rules: LearningRules) -> dict[str, object]:
    """Time what `--shop` adds to a plan: reading what was learned."""
    against = LearningTables(technology=tables.technology, catalogue=tables.catalogue, rules=rules)
    with tempfile.TemporaryDirectory() as folder:
        shop = ShopFolder(folder=Path(folder), catalogue=tables.catalogue, rules=rules)
        record_cuts(CutBatch(cuts=tuple(records)), store=shop, tables=against)
        return _row(
            f"open what {len(records)} cuts taught",
            spent(lambda: with_experience(store=shop, tables=against), times=5),
            0.15,
        )


def _as_table(records: list[MeasuredCut]) -> str:
    """Return records as a shop writes them, one line a cut."""
    head = "job,material,wire,height_mm,pass,length_mm,time_min,ra_um,size_error_um,breaks,note"
    lines = (
        f"{c.job},{c.material.name},{c.wire.diameter_mm:g} mm {c.wire.name},{c.height_mm},"
        f"{c.pass_number},{c.length_mm},{c.minutes:.5f},{c.ra_um:.4f},{c.size_error_um:.3f},"
        f"{c.breaks},{number}"
        for number, c in enumerate(records)
    )
    return "\n".join((head, *lines))


def _recorded(records: list[MeasuredCut]) -> dict[str, object]:
    """Time all that `record` does: read a table, keep it, learn, say what moved and what is odd."""
    table, usual = _as_table(records), {"machine": "generic-mm"}

    def recorded() -> None:
        with tempfile.TemporaryDirectory() as folder:
            done = record_table(table, shop=Path(folder), usual=usual)
            assert done.new == len(records)

    return _row(f"record a table of {len(records)} rows, all of it", spent(recorded, times=3), 5.0)


def _forget(posterior: Posterior, *names: str) -> None:
    """Forget what an experience keeps from the last time."""
    for kept in (posterior, *posterior.measures.values()):
        for name in names:
            kept.__dict__.pop(name, None)


def _tables(
    posterior: Posterior, passes: Callable[..., object], tables: Tables
) -> list[dict[str, object]]:
    """Time technology tables: asked again, of other materials, and the first after a start."""
    others = itertools.cycle(tables.catalogue.materials[:MATERIALS])

    def table(material: Material) -> None:
        for height_mm in HEIGHTS_MM:
            passes(height_mm, material)

    def forget() -> None:
        _forget(posterior, *KEPT)

    def forget_material() -> None:
        # A material that comes round again is new; machine, wire, heights and passes stay known.
        _forget(posterior, "_asked")
        for fitted in posterior.measures.values():
            columns = vars(fitted).get("_columns", {})
            for name in [n for n in columns if n.startswith(OF_MATERIAL)]:
                del columns[name]
        for book in vars(posterior).get("_size_books", {}).values():
            book.kept.clear()

    own = tables.catalogue.materials[0]
    what = f"technology table: six passes at {len(HEIGHTS_MM)} heights"
    return [
        _row(what, spent(lambda: table(own), times=RUNS), 0.02),
        _row(
            "the same, each time another material",
            spent(lambda: table(next(others)), times=RUNS, before=forget_material),
            0.02,
        ),
        _row(
            "the same for the first time after a start",
            spent(lambda: table(own), times=RUNS, before=forget),
            0.02,
        ),
    ]


def rows() -> list[dict[str, object]]:
    """Return the rows of the table."""
    tables, rules = load_tables(), load_learning_rules()
    records = cuts(RECORDS)

    def learned():
        return learn(records, technology=tables.technology, catalogue=tables.catalogue, rules=rules)

    posterior = learned()
    technology = replace(tables.technology, experience=posterior)
    sample = resources.files("kerfwright") / "data" / "samples" / "hand_die.dxf"
    part = read_drawing(Path(str(sample)), unit=None, layer_uses=MappingProxyType({}))
    requirement = Requirement(
        material=records[0].material,
        height_mm=40.0,
        machine=records[0].machine,
        tolerance_um=5.0,
        quantities=(1, 10, 100),
    )
    plan = make_plan(
        part, requirement, technology=technology, catalogue=tables.catalogue, rules=tables.rules
    )
    path = build_path(plan)

    def passes(height_mm: float = 40.0, material: Material = requirement.material) -> object:
        return passes_for(
            6,
            material=material,
            height_mm=height_mm,
            wire=records[0].wire,
            machine=requirement.machine,
            technology=technology,
        )

    return [
        _row(f"learn from {RECORDS} cuts, five measures", spent(learned, times=3), 2.0),
        _one_measure(records[:PEER_RECORDS], rules),
        _opened(records, tables, rules),
        _recorded(records),
        _row("six passes with experience", spent(passes, times=10), 0.02),
        *_tables(posterior, passes, tables),
        _row(
            "times and prices with ranges, three quantities",
            spent(lambda: estimate(plan, path, rates=tables.rates), times=5),
            0.05,
        ),
    ]
