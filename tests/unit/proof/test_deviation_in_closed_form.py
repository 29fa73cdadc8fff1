"""Deviations, gouges and unreachable places whose size follows from plane geometry."""

from __future__ import annotations

import math

import numpy as np
import pytest
from tests.small_programs import SHARP, WINDOW, offset_corners, pieces_of
from tests.wall_paths import RADIUS, claim_of, opening, outline, ring, square, timeline_along

from kerfwright.geometry.contour import Contour
from kerfwright.proof.prove import prove_timeline
from kerfwright.proof.records import Claim, Proof

REPORTED_UM = 1e-6
"""The figures are exact: only rounding of doubles is allowed, not the 0.1 µm that is printed."""


def proved(path: Contour, claim: Claim, *, name: str, offset: float = RADIUS) -> Proof:
    return prove_timeline(timeline_along(path, name=name, offset=offset), claim, program_sha256="")


def codes(proof: Proof) -> set[str]:
    return {f.code for f in proof.findings}


def test_a_path_shifted_by_one_micrometre_gouges_and_leaves_one_micrometre() -> None:
    path = ring(offset_corners(list(WINDOW.corners), RADIUS)).transformed(shift_mm=(0.001, 0.0))
    proof = proved(path, claim_of(WINDOW.part, cut="H1"), name="H1")
    assert proof.max_gouge_um == pytest.approx(1.0, abs=REPORTED_UM)
    assert proof.max_leftover_um == pytest.approx(1.0, abs=REPORTED_UM)
    (deviation,) = proof.deviations
    assert deviation.gouge_at_mm is not None
    assert deviation.gouge_at_mm[0] == pytest.approx(20.0, abs=0.01)
    assert deviation.leftover_at_mm is not None
    assert deviation.leftover_at_mm[0] == pytest.approx(0.0, abs=0.01)
    assert {"gouge", "uncut-wall"} <= codes(proof)


@pytest.mark.parametrize("shift_um", [-2.0, 0.5, 3.0])
def test_a_path_at_another_offset_deviates_everywhere_by_the_difference(shift_um: float) -> None:
    path = ring(offset_corners(list(WINDOW.corners), RADIUS + shift_um / 1000))
    proof = proved(path, claim_of(WINDOW.part, cut="H1"), name="H1")
    assert proof.deviations[0].mean_um == pytest.approx(shift_um, abs=REPORTED_UM)
    assert proof.max_gouge_um == pytest.approx(max(-shift_um, 0.0), abs=REPORTED_UM)
    assert proof.max_leftover_um == pytest.approx(max(shift_um, 0.0), abs=REPORTED_UM)


@pytest.mark.parametrize("sides", [24, 90, 360])
def test_chords_instead_of_an_arc_leave_the_sagitta_in_an_opening(sides: int) -> None:
    """Chords of the circle R − r stay away from the wall by (R − r)(1 − cos(π / n)) at most."""
    wall = Contour.circle((0.0, 0.0), radius_mm=5.0).reversed()
    angle = -np.arange(sides) * math.tau / sides
    r = 5.0 - RADIUS
    path = Contour.from_rows(np.column_stack([r * np.cos(angle), r * np.sin(angle)]))
    proof = proved(path, claim_of(opening(wall), cut="H1"), name="H1")
    expected = r * (1 - math.cos(math.pi / sides)) * 1000
    assert proof.max_leftover_um == pytest.approx(expected, abs=REPORTED_UM)
    assert proof.max_gouge_um == pytest.approx(0.0, abs=REPORTED_UM)


@pytest.mark.parametrize("sides", [24, 90, 360])
def test_chords_instead_of_an_arc_gouge_an_outline_by_the_sagitta(sides: int) -> None:
    """Chords of the circle R + r come nearer than r by (R + r)(1 − cos(π / n)) at most."""
    wall = Contour.circle((0.0, 0.0), radius_mm=5.0)
    angle = np.arange(sides) * math.tau / sides
    r = 5.0 + RADIUS
    path = Contour.from_rows(np.column_stack([r * np.cos(angle), r * np.sin(angle)]))
    proof = proved(path, claim_of(outline(wall), cut="P1"), name="P1")
    expected = r * (1 - math.cos(math.pi / sides)) * 1000
    assert proof.max_gouge_um == pytest.approx(expected, abs=REPORTED_UM)


def test_the_corner_of_a_square_keeps_r_times_root_two_minus_one() -> None:
    path = ring(offset_corners(square(10.0), RADIUS))
    proof = proved(path, claim_of(opening(ring(square(10.0))), cut="H1"), name="H1")
    assert len(proof.unreachable) == 4
    for corner in proof.unreachable:
        assert corner.leftover_um == pytest.approx(RADIUS * (math.sqrt(2) - 1) * 1000, abs=1e-6)
        assert corner.length_mm == pytest.approx(2 * RADIUS, abs=1e-9)
    assert proof.max_leftover_um == pytest.approx(0.0, abs=REPORTED_UM)
    assert "uncut-wall" not in codes(proof)


@pytest.mark.parametrize("angle_deg", [15.0, 40.0, 75.0, 120.0, 160.0])
def test_a_corner_of_any_angle_keeps_what_the_disc_cannot_fill(angle_deg: float) -> None:
    """The disc in a corner of angle a is r / sin(a / 2) from its tip."""
    half = math.radians(angle_deg) / 2
    tip = (0.0, 0.0, 0.0)
    low = (20 * math.cos(half), -20 * math.sin(half), 0.0)
    high = (20 * math.cos(half), 20 * math.sin(half), 0.0)
    corners = [tip, high, low]
    path = ring(offset_corners(corners, RADIUS))
    proof = proved(path, claim_of(opening(ring(corners)), cut="H1"), name="H1")
    at_tip = [u for u in proof.unreachable if math.hypot(u.x_mm, u.y_mm) < 1e-6]
    assert len(at_tip) == 1
    expected = RADIUS * (1 / math.sin(half) - 1) * 1000
    assert at_tip[0].leftover_um == pytest.approx(expected, rel=1e-9)
    assert at_tip[0].length_mm == pytest.approx(2 * RADIUS / math.tan(half), rel=1e-6)
    assert "uncut-wall" not in codes(proof)


def test_a_fillet_smaller_than_the_kerf_is_unreachable_at_its_middle() -> None:
    """The disc of radius r in a right corner with fillet R stays (r − R)(√2 − 1) away from it."""
    corners = [(x, y, 0.05) for x, y, _ in square(10.0)]
    path = ring(offset_corners(square(10.0), RADIUS))
    proof = proved(path, claim_of(opening(ring(corners)), cut="H1"), name="H1")
    assert len(proof.unreachable) == 4
    expected = (RADIUS - 0.05) * (math.sqrt(2) - 1) * 1000
    assert max(u.leftover_um for u in proof.unreachable) == pytest.approx(expected, rel=1e-9)
    assert "uncut-wall" not in codes(proof)


def test_a_corner_cut_short_is_not_excused_as_unreachable() -> None:
    inner = offset_corners(square(10.0), RADIUS)
    rounded = [(x, y, 0.010) for x, y, _ in inner]
    proof = proved(ring(rounded), claim_of(opening(ring(square(10.0))), cut="H1"), name="H1")
    assert "uncut-wall" in codes(proof)
    # The path's fillet of 10 µm adds 10 (√2 − 1) µm to what the wire cannot reach.
    forced = RADIUS * (math.sqrt(2) - 1) * 1000
    assert proof.max_leftover_um == pytest.approx(forced + 10 * (math.sqrt(2) - 1), abs=1e-6)


def test_a_slot_narrower_than_the_kerf_is_listed_and_not_refused() -> None:
    slot = 0.2
    corners = [
        (0.0, 0.0, 0.0), (0.0, 10.0, 0.0), (10.0, 10.0, 0.0), (10.0, 5.0 + slot, 0.0),
        (12.0, 5.0 + slot, 0.0), (12.0, 5.0, 0.0), (10.0, 5.0, 0.0), (10.0, 0.0, 0.0),
    ]  # fmt: skip
    path = ring(offset_corners(square(10.0), RADIUS))
    # The disc over the mouth may bulge in between its two edges by a sagitta.
    x = 10.0 - math.sqrt(RADIUS**2 - (slot / 2) ** 2)
    start, pieces = pieces_of(offset_corners(square(10.0), RADIUS))
    points = [start, *(p.end for p in pieces)][:-1]
    bulged = []
    for here, after in zip(points, [*points[1:], points[0]], strict=True):
        bulged.append((*here, 0.0))
        if here[0] > 9 and after[0] > 9:
            bulge = math.tan(math.asin((slot / 2) / RADIUS) / 4 - math.pi / 8)
            bulged.append((10.0 - RADIUS, 5.0 + slot, -bulge))
            bulged.append((x, 5.0 + slot / 2, -bulge))
            bulged.append((10.0 - RADIUS, 5.0, 0.0))
    path = Contour.from_rows(bulged)
    proof = proved(path, claim_of(opening(ring(corners)), cut="H1"), name="H1")
    assert "uncut-wall" not in codes(proof)
    deepest = max(proof.unreachable, key=lambda u: u.leftover_um)
    expected = math.hypot(12.0 - x, slot / 2) - RADIUS
    assert deepest.leftover_um == pytest.approx(expected * 1000, rel=1e-6)


def test_a_stretch_left_out_is_found_however_long_the_wall_segment() -> None:
    """A gap of 30 µm in a side of 10 mm leaves √(r² + 15²) − r at its middle."""
    inner = ring(offset_corners(square(10.0), RADIUS))
    rows = inner.vertices
    first, second = rows[0, :2], rows[1, :2]
    a, b = first + (second - first) * 0.3, first + (second - first) * 0.3 + [0.0, 0.030]
    aside = np.array([0.5, 0.0])
    detour = [(*first, 0.0), (*a, 0.0), (*(a + aside), 0.0), (*(b + aside), 0.0), (*b, 0.0)]
    path = Contour.from_rows([*detour, *rows[1:]])
    proof = proved(path, claim_of(opening(ring(square(10.0))), cut="H1"), name="H1")
    expected = (math.hypot(RADIUS, 0.015) - RADIUS) * 1000
    assert proof.max_leftover_um == pytest.approx(expected, abs=1e-6)
    assert "uncut-wall" in codes(proof)


def test_a_path_on_the_wrong_side_gouges_by_the_kerf_width() -> None:
    path = ring(offset_corners(list(WINDOW.corners), -RADIUS))
    proof = proved(path, claim_of(WINDOW.part, cut="H1"), name="H1")
    assert proof.max_gouge_um == pytest.approx(2 * RADIUS * 1000, abs=REPORTED_UM)
    assert "gouge" in codes(proof)


def test_a_path_deep_in_the_part_far_from_any_wall_gouges() -> None:
    wall = Contour.from_rows([(0, 0), (50, 0), (50, 50), (0, 50)])
    path = Contour.circle((25.0, 25.0), radius_mm=2.0)
    proof = proved(path, claim_of(outline(wall), cut="P1"), name="P1")
    assert proof.max_gouge_um == pytest.approx((25 - 2 + 4 + RADIUS) * 1000, rel=0.2)
    assert "gouge" in codes(proof)


def test_cutting_one_contour_must_not_cut_its_neighbour() -> None:
    near = opening(Contour.circle((20.0 + 0.2 + 1.0, 6.0), radius_mm=1.0).reversed(), "H2")
    path = ring(offset_corners(list(WINDOW.corners), -0.0))
    claim = claim_of(WINDOW.part, near, cut="H1", radius=0.3)
    proof = proved(path, claim, name="H1", offset=0.0)
    second = next(d for d in proof.deviations if d.contour_id == "H2")
    # The wire runs on the wall of H1, 0.2 mm of metal from H2, with a kerf radius of 0.3 mm.
    assert second.max_gouge_um == pytest.approx(100.0, abs=1e-6)
    assert any(f.code == "gouge" and f.where.contour_id == "H2" for f in proof.findings)


def test_an_unbroken_neighbour_that_is_not_to_be_cut_is_no_finding() -> None:
    far = opening(Contour.circle((40.0, 6.0), radius_mm=1.0).reversed(), "H2")
    path = ring(offset_corners(list(WINDOW.corners), RADIUS))
    proof = proved(path, claim_of(WINDOW.part, far, cut="H1"), name="H1")
    assert not {f.code for f in proof.findings if f.where.contour_id == "H2"}
    assert {"gouge", "uncut-wall"}.isdisjoint(codes(proof))


def test_the_start_vertex_and_the_sense_of_the_path_do_not_matter() -> None:
    path = ring(offset_corners(list(SHARP.corners), RADIUS)).transformed(shift_mm=(0.002, 0.001))
    claim = claim_of(SHARP.part, cut="H1")
    base = proved(path, claim, name="H1")
    for turned in (path.reversed(), Contour(np.roll(path.vertices, 2, axis=0))):
        proof = proved(turned, claim, name="H1")
        assert proof.max_gouge_um == pytest.approx(base.max_gouge_um, abs=REPORTED_UM)
        assert proof.max_leftover_um == pytest.approx(base.max_leftover_um, abs=REPORTED_UM)
