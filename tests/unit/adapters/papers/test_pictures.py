from __future__ import annotations

import re
from itertools import combinations
from xml.etree import ElementTree as ET

import pytest

import handmade
from kerfwright.adapters.papers import pictures
from kerfwright.adapters.papers.pictures import Picture
from kerfwright.adapters.papers.words import Units
from kerfwright.adapters.svg import ink
from kerfwright.geometry.contour import Contour
from kerfwright.planning.plan import Plan
from kerfwright.trade.part import LengthUnit, Part

SVG = "{http://www.w3.org/2000/svg}"
UNITS = Units(unit=LengthUnit.MILLIMETRE)
ROOM = {"units": UNITS, "width_mm": 180.0, "height_mm": 128.0}


def of_part(part: Part, **more: object) -> Picture:
    ids = frozenset(c.id for c in part.contours)
    return pictures.part_picture(part, ids=ids, with_names=True, **(ROOM | more))  # type: ignore[arg-type]


def of_plan(plan: Plan) -> Picture:
    return pictures.set_up_picture(plan, clear=(-10.0, -10.0, 10.0, 10.0), **ROOM)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("wide", "scale"),
    [(4.0, 20.0), (44.0, 2.0), (60.0, 1.0), (100.0, 1.0), (200.0, 0.5), (240.0, 0.4)],
)
def test_a_drawing_is_in_true_size_or_to_a_usual_scale(wide: float, scale: float) -> None:
    extent = (0.0, 0.0, wide, wide / 4)
    assert pictures.scale_for(extent, width_mm=100.0, height_mm=100.0) == scale


def test_a_scale_is_written_as_on_drawings() -> None:
    assert [pictures.scale_words(s) for s in (1.0, 2.0, 0.5, 0.2)] == ["1:1", "2:1", "1:2", "1:5"]


def test_a_square_is_as_large_on_paper_as_its_scale_says() -> None:
    square = Contour.from_rows([(0, 0), (60, 0), (60, 50), (0, 50)])
    picture = of_part(handmade.part(handmade.outline("P1", square)))
    assert picture.scale == "1:1"
    root = ET.fromstring(picture.svg)  # noqa: S314 our own text
    assert root.attrib["width"] == f"{picture.width_mm:.3f}mm"
    (wall,) = [p for p in root.iter(f"{SVG}path") if p.findtext(f"{SVG}title") == "P1"]
    pairs = re.findall(r"[\d.-]+ [\d.-]+", wall.attrib["d"])
    points = [tuple(map(float, p.split())) for p in pairs]
    xs, ys = zip(*points, strict=True)
    assert (max(xs) - min(xs), max(ys) - min(ys)) == pytest.approx((60.0, 50.0), abs=0.002)
    assert {t.text for t in root.iter(f"{SVG}text")} >= {"60 mm", "50 mm", "P1"}


def boxes(picture: Picture) -> list[tuple[str, float, float, float, float]]:
    """Each label with a box that its letters fill."""
    found = []
    for text in ET.fromstring(picture.svg).iter(f"{SVG}text"):  # noqa: S314 our own text
        if text.attrib.get("text-anchor") != "middle" or "mm" in (text.text or ""):
            continue
        size = float(text.attrib["font-size"])
        half = ink.text_width_mm(text.text or "", size=size) / 2
        x, y = float(text.attrib["x"]), float(text.attrib["y"])
        found.append((text.text or "", x - half, y - 0.7 * size, x + half, y))
    return found


@pytest.mark.parametrize("part", [handmade.wheel(), handmade.die_plate()], ids=["wheel", "plate"])
@pytest.mark.parametrize("kind", ["part", "set-up", "holes"])
def test_no_label_covers_another_and_all_are_there(part: Part, kind: str) -> None:
    plan = handmade.plan(part)
    names = {c.target.id for c in plan.contours}
    starts = {c.start.id for c in plan.contours}
    numbers = {s: k for k, s in enumerate(sorted(starts), start=1)}
    match kind:
        case "part":
            picture, wanted = of_part(part), names
        case "set-up":
            picture = of_plan(plan)
            wanted = {pictures.start_number(s) if picture.caption else s for s in starts}
        case _:
            picture = pictures.holes_picture(plan, numbers=numbers, **ROOM)  # type: ignore[arg-type]
            wanted = {str(n) for n in numbers.values()}
    assert picture.left_out == 0
    shown = boxes(picture)
    assert wanted <= {name for name, *_ in shown}
    for (a, *one), (b, *other) in combinations(shown, 2):
        apart = one[2] <= other[0] or other[2] <= one[0] or one[3] <= other[1] or other[3] <= one[1]
        assert apart, f"{a} covers {b}"
    for name, x0, y0, x1, y1 in shown:
        inside = x0 >= 0 and y0 >= 0 and x1 <= picture.width_mm and y1 <= picture.height_mm
        assert inside, name


def test_in_a_crowd_a_number_stands_at_its_own_start_and_no_other() -> None:
    plan = handmade.plan(handmade.die_plate())
    picture = of_plan(plan)
    assert "is S" in picture.caption
    marks: dict[str, tuple[float, float]] = {}
    shown = {n: ((x0 + x1) / 2, (y0 + y1) / 2) for n, x0, y0, x1, y1 in boxes(picture)}
    scale = {"1:2": 0.5, "1:2.5": 0.4, "1:1.5": 2 / 3, "1:1": 1.0, "2:1": 2.0}[picture.scale]
    # The first number and its start give where the drawing lies on paper, to within the label.
    spots = {pictures.start_number(c.start.id): c.start for c in plan.contours}
    middle_x = sum(shown[n][0] - s.x_mm * scale for n, s in spots.items()) / len(spots)
    middle_y = sum(shown[n][1] + s.y_mm * scale for n, s in spots.items()) / len(spots)
    for number, start in spots.items():
        marks[number] = (middle_x + start.x_mm * scale, middle_y - start.y_mm * scale)
    for number, (x, y) in shown.items():
        if number not in marks:
            continue
        away = {n: (x - a) ** 2 + (y - b) ** 2 for n, (a, b) in marks.items()}
        assert min(away, key=lambda n: away[n]) == number


def test_the_picture_of_the_customer_shows_no_start_tab_or_path() -> None:
    plan = handmade.plan(handmade.wheel())
    svg = of_part(plan.part).svg
    assert not any(f">{c.start.id}<" in svg for c in plan.contours)
    assert "tab of" not in svg
    assert "pass" not in svg
    assert "tab of" in of_plan(plan).svg
