"""What the rows and values of the shop's tables are called, where their keys say it badly."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from kerfwright.app.shop_tables import PLAIN, Unit, unit_of, words_of

_WITHOUT_UNIT: Final = ("_sigma_log", "_log", "_sigma", "_share", "_factor", "_exponent", "_most")
"""Endings of shares, factors and spreads, whatever table they stand in."""
_COUNTED: Final[Mapping[str, Unit]] = {
    "minutes": Unit(name="min"),
    "per_h": Unit(name="an hour"),
}
"""Keys that are nothing but a unit."""
_ROWS: Final[Mapping[tuple[str, str], str]] = {
    ("rates", ""): "currency",
    ("rates", "hour"): "rates of an hour",
    ("rates", "minutes"): "minutes of people",
    ("rates", "consumption"): "consumables",
    ("rates", "breaks"): "breaks of the wire",
    ("rates", "order"): "orders and prices compared",
    ("rates", "at_most"): "highest believed",
    ("passes", "rough/flushing_sigma_log"): "rough, spread of flushing",
    ("passes", "feed_spread/material_elsewhere_log"): "feed, spread of material factors by family",
    ("wire_physics", "breaking/charge_elsewhere_sigma_log"): "breaking, spread of charge by family",
    ("wires", ""): "usual wire",
    ("holes", "hour"): "rates of an hour",
    ("holes", "minutes"): "minutes of people",
    ("holes", "consumption"): "consumables",
    ("holes", "tube_end"): "end of the tube",
    ("learning", "sigma"): "spreads of measured cuts",
    ("learning", "limits"): "limits of what is measured",
    ("learning", "breaks"): "breaks of the wire",
    ("learning", "share/feed"): "what the spread of a feed is shared by",
    ("learning", "share/ra"): "what the spread of Ra is shared by",
    ("learning", "share/size"): "what the spread of a size is shared by",
    ("learning", "share/wire"): "what the spread of the wire used is shared by",
    ("learning", "share/breaks"): "what the spread of breaks is shared by",
}
"""Titles of rows by table and id."""
_VALUES: Final[Mapping[str, str]] = {
    "human_sigma_log": "spread of people's minutes",
    "inspection_usual_um": "usual tolerance of inspection",
    "inspection_most": "inspection, how many times as long at most",
    "set_up": "setting up",
    "same_price_share": "share within which prices count as equal",
    "unmeasured_saving_share": "share that a wire of unmeasured rate has to save",
    "help_share": "share of breaks that want a person",
    "help_min": "a person's help",
    "rate_per_h": "rate of an hour",
    "work_min": "a single handling",
    "minutes": "machine time",
    "per_h": "breaks",
    "sigma_log": "spread",
    "wire_gain_share": "spread of a wire's factor in steel, share of its logarithm",
    "wire_gain_elsewhere_share": "spread of a wire's factor elsewhere, share of its logarithm",
    "slip_sigmas": "spreads away from which a cut is a slip",
    "resin_l_per_h": "resin used up",
    "feed_over_stock_sigma": "spread of a feed over its stock",
}
"""Names of values by the last part of their key."""


def row_title(table: str, row: str) -> str:
    """Return the title of a row; empty where its id says it well."""
    return _ROWS.get((table, row), "")


def value_name(key: str) -> str:
    """Return the name of a value, without its unit.

    Parameters
    ----------
    key : str
        The last part of its place.

    Examples
    --------
    >>> value_name("feed_sigma_log"), value_name("set_up"), value_name("recast_per_ra")
    ('spread of feed', 'setting up', 'recast per Ra')
    """
    if key in _VALUES:
        return _VALUES[key]
    for ending in ("_sigma_log", "_sigma", "_log"):
        if key.endswith(ending):
            return f"spread of {value_name(key.removesuffix(ending))}"
    words = words_of(key) or key.replace("_", " ")
    return " ".join("Ra" if word == "ra" else word for word in words.split(" "))


def value_unit(key: str) -> Unit:
    """Return the unit of a value; plain for shares, factors, spreads and exponents.

    Parameters
    ----------
    key : str
        The last part of its place.

    Examples
    --------
    >>> value_unit("human_sigma_log").name, value_unit("minutes").name
    ('', 'min')
    """
    if key in _COUNTED:
        return _COUNTED[key]
    return PLAIN if has_no_unit(key) else unit_of(key)


def has_no_unit(key: str) -> bool:
    """Tell whether a value is a plain number by its name, whatever stands around it."""
    return key.endswith(_WITHOUT_UNIT)
