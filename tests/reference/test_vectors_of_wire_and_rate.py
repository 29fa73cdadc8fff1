"""Printed test vectors of PROCESS section 8 that no other file checks; numbers as there."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.reference.facts_beside import rows

from kerfwright.adapters.tables import load_tables
from kerfwright.foundation.errors import RangeError
from kerfwright.process.wire import natural_frequency_hz
from kerfwright.trade.roughness import vdi_ra_um

TABLES = load_tables()


def test_the_natural_frequency_of_thirty_hundredths_of_brass_is_960_hertz():
    # Vector 4: 22 N, 100 mm between the guides; (1/2L) sqrt(T/mu), brass of 8.45 g/cm³.
    wire = TABLES.catalogue.wire("0.30")
    found = natural_frequency_hz(wire, span_mm=100, tension_n=22)
    assert found == pytest.approx(960, abs=1)
    # Twice the span halves it, four times the tension doubles it.
    assert natural_frequency_hz(wire, span_mm=200, tension_n=88) == pytest.approx(found)
    heavy = replace(wire, density_kg_per_m3=4 * wire.density_kg_per_m3)
    assert natural_frequency_hz(heavy, span_mm=100, tension_n=22) == pytest.approx(found / 2)
    with pytest.raises(RangeError):
        natural_frequency_hz(wire, span_mm=0, tension_n=22)


def titanium(on, off, current, servo, feed, tension):
    """Published response surfaces (read; paper from memory), coefficients of PROCESS 3.6."""
    rate = (
        11.06243 + 0.021958 * on - 0.4023 * off - 0.039917 * current - 0.045079 * servo
        + 3.06872e-3 * off**2 + 1.79134e-5 * current**2 + 2.30469e-4 * on * current
        + 1.96875e-4 * off * current + 7.39583e-4 * off * servo
    )  # fmt: skip
    ra = (
        10.8764 - 0.038333 * on - 0.1284 * off - 0.072771 * current - 0.008667 * servo
        + 0.1247 * feed - 3.65432e-4 * tension + 9.72222e-4 * off**2 - 8.75e-3 * feed**2
        + 1.91358e-7 * tension**2 + 6.48438e-4 * on * current
    )  # fmt: skip
    half_kerf = (
        150.52609 + 1.4375 * on - 4.0869 * off - 0.23551 * current - 0.46806 * servo
        - 1.867 * feed - 0.015278 * tension + 0.034827 * off**2 + 8.23864e-4 * current**2
        + 0.12542 * feed**2 + 2.77778e-4 * servo * tension
    )  # fmt: skip
    return rate, ra, half_kerf


def test_the_centre_of_the_titanium_surfaces_is_printed_and_our_rough_pass_lies_in_their_range():
    # Vector 6: (116, 50, 160, 50, 7, 950) gives 0.686 mm/min, Ra 2.67, 151.8 um.
    rate, ra, half_kerf = titanium(116, 50, 160, 50, 7, 950)
    assert rate == pytest.approx(0.686, abs=5e-4)
    assert ra == pytest.approx(2.67, abs=5e-3)
    assert half_kerf == pytest.approx(151.8, abs=0.05)
    # What it says of us: gap 17-42 um, Ra 2.16-3.44 um over the grid.
    table = rows("titanium_surface.csv")
    gaps = [float(row["gap_um"]) for row in table]
    finishes = [float(row["ra_um"]) for row in table]
    rough = TABLES.technology.passes[0]
    assert min(gaps) < rough.gap_um < max(gaps)
    assert min(finishes) < rough.ra_um < max(finishes)


def test_the_rate_in_inconel_goes_with_the_current_as_charge_per_volume_says():
    # Vector 7: MRR = 2.45 Ton^0.146 Toff^-0.525 I^1.062, mean error at most 15 %.
    table = rows("inconel_825.csv")
    on, off, current, rate = (
        np.array([float(row[key]) for row in table])
        for key in ("on_us", "off_us", "current_a", "removal_mm3_per_min")
    )
    design = np.stack([np.ones(len(on)), np.log(on), np.log(off), np.log(current)], axis=1)
    scale, *powers = np.linalg.lstsq(design, np.log(rate), rcond=None)[0]
    assert np.exp(scale) == pytest.approx(2.45, abs=0.05)
    assert powers == pytest.approx([0.146, -0.525, 1.062], abs=2e-3)
    fitted = np.exp(design @ np.array([scale, *powers]))
    assert np.abs(fitted / rate - 1).mean() <= 0.15
    # The states of the wire take the mean current in proportion to the volume removed.
    assert powers[2] == pytest.approx(1, abs=0.1)


def test_vdi_24_is_the_printed_roughness():
    # Vector 11.
    assert vdi_ra_um(24) == pytest.approx(1.585, abs=5e-4)
