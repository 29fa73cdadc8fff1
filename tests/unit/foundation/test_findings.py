"""The order in which findings are read."""

from __future__ import annotations

from kerfwright.adapters.papers.words import Units, in_unit, inch_first
from kerfwright.cli.words import Show
from kerfwright.foundation.findings import Finding, Place, Severity, rank
from kerfwright.trade.part import LengthUnit


def test_a_doubt_of_the_unit_comes_before_any_refusal() -> None:
    found = [
        Finding(code="thin-web", severity=Severity.NOTE, message=""),
        Finding(code="slot-below-kerf", severity=Severity.REFUSAL, message=""),
        Finding(code="unit-contradicted", severity=Severity.WARNING, message=""),
        Finding(code="thin-web", severity=Severity.WARNING, message=""),
    ]
    order = [(f.code, f.severity.value) for f in sorted(found, key=rank)]
    assert order == [
        ("unit-contradicted", "warning"),
        ("slot-below-kerf", "refusal"),
        ("thin-web", "warning"),
        ("thin-web", "note"),
    ]


HERE = Place(contour_id="H8", layer="10 mm", x_mm=159.9375, y_mm=-25.4)


def test_a_place_says_its_unit_and_is_told_in_inches_where_those_are_read() -> None:
    assert str(HERE) == "contour H8, layer 10 mm, X159.938 mm Y-25.400 mm"
    inches = in_unit(str(HERE), Units(unit=LengthUnit.INCH), kept=("10 mm",))
    assert inches == "contour H8, layer 10 mm, X6.29677 in Y-1.00000 in"
    assert "Y-1.00000 in (25.400 mm)" in inch_first(str(HERE))
    shown = {unit: Show(unit=unit).alone(str(HERE), kept=("10 mm",)) for unit in LengthUnit}
    assert shown == {LengthUnit.MILLIMETRE: str(HERE), LengthUnit.INCH: inches}


def test_a_coordinate_of_nought_has_no_sign() -> None:
    assert str(Place(x_mm=-0.0001, y_mm=0.0)) == "X0.000 mm Y0.000 mm"
