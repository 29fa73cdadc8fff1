"""Unequal limits on papers: in the unit of the paper, alike decimals, never wider than asked."""

from __future__ import annotations

import pytest

from kerfwright.adapters.papers.words import Units, in_unit
from kerfwright.adapters.papers.zone_words import ends, zone_words
from kerfwright.foundation.directed import Use
from kerfwright.foundation.units import tolerance
from kerfwright.trade.part import LengthUnit

INCH, MM = Units(unit=LengthUnit.INCH), Units(unit=LengthUnit.MILLIMETRE)


def said(text: str, units: Units) -> str:
    return zone_words(text, 0.0, units).replace("\u2060", "").replace("\xa0", " ")


@pytest.mark.parametrize("text", ["+0.00025/-0 in", "+.00025 -.00000 in", "0 / +.00025 in"])
def test_one_zone_is_written_in_one_way_however_it_was_typed(text: str) -> None:
    assert said(text, INCH) == ("+0.00025/0 in of each wall, +0.00050/0 in on a size between two")


def test_a_zone_that_was_written_in_the_other_unit_is_quoted_beside_what_it_is() -> None:
    assert said("+0.02/-0.01 mm", INCH) == (
        "+0.00078/−0.00039 in of each wall (“+0.02/-0.01 mm”), "
        "+0.00157/−0.00078 in on a size between two"
    )
    assert said("+0.02/-0.01 mm", MM) == (
        "+0.02/−0.01 mm of each wall, +0.04/−0.02 mm on a size between two"
    )


@pytest.mark.parametrize("units", [INCH, MM])
@pytest.mark.parametrize("limits", [(20.0, -10.0), (7.3, 1.1), (-2.1, -9.7), (0.0, -5.0), (3.0, 0)])
def test_no_end_is_written_wider_than_it_is(limits: tuple[float, float], units: Units) -> None:
    high, low = limits
    first, last = ends(high, low, units).removesuffix(f"\xa0{units.name}").split("/\u2060")
    scale = 25_400.0 if units.is_inch else 1000.0
    noise = 1e-9
    assert float(first.replace("−", "-")) * scale <= high + noise
    assert float(last.replace("−", "-")) * scale >= low - noise
    decimals = {len(one.partition(".")[2]) for one in (first, last) if one != "0"}
    assert len(decimals) == 1


def test_a_zone_of_millionths_keeps_its_digits() -> None:
    assert ends(0.254, 0.0, INCH).replace("\u2060", "") == "+0.00001/0\xa0in"
    assert ends(0.3, -0.1, INCH).replace("\u2060", "") == "+0.0000118/−0.0000039\xa0in"


def test_the_remark_on_an_unequal_zone_says_it_in_the_unit_of_the_paper_as_it_was_asked() -> None:
    note = tolerance("+0.00025/-0 in").note
    assert "±0.000125 in of each wall about a middle +0.000125 in" in in_unit(note, INCH)
    assert "±3.175 µm of each wall about a middle +3.175 µm" in in_unit(note, MM)


def test_a_limit_asked_in_inches_has_no_digits_of_its_conversion_in_millimetres() -> None:
    assert MM.zone(5.08, Use.ASKED) == "0.005 mm"
    assert MM.zone(12.7, Use.ASKED) == "0.0127 mm"
    assert MM.zone(3.175, Use.HELD) == "0.0032 mm"
    assert MM.zone(0.254, Use.ASKED) == "0.000254 mm"
