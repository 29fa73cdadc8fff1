"""The table of ISO 286, as shipped; a standard is not a shop's to override."""

from __future__ import annotations

from functools import lru_cache
from types import MappingProxyType
from typing import Final

from kerfwright.adapters.table_files import open_table
from kerfwright.foundation.sources import Source
from kerfwright.trade.fits import FitTable

FILE: Final = "fits.toml"


@lru_cache(maxsize=1)
def load_fits() -> FitTable:
    """Load the shipped table of limits and fits.

    Raises
    ------
    InputError
        Code ``table-syntax``, ``table-value`` or ``table-key``.
    """
    node = open_table(FILE, None)
    node.only("general", "steps", "grade", "deviation", "both_sides")
    steps = node.table("steps")
    steps.only("to_mm", "fine_to_mm")
    to_mm, fine_to_mm = steps.numbers("to_mm"), steps.numbers("fine_to_mm")
    counts = (len(to_mm), len(fine_to_mm))
    sources: dict[str, Source] = {}
    general = node.table("general")
    general.only("to_mm", "very_coarse")
    general_to_mm = general.numbers("to_mm")
    widest, sources["general"] = general.row("very_coarse", counts=(len(general_to_mm),))
    rows: dict[str, dict[str, tuple[float, ...]]] = {"grade": {}, "deviation": {}, "both_sides": {}}
    for kind, found in rows.items():
        table = node.table(kind)
        for key in table.data:
            found[key], sources[f"{kind}.{key}"] = table.row(key, counts=counts)
    return FitTable(
        to_mm=to_mm,
        fine_to_mm=fine_to_mm,
        general_to_mm=general_to_mm,
        very_coarse_um=widest,
        grades_um=MappingProxyType({int(k): v for k, v in rows["grade"].items()}),
        deviations_um=MappingProxyType(rows["deviation"]),
        both_sides_um=MappingProxyType(rows["both_sides"]),
        sources=MappingProxyType(sources),
    )
