"""Deviations along the wall whose size follows from plane geometry."""

from __future__ import annotations

import math
from dataclasses import replace
from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest
from tests.small_programs import WINDOW, offset_corners
from tests.wall_paths import RADIUS, claim_of, opening, ring, square, timeline_along

from kerfwright.app.records import JobRequest
from kerfwright.proof.deviation_map import DeviationMap
from kerfwright.proof.picture import picture_of, picture_of_timeline
from kerfwright.wiring import plan_job

DIE = Path(str(files("kerfwright") / "data" / "samples" / "hand_die.dxf"))
EXACT_UM = 1e-6


def shifted(dx_mm: float) -> DeviationMap:
    corners = offset_corners(list(WINDOW.corners), RADIUS)
    path = ring(corners).transformed(shift_mm=(dx_mm, 0.0))
    claim = claim_of(WINDOW.part, cut="H1")
    return picture_of_timeline(timeline_along(path, name="H1"), claim).deviations


def test_a_shifted_path_is_off_by_the_shift_across_each_side() -> None:
    found = shifted(0.002)
    x, y = found.points_mm.T
    straight = (y > 1.5) & (y < 10.5)
    right, left = straight & (x == x.max()), straight & (x == x.min())
    assert right.any()
    assert left.any()
    assert found.deviation_um[right] == pytest.approx(-2.0, abs=EXACT_UM)
    assert found.deviation_um[left] == pytest.approx(2.0, abs=EXACT_UM)
    along = (x > 1.5) & (x < 18.5)
    assert found.deviation_um[along] == pytest.approx(0.0, abs=EXACT_UM)


def test_between_the_sides_a_round_corner_is_off_by_the_shift_along_its_normal() -> None:
    found = shifted(0.002)
    x, y = found.points_mm.T
    corner = (x > 19.0) & (y > 11.0)
    # Two circles whose centres lie 2 um apart: the distance along the normal, to first order.
    normal_x = (x[corner] - 19.0) / 1.0
    assert corner.sum() > 10
    assert found.deviation_um[corner] == pytest.approx(-2.0 * normal_x, abs=0.01)


def test_the_worst_places_come_first_and_name_the_line_that_cut_them() -> None:
    found = shifted(0.002)
    worst = found.worst[0]
    assert abs(worst.deviation_um) == pytest.approx(2.0, abs=EXACT_UM)
    assert [abs(w.deviation_um) for w in found.worst] == sorted(
        (abs(w.deviation_um) for w in found.worst), reverse=True
    )
    assert {w.pass_number for w in found.worst} == {1}
    # Move k of this path stands in line k + 2, and both paths have the same moves.
    moves = timeline_along(ring(offset_corners(list(WINDOW.corners), RADIUS)), name="H1")
    k = worst.line - 2
    low = np.minimum(moves.start_mm[k], moves.end_mm[k]) - 2 * RADIUS
    high = np.maximum(moves.start_mm[k], moves.end_mm[k]) + 2 * RADIUS
    assert low[0] <= worst.x_mm <= high[0]
    assert low[1] <= worst.y_mm <= high[1]


def test_a_sharp_inside_corner_is_out_of_reach_and_not_a_fault() -> None:
    path = ring(offset_corners(square(10.0), RADIUS))
    claim = claim_of(opening(ring(square(10.0))), cut="H1")
    found = picture_of_timeline(timeline_along(path, name="H1"), claim).deviations
    corners = found.is_out_of_reach & (np.abs(found.points_mm - 5.0).min(axis=1) > 4.999)
    left = RADIUS * (math.sqrt(2) - 1) * 1000
    assert found.deviation_um[corners] == pytest.approx(left, abs=EXACT_UM)
    assert np.abs(found.deviation_um[~found.is_out_of_reach]).max() < EXACT_UM
    assert found.worst[0].is_out_of_reach


def test_a_contour_that_is_not_cut_has_no_deviation() -> None:
    path = ring(offset_corners(square(10.0), RADIUS))
    far = opening(ring(square(10.0)).transformed(shift_mm=(40.0, 0.0)), name="H2")
    claim = claim_of(opening(ring(square(10.0))), far, cut="H1")
    found = picture_of_timeline(timeline_along(path, name="H1"), claim).deviations
    assert found.contour_ids == ("H1", "H2")
    assert np.isnan(found.deviation_um[found.first[1] :]).all()
    assert np.isfinite(found.deviation_um[: found.first[1]]).all()


def test_a_rough_pass_that_goes_too_deep_shows_through_good_skims() -> None:
    corners = list(WINDOW.corners)
    rough = timeline_along(ring(offset_corners(corners, RADIUS)), name="H1")
    claim = replace(claim_of(WINDOW.part, cut="H1"), kerf_radius_mm={1: RADIUS + 0.003})
    found = picture_of_timeline(rough, claim).deviations
    assert found.deviation_um == pytest.approx(-3.0, abs=EXACT_UM)


def test_the_map_of_a_job_is_as_far_off_as_its_verdict_says() -> None:
    request = JobRequest(drawing=DIE, material="D2", height="20 mm", tolerance="±0.01 mm")
    result = plan_job(request)
    text = result.program or result.withheld_program
    assert text is not None
    assert result.claim is not None
    assert result.proof is not None
    found = picture_of(text, result.claim).deviations
    for k, verdict in enumerate(result.proof.deviations):
        mine = slice(found.first[k], found.first[k + 1])
        seen = found.deviation_um[mine][~found.is_out_of_reach[mine]]
        if not np.isfinite(seen).any():
            continue
        assert max(-np.nanmin(seen), 0.0) == pytest.approx(verdict.max_gouge_um, abs=0.01)
        assert max(np.nanmax(seen), 0.0) == pytest.approx(verdict.max_leftover_um, abs=0.01)
