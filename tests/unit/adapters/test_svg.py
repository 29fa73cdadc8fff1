from __future__ import annotations

import math
import re
import shutil
import subprocess
from pathlib import Path
from xml.etree import ElementTree as ET

import numpy as np
import pytest

import handmade
from kerfwright.adapters.svg import ink, render_plan, style
from kerfwright.adapters.svg.labels import Label, LabelGrid
from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.geometry.contour import Contour
from kerfwright.motion.moves import Moves, Purpose, Turn

SVG = "{http://www.w3.org/2000/svg}"
WINDOW = ink.View(
    centre_mm=(0.0, 0.0), left_mm=0.0, top_mm=0.0, width_mm=100.0, height_mm=100.0, scale=2.0
)


def sheet(wanted: object = None, **more: object) -> ET.Element:
    plan = handmade.plan(wanted or handmade.wheel(), **more)  # type: ignore[arg-type]
    text = render_plan(plan, path=handmade.wire_path(plan), proof=handmade.proof(plan))
    return ET.fromstring(text)  # noqa: S314 our own text


def texts(root: ET.Element) -> list[str]:
    return ["".join(t.itertext()) for t in root.iter(f"{SVG}text")]


def arc_length(data: str) -> float:
    """Length of a path of M, L and A by the endpoint formulas of SVG 1.1, appendix F.6.5."""
    total, x, y = 0.0, 0.0, 0.0
    for letter, numbers in re.findall(r"([MLA])([^MLAZ]*)", data):
        n = [float(w) for w in numbers.split()]
        chord = math.hypot(n[-2] - x, n[-1] - y)
        if letter == "L":
            total += chord
        elif letter == "A":
            angle = 2 * math.asin(min(chord / 2 / n[0], 1.0))
            total += n[0] * (2 * math.pi - angle if n[3] else angle)
        x, y = n[-2], n[-1]
    return total


def test_a_rounded_contour_keeps_its_length_on_paper_through_true_arcs() -> None:
    slot = Contour.from_rows([(-10, -5, 0), (10, -5, 1), (10, 5, 0), (-10, 5, 1)])
    data = ink.outline(slot, WINDOW)
    assert data.count("A") == 2
    # Two straights of 20 mm and a circle of radius 5 mm, drawn 2:1; coordinates print to 1 µm.
    assert arc_length(data) == pytest.approx(2 * (40 + 10 * math.pi), abs=0.02)


@pytest.mark.parametrize(
    ("bulge", "flags"), [(0.3, "0 0"), (-0.3, "0 1"), (2.0, "1 0"), (-2.0, "1 1")]
)
def test_arcs_turn_the_right_way_on_paper_where_y_points_down(bulge: float, flags: str) -> None:
    data = ink.outline(Contour.from_rows([(0, 0, bulge), (5, 0)], is_closed=False), WINDOW)
    assert re.search(r"A[\d.]+ [\d.]+ 0 (\d \d) ", data).group(1) == flags  # type: ignore[union-attr]


def test_a_full_circle_move_becomes_two_half_turns() -> None:
    moves = Moves(
        start_mm=np.array([3.0, 0.0]),
        end_mm=np.array([[3.0, 0.0]]),
        centre_mm=np.array([[0.0, 0.0]]),
        turn=np.array([Turn.CLOCKWISE], dtype=np.int8),
        purpose=np.array([Purpose.WALL], dtype=np.int8),
        feed_mm_per_min=np.array([1.0]),
    )
    segments = ink.move_segments(moves, wanted=np.array([True]))
    assert segments.length.sum() == pytest.approx(moves.lengths_mm().sum())
    assert segments.bulge.tolist() == pytest.approx([-1.0, -1.0])


def test_moves_drawn_as_segments_keep_their_lengths() -> None:
    plan = handmade.plan(handmade.wheel())
    for cut in handmade.wire_path(plan).cuts:
        segments = ink.move_segments(cut.moves, wanted=np.ones(len(cut.moves), dtype=bool))
        assert segments.length.sum() == pytest.approx(cut.moves.lengths_mm().sum())


def test_dust_is_joined_so_that_a_dense_contour_stays_small_and_in_place() -> None:
    angle = np.linspace(0, 2 * math.pi, 50_000, endpoint=False)
    dense = Contour.from_rows(np.column_stack([10 * np.cos(angle), 10 * np.sin(angle)]).tolist())
    data = ink.outline(dense, WINDOW)
    assert len(data) < 60_000
    points = np.array(re.findall(r"[ML]([\d.]+) ([\d.]+)", data), dtype=float)
    assert np.abs(np.hypot(*(points - 50).T) - 20).max() < 0.002


def test_every_contour_start_and_pass_is_named() -> None:
    named = texts(sheet())
    for name in ("P1", "H1", "H2", "H3", "H4", "H5", "S1", "S6", "1", "2", "3", "4"):
        assert name in named


def test_a_hundred_openings_are_all_named_and_no_label_covers_another() -> None:
    root = sheet(handmade.die_plate())
    names = {f"H{i}" for i in range(1, 101)}
    boxes = []
    for text in root.iter(f"{SVG}text"):
        word = "".join(text.itertext())
        x, y, size = (float(text.get(k, "")) for k in ("x", "y", "font-size"))
        if word in names and text.get("text-anchor") == "middle":
            names.discard(word)
            half = ink.text_width_mm(word, size=size) / 2
            boxes.append((x - half, y - 0.7 * size, x + half, y))
    assert not names
    for i, a in enumerate(boxes):
        for b in boxes[:i]:
            assert a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]


def test_the_sheet_fits_a4_and_letter_and_nothing_leaves_it() -> None:
    root = sheet(handmade.die_plate())
    width, height = (float(root.get(k, "").removesuffix("mm")) for k in ("width", "height"))
    assert root.get("viewBox") == f"0 0 {width:g} {height:g}"
    # ISO 216: A4 is 297 x 210 mm; ANSI/ASME Y14.1: letter is 11 x 8.5 in.
    assert width <= min(297, 279.4)
    assert height <= min(210, 215.9)
    for text in root.iter(f"{SVG}text"):
        x, y = float(text.get("x", "")), float(text.get("y", ""))
        wide = ink.text_width_mm("".join(text.itertext()), size=float(text.get("font-size", "")))
        left = x - {"start": 0, "middle": wide / 2, "end": wide}[text.get("text-anchor", "start")]
        assert left >= 0
        assert left + wide <= width + 0.5
        assert 0 <= y <= height


def test_findings_are_numbered_marks_and_a_list_with_the_weighty_first() -> None:
    findings = (
        Finding(
            code="w",
            severity=Severity.WARNING,
            message="Look at this.",
            where=Place(contour_id="H2"),
        ),
        Finding(
            code="r",
            severity=Severity.REFUSAL,
            message="Slot 0.21 mm.",
            where=Place(x_mm=1.0, y_mm=2.0),
        ),
    )
    named = texts(sheet(findings=findings))
    assert named.index("Slot 0.21 mm.") < named.index("Look at this.")


def test_hostile_names_stay_text() -> None:
    part = handmade.part(
        handmade.opening("H1", Contour.circle((0, 0), radius_mm=5)), name="<script>&\x00\x1b.dxf"
    )
    root = sheet(part)
    assert any("<script>&\ufffd\ufffd.dxf" in t for t in texts(root))
    assert not list(root.iter(f"{SVG}script"))


def test_a_part_that_failed_its_proof_says_so_in_large_type() -> None:
    plan = handmade.plan(handmade.wheel())
    assert "NOT FOR CUTTING" in render_plan(plan, proof=handmade.proof(plan, passed=False))
    assert "NOT FOR CUTTING" not in render_plan(plan, proof=handmade.proof(plan))


def test_the_same_plan_gives_the_same_picture() -> None:
    plan = handmade.plan(handmade.wheel())
    assert render_plan(plan) == render_plan(plan)


def test_labels_go_where_the_lines_are_not() -> None:
    grid = LabelGrid(left_mm=0, top_mm=0, width_mm=60, height_mm=60)
    wall = np.column_stack([np.linspace(0, 60, 300), np.full(300, 30.0)])
    grid.add_points(wall)
    drawn = grid.place(Label(text="H1", x_mm=30, y_mm=30, size_mm=2.6))
    base = float(ET.fromstring(drawn).get("y", ""))  # noqa: S314 our own text
    assert base < 30 or base - 0.75 * 2.6 > 30


def test_a_label_with_no_room_is_counted_not_drawn_over_others() -> None:
    grid = LabelGrid(left_mm=0, top_mm=0, width_mm=10, height_mm=10)
    grid.take(0, 0, 10, 10)
    assert grid.place(Label(text="H1", x_mm=5, y_mm=5)) == ""
    assert grid.left_out == 1


def test_passes_differ_in_dash_and_not_only_in_colour() -> None:
    strokes = [style.of_pass(n) for n in range(1, 7)]
    assert len({s.dash_mm for s in strokes}) == len({s.colour for s in strokes}) == 6
    assert style.of_pass(1).dash_mm == ()


@pytest.mark.outside
@pytest.mark.parametrize("make", [handmade.wheel, handmade.die_plate, handmade.tiny_in_large])
def test_an_outside_renderer_draws_the_sheet(make: object, tmp_path: Path) -> None:
    renderer = shutil.which("rsvg-convert")
    if renderer is None:
        pytest.skip("rsvg-convert (librsvg) is not installed")
    plan = handmade.plan(make())  # type: ignore[operator]
    (tmp_path / "plan.svg").write_text(render_plan(plan), encoding="utf-8")
    subprocess.run(  # noqa: S603 fixed program
        [renderer, str(tmp_path / "plan.svg"), "-o", str(tmp_path / "plan.png")], check=True
    )
    assert (tmp_path / "plan.png").stat().st_size > 10_000
