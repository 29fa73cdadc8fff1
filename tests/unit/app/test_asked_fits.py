"""A fit of the other member, or of a size that is not drawn, is questioned and left as it is."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import handmade
from kerfwright.adapters.fit_tables import load_fits
from kerfwright.app.asked_fits import questioned_fits
from kerfwright.app.contour_sizes import nearest_size_mm
from kerfwright.app.records import JobRequest
from kerfwright.geometry.contour import Contour


def asked(
    *, code: str = "fit-of-the-other-member", **wishes: object
) -> list[tuple[str | None, str, str]]:
    bore = Contour.circle((20.0, 15.0), radius_mm=6.0)
    square = Contour.from_rows([(0, 0), (40, 0), (40, 30), (0, 30)])
    part = handmade.part(handmade.outline("P1", square), handmade.opening("H1", bore, "P1"))
    request = JobRequest(drawing=Path("x.dxf"), material="D2", height="20 mm", **wishes)  # type: ignore[arg-type]
    found = questioned_fits(request, part, table=load_fits())
    assert all(f.code == code for f in found)
    return [(f.where.contour_id, f.message, f.remedy) for f in found]


def test_a_fit_for_holes_on_an_outline_is_questioned() -> None:
    ((where, message, remedy),) = asked(tolerance="40 H7")
    assert where == "P1"
    assert "“40 H7” is a fit for holes, and this is an outline" in message
    # ISO 286-1: IT7 over 30 to 50 mm is 25 µm (from memory).
    assert "40.0000 to 40.0250 mm" in message
    assert "40 h7, 39.9750 to 40.0000 mm" in remedy
    assert "Nothing was changed" in remedy


def test_a_fit_for_shafts_on_an_opening_is_questioned() -> None:
    ((where, message, remedy),) = asked(contours={"H1": "tolerance=12 g6"})
    assert (where, "fit for shafts, and this is an opening" in message) == ("H1", True)
    assert "12 G6" in remedy


@pytest.mark.parametrize(
    ("wishes", "where", "said"),
    [
        (
            {"contours": {"H1": "tolerance=8 H7"}},
            "H1",
            "H1: “8 H7” is a fit of 8 mm (0.3150 in), and the nearest size that is drawn is 12 mm",
        ),
        # Nearest of the two sizes of the plate.
        ({"contours": {"P1": "tolerance=31 h6"}}, "P1", "that is drawn is 30 mm (1.1811 in):"),
        ({"tolerance": "8 H7"}, None, "of the whole job, is a fit of 8 mm (0.3150 in), and the "),
        # The plate, which is 40 wide, asks another tolerance.
        (
            {"tolerance": "40 H7", "contours": {"P1": "tolerance=±0.01 mm"}},
            None,
            "is 12 mm (0.4724 in), at H1: the wire follows the drawn line",
        ),
    ],
)
def test_a_fit_of_a_size_that_is_not_drawn_is_questioned_with_both(
    wishes: dict[str, object], where: str | None, said: str
) -> None:
    ((place, message, _),) = asked(code="fit-of-another-size", **wishes)
    assert place == where
    assert said in message


def test_a_fit_finds_the_width_of_a_turned_slot_and_the_tips_of_a_gear() -> None:
    # By hand: a slot 5 wide along (4, 3), with round ends about (0, 0) and (16, 12).
    slot = Contour.from_rows([(1.5, -2, 0), (17.5, 10, 1), (14.5, 14, 0), (-1.5, 2, 1)])
    assert nearest_size_mm(slot, 5.2) == pytest.approx(5.0, abs=1e-9)
    # Two lands on Ø20, a tenth of a turn each, joined by straight flanks to a core.
    land = np.tan(np.pi / 20)
    rows = []
    for turn in (0.0, np.pi):
        for away, radius, bulge in ((-0.1, 10, land), (0.1, 10, 0), (0.25, 7, 0)):
            angle = turn + away * np.pi
            rows.append((radius * np.cos(angle), radius * np.sin(angle), bulge))
    assert nearest_size_mm(Contour.from_rows(rows), 20.0) == pytest.approx(20.0, abs=1e-9)


@pytest.mark.parametrize(
    "wishes",
    [
        {"tolerance": "12 H7"},
        {"tolerance": "40 h6"},
        {"tolerance": "±0.01 mm"},
        # Drawn at the middle of its zone: IT11 over 10 to 18 mm is 110 µm (from memory).
        {"contours": {"H1": "tolerance=11.945 H11"}},
    ],
)
def test_what_is_in_order_is_not_questioned(wishes: dict[str, object]) -> None:
    assert asked(**wishes) == []
