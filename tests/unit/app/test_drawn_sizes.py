"""Fits and limits asked of a contour are those of the size that is drawn there."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

import handmade
from kerfwright.adapters.fit_tables import load_fits
from kerfwright.app.drawn_sizes import with_drawn_sizes
from kerfwright.app.records import JobRequest
from kerfwright.foundation.errors import InputError
from kerfwright.geometry.contour import Contour
from kerfwright.trade.fits import tolerance_of_wall
from kerfwright.trade.part import LengthUnit
from kerfwright.workbench.asked import check_asked

INCH, MM = LengthUnit.INCH, LengthUnit.MILLIMETRE
FITS = load_fits()


def asked(text: str, *, of: str = "H1", unit: LengthUnit = MM) -> str:
    """What is asked of a bore of 12.7 mm, or of a slot 8 mm wide, as it is planned."""
    slot = Contour.from_rows([(10, 10), (30, 10), (30, 18), (10, 18)])
    part = handmade.part(
        handmade.outline("P1", Contour.from_rows([(0, 0), (60, 0), (60, 40), (0, 40)])),
        handmade.opening("H1", Contour.circle((45, 25), radius_mm=6.35), "P1"),
        handmade.opening("H2", slot, "P1"),
    )
    check_asked(f"contour {of}", f"tolerance={text}")
    request = JobRequest(
        drawing=Path("x.dxf"), material="D2", height="20 mm", contours={of: f"tolerance={text}"}
    )
    made = with_drawn_sizes(request, replace(part, drawing_unit=unit), table=FITS)
    return made.contours[of].removeprefix("tolerance=")


@pytest.mark.parametrize(
    ("text", "unit", "half_um", "shift_um"),
    [
        # By hand: a quarter of the zone to either side, half of the shift of its middle.
        (".5000/.5007 in", INCH, 4.445, 4.445),
        ("0.5007-0.5000 in", INCH, 4.445, 4.445),
        ("0.4998/0.5002 in", INCH, 2.54, 0),
        (".5000/.5007", INCH, 4.445, 4.445),
        ("0.5000 +.0007/-0 in", INCH, 4.445, 4.445),
        ("Ø0.5000 (+.0007/0)", INCH, 4.445, 4.445),
        ("12.7 +0.018/0", MM, 4.5, 4.5),
        ("12.7 +0.018/0", INCH, 4.5, 4.5),
        ("12.7 +18/0 µm", MM, 4.5, 4.5),
        ("12.700/12.718 mm", MM, 4.5, 4.5),
        ("12.7 ±0.01 mm", MM, 5, 0),
        # ISO 286: H7 over 10 to 18 mm is 18 µm wide (from memory).
        ("H7", MM, 4.5, 4.5),
        ("H7", INCH, 4.5, 4.5),
        (".500 H7", INCH, 4.5, 4.5),
        ("0.5 in H7", MM, 4.5, 4.5),
        ("12.7 H7", INCH, 4.5, 4.5),
    ],
)
def test_what_is_asked_of_a_size_is_halved_about_the_drawn_one(
    text: str, unit: LengthUnit, half_um: float, shift_um: float
) -> None:
    zone = tolerance_of_wall(asked(text, unit=unit), table=FITS)
    assert (zone.half_um, zone.shift_um) == pytest.approx((half_um, shift_um), abs=0.01)


def test_a_size_between_two_walls_counts_too() -> None:
    assert asked("8 +0.02/0 mm", of="H2") == "8 +0.02/0 mm"
    assert asked("8.00/8.02 mm", of="H2") == "8 +0.02/+0 mm"


@pytest.mark.parametrize(
    ("text", "of", "code"),
    [
        ("25.4 +0.01/0 mm", "H1", "size-not-drawn"),
        ("25.00/25.02 mm", "H1", "size-not-drawn"),
        ("H7", "H2", "fit-size-missing"),
    ],
)
def test_what_is_asked_of_another_size_is_refused_with_the_drawn_one(
    text: str, of: str, code: str
) -> None:
    with pytest.raises(InputError) as error:
        asked(text, of=of)
    assert error.value.code == code
    assert of in error.value.message
    assert error.value.remedy


@pytest.mark.parametrize(
    ("name", "text", "code"),
    [
        ("tolerance", "12.7 +0.018/0 mm", "size-of-the-job"),
        ("tolerance", ".5000/.5007 in", "size-of-the-job"),
        ("tolerance", "IT6", "fit-grade-alone"),
        ("contour H1", "tolerance=IT6", "fit-grade-alone"),
        ("contour H1", "tolerance=I7", "fit-unknown"),
    ],
)
def test_a_line_that_cannot_be_meant_says_why(name: str, text: str, code: str) -> None:
    with pytest.raises(InputError) as error:
        check_asked(name, text)
    assert error.value.code == code


def test_a_micron_may_be_written_without_its_metre() -> None:
    assert tolerance_of_wall("±5µ", table=FITS).half_um == 5
    check_asked("recast", "5µ")
