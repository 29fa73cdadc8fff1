"""Solids read for the wire, against closed forms and against Open CASCADE's own volumes.

The solids are made and written with Open CASCADE here.  Volumes: ruled walls have sections whose
area is quadratic in the height, so that Simpson's rule is exact, V = H/6 (A0 + 4 A½ + A1) (from
memory: the prismoidal formula); the volume beside it is Open CASCADE's.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

pytest.importorskip("OCP", reason="no Open CASCADE here: pip install 'kerfwright[solids]'")

from kerfwright.adapters.step import read_solid as read_anew
from kerfwright.adapters.step import reader
from kerfwright.app.records import JobRequest, JobResult
from kerfwright.foundation.errors import DrawingError, InputError
from kerfwright.foundation.findings import Severity
from kerfwright.geometry.ruled import RuledWall
from kerfwright.proof.prove import prove_program
from kerfwright.trade.part import ContourUse, LengthUnit, Part, Role
from kerfwright.trade.walls import GivenWall
from kerfwright.wiring import plan_job
from solid_samples import (
    as_splines,
    box,
    cut,
    cylinder,
    frustum,
    hyperboloid,
    joined,
    moved,
    read_here,
    square_to_round,
    turned,
    twisted_prism,
    written,
)

pytestmark = pytest.mark.outside

read_solid = cache(read_anew)
Keep = Callable[..., Path]
IN_ITS_OWN_PROCESS = {
    "test_a_hostile_file_is_refused_and_no_more",
    "test_the_process_of_its_own_answers_as_this_one_does",
}


@pytest.fixture(autouse=True)
def reads_here(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    # A hostile file may end the process that reads it.
    if request.node.originalname not in IN_ITS_OWN_PROCESS:
        read_here(monkeypatch)


@pytest.fixture(scope="module")
def keep(tmp_path_factory: pytest.TempPathFactory) -> Keep:
    folder = tmp_path_factory.mktemp("solids")

    def write(name: str, *shapes: Any, **options: Any) -> Path:
        place = folder / name
        return place if place.exists() else written(place, *shapes, **options)

    return write


def area(wall: RuledWall, height: float) -> float:
    x, y = wall.section(height, chord_mm=1e-5).T
    return float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum() / 2)


def volume(part: Part) -> float:
    """Return the volume between underside and top inside all walls of a part."""
    assert part.solid is not None
    high, total = part.solid.height_mm, 0.0
    for one in part.contours:
        given = part.solid.walls.get(one.id)
        if given is None:
            total += one.contour.area_mm2 * high
        else:
            a = [area(given.ruled, z) for z in (0.0, high / 2, high)]
            total += high / 6 * (a[0] + 4 * a[1] + a[2])
    return total


def planned(path: Path, **asked: Any) -> JobResult:
    part = None if asked.keys() - {"tolerance"} else read_solid(path)
    return plan_job(JobRequest(drawing=path, material="D2", height="", **asked), part=part)


def refusals(result: JobResult) -> set[str]:
    return {f.code for f in result.findings if f.severity is Severity.REFUSAL}


def die(keep: Keep) -> Path:
    return keep("die.step", cut(box(40, 30, 20, (-20, -15, 0)), frustum(8, 7, 20)))


SHAPES: dict[str, Callable[[], Any]] = {
    "frustum": lambda: frustum(10, 8, 20),
    "twist": lambda: twisted_prism(8, 20, 12),
    "square to round": lambda: square_to_round(8, 7, 20),
    "hyperboloid": lambda: hyperboloid(10, 20, 25),
    "splines": lambda: as_splines(cut(box(40, 30, 10), cylinder(6, 10, (20, 15, 0)))),
    "die": lambda: cut(box(40, 30, 20, (-20, -15, 0)), frustum(8, 7, 20)),
    "stadium": lambda: joined(
        box(20, 10, 5), cylinder(5, 5, (0, 5, 0)), cylinder(5, 5, (20, 5, 0))
    ),
}


def test_the_process_of_its_own_answers_as_this_one_does(
    keep: Keep, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = keep("inches.step", frustum(10, 8, 20), unit="INCH")
    asked = {"path": str(path), "unit": None, "number": None, "along": None}
    answer = reader._asked(path, asked)
    read_here(monkeypatch)
    assert reader._asked(path, asked) == answer
    assert answer["solid"]["unit"] == "in"


@pytest.mark.parametrize("name", SHAPES)
def test_the_walls_enclose_the_volume_of_the_solid(name: str, keep: Keep) -> None:
    part = read_solid(keep(f"{name}.step", SHAPES[name]()))
    assert part.solid is not None
    assert not [f for f in part.findings if f.severity is Severity.REFUSAL]
    # Open CASCADE integrates spline faces and faces of revolution to about 1e-5 of the whole.
    assert volume(part) == pytest.approx(part.solid.volume_mm3, rel=3e-5)


def test_a_frustum_is_two_circles_of_arcs(keep: Keep) -> None:
    part = read_solid(keep("frustum.step", frustum(10, 8, 20)))
    assert part.solid is not None
    wall = part.solid.walls["P1"]
    for contour, radius in ((wall.lower, 10.0), (wall.upper, 8.0)):
        assert contour.segments.is_arc.all()
        assert np.allclose(contour.segments.radius, radius, atol=1e-7)
    assert volume(part) == pytest.approx(math.pi * 20 / 3 * (100 + 80 + 64), rel=3e-6)


def test_a_hyperboloid_has_the_waist_of_its_twisted_lines(keep: Keep) -> None:
    # Points of a chord between two circles of radius R, turned by φ:
    # r² = R² (1 − 4 v (1 − v) sin²(φ/2)).
    part = read_solid(keep("hyperboloid.step", hyperboloid(10, 20, 25)))
    assert part.solid is not None
    ruled = part.solid.walls["P1"].ruled
    for v in (0.0, 0.25, 0.5, 0.9, 1.0):
        r = np.hypot(*ruled.section(20 * v, chord_mm=1e-4).T)
        wanted = 10 * math.sqrt(1 - 4 * v * (1 - v) * math.sin(math.radians(12.5)) ** 2)
        assert np.abs(r - wanted).max() < 5e-4


def test_a_twisted_prism_has_square_sections(keep: Keep) -> None:
    part = read_solid(keep("twist.step", twisted_prism(8, 20, 12)))
    assert part.solid is not None
    ruled = part.solid.walls["P1"].ruled
    for v in (0.0, 0.3, 0.5, 1.0):
        side2 = 256 * ((1 - v) ** 2 + v**2 + 2 * v * (1 - v) * math.cos(math.radians(12)))
        assert area(ruled, 20 * v) == pytest.approx(side2, rel=1e-9)


def test_square_to_round_goes_straight_between_known_points(keep: Keep) -> None:
    part = read_solid(keep("square to round.step", square_to_round(8, 7, 20)))
    assert part.solid is not None
    ruled = part.solid.walls["P1"].ruled
    # Over the middle of a side, from 8 to 7; over a corner, from 8 √2 to 7.
    ring = np.hypot(*ruled.section(10.0, chord_mm=1e-5).T)
    assert ring.min() == pytest.approx(7.5, abs=1e-4)
    assert ring.max() == pytest.approx((8 * math.sqrt(2) + 7) / 2, abs=1e-4)


def test_spline_faces_that_are_cylinders_give_arcs(keep: Keep) -> None:
    part = read_solid(
        keep("splines.step", as_splines(cut(box(40, 30, 10), cylinder(6, 10, (20, 15, 0)))))
    )
    (hole,) = [c for c in part.contours if c.role is Role.OPENING]
    assert hole.contour.segments.is_arc.all()
    assert np.allclose(hole.contour.segments.radius, 6.0, atol=1e-4)


def test_sections_of_the_solid_lie_on_the_walls(keep: Keep) -> None:
    for name in ("square to round", "hyperboloid", "twist"):
        part = read_solid(keep(f"{name}.step", SHAPES[name]()))
        assert part.solid is not None
        import shapely

        for spots in part.solid.spots:
            ring = part.solid.walls["P1"].ruled.section(spots.height_mm, chord_mm=1e-5)
            edge = shapely.LinearRing(ring)
            away = shapely.distance(edge, shapely.points(spots.points))
            assert away.max() < 6e-4
            assert np.allclose((spots.normals**2).sum(axis=1), 1.0)


def test_inches_are_inches(keep: Keep) -> None:
    inch = keep("inch.step", cut(box(25.4, 12.7, 6.35), cylinder(3, 6.35, (12, 6, 0))), unit="INCH")
    part = read_solid(inch)
    assert part.drawing_unit is LengthUnit.INCH
    assert part.solid is not None
    assert part.solid.height_mm == pytest.approx(6.35, abs=1e-9)
    (outline,) = [c for c in part.contours if c.role is Role.OUTLINE]
    assert outline.contour.bounds_mm == pytest.approx((0, 0, 25.4, 12.7), abs=1e-6)
    as_mm = read_solid(inch, unit=LengthUnit.MILLIMETRE)
    assert as_mm.solid is not None
    assert as_mm.solid.height_mm == pytest.approx(0.25)
    assert "units-overridden" in {f.code for f in as_mm.findings}


def test_the_wire_runs_the_way_most_of_the_solid_is_for(keep: Keep) -> None:
    plate = cut(box(30, 20, 8), cylinder(4, 8, (10, 10, 0)), cylinder(2, 8, (24, 10, 0)))
    lying = keep("lying.step", turned(plate, 90, (1, 0, 0)))
    part = read_solid(lying)
    assert part.solid is not None
    assert part.solid.height_mm == pytest.approx(8)
    assert len(part.contours) == 3
    askew = read_solid(keep("askew.step", turned(plate, 31, (1, 2, 3))))
    assert askew.solid is not None
    assert volume(askew) == pytest.approx(askew.solid.volume_mm3, rel=1e-6)
    across = read_solid(lying, along="x")
    assert across.solid is not None
    assert across.solid.height_mm == pytest.approx(30)
    assert "faces-not-for-wire" in {f.code for f in across.findings}
    with pytest.raises(DrawingError) as caught:
        read_solid(lying, along="sideways")
    assert caught.value.code == "wire-along"


def test_what_no_wire_makes_is_named_with_its_place_and_size(keep: Keep) -> None:
    body = cut(
        box(40, 30, 12),
        cylinder(4, 12, (12, 15, 0)),
        box(6, 5, 4, (24, 20, 8)),
        cylinder(1.5, 40, (30, -1, 6), (0, 1, 0)),
        frustum(4, 5, 1, (12, 15, 11)),
    )
    part = read_solid(keep("worked.step", body))
    assert {c.id for c in part.contours} == {"P1", "H1"}
    told = [f for f in part.findings if f.code == "faces-not-for-wire"]
    words = " / ".join(f.message for f in told)
    assert "a floor 8 mm up" in words
    assert "6 × 5 mm, 8 to 12 mm up" in words
    assert "a cylinder ⌀3 mm across the wire" in words
    assert "a cone ⌀8 mm to ⌀10 mm" in words
    (pocket,) = [f for f in told if "floor" in f.message]
    assert (pocket.where.x_mm, pocket.where.y_mm) == pytest.approx((27, 22.5))
    assert len(part.construction) == len(told)


def test_a_counterbored_hole_is_cut_at_its_narrow_end_only(keep: Keep) -> None:
    body = cut(box(20, 20, 10), cylinder(3, 10, (10, 10, 0)), cylinder(6, 4, (10, 10, 6)))
    part = read_solid(keep("bored.step", body))
    (hole,) = [c for c in part.contours if c.role is Role.OPENING]
    assert np.allclose(hole.contour.segments.radius, 3.0)
    (told,) = [f for f in part.findings if f.code == "faces-not-for-wire"]
    assert "a cylinder ⌀12 mm" in told.message
    assert "would cut the part above or below" in told.message


def test_a_wall_that_goes_on_above_a_step_is_cut_below_and_refused_above(keep: Keep) -> None:
    # A hub on an arm: below, part of its cylinder is outline; above, all of it stands free.
    body = joined(cylinder(10, 12), box(40, 8, 4, (0, -4, 0)))
    path = keep("hub.step", body)
    part = read_solid(path)
    (outline,) = part.contours
    assert outline.contour.bounds_mm == pytest.approx((-10, -10, 40, 10))
    (told,) = [f for f in part.findings if f.severity is Severity.REFUSAL]
    assert "a floor 4 mm up" in told.message
    assert "a cylinder ⌀20 mm" in told.message
    result = planned(path)
    assert refusals(result) == {"faces-not-for-wire"}
    assert result.program is not None
    assert "INCOMPLETE" in result.program


def test_several_solids_are_listed_and_one_is_taken(keep: Keep) -> None:
    two = keep("two.step", box(10, 10, 5), moved(cylinder(4, 7), (30, 0, 0)))
    with pytest.raises(DrawingError, match=r"2 solids \(1: 10 × 10 × 5 mm; 2: 8 × 8 × 7 mm\)") as e:
        read_solid(two)
    assert e.value.code == "several-solids"
    part = read_solid(two, number=2)
    assert part.solid is not None
    assert part.solid.volume_mm3 == pytest.approx(math.pi * 16 * 7)
    with pytest.raises(DrawingError) as caught:
        read_solid(two, number=3)
    assert caught.value.code == "solid-unknown"


def test_a_ball_has_nothing_for_a_wire(keep: Keep) -> None:
    from OCP.BRepPrimAPI import BRepPrimAPI_MakeSphere

    with pytest.raises(DrawingError) as caught:
        read_solid(keep("ball.step", BRepPrimAPI_MakeSphere(5.0).Shape()))
    assert caught.value.code == "nothing-for-wire"
    assert "sphere" in caught.value.message


@pytest.mark.parametrize(
    ("change", "code"),
    [
        (lambda text: text[: len(text) // 2], "drawing-damaged"),
        (lambda _: "", "not-a-drawing"),
        (lambda text: text.replace("CARTESIAN_POINT", "CARTESIAN_PINT"), "no-solid"),
        (lambda text: text.replace("(0.,0.,0.)", "(NAN,0.,0.)"), None),
        (lambda text: text.replace("20.", "2.E300"), None),
        (lambda text: text.replace("20.", "0."), None),
        (lambda text: text.replace("#1", "#9"), None),
    ],
)
def test_a_hostile_file_is_refused_and_no_more(
    change: Callable[[str], str], code: str | None, keep: Keep, tmp_path: Path
) -> None:
    text = die(keep).read_text()
    place = tmp_path / "hostile.step"
    place.write_text(change(text))
    if code is None:
        # Whatever comes of it is a refusal, or a part whose numbers are finite.
        with suppress(DrawingError):
            part = read_solid(place)
            assert part.solid is not None
            assert math.isfinite(part.solid.volume_mm3)
        return
    with pytest.raises(DrawingError) as caught:
        read_solid(place)
    assert caught.value.code in {code, "drawing-damaged"}


def test_a_die_of_a_solid_is_planned_written_and_proved_against_it(keep: Keep) -> None:
    result = planned(die(keep), tolerance="±0.005mm")
    assert refusals(result) == set()
    assert result.request.height == "20 mm"
    assert result.program is not None
    assert result.proof is not None
    assert {d.contour_id for d in result.proof.solid} == {"P1", "H1"}
    assert len({d.height_mm for d in result.proof.solid}) == 9
    assert max(d.max_gouge_um for d in result.proof.solid) < 0.7
    assert max(d.max_leftover_um for d in result.proof.solid) < 0.7


def test_round_walls_are_cut_in_arcs(keep: Keep) -> None:
    plate = keep("plate.step", cut(box(40, 30, 10), cylinder(6, 10, (20, 15, 0))))
    result = planned(plate)
    assert refusals(result) == set()
    assert result.program is not None
    assert "G02" in result.program or "G03" in result.program
    assert result.proof is not None
    assert max(d.max_leftover_um for d in result.proof.solid) < 0.2


def swapped(wall: GivenWall) -> GivenWall:
    ruled = replace(wall.ruled, lower=wall.ruled.upper, upper=wall.ruled.lower)
    return replace(wall, lower=wall.upper, upper=wall.lower, ruled=ruled)


def moved_plane(wall: GivenWall) -> GivenWall:
    """Return the wall with its top as it is 0.5 mm below the top."""
    from kerfwright.geometry.contour import Contour

    share = 1 - 0.5 / wall.ruled.height_mm
    rows = wall.lower.vertices + (wall.upper.vertices - wall.lower.vertices) * share
    upper = Contour(rows)
    return replace(wall, upper=upper, ruled=replace(wall.ruled, upper=upper.segments))


def turned_sign(wall: GivenWall) -> GivenWall:
    from kerfwright.geometry.contour import Contour

    rows = 2 * wall.lower.vertices - wall.upper.vertices
    rows[:, 2] = wall.lower.vertices[:, 2]
    upper = Contour(rows)
    return replace(wall, upper=upper, ruled=replace(wall.ruled, upper=upper.segments))


@pytest.mark.parametrize("fault", [swapped, moved_plane, turned_sign])
def test_a_wall_that_is_not_the_solids_is_caught_by_the_solid_alone(
    fault: Callable[[GivenWall], GivenWall], keep: Keep
) -> None:
    path = die(keep)
    part = read_solid(path)
    assert part.solid is not None
    wrong = fault(part.solid.walls["H1"])
    contours = tuple(replace(c, contour=wrong.lower) if c.id == "H1" else c for c in part.contours)
    planted = replace(part, contours=contours, solid=replace(part.solid, walls={"H1": wrong}))
    request = JobRequest(drawing=path, material="D2", height="", tolerance="±0.005mm")
    result = plan_job(request, part=planted)
    assert result.program is None
    assert refusals(result) <= {"solid-gouged", "solid-left"}
    assert refusals(result)


@pytest.mark.parametrize("shift", [1.0, -1.0])
def test_a_plane_at_another_height_is_caught(shift: float, keep: Keep) -> None:
    result = planned(die(keep), tolerance="±0.005mm")
    assert result.program is not None
    assert result.claim is not None
    assert prove_program(result.program, result.claim).passed
    here = [replace(s, height_mm=s.height_mm + shift) for s in result.claim.solid]
    proof = prove_program(result.program, replace(result.claim, solid=tuple(here)))
    # 0.05 mm a side in 20 mm: 50 µm for each mm.
    worst = max(max(d.max_gouge_um, d.max_leftover_um) for d in proof.solid)
    assert not proof.passed
    assert worst == pytest.approx(50, rel=0.03)


def test_what_a_solid_says_itself_cannot_be_asked_otherwise(keep: Keep) -> None:
    path = die(keep)
    for asked, code in (
        ({"height": "25mm"}, "height-not-solid"),
        ({"stack": "4"}, "solid-stack"),
        ({"tapers": {"H1": "taper=1° out from top"}}, "solid-has-walls"),
        ({"layer_uses": {"A": "opening"}}, "not-of-a-solid"),
    ):
        with pytest.raises(InputError) as caught:
            plan_job(JobRequest(**{"drawing": path, "material": "D2", "height": "", **asked}))
        assert caught.value.code == code
    left = planned(path, roles={"P1": ContourUse.NOT_CUT})
    assert refusals(left) == set()
    turned_role = planned(path, roles={"H1": ContourUse.OUTLINE})
    assert "solid-role" in refusals(turned_role)
