"""The table ``holes.toml`` as rules of planning and rates of costing."""

from __future__ import annotations

from decimal import Decimal
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType
from typing import Final

from kerfwright.adapters.figures import Node
from kerfwright.adapters.table_files import Stamp, open_table, stamp
from kerfwright.costing.hole_rates import HoleRates
from kerfwright.foundation.sources import Source
from kerfwright.planning.hole_rules import HoleRules

FILE: Final = "holes.toml"

_RULES: Final = {
    "overcut": ("low_mm", "high_mm"),
    "clearance": (
        "approach_mm", "between_mm", "turning_mm", "guide_gap_mm", "guide_spare_mm",
        "guide_gap_most_mm", "least_web_mm",
    ),
    "slope": ("usual_deg", "most_deg"),
    "heat": ("into_work_w", "into_work_sigma_log", "rise_limit_k", "most_rounds"),
    "tube_end": ("dress_diameters", "touch_off_mm", "tip_diameters"),
}  # fmt: skip
_BEFORE: Final = {"touch_off_mm": 0.0, "tip_diameters": 0.0, "into_work_sigma_log": 0.0}
_PREFIXED: Final = {"overcut", "slope"}
"""Sections whose keys are too short to stand alone."""
_MINUTES: Final = (
    "tube_change", "tube_change_itself", "guide_change", "dress", "dress_by_hand", "touch",
    "retract", "inspection_per_size", "inspection_per_hole",
)  # fmt: skip
_HOUR: Final = ("machine_unattended_per_h", "machine_attended_per_h")
_CONSUMPTION: Final = ("guide_price", "guide_life_holes", "water_price_per_m3")


def load_hole_tables(folder: Path | None = None) -> tuple[HoleRules, HoleRates]:
    """Load the shipped table, with a shop's own values over it.

    Parameters
    ----------
    folder : Path or None
        Folder of the shop's tables, or a file of kept figures.

    Raises
    ------
    InputError
        Code ``table-syntax``, ``table-value`` or ``table-key``.
    FileError
        Code ``table-unreadable``.
    """
    return _load(folder.resolve() if folder is not None else None, stamp(folder, FILE))


@lru_cache(maxsize=8)
def _load(folder: Path | None, _present: Stamp) -> tuple[HoleRules, HoleRates]:
    root = open_table(FILE, folder)
    root.only(*_RULES, "minutes", "hour", "consumption")
    return _rules(root), _rates(root)


def _rules(root: Node) -> HoleRules:
    values: dict[str, float] = {}
    sources: dict[str, Source] = {}
    for section, names in _RULES.items():
        node = root.table(section)
        node.only(*names)
        # A job kept before there was such a figure refused no depth, and knew the heat.
        before = {n: v for n, v in _BEFORE.items() if n in names and n not in node.data}
        there = tuple(n for n in names if n not in before)
        found, said = node.record(*there)
        values |= before
        for name in there:
            key = f"{section}_{name}" if section in _PREFIXED else name
            key = "heat_into_work_w" if name == "into_work_w" else key
            values[key], sources[key] = found[name], said[name]
    rounds = values.pop("most_rounds")
    if rounds != int(rounds):
        root.table("heat").fail("most_rounds", rounds, "a whole number")
    if not values["overcut_low_mm"] <= values["overcut_high_mm"]:
        root.table("overcut").fail("low_mm", values["overcut_low_mm"], "not more than high_mm")
    return HoleRules(most_rounds=int(rounds), sources=MappingProxyType(sources), **values)


def _rates(root: Node) -> HoleRates:
    minutes, hour, used = (root.table(name) for name in ("minutes", "hour", "consumption"))
    minutes.only(*_MINUTES)
    hour.only(*_HOUR)
    used.only(*_CONSUMPTION)
    times, time_sources = minutes.record(*_MINUTES, least=0)
    prices, price_sources = hour.record(*_HOUR, least=0)
    more, more_sources = used.record(*_CONSUMPTION)
    sources = {f"{name}_min": source for name, source in time_sources.items()}
    return HoleRates(
        guide_life_holes=more["guide_life_holes"],
        sources=MappingProxyType(sources | price_sources | more_sources),
        guide_price=Decimal(repr(more["guide_price"])),
        water_price_per_m3=Decimal(repr(more["water_price_per_m3"])),
        machine_unattended_per_h=Decimal(repr(prices["machine_unattended_per_h"])),
        machine_attended_per_h=Decimal(repr(prices["machine_attended_per_h"])),
        tube_change_min=times["tube_change"],
        tube_change_itself_min=times["tube_change_itself"],
        guide_change_min=times["guide_change"],
        dress_min=times["dress"],
        dress_by_hand_min=times["dress_by_hand"],
        touch_min=times["touch"],
        retract_min=times["retract"],
        inspection_per_size_min=times["inspection_per_size"],
        inspection_per_hole_min=times["inspection_per_hole"],
    )
