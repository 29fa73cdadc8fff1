"""Units: taken where clear, asked for where not, never guessed."""

from __future__ import annotations

import pytest

from kerfwright.adapters.dxf.document import Header
from kerfwright.adapters.dxf.units import decide_unit
from kerfwright.adapters.papers.words import Units, in_unit
from kerfwright.foundation.errors import DrawingError
from kerfwright.trade.part import LengthUnit

MM, INCH = LengthUnit.MILLIMETRE, LengthUnit.INCH


def decide(
    insunits: int | None,
    measurement: int | None,
    size: tuple[float, float] = (40.0, 20.0),
    asked: LengthUnit | None = None,
) -> tuple[LengthUnit, list[str]]:
    header = Header(insunits=insunits, measurement=measurement)
    unit, findings = decide_unit(header, size, asked=asked, name="part.dxf")
    return unit, [f.code for f in findings]


@pytest.mark.parametrize(
    ("insunits", "measurement", "unit"),
    [(1, 0, INCH), (1, None, INCH), (4, 1, MM), (4, None, MM)],
)
def test_a_clear_header_decides(insunits: int, measurement: int | None, unit: LengthUnit) -> None:
    assert decide(insunits, measurement) == (unit, [])


@pytest.mark.parametrize(
    ("insunits", "measurement"),
    [
        (None, None),
        (None, 1),
        (0, 0),
        (0, 1),
        (6, 1),
        (2, 0),
        (5, 1),
        (13, 1),
        (99, 1),
        (1, 1),
        (4, 0),
    ],
)
def test_a_silent_contradictory_or_unusual_header_asks(
    insunits: int | None, measurement: int | None
) -> None:
    with pytest.raises(DrawingError) as error:
        decide(insunits, measurement)
    assert error.value.code == "units-unknown"
    assert "--units in or --units mm" in error.value.remedy
    # Both readings of 40 by 20 drawing units.
    assert "40.00 × 20.00 mm (1.575 × 0.787 in)" in error.value.message
    assert "1016.00 × 508.00 mm (40.000 × 20.000 in)" in error.value.message


def test_metres_show_their_own_size_too() -> None:
    with pytest.raises(DrawingError, match=r"in metres it would be 40000\.00 × 20000\.00 mm"):
        decide(6, 1)


@pytest.mark.parametrize(
    ("insunits", "size"), [(1, (256.3, 102.2)), (1, (10.0, 59.1)), (4, (0.4, 0.3))]
)
def test_a_size_that_only_the_other_unit_makes_plausible_asks(
    insunits: int, size: tuple[float, float]
) -> None:
    with pytest.raises(DrawingError) as error:
        decide(insunits, None, size)
    assert error.value.code == "units-unknown"


@pytest.mark.parametrize(("insunits", "size"), [(4, (1800.0, 5.0)), (1, (0.01, 0.005))])
def test_a_size_that_no_unit_makes_plausible_is_remarked_on(
    insunits: int, size: tuple[float, float]
) -> None:
    assert decide(insunits, None, size)[1] == ["size-unusual"]


@pytest.mark.parametrize("insunits", [None, 0, 1, 4, 6])
@pytest.mark.parametrize("asked", [MM, INCH])
def test_a_person_decides_and_overruling_is_said(insunits: int | None, asked: LengthUnit) -> None:
    unit, codes = decide(insunits, None, asked=asked)
    assert unit is asked
    overruled = {1: INCH, 4: MM}.get(insunits or 0, asked) is not asked
    assert codes == (["unit-overruled"] if overruled else [])


def test_a_plate_read_in_inches_has_its_size_in_inches_where_these_are_shown() -> None:
    header = Header(insunits=1, measurement=1)
    _, (found,) = decide_unit(header, (4.0, 3.0), asked=INCH, name="die_plate.dxf")
    said = in_unit(found.message, Units(unit=INCH))
    assert "4.000 × 3.000 in" in said
    assert "101.6" not in said


def test_a_choice_between_two_units_that_a_drawing_names_is_said() -> None:
    assert decide(1, 1, asked=INCH) == (INCH, ["unit-contradicted"])
    assert decide(4, 0, asked=MM) == (MM, ["unit-contradicted"])
    assert decide(4, 1, asked=MM) == (MM, [])
