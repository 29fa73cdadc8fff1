"""No promise is shown closer than it is, and no demand wider."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kerfwright.adapters.papers.words import Units, in_unit
from kerfwright.foundation.directed import Use, in_both, shown
from kerfwright.foundation.units import UnitSystem, tolerance
from kerfwright.foundation.zones import zone_asked, zone_held, zone_text
from kerfwright.trade.part import LengthUnit
from kerfwright.trade.requirement import Demand

LIMITS_UM = st.floats(0.01, 5000.0)
UM_PER = {"µm": 1.0, "in": 25_400.0, "µin": 0.0254, "mm": 1000.0}
NOISE = 1e-10
"""Share by which the conversion of a unit may miss."""


def read_um(text: str) -> float:
    number, unit = text.split()
    return float(number) * UM_PER[unit]


@pytest.mark.parametrize("system", list(UnitSystem))
@given(value_um=LIMITS_UM)
def test_a_promise_is_never_shown_closer_nor_a_demand_wider(
    system: UnitSystem, value_um: float
) -> None:
    promise, demand = (
        read_um(zone_text(value_um, use, system=system)) for use in (Use.HELD, Use.ASKED)
    )
    assert value_um * (1 - NOISE) <= promise <= value_um * 1.011
    assert value_um * 0.989 <= demand <= value_um * (1 + NOISE)


@pytest.mark.parametrize("unit", list(LengthUnit))
@given(value_um=LIMITS_UM)
def test_papers_keep_to_the_same_side(unit: LengthUnit, value_um: float) -> None:
    units = Units(unit=unit)
    assert read_um(units.zone(value_um, Use.HELD)) >= value_um * (1 - NOISE)
    assert read_um(units.zone(value_um, Use.ASKED)) <= value_um * (1 + NOISE)
    told = in_unit(f"holds ±{zone_held(value_um)}", units).removeprefix("holds ±")
    assert read_um(told) >= value_um * (1 - NOISE)


@pytest.mark.parametrize("text", ["±0.0002 in", "±0.00025 in", "±5 µm", "±2.5 µm", "±0.000475 in"])
def test_a_demand_is_shown_as_it_was_written(text: str) -> None:
    number, unit = text.removeprefix("±").split()
    asked = zone_asked(tolerance(text).half_um)
    assert f"{number} {unit}" in asked
    assert in_both(tolerance(text).half_um) == asked


def test_what_was_rounded_to_the_loose_side_is_not_any_more() -> None:
    # 3.4 µm are 0.00013386 in: 0.00013 in was promised, which no pass holds.
    assert zone_held(3.4) == "3.4 µm (0.000134 in)"
    # 5 µm were shown as 0.0002 in, which are 5.08 µm: more than is asked.
    assert Demand(tolerance_um=5.0).said == "±5 µm (0.000196 in)"


def test_nought_and_whole_numbers_have_no_decimals() -> None:
    assert [shown(v, Use.HELD) for v in (0.0, 5.0, 1234.56, 99.95)] == ["0", "5", "1235", "99.95"]
    # Of one factor on 10 and 25 um: in one column they have as many digits.
    assert [shown(v, Use.HELD) for v in (11.025, 27.5625)] == ["11.1", "27.6"]
