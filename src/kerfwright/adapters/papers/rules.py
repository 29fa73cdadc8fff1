"""The table ``papers.toml``: what papers say about the shop."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Final

from kerfwright.adapters.table_files import open_table
from kerfwright.foundation.sources import Source

FILE: Final = "papers.toml"


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperRules:
    """What stands on papers beside the job.

    Attributes
    ----------
    shop_name : str
        Empty where the shop has not put in its own.
    shop_lines : tuple of str
        Address and the like.
    valid_days : int
    delivery : str
    terms : tuple of str
    clamp_clearance_mm : float
    clamp_clearance_source : Source
    clamp_grip_mm : float
        Stock that a clamp wants under it.
    """

    shop_name: str
    shop_lines: tuple[str, ...]
    valid_days: int
    delivery: str
    terms: tuple[str, ...]
    clamp_clearance_mm: float
    clamp_clearance_source: Source
    clamp_grip_mm: float


def load_paper_rules(folder: Path | None = None) -> PaperRules:
    """Load the shipped table, with the shop's own over it.

    Raises
    ------
    InputError
        Code ``table-syntax``, ``table-value`` or ``table-key``.
    FileError
        Code ``table-unreadable``.
    """
    root = open_table(FILE, folder)
    root.only("shop", "quote", "set_up")
    shop, quote, set_up = (root.table(name) for name in ("shop", "quote", "set_up"))
    shop.only("name", "lines")
    quote.only("valid_days", "delivery", "terms")
    set_up.only("clamp_clearance_mm", "clamp_grip_mm")
    name = shop.data.get("name", "")
    if not isinstance(name, str):
        shop.fail("name", name, "words")
    valid_days, _ = quote.number("valid_days")
    if valid_days != int(valid_days):
        quote.fail("valid_days", valid_days, "whole days")
    clearance, of_clearance = set_up.number("clamp_clearance_mm", least=0.0)
    return PaperRules(
        shop_name=name,
        shop_lines=shop.texts("lines"),
        valid_days=int(valid_days),
        delivery=quote.text("delivery"),
        terms=quote.texts("terms"),
        clamp_clearance_mm=clearance,
        clamp_clearance_source=of_clearance,
        # What a job kept before sheets said where a clamp has room says nothing of it.
        clamp_grip_mm=set_up.number("clamp_grip_mm")[0] if "clamp_grip_mm" in set_up.data else 0.0,
    )
