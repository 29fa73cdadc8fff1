"""The constants of the running wire: TOML shipped with us, overridden by the shop."""

from __future__ import annotations

from functools import lru_cache
from itertools import pairwise
from pathlib import Path
from types import MappingProxyType
from typing import Final

from kerfwright.adapters.figures import Node
from kerfwright.adapters.kept_tables import is_kept
from kerfwright.adapters.table_files import Stamp, open_table, stamp
from kerfwright.process.technology import Flushing
from kerfwright.process.wire_physics import (
    BreakLaw,
    FeedRules,
    HeatLaw,
    Pulse,
    PushLaw,
    TensionLaw,
    WireMetal,
    WirePhysics,
)
from kerfwright.trade.material import FAMILIES

FILE: Final = "wire_physics.toml"


def load_wire_physics(folder: Path | None = None) -> WirePhysics:
    """Load the shipped constants, with a shop's own values over them.

    Parameters
    ----------
    folder : Path or None
        Folder that may hold a ``wire_physics.toml``, or a file of kept figures; None for the
        constants as shipped.

    Raises
    ------
    InputError
        Code ``table-syntax``, ``table-value`` or ``table-key``.
    FileError
        Code ``table-unreadable``.
    """
    present = stamp(folder, FILE)
    if folder is None or not (present or is_kept(folder)):
        return _load(None, ())
    return _load(folder.resolve(), present)


@lru_cache(maxsize=8)
def _load(folder: Path | None, _present: Stamp) -> WirePhysics:
    root = open_table(FILE, folder)
    root.only("tension", "heat", "pulse", "breaking", "push", "feeds", "wire")
    return WirePhysics(
        metals={key: _metal(node) for key, node in root.table("wire").tables()},
        tension=_tension(root.table("tension")),
        heat=_heat(root.table("heat")),
        pulse=_pulse(root.table("pulse")),
        breaking=_breaking(root.table("breaking")),
        push=_push(root.table("push")),
        feeds=_feeds(root.table("feeds")),
    )


def _metal(node: Node) -> WireMetal:
    names = ("conductivity_pct_iacs", "conductivity_w_per_mk", "heat_capacity_j_per_kgk")
    node.only(*names, "hot_strength")
    values, sources = node.record(*names)
    curve, said = node.curve("hot_strength")
    if any(after > before for (_, before), (_, after) in pairwise(curve)):
        node.fail("hot_strength", curve, "shares of strength that nowhere rise with temperature")
    return WireMetal(**values, hot_strength=curve, sources=sources | {"hot_strength": said})


def _at_most_one(node: Node, values: dict[str, float], *names: str) -> None:
    for name in names:
        if values[name] > 1:
            node.fail(name, values[name], "a share above 0, at most 1")


def _tension(node: Node) -> TensionLaw:
    wear, kept = "wear_mm3_per_c", "section_left"
    # Kept with a job before wear went with the current: one share in every cut.
    is_kept = kept in node.data and wear not in node.data
    names = ("share", kept if is_kept else wear, "guide_gap_mm")
    node.only(*names)
    values, sources = node.record(*names)
    _at_most_one(node, values, "share", *([kept] if is_kept else []))
    if is_kept:
        values |= {"kept_section_left": values.pop(kept), wear: 0.0}
    return TensionLaw(**values, sources=sources)


def _heat(node: Node) -> HeatLaw:
    names = (
        "copper_resistivity_uohm_cm",
        "water_c",
        "film_w_per_m2k",
        "film_flow_exponent",
        "film_height_mm",
        "spark_share_to_wire",
        "spark_voltage_v",
        "free_film_share",
        "contact_gap_mm",
        "lead_mm",
    )
    node.only(*names, "film")
    values, sources = node.record(*names)
    _at_most_one(node, values, "spark_share_to_wire", "free_film_share")
    table = node.table("film")
    table.only(*Flushing)
    film, said = table.record(*Flushing)
    _at_most_one(table, film, *Flushing)
    return HeatLaw(
        **values,
        film={state: film[state] for state in Flushing},
        sources=sources | {f"film.{key}": value for key, value in said.items()},
    )


def _pulse(node: Node) -> Pulse:
    names: tuple[str, ...] = ("peak_a", "on_us", "off_us", "servo_v", "diameter_mm", "open_v")
    # Kept with a job before the peak had a spread.
    if _PEAK in node.data:
        names = (*names, _PEAK)
    node.only(*names)
    values, sources = node.record(*names)
    return Pulse(**values, sources=sources)


_SLOW: Final = "slow_current_exponent"
_ELSEWHERE: Final = "charge_elsewhere_sigma_log"
_PEAK: Final = "peak_sigma_log"


def _breaking(node: Node) -> BreakLaw:
    names: tuple[str, ...] = (
        "charge_c_per_mm3",
        "charge_sigma_log",
        "skim_current_exponent",
        "sigma_log",
        "raised_share",
        "most_share",
    )
    # Kept with a job before it was told from 1: then all of a slow feed was power taken back.
    if _SLOW in node.data:
        names = (*names, _SLOW)
    node.only(*names, "relative_rate", _ELSEWHERE)
    values, sources = node.record(*names)
    elsewhere: dict[str, float] = {}
    # Kept with a job before the charge was less sure in any material.
    if _ELSEWHERE in node.data:
        table = node.table(_ELSEWHERE)
        table.only(*FAMILIES)
        elsewhere, of_family = table.record(*(f for f in FAMILIES if f in table.data), least=0)
        sources |= {f"{_ELSEWHERE}.{family}": source for family, source in of_family.items()}
    if values["raised_share"] > values["most_share"]:
        node.fail("raised_share", values["raised_share"], "at most most_share")
    curve, said = node.curve("relative_rate")
    return BreakLaw(
        **values,
        relative_rate=curve,
        charge_elsewhere_sigma_log=MappingProxyType(elsewhere),
        sources=sources | {"relative_rate": said},
    )


def _push(node: Node) -> PushLaw:
    names = (
        "pressure_kpa",
        "pressure_sigma_log",
        "height_mm",
        "height_exponent",
        "energy_exponent",
        "feed_exponent",
        "side_share_rough",
    )
    node.only(*names)
    values, sources = node.record(*names)
    _at_most_one(node, values, "side_share_rough")
    return PushLaw(**values, sources=sources)


def _feeds(node: Node) -> FeedRules:
    names = (
        "tolerance_share",
        "least_factor",
        "factor_step",
        "lags_before",
        "shortest_zone_mm",
    )
    node.only(*names)
    values, sources = node.record(*names)
    _at_most_one(node, values, "tolerance_share", "least_factor", "factor_step")
    return FeedRules(**values, sources=sources)
