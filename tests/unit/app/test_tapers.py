"""Words for walls that lean, and what they mean for the wall."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from kerfwright.app.tapers import read_tapers
from kerfwright.foundation.errors import InputError
from kerfwright.trade.part import Role
from kerfwright.trade.walls import LandAndRelief, Pairing, Reference, SideAngle, Taper, WallPart

TAN = math.tan(math.radians(1))


@pytest.mark.parametrize(
    ("text", "role", "rise"),
    [
        # A die opening that widens below its top: seen upwards its wall comes into the waste.
        ("1° out from top", Role.OPENING, TAN),
        ("1° in from top", Role.OPENING, -TAN),
        ("1° out from bottom", Role.OPENING, -TAN),
        # A punch that narrows towards its top: seen upwards its wall goes into the material.
        ("1° in from bottom", Role.OUTLINE, -TAN),
        ("1 deg out from the bottom", Role.OUTLINE, TAN),
        ("1° in from top", Role.OUTLINE, TAN),
        ("1° in upwards from 8mm", Role.OUTLINE, -TAN),
        ("1° in downwards from 8 mm", Role.OUTLINE, TAN),
    ],
)
def test_in_and_out_are_the_size_of_the_contour_away_from_its_reference(text, role, rise):
    wall = read_tapers({"h1": f"taper={text}"})["H1"]
    assert isinstance(wall, Taper)
    assert wall.rise(role) == pytest.approx(rise, abs=1e-12)


def test_the_reference_is_a_height_above_the_underside():
    walls = read_tapers(
        {
            "H1": "taper=1° out from top",
            "H2": "taper=1° out from bottom",
            "H3,H4": "taper=0.5° in upwards from 0.25in, corners=constant, except=2 5",
        }
    )
    heights = {name: wall.height_mm(20.0) for name, wall in walls.items()}
    assert heights == {"H1": 20.0, "H2": 0.0, "H3": 6.35, "H4": 6.35}
    three = walls["H3"]
    assert isinstance(three, Taper)
    assert (three.keeps_radius, three.other_corners) == (True, frozenset({2, 5}))
    assert three.reference is Reference.HEIGHT


def test_another_contour_at_the_top_with_its_matching():
    walls = read_tapers({"H1": "top=h3", "H2": "top=H1, match=0mm-3mm 10mm-14.5mm"})
    assert walls["H1"] == Pairing(top_id="H3")
    assert walls["H2"] == Pairing(top_id="H1", how="given", pairs_mm=((0.0, 3.0), (10.0, 14.5)))


@pytest.mark.parametrize(
    "text",
    [
        "1° out from top",
        "taper=out from top",
        "taper=1 out from top",
        "taper=1° out upwards from top",
        "taper=1° out from 8mm",
        "taper=1° out from top, corners=round",
        "taper=1° out from top, except=a",
        "taper=1° out from top, top=H1",
        "top=H1, corners=constant",
        "top=H1, match=0mm",
        "match=corners",
        "",
    ],
)
def test_what_cannot_be_read_is_refused_with_the_form(text):
    with pytest.raises(InputError) as caught:
        read_tapers({"H1": text})
    assert caught.value.code == "taper-text"
    assert "taper=1° out from top" in caught.value.remedy


@pytest.mark.parametrize(
    ("text", "lack"),
    [
        ("1.5 out from top", "no ° behind its angle"),
        ("1°", "smaller (in) or larger (out)"),
        ("1° from top", "smaller (in) or larger (out)"),
        ("1° out", "from where it is as drawn"),
        ("out from top", "begins with no angle"),
        ("-1° out from top", "has a sign"),
    ],
)
def test_a_refused_taper_says_what_it_lacks(text, lack):
    with pytest.raises(InputError) as caught:
        read_tapers({"H1": f"taper={text}"})
    assert lack in caught.value.message


def test_angles_have_a_decimal_point_or_a_comma():
    assert read_tapers({"H1": "taper=1,5° out from top"})["H1"].angle_deg == 1.5
    assert read_tapers({"H1": "land=3mm, relief=0,5°"})["H1"].angle_deg == 0.5
    (first, second) = read_tapers({"H1": "taper=1° out from top, sides=2:0,5° 4-5:2°"})["H1"].sides
    assert (first.begin_deg, second.begin_deg) == (0.5, 2.0)


def test_one_contour_has_one_wall():
    with pytest.raises(InputError, match="given twice"):
        read_tapers({"H1,H2": "taper=1° out from top", "H2": "taper=2° out from top"})


def test_angles_and_heights_beyond_sense_are_refused():
    for text in ("taper=60° out from top", "taper=0° out from top"):
        with pytest.raises(InputError) as caught:
            read_tapers({"H1": text})
        assert caught.value.code == "taper-value"


def test_a_land_with_its_relief_is_read_with_what_comes_first_and_how_often_it_is_cut():
    walls = read_tapers(
        {
            "H1": "land=3mm, relief=0.5°",
            "H2": "land=0.125in at bottom, relief=1 deg out, first=land, cuts=two",
            "H3": "relief=0.5°, land=3mm at the top, corners=constant, except=2 5, cuts=one",
        }
    )
    one, two, three = (walls[name] for name in ("H1", "H2", "H3"))
    assert one == LandAndRelief(land_mm=3.0, angle_deg=0.5)
    assert two == LandAndRelief(
        land_mm=3.175, angle_deg=1.0, at_top=False, first=WallPart.LAND, full_cuts=2
    )
    assert three == replace(one, full_cuts=1, keeps_radius=True, other_corners=frozenset({2, 5}))
    assert [w.edge_mm(20.0) for w in (one, two)] == [17.0, 3.175]
    # Seen as a taper: an opening that widens away from the land, whichever way that is.
    assert one.relief(20.0).rise(Role.OPENING) == pytest.approx(math.tan(math.radians(0.5)))
    assert two.relief(20.0).rise(Role.OPENING) == pytest.approx(-math.tan(math.radians(1.0)))


@pytest.mark.parametrize(
    "text",
    [
        "land=3mm",
        "relief=1°",
        "land=3mm, relief=out",
        "land=3mm, relief=1°, first=both",
        "land=3mm, relief=1°, cuts=3",
        "land=3mm at 5mm, relief=1°",
        "land=3mm, relief=1°, taper=1° out from top",
        "taper=1° out from top, land=5mm",
        "top=H1, cuts=two",
    ],
)
def test_a_land_that_cannot_be_read_is_refused_with_the_form(text):
    with pytest.raises(InputError) as caught:
        read_tapers({"H1": text})
    assert caught.value.code in {"taper-text", "length-unreadable", "length-form"}


def test_a_relief_that_comes_in_is_refused_for_the_land_it_would_cut():
    with pytest.raises(InputError, match="runs on through the land") as caught:
        read_tapers({"H1": "land=3mm, relief=0.5° in"})
    assert caught.value.code == "relief-into-land"


def test_sides_have_angles_of_their_own():
    taper = read_tapers({"H1": "taper=1° out from top, sides=2:0° 4-5:2°in; 6:0°-2.5° 8:1 deg out"})
    assert isinstance(taper["H1"], Taper)
    assert taper["H1"].sides == (
        SideAngle(first=2, last=2, begin_deg=0.0, end_deg=0.0),
        SideAngle(first=4, last=5, begin_deg=2.0, end_deg=2.0, widens=False),
        SideAngle(first=6, last=6, begin_deg=0.0, end_deg=2.5),
        SideAngle(first=8, last=8, begin_deg=1.0, end_deg=1.0, widens=True),
    )


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("taper=1° out from top, sides=2", "taper-text"),
        ("taper=1° out from top, sides=2:1", "taper-text"),
        ("taper=1° out from top, sides=2:1° x", "taper-text"),
        ("taper=1° out from top, sides=0:1°", "taper-value"),
        ("taper=1° out from top, sides=5-4:1°", "taper-value"),
        ("taper=1° out from top, sides=4:75°", "taper-value"),
        ("top=H1, sides=4:1°", "taper-text"),
        ("land=3mm, relief=1°, sides=4:1°", "taper-text"),
    ],
)
def test_sides_that_cannot_be_are_refused(text, code):
    with pytest.raises(InputError) as caught:
        read_tapers({"H1": text})
    assert caught.value.code == code
