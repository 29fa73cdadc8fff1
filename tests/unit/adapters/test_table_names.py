"""The shop's tables as people read them: plain titles, and a unit where there is one."""

from __future__ import annotations

import re

import pytest

from kerfwright.adapters.table_rows import shop_table
from kerfwright.app.shop_tables import TITLES, TableRow, TableValue, ValueKind

PLAIN = re.compile(r"(?:_sigma_log|_log|_share|_factor|_exponent)$")
ROWS = [(name, row) for name in TITLES for row in shop_table(name, None).rows]
VALUES = [(name, value) for name, row in ROWS for value in row.values]


def value(table: str, key: str) -> TableValue:
    (found,) = [one for name, one in VALUES if name == table and one.key == key]
    return found


def test_shares_factors_and_spreads_have_no_unit() -> None:
    plain = [(name, one) for name, one in VALUES if PLAIN.search(one.key)]
    assert {name for name, _ in plain} >= {"rates", "passes", "planning", "spark"}
    assert [(name, one.key, one.unit.name) for name, one in plain if one.unit.name] == []
    assert value("rates", "minutes/human_sigma_log").shown.metric == "0.25"


def test_every_other_figure_of_the_minutes_is_in_minutes() -> None:
    for table in ("rates", "holes"):
        for name, one in VALUES:
            key = one.key.removeprefix("minutes/")
            if name == table and key != one.key and key not in {
                "human_sigma_log", "inspection_most", "inspection_usual_um"
            }:  # fmt: skip
                assert one.unit.name == "min", one.key


@pytest.mark.parametrize(
    ("table", "key", "unit"),
    [
        ("rates", "at_most/rate_per_h", "EUR an hour"),
        ("rates", "at_most/price", "EUR"),
        ("rates", "at_most/work_min", "min"),
        ("rates", "order/same_price_share", ""),
        ("rates", "minutes/inspection_usual_um", "µm"),
        ("learning", "limits/minutes", "min"),
        ("learning", "breaks/per_h", "an hour"),
    ],
)
def test_units_are_those_of_the_figures(table: str, key: str, unit: str) -> None:
    assert value(table, key).unit.name == unit


def test_no_title_shows_a_key_or_a_letter_of_a_formula() -> None:
    odd = re.compile(r"sigma|\blog\b|_|^minutes$|^general$|^at most$|^order$", re.IGNORECASE)
    titled: list[tuple[str, TableRow]] = [r for r in ROWS if r[0] != "machines"]
    assert [(name, row.title) for name, row in titled if odd.search(row.title)] == []
    named = [(name, one.name) for name, one in VALUES if name != "machines"]
    assert [one for one in named if odd.search(one[1]) or not one[1].strip()] == []
    formula = re.compile(r"A_inf|H_f|v0|sigma_log")
    assert [(name, one.remark) for name, one in VALUES if formula.search(one.remark)] == []


def test_values_of_one_row_have_names_of_their_own() -> None:
    for name, row in ROWS:
        names = [(one.name, one.unit.name) for one in row.values if one.kind is ValueKind.NUMBER]
        assert len(names) == len(set(names)), (name, row.id)
