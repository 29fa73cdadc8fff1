"""Tables of materials, wires, passes and rates: TOML shipped with us, overridden by the shop.

A shop copies a file into a folder of its own and keeps only what it changes; every other value
stays as shipped.  A figure is a bare number (the shop's own) or a table with value, tag and
source.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields, replace
from difflib import get_close_matches
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType
from typing import Final, TypeVar

from kerfwright.adapters.figures import WIRES_MM, Node
from kerfwright.adapters.kept_tables import is_kept
from kerfwright.adapters.material_limits import MATERIAL_SPANS
from kerfwright.adapters.papers.rules import FILE as PAPERS
from kerfwright.adapters.papers.rules import load_paper_rules
from kerfwright.adapters.planning_rules import planning_rules
from kerfwright.adapters.rate_tables import rate_table
from kerfwright.adapters.spark_tables import flushing_law, spark_law
from kerfwright.adapters.table_files import Stamp, open_table, stamp
from kerfwright.costing.rates import RateTable
from kerfwright.foundation.errors import FileError, InputError, KerfwrightError
from kerfwright.foundation.sources import Source
from kerfwright.planning.rules import PlanningRules
from kerfwright.process.feed_spread import FeedSpread
from kerfwright.process.flushing_law import FlushingLaw
from kerfwright.process.spark_law import SparkLaw
from kerfwright.process.technology import (
    BY_LIKELY_VALUE,
    Flushing,
    Limits,
    PassSeed,
    RoughLaw,
    Scaling,
    SkimLaw,
    SmallHoleLaw,
    Technology,
)
from kerfwright.trade.catalogue import Catalogue, LeftOut, WireKind
from kerfwright.trade.material import FAMILIES, Material, Wire

_Record = TypeVar("_Record")

FILES: Final = (
    "materials.toml",
    "wires.toml",
    "passes.toml",
    "rates.toml",
    "spark.toml",
    "flushing.toml",
    "planning.toml",
)
_LEARNING: Final = "learning.toml"
_OTHERS: Final = (_LEARNING, "wire_physics.toml", PAPERS, "holes.toml")
"""Tables of the same folder that are read elsewhere, save for the rate of breaks."""

_SPREADS: Final = ("gap_sigma_log", "ra_sigma_log", "recast_sigma_log")
"""Of a pass; one that gives none has those of the pass before."""

_WIRE_GAINS: Final = ("wire_gain_share", "wire_gain_elsewhere_share")


@dataclass(frozen=True, slots=True, kw_only=True)
class Tables:
    """Everything that plans and prices look up.

    Attributes
    ----------
    catalogue : Catalogue
        Materials and wires.
    technology : Technology
    rates : RateTable
    rules : PlanningRules
    """

    catalogue: Catalogue
    technology: Technology
    rates: RateTable
    rules: PlanningRules


def load_tables(folder: Path | None = None) -> Tables:
    """Load the shipped tables, with a shop's own values over them.

    Parameters
    ----------
    folder : Path or None
        Folder with any of ``materials.toml``, ``wires.toml``, ``passes.toml``, ``rates.toml``,
        ``spark.toml``, ``flushing.toml``, ``planning.toml``; None for the tables as shipped.  A
        file of kept figures (``tables.json`` of a job) stands for all of them.

    Raises
    ------
    InputError
        Code ``table-syntax``, ``table-value``, ``table-key`` or ``table-file``; names the file,
        the key, the value and what was expected.
    FileError
        Code ``table-unreadable``.
    """
    if folder is not None and not is_kept(folder):
        _check_folder(folder)
    where = folder.resolve() if folder is not None else None
    return _load(where, stamp(folder, *FILES, _LEARNING, PAPERS))


def _check_folder(folder: Path) -> None:
    if not folder.is_dir():
        raise FileError(
            f"there is no folder {folder}", code="table-unreadable", remedy="Name another folder."
        )
    for path in sorted(folder.glob("*.toml")):
        meant = get_close_matches(path.name, FILES, n=1, cutoff=0.85)
        if meant and path.name not in (*FILES, *_OTHERS):
            raise InputError(
                f"the file is called {path.name}; expected {meant[0]}",
                code="table-file",
                where=str(path),
                remedy="Rename it, or its values would be passed over.",
            )


@lru_cache(maxsize=8)
def _load(folder: Path | None, _present: Stamp) -> Tables:
    materials, wires, passes, rates, spark, water, planning = (
        open_table(name, folder) for name in FILES
    )
    papers = load_paper_rules(folder)
    technology = _technology(passes, spark=spark_law(spark), flushing=flushing_law(water))
    return Tables(
        catalogue=_catalogue(materials, wires),
        technology=technology,
        rates=rate_table(
            rates,
            learning=open_table(_LEARNING, folder),
            drilling=technology.small_hole,
        ),
        rules=planning_rules(
            planning, clamp_clearance=(papers.clamp_clearance_mm, papers.clamp_clearance_source)
        ),
    )


def _catalogue(materials: Node, wires: Node) -> Catalogue:
    materials.only("material")
    wires.only("default", "wire")
    kinds = tuple(_wire_kind(key, node) for key, node in wires.table("wire").tables())
    read, left_out = _materials(materials)
    bare = Catalogue(
        materials=read,
        wire_kinds=kinds,
        default_wire=kinds[0].wires[0],
    )
    said = wires.text("default")
    try:
        usual = bare.wire(said)
    except KerfwrightError as error:
        wires.fail("default", said, f"a wire of this table ({error.message})")
    return replace(bare, default_wire=usual, left_out=left_out)


def _materials(table: Node) -> tuple[tuple[Material, ...], tuple[LeftOut, ...]]:
    """Read every material; one that cannot be read is left out, so that others can be planned."""
    read: list[Material] = []
    left_out: list[LeftOut] = []
    for key, node in table.table("material").tables():
        try:
            read.append(_material(key, node))
        except InputError as error:
            data = node.data
            said = (data.get("name"), *_listed(data.get("aliases")))
            left_out.append(
                LeftOut(
                    names=(key, *(text for text in said if isinstance(text, str))),
                    message=error.message,
                    where=error.where,
                    remedy=error.remedy,
                    code=error.code,
                )
            )
    return tuple(read), tuple(left_out)


def _listed(value: object) -> list[object]:
    return value if isinstance(value, list) else []


def _material(key: str, node: Node) -> Material:
    needed = (
        "density_kg_per_m3",
        "melting_c",
        "conductivity_w_per_mk",
        "heat_capacity_j_per_kgk",
        "rate_factor",
        "ra_factor",
        "recast_factor",
        "yield_mpa",
    )
    optional = ("latent_heat_kj_per_kg", "resistivity_uohm_cm", "expansion_um_per_mk")
    node.only("name", "family", "aliases", "is_brittle", "notes", "recast_note", *needed, *optional)
    values, sources = node.record(*needed, *(name for name in optional if name in node.data))
    node.within(MATERIAL_SPANS)
    family = node.text("family")
    if family not in FAMILIES:
        node.fail("family", family, f"one of {', '.join(FAMILIES)}")
    return Material(
        id=key,
        name=node.name("name"),
        family=family,
        aliases=node.texts("aliases"),
        is_brittle=node.truth("is_brittle"),
        notes=node.texts("notes"),
        recast_note=node.text("recast_note") if "recast_note" in node.data else "",
        latent_heat_kj_per_kg=values.pop("latent_heat_kj_per_kg", None),
        resistivity_uohm_cm=values.pop("resistivity_uohm_cm", None),
        expansion_um_per_mk=values.pop("expansion_um_per_mk", None),
        sources=MappingProxyType(sources),
        **values,
    )


def _wire_kind(key: str, node: Node) -> WireKind:
    needed = (
        "density_kg_per_m3",
        "tensile_n_per_mm2",
        "rate_factor",
        "run_speed_m_per_min",
        "spool_kg",
        "price_per_kg",
    )
    node.only("name", "aliases", "diameters_mm", "at", *needed)
    name = node.name("name")
    values, sources = node.record(*needed)
    diameters = node.numbers("diameters_mm", WIRES_MM)
    special = dict(node.table("at").tables()) if "at" in node.data else {}
    overs: dict[float, tuple[dict[str, float], dict[str, Source]]] = {}
    for text, table in special.items():
        table.only(*needed)
        matches = [d for d in diameters if text.replace(".", "", 1).isdigit() and d == float(text)]
        if not matches:
            node.fail(f"at.{text}", text, f"one of the diameters {diameters}", code="table-key")
        overs[matches[0]] = table.record(*table.data)
    wires = []
    for diameter in diameters:
        own_values, own_sources = overs.get(diameter, ({}, {}))
        wires.append(
            Wire(
                kind=key,
                name=name,
                diameter_mm=diameter,
                sources=MappingProxyType(sources | own_sources),
                **(values | own_values),
            )
        )
    return WireKind(kind=key, name=name, aliases=node.texts("aliases"), wires=tuple(wires))


def _technology(node: Node, *, spark: SparkLaw, flushing: FlushingLaw) -> Technology:
    node.only("rough", "skim", "feed_spread", "scaling", "limits", "pass", "small_hole")
    limits = _limits(node.table("limits"))
    feed_spread = _feed_spread(node.table("feed_spread"))
    return Technology(
        # Kept before there was a routine height, the law had figures that no plan used.
        rough=_rough(node.table("rough"), is_older=not feed_spread.routine_height_mm),
        skim=_simple(
            node.table("skim"),
            SkimLaw,
            "feed_sigma_log",
            "full_feed_height_mm",
            "height_exponent",
            "rate_exponent",
        ),
        feed_spread=feed_spread,
        scaling=_scaling(node.table("scaling")),
        limits=limits,
        passes=_passes(node.table("pass")),
        small_hole=_small_hole(node.table("small_hole"), limits),
        spark=spark,
        flushing=flushing,
    )


def _limits(node: Node) -> Limits:
    # What a job kept before there was such a figure goes by what then held: passes were chosen by
    # the likely value, and nothing was said of a height.
    before = {
        "allowed_miss": BY_LIKELY_VALUE,
        "least_known_height_mm": 0.0,
        "most_known_height_mm": math.inf,
    }
    names = tuple(f.name for f in fields(Limits) if f.name != "sources")
    node.only(*names)
    values, sources = node.record(*(n for n in names if n in node.data or n not in before))
    values = {**before, **values}
    if values["allowed_miss"] > BY_LIKELY_VALUE:
        expected = f"a share up to {BY_LIKELY_VALUE:g}, the likely value"
        node.fail("allowed_miss", values["allowed_miss"], expected)
    if values["least_known_height_mm"] >= values["most_known_height_mm"]:
        node.fail(
            "least_known_height_mm", values["least_known_height_mm"], "below most_known_height_mm"
        )
    return Limits(sources=MappingProxyType(sources), **values)


def _scaling(node: Node) -> Scaling:
    names = (
        "tolerance_height_mm",
        "tolerance_height_exponent",
        "reference_diameter_mm",
        "gap_diameter_exponent",
        "gap_material_sigma_log",
        "recast_factor_sigma_log",
        "ra_factor_sigma_log",
    )
    # Kept with a job before these had a spread.
    spreads = ("gap_diameter_exponent_sigma", "tolerance_sigma_log")
    node.only(*names, *spreads)
    values, sources = node.record(*names)
    spread, of_spread = node.record(*(n for n in spreads if n in node.data), least=0)
    values, sources = values | spread, sources | of_spread
    return Scaling(sources=MappingProxyType(sources), **values)


def _feed_spread(node: Node) -> FeedSpread:
    # Kept with a job before there was a routine height: the range was the same everywhere.
    later, by_family = ("routine_height_mm", *_WIRE_GAINS), "material_elsewhere_log"
    names = tuple(f.name for f in fields(FeedSpread) if f.name not in {"sources", by_family})
    node.only(by_family, *names)
    values, sources = node.record(*(n for n in names if n in node.data or n not in later), least=0)
    elsewhere: Mapping[str, float] = {}
    if by_family in node.data:
        table = node.table(by_family)
        table.only(*FAMILIES)
        elsewhere, said = table.record(*(f for f in FAMILIES if f in table.data), least=0)
        sources |= {f"{by_family}.{family}": source for family, source in said.items()}
    return FeedSpread(
        sources=MappingProxyType(sources),
        material_elsewhere_log=MappingProxyType(elsewhere),
        **values,
    )


def _rough(node: Node, *, is_older: bool) -> RoughLaw:
    names = (
        "thin_plate_feed_mm_per_min",
        "plateau_area_rate_mm2_per_min",
        "plateau_diameter_mm",
        "usual_diameter_mm",
        "height_scale_mm",
        "shop_derate",
        "feed_sigma_log",
    )
    unused = ("lean_deg", "lean_factor") if is_older else ()
    node.only("fine_wire", "flushing", "flushing_sigma_log", *names, *unused)
    values, sources = node.record(*names, *(n for n in unused if n in node.data))
    fine_wire, sources["fine_wire"] = node.curve("fine_wire")
    washed = node.table("flushing")
    washed.only(*Flushing)
    factors, factor_sources = washed.record(*Flushing)
    sources |= {f"flushing.{state}": source for state, source in factor_sources.items()}
    spreads: dict[Flushing, float] = {}
    # Kept with a job before factors had a spread: its ranges were those of closed nozzles.
    if "flushing_sigma_log" in node.data:
        unsure = node.table("flushing_sigma_log")
        unsure.only(Flushing.ONE_OPEN, Flushing.BOTH_OPEN)
        found, spread_sources = unsure.record(Flushing.ONE_OPEN, Flushing.BOTH_OPEN, least=0)
        spreads = {Flushing(state): sigma for state, sigma in found.items()}
        sources |= {f"flushing_sigma_log.{name}": said for name, said in spread_sources.items()}
    return RoughLaw(
        fine_wire=fine_wire,
        flushing=MappingProxyType({Flushing(state): k for state, k in factors.items()}),
        sources=MappingProxyType(sources),
        flushing_sigma_log=MappingProxyType(spreads),
        **values,
    )


def _simple(node: Node, make: Callable[..., _Record], *names: str) -> _Record:
    node.only(*names)
    values, sources = node.record(*names)
    return make(sources=MappingProxyType(sources), **values)


def _passes(node: Node) -> tuple[PassSeed, ...]:
    seeds: list[PassSeed] = []
    for count, (key, table) in enumerate(node.tables(), start=1):
        if key != str(count):
            node.fail(key, key, f"pass {count}; passes are numbered from 1 in order")
        names = ["gap_um", "ra_um", "recast_um", "tolerance_um"]
        if count > 1:
            names.append("feed_mm_per_min")
        table.only("stock_um", *names, *_SPREADS)
        values, sources = table.record(*names)
        spreads, spread_sources = table.record(
            *(name for name in _SPREADS if name in table.data or not seeds), least=0
        )
        for name in _SPREADS:
            if name not in spreads:
                spreads[name] = getattr(seeds[-1], name)
                spread_sources[name] = seeds[-1].sources[name]
        # The rough pass takes no stock; a skim that took none would have no feed either.
        stock_um, sources["stock_um"] = table.number("stock_um", least=None if seeds else 0)
        if seeds and not seeds[-1].gap_um + stock_um > values["gap_um"]:
            expected = (
                f"more than {values['gap_um'] - seeds[-1].gap_um:g}, or the pass would cut air"
            )
            table.fail("stock_um", stock_um, expected)
        seeds.append(
            PassSeed(
                number=count,
                stock_um=stock_um,
                feed_mm_per_min=values.pop("feed_mm_per_min", None),
                sources=MappingProxyType(sources | spread_sources),
                **values,
                **spreads,
            )
        )
    if not seeds:
        node.fail("1", None, "at least the rough pass")
    return tuple(seeds)


_HOLE_BEFORE: Final = {"deepest_depth_to_diameter": math.inf, "half_zone_sigma_log": 0.0}


def _small_hole(node: Node, limits: Limits) -> SmallHoleLaw:
    names = (
        "published_depth_to_diameter",
        "depth_scale",
        "breakthrough_diameters",
        "overcut_mm",
        "feed_sigma_log",
        "wear_sigma_log",
        "overcut_sigma_log",
        "entry_growth_mm",
        "entry_sigma_log",
        "taper_mm_per_mm",
        "taper_sigma_log",
        "wander_sigma_log",
        "tolerance_um",
        "best_tolerance_um",
        "position_um",
        "recast_low_um",
        "recast_um",
        "recast_high_um",
    )
    curves = ("feed_mm_per_min", "depth_to_diameter", "wander_mm_per_mm")
    node.only("feed_factor", "wear_ratio", *curves, *names, *_HOLE_BEFORE)
    values, sources = node.record(*names)
    # What a job kept before there was such a limit refused no depth.
    kept, said = node.record(*(n for n in _HOLE_BEFORE if n in node.data))
    values |= {**_HOLE_BEFORE, **kept}
    sources |= said
    wander, sources["wander_mm_per_mm"] = node.curve("wander_mm_per_mm")
    feed, sources["feed_mm_per_min"] = node.curve("feed_mm_per_min")
    depth, sources["depth_to_diameter"] = node.curve("depth_to_diameter")
    by_family: dict[str, Mapping[str, float]] = {}
    for key in ("feed_factor", "wear_ratio"):
        table = node.table(key)
        table.only(*FAMILIES)
        factors, factor_sources = table.record(*FAMILIES)
        by_family[key] = MappingProxyType(factors)
        sources |= {f"{key}.{family}": s for family, s in factor_sources.items()}
    # Kept with a job before there was such a share: no source, and by the likely value.
    if "allowed_miss" in limits.sources:
        sources["allowed_miss"] = limits.sources["allowed_miss"]
    return SmallHoleLaw(
        allowed_miss=limits.allowed_miss,
        feed_mm_per_min=feed,
        depth_to_diameter=depth,
        wander_mm_per_mm=wander,
        feed_factor=by_family["feed_factor"],
        wear_ratio=by_family["wear_ratio"],
        sources=MappingProxyType(sources),
        **values,
    )
