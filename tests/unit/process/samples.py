"""Machines and requirements for the tests of passes and prices."""

from __future__ import annotations

from dataclasses import replace

from kerfwright.process.technology import BY_LIKELY_VALUE
from kerfwright.trade.machine import ArcForm, Dialect, Machine, OffsetForm
from kerfwright.trade.part import LengthUnit
from kerfwright.trade.requirement import Requirement

DIALECT = Dialect(
    unit=LengthUnit.MILLIMETRE,
    decimals=4,
    feed_decimals=3,
    arc_form=ArcForm.INCREMENTAL_IJ,
    offset_form=OffsetForm.WIRE_CENTRE,
    block_numbers=False,
    block_step=10,
    program_start="%",
    program_end="%",
    thread="M60",
    cut_wire="M50",
    condition="S{number}",
    attended_stop="M00",
    optional_stop="M01",
    end_of_program="M02",
    offset_table="",
    max_line_length=0,
)


def machine(**changes) -> Machine:
    values = {
        "id": "sample",
        "name": "sample machine",
        "travel_x_mm": 400.0,
        "travel_y_mm": 300.0,
        "max_height_mm": 250.0,
        "max_weight_kg": 500.0,
        "wire_diameters_mm": (0.02, 0.1, 0.15, 0.2, 0.25, 0.3, 0.33),
        "min_start_hole_mm": 0.5,
        "threads_itself": True,
        "rate_factor": 1.0,
        "best_tolerance_um": 2.0,
        "idle_speed_mm_per_min": 500.0,
        "power_kw": 6.0,
        "dialect": DIALECT,
    }
    return Machine(**(values | changes))


def by_likely(tables):
    """Return tables by which passes are chosen by the likely value, for checks worked by hand."""
    limits = replace(tables.technology.limits, allowed_miss=BY_LIKELY_VALUE)
    return replace(tables, technology=replace(tables.technology, limits=limits))


def requirement(tables, *, material="D2", height_mm=40.0, **changes) -> Requirement:
    values = {
        "material": tables.catalogue.material(material),
        "height_mm": height_mm,
        "machine": machine(),
    }
    return Requirement(**(values | changes))
