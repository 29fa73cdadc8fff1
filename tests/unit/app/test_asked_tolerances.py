"""A tolerance that cannot be meant as written is questioned with its readings and left alone."""

from __future__ import annotations

from pathlib import Path

import pytest

import handmade
from kerfwright.adapters.fit_tables import load_fits
from kerfwright.app.asked_tolerances import questioned_tolerances
from kerfwright.app.records import JobRequest
from kerfwright.foundation.findings import Finding
from kerfwright.geometry.contour import Contour


def asked(**wishes: object) -> tuple[Finding, ...]:
    bore = Contour.circle((20.0, 15.0), radius_mm=2.0)
    square = Contour.from_rows([(0, 0), (40, 0), (40, 30), (0, 30)])
    part = handmade.part(handmade.outline("P1", square), handmade.opening("H1", bore, "P1"))
    request = JobRequest(drawing=Path("x.dxf"), material="D2", height="20 mm", **wishes)  # type: ignore[arg-type]
    return questioned_tolerances(request, part, table=load_fits())


def test_inches_where_thou_or_micrometres_were_meant_are_questioned_with_every_reading() -> None:
    (found,) = asked(tolerance="±2 in")
    assert found.code == "tolerance-beyond-the-part"
    # 2 in are 50.8 mm: wider than the bore of 4 mm, and than the part.
    assert "±2 in is ±50.8 mm" in found.message or "±50800" in found.message
    assert "H1 is" in found.message
    assert "wide in all" in found.message
    for reading in ("±2 thou (50.8 µm", "±2 µm (2 µm", "±2 µin (0.0508 µm"):
        assert reading in found.remedy
    # 2 mm are no more than half of the bore, but beyond the widest general tolerance of 40 mm.
    assert "±2 mm" not in found.remedy
    assert "Nothing was changed" in found.remedy
    assert found.data["count"] == 2


def test_a_tolerance_beyond_the_widest_general_one_is_questioned() -> None:
    # ISO 2768-1, class v, over 30 to 120 mm: ±1.5 mm (as reprinted).
    assert asked(tolerance="±1.5 mm") == ()
    (found,) = asked(tolerance="±1.6 mm")
    assert "even a very coarse part" in found.message
    assert "±1.6 thou" in found.remedy


def test_a_contour_is_held_to_its_own_size() -> None:
    (found,) = asked(tolerance="±5 µm", contours={"H1": "tolerance=4 mm total"})
    assert (found.where.contour_id, found.data["count"]) == ("H1", 1)
    # No single number with a unit: the question is put without readings.
    assert found.remedy == "Ask which is meant. Nothing was changed."


@pytest.mark.parametrize("text", ["±0.005 mm", "0.0002 in", "+0.01/-0 mm", "12 H7", "±0.5 mm"])
def test_what_is_in_order_is_not_questioned(text: str) -> None:
    assert asked(tolerance=text) == ()
