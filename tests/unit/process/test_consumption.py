from __future__ import annotations

import pytest

from kerfwright.adapters.tables import load_tables
from kerfwright.foundation.errors import RangeError
from kerfwright.process import consumption

CATALOGUE = load_tables().catalogue


def test_ten_hours_of_quarter_millimetre_brass_weigh_two_and_a_half_kilograms():
    # By hand: 8450 kg/m3 * pi/4 * 0.25^2 mm2 = 0.41479 g/m; 600 min at 10 m/min are 6000 m.
    wire = CATALOGUE.wire("0.25")
    mass = consumption.wire_kg(600, wire=wire)
    assert mass == pytest.approx(2.4887, rel=1e-4)
    assert consumption.spools(mass, wire=wire) == pytest.approx(2.4887 / 8, rel=1e-4)


def test_electricity_filters_and_resin_follow_the_time():
    assert consumption.energy_kwh(90, power_kw=6) == pytest.approx(9)
    assert consumption.filter_sets(90, life_h=150) == pytest.approx(0.01)
    assert consumption.resin_l(90, litres_per_h=0.02) == pytest.approx(0.03)


def test_a_time_below_nothing_is_refused():
    with pytest.raises(RangeError):
        consumption.energy_kwh(-1, power_kw=6)
