"""A job's passes, predicted beside measured."""

from __future__ import annotations

import pytest
from tests.unit.process.samples import machine
from tests.unit.process.test_passes import TABLES

from kerfwright.foundation.ranges import Range
from kerfwright.learning.outcome import PassForecast, outcomes
from kerfwright.learning.records import MeasuredCut


def cut(**changes):
    usual = {
        "job": "wheel",
        "machine": machine(),
        "material": TABLES.catalogue.material("D2"),
        "wire": TABLES.catalogue.wire("0.25"),
        "height_mm": 20.0,
        "pass_number": 1,
        "length_mm": 100.0,
        "minutes": 30.0,
    }
    return MeasuredCut(**{**usual, **changes})


FORECAST = PassForecast(
    number=1,
    wall_mm=50.0,
    minutes=Range(low=10.0, likely=14.0, high=20.0),
    feed_share=0.9,
    ra_um=2.8,
    tolerance_um=25.0,
)


def only(*cuts):
    (found,) = outcomes([FORECAST], cuts)
    return found


@pytest.mark.parametrize(
    ("sizes_um", "worst_um"), [((-4.0, 3.0), -4.0), ((-3.0, 4.0), 4.0), ((-2.0, -1.0), -2.0)]
)
def test_the_worst_size_is_the_largest_either_way_with_its_sign(sizes_um, worst_um):
    # Negative is metal missing: nobody can put it back, so the sign must come through.
    assert only(*(cut(size_error_um=um) for um in sizes_um)).size_error_um == worst_um


def test_times_are_for_the_length_that_was_measured():
    found = only(cut(), cut(length_mm=50.0, minutes=13.0))
    assert (found.length_mm, found.measured_min) == (150.0, 43.0)
    # Three times the wall of one piece.
    assert found.predicted_min == Range(low=30.0, likely=42.0, high=60.0)
    assert found.is_inside
    assert not only(cut(minutes=41.0)).is_inside


def test_what_nobody_measured_is_not_made_up():
    found = only(cut())
    assert (found.measured_ra_um, found.size_error_um, found.breaks) == (None, None, None)
    assert only(cut(breaks=0)).breaks == 0


def test_passes_without_cuts_or_without_a_plan_are_left_out():
    assert outcomes([FORECAST], [cut(pass_number=2)]) == ()
