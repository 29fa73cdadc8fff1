"""A fit for holes on an outline, or for shafts on an opening, is questioned and left as it is."""

from __future__ import annotations

from pathlib import Path

import pytest

import handmade
from kerfwright.adapters.fit_tables import load_fits
from kerfwright.app.asked_fits import questioned_fits
from kerfwright.app.records import JobRequest
from kerfwright.geometry.contour import Contour


def asked(**wishes: object) -> list[tuple[str | None, str, str]]:
    bore = Contour.circle((20.0, 15.0), radius_mm=6.0)
    square = Contour.from_rows([(0, 0), (40, 0), (40, 30), (0, 30)])
    part = handmade.part(handmade.outline("P1", square), handmade.opening("H1", bore, "P1"))
    request = JobRequest(drawing=Path("x.dxf"), material="D2", height="20 mm", **wishes)  # type: ignore[arg-type]
    found = questioned_fits(request, part, table=load_fits())
    assert all(f.code == "fit-of-the-other-member" for f in found)
    return [(f.where.contour_id, f.message, f.remedy) for f in found]


def test_a_fit_for_holes_on_an_outline_is_questioned() -> None:
    ((where, message, remedy),) = asked(tolerance="40 H7")
    assert where == "P1"
    assert "40 H7 is a fit for holes, and this is an outline" in message
    # ISO 286-1: IT7 over 30 to 50 mm is 25 µm (from memory).
    assert "40.0000 to 40.0250 mm" in message
    assert "40 h7, 39.9750 to 40.0000 mm" in remedy
    assert "Nothing was changed" in remedy


def test_a_fit_for_shafts_on_an_opening_is_questioned() -> None:
    ((where, message, remedy),) = asked(contours={"H1": "tolerance=12 g6"})
    assert (where, "fit for shafts, and this is an opening" in message) == ("H1", True)
    assert "12 G6" in remedy


@pytest.mark.parametrize(
    "wishes",
    [
        {"tolerance": "12 H7"},
        {"tolerance": "40 h6"},
        {"tolerance": "±0.01 mm"},
        # Of no outer size that is drawn: perhaps of a slot.
        {"tolerance": "8 H7"},
        {"tolerance": "40 H7", "contours": {"P1": "tolerance=±0.01 mm"}},
    ],
)
def test_what_is_in_order_is_not_questioned(wishes: dict[str, object]) -> None:
    assert asked(**wishes) == []
