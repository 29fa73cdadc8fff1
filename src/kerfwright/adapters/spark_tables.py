"""The tables ``spark.toml`` and ``flushing.toml`` as laws."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import MISSING, fields
from types import MappingProxyType
from typing import Any, Final, TypeVar

from kerfwright.adapters.figures import Node
from kerfwright.process.flushing_law import DebrisLaw, FlushingLaw, NozzleLaw, WaterLaw
from kerfwright.process.spark_law import (
    CraterLaw,
    ErodibilityLaw,
    PulseLaw,
    RoughnessFit,
    SparkLaw,
    SurfaceLaw,
)

_Record = TypeVar("_Record")

_SHARES: Final = frozenset({"work_share_low", "work_share_high", "jet_share"})
"""Figures that are parts of a whole."""


def spark_law(node: Node) -> SparkLaw:
    """Read ``spark.toml``.

    Raises
    ------
    InputError
        Code ``table-value`` or ``table-key``.
    """
    node.only("pulse", "crater", "surface", "fit", "erodibility")
    return SparkLaw(
        pulse=_flat(node.table("pulse"), PulseLaw),
        crater=_flat(node.table("crater"), CraterLaw),
        surface=_flat(node.table("surface"), SurfaceLaw),
        fit=_flat(node.table("fit"), RoughnessFit),
        erodibility=_erodibility(node.table("erodibility")),
    )


def _erodibility(node: Node) -> ErodibilityLaw:
    spans = ("known_rate_factor", "possible_rate_factor")
    ends = tuple(f"{end}_{span}" for span in spans for end in ("least", "most"))
    names = ("kalpakjian_exponent", "unlike_factor")
    limits = (*ends, "unknown_factor")
    node.only(*names, *limits)
    # Kept with a job before a rate factor had limits: nothing was said of it.
    values, sources = node.record(*names, *(n for n in limits if n in node.data))
    for span in spans:
        low, high = values.get(f"least_{span}", 0.0), values.get(f"most_{span}", math.inf)
        if low >= high:
            node.fail(f"least_{span}", low, f"below most_{span}, {high:g}")
    return ErodibilityLaw(sources=MappingProxyType(sources), **values)


def flushing_law(node: Node) -> FlushingLaw:
    """Read ``flushing.toml``.

    Raises
    ------
    InputError
        Code ``table-value`` or ``table-key``.
    """
    node.only("water", "nozzle", "debris")
    return FlushingLaw(
        water=_flat(node.table("water"), WaterLaw),
        nozzle=_flat(node.table("nozzle"), NozzleLaw),
        debris=_debris(node.table("debris")),
    )


def _debris(node: Node) -> DebrisLaw:
    if "model_from_mm" in node.data or "state_binds_below_mm" in node.data:
        found = _flat(node, DebrisLaw)
        if found.state_binds_below_mm >= found.model_from_mm:
            expected = f"less than model_from_mm, {found.model_from_mm:g}"
            node.fail("state_binds_below_mm", found.state_binds_below_mm, expected)
        return found
    # Kept with a job before there were such heights: its model counted at every height.
    kept = ("mixing_mm", "rate_exponent", "dry_factor", "raised_risk", "high_risk")
    node.only(*kept)
    values, sources = node.record(*kept)
    return DebrisLaw(
        model_from_mm=0.0, state_binds_below_mm=0.0, sources=MappingProxyType(sources), **values
    )


def _flat(node: Node, make: Callable[..., _Record]) -> _Record:
    """Read a table of plain figures into a record whose fields have their names."""
    record: Any = make
    known = [f for f in fields(record) if f.name != "sources"]
    node.only(*(f.name for f in known))
    # Kept with a job before there was such a figure: its default is what held then.
    names = tuple(f.name for f in known if f.default is MISSING or f.name in node.data)
    values, sources = node.record(*names)
    for name in _SHARES & values.keys():
        if values[name] > 1:
            node.fail(name, values[name], "a share, above 0 and at most 1")
    return make(sources=MappingProxyType(sources), **values)
