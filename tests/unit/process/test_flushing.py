"""Set-ups of the nozzles: the trade's bands, published directions, plain words."""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest

from kerfwright.adapters.tables import load_tables
from kerfwright.foundation.errors import RangeError
from kerfwright.process.flushing import (
    Bath,
    BreakRisk,
    NozzleSetting,
    derate,
    face_share,
    rough_advice,
    rough_pressure_bar,
    setting_of,
    skim_advice,
)
from kerfwright.process.technology import Flushing

TECHNOLOGY = load_tables().technology
LAW = TECHNOLOGY.flushing
HEIGHTS = (20, 40, 80, 150, 250)
# Common practice, no source.
BANDS = {
    Flushing.SEALED: (1.0, 1.0),
    Flushing.ONE_OPEN: (0.6, 0.8),
    Flushing.BOTH_OPEN: (0.3, 0.5),
}


def derated(setting, height_mm=40.0):
    return derate(setting, height_mm=height_mm, wire_mm=0.25, gap_um=40, law=LAW)


@pytest.mark.parametrize("state", Flushing)
@pytest.mark.parametrize("bath", Bath)
@pytest.mark.parametrize("height_mm", HEIGHTS)
def test_the_rate_lies_in_the_trades_band(state, bath, height_mm):
    low, high = BANDS[state]
    found = derated(setting_of(state, law=LAW, bath=bath), height_mm)
    assert low <= found.rate_factor <= high
    # The factor that plans take is the shop's; the model must not contradict it.
    assert low <= TECHNOLOGY.rough.flushing[state] <= high


def test_a_nozzle_that_backs_off_slows_the_cut_and_endangers_the_wire_step_by_step():
    gaps = (0.1, 0.15, 0.2, 0.3, 0.5, 0.8, 1.2)
    found = [derated(NozzleSetting(top_gap_mm=g, bottom_gap_mm=0.1)) for g in gaps]
    for nearer, further in itertools.pairwise(found):
        assert further.rate_factor < nearer.rate_factor
        assert further.break_term > nearer.break_term


def test_up_to_two_tenths_a_nozzle_counts_as_closed():
    # Common practice, no source: 0.05 to 0.2 mm is full rate.
    found = derated(NozzleSetting(top_gap_mm=0.2, bottom_gap_mm=0.2))
    assert found.rate_factor > 0.9
    closer = derated(NozzleSetting(top_gap_mm=0.05, bottom_gap_mm=0.05))
    assert closer.rate_factor == 1.0


# Sato et al., wire-break tests (read): directions only.


@pytest.mark.parametrize("height_mm", [20, 60, 100])
def test_a_nozzle_two_millimetres_off_and_less_flow_bring_the_break_nearer(height_mm):
    closed = derated(NozzleSetting(top_gap_mm=0.1, bottom_gap_mm=0.1), height_mm)
    off = derated(NozzleSetting(top_gap_mm=2.0, bottom_gap_mm=0.1), height_mm)
    assert off.break_term > closed.break_term == pytest.approx(1.0)
    assert off.risk is not BreakRisk.USUAL
    assert off.worst_up_mm > height_mm / 2


@pytest.mark.parametrize("state", [Flushing.ONE_OPEN, Flushing.BOTH_OPEN])
def test_work_above_the_bath_is_worse_off_than_submerged_where_a_nozzle_is_open(state):
    wet, dry = (derated(setting_of(state, law=LAW, bath=bath)) for bath in Bath)
    assert dry.rate_factor < wet.rate_factor
    assert dry.worst_ratio > wet.worst_ratio
    closed = [derated(setting_of(Flushing.SEALED, law=LAW, bath=bath)) for bath in Bath]
    assert closed[0].rate_factor == closed[1].rate_factor


def test_a_lean_lifts_the_mouth_off_the_face():
    upright, leaning = (
        derated(NozzleSetting(top_gap_mm=0.1, bottom_gap_mm=0.1, lean_deg=lean)) for lean in (0, 10)
    )
    assert leaning.rate_factor < upright.rate_factor
    # By hand: 3 mm * tan 10 deg = 0.529 mm more gap.
    assert face_share(0.1, law=LAW, lean_deg=10) == pytest.approx(
        face_share(0.1 + 0.52898, law=LAW), rel=1e-4
    )


def test_the_share_of_the_pressure_is_that_of_two_openings_in_series():
    # By hand: ring 2 pi 3 mm 0.2 mm = 3.770 mm², supply 8 mm²: 64 / (64 + 14.21) = 0.8183.
    assert face_share(0.2, law=LAW) == pytest.approx(0.8183, abs=1e-4)
    assert face_share(0.0, law=LAW) == 1.0
    assert face_share(50.0, law=LAW) == LAW.nozzle.jet_share


def test_both_nozzles_open_is_a_high_risk_and_says_so_plainly():
    found = derated(setting_of(Flushing.BOTH_OPEN, law=LAW))
    assert found.risk is BreakRisk.HIGH
    said = rough_advice(Flushing.BOTH_OPEN, law=LAW)
    assert "submerge" in said
    assert "less power" in said


def test_the_advice_names_gap_pressure_edge_and_bath():
    closed = rough_advice(Flushing.SEALED, law=LAW)
    assert "0.1 mm" in closed
    assert "8 to 18 bar" in closed
    edge = rough_advice(Flushing.SEALED, law=LAW, enters_from_edge=True, runs_beside_edge=True)
    assert "At most half power over the first 3 mm" in edge
    assert "within 3 mm of the edge" in edge
    assert "submerge" in rough_advice(Flushing.ONE_OPEN, law=LAW)
    assert "0.3 to 1 bar" in skim_advice(law=LAW)
    assert "less power" in rough_advice(Flushing.SEALED, law=LAW, family="aluminium")


@pytest.mark.parametrize("wire_mm", [0.05, 0.1, 0.15, 0.2, 0.3])
def test_the_pressure_bows_a_thin_wire_by_no_larger_part_of_its_diameter(wire_mm):
    # q L^2/(8 T) over d, q = p d and T as d^2, against the wire that bears the full pressure.
    low, high = rough_pressure_bar(100.0, wire_mm, law=LAW)
    assert high / wire_mm**2 <= 18 / 0.2**2 + 1e-9 or high == pytest.approx(1)
    assert 0.3 <= low < high <= 18 + 1e-9
    heights = [rough_pressure_bar(h, wire_mm, law=LAW)[1] for h in (0.05, 1, 5, 9.9, 10, 100)]
    assert heights == sorted(heights)


@pytest.mark.parametrize(
    "changes", [{"top_gap_mm": -0.1}, {"bottom_gap_mm": float("nan")}, {"lean_deg": 50}]
)
def test_a_setting_that_cannot_be_is_refused(changes):
    with pytest.raises(RangeError, match="nozzle"):
        replace(NozzleSetting(top_gap_mm=0.1, bottom_gap_mm=0.1), **changes)


def test_the_reason_says_how_turbulent_the_water_is_and_the_flow_stays_below_that_of_plates():
    reason = derate(
        NozzleSetting(top_gap_mm=2.0, bottom_gap_mm=0.1),
        height_mm=20.0, wire_mm=0.25, gap_um=40.0, law=LAW,
    ).reason  # fmt: skip
    found = dict(reason.inputs)["reynolds"]
    # By hand: 2 x 0.33 mm x 49 m/s (free jet of 1.2 MPa) x 998.2 / 1.0016e-3 is 32 000 at the face,
    # less over half the height; plates alone, without the jet, would give 3.6e5 over 20 mm.
    assert 2000 < found < 2 * 0.33e-3 * 49 * 998.2 / 1.0016e-3
