"""Spikes are taken off, corners are not."""

from __future__ import annotations

import math

import pytest

from kerfwright.geometry.contour import Contour
from kerfwright.geometry.spikes import without_spikes


def test_a_spike_of_micrometres_is_taken_off_with_its_place() -> None:
    rows = [(0, 0), (10, 0), (10, 5), (10.0002, 5.0068), (10.0003, 5.0), (10, 10), (0, 10)]
    mended, spikes = without_spikes(Contour.from_rows(rows), reach_mm=0.01)
    assert len(mended) == len(rows) - 1
    (spike,) = spikes
    assert (spike.x_mm, spike.y_mm) == (10.0002, 5.0068)
    assert spike.length_mm == pytest.approx(0.0068, rel=1e-3)
    assert mended.area_mm2 == pytest.approx(100.0, abs=0.002)


def test_the_longer_side_of_a_lopsided_spike_keeps_its_arc() -> None:
    # A 5 µm hook at the beginning of an arc.
    rows = [(0, 0), (10, 0), (10.0, 0.005, math.tan(math.pi / 8)), (5, 5), (0, 5)]
    hook = Contour.from_rows([*rows[:2], (10.0, -0.005), (10.0, 0.0, 0.2), (5, 5), (0, 5)])
    mended, spikes = without_spikes(hook, reach_mm=0.01)
    assert len(spikes) == 1
    assert (abs(mended.vertices[:, 2]) > 0.19).sum() == 1


@pytest.mark.parametrize("height", [0.02, 1.0])
def test_a_sharp_tooth_taller_than_the_reach_stays(height: float) -> None:
    rows = [(0, 0), (10, 0), (10, 5), (10 + height, 5.0001), (10, 5.0002), (10, 10), (0, 10)]
    contour = Contour.from_rows(rows)
    assert without_spikes(contour, reach_mm=0.01) == (contour, ())


def test_right_angles_between_tiny_edges_stay() -> None:
    rows = [(0, 0), (10, 0), (10, 5), (10.004, 5), (10.004, 5.004), (10, 5.004), (10, 10), (0, 10)]
    contour = Contour.from_rows(rows)
    assert without_spikes(contour, reach_mm=0.01) == (contour, ())
