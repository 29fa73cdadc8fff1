"""What single contours ask, in words with units."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from kerfwright.adapters.fit_tables import load_fits
from kerfwright.adapters.tables import Tables
from kerfwright.app.records import JobRequest
from kerfwright.app.requirements import CONTOUR_FORM, read_requirement
from kerfwright.foundation.errors import InputError
from kerfwright.trade.machine import Machine
from kerfwright.trade.requirement import Demand, Requirement

REQUEST = JobRequest(drawing=Path("x.dxf"), material="D2", height="20 mm", tolerance="±0.01 mm")


def read(tables: Tables, machine: Machine, contours: dict[str, str]) -> Requirement:
    request = replace(REQUEST, contours=contours)
    wanted, _ = read_requirement(
        request, catalogue=tables.catalogue, machine=machine, fits=load_fits()
    )
    return wanted


@pytest.mark.parametrize(
    "text",
    [
        "tolerance=±0.0025mm, finish=Ra0.4um",
        "tolerance = ±0.0025 mm; finish = Ra 0.4 µm",
        "Finish: Ra0.4um Tolerance: ±2.5 µm",
        "finish Ra0.4um, tolerance ±0.0025mm",
    ],
)
def test_many_ways_of_writing_are_understood(text: str, tables: Tables, machine: Machine) -> None:
    own = read(tables, machine, {"H7": text}).contours["H7"]
    assert own.tolerance_um == pytest.approx(2.5)
    assert own.ra_um == pytest.approx(0.4)
    assert own.max_recast_um is None


def test_inches_are_equals(tables: Tables, machine: Machine) -> None:
    own = read(tables, machine, {"H7": "tolerance=0.0001in, finish=16uin, recast=0.0002in"})
    assert own.contours["H7"].tolerance_um == pytest.approx(2.54)
    assert own.contours["H7"].max_recast_um == pytest.approx(5.08)


def test_several_contours_at_once_in_any_case(tables: Tables, machine: Machine) -> None:
    wanted = read(tables, machine, {"h1, H2;h3": "tolerance=±0.03mm"})
    assert wanted.contours == dict.fromkeys(("H1", "H2", "H3"), Demand(tolerance_um=30.0))


def test_what_two_texts_say_of_one_contour_is_put_together(
    tables: Tables, machine: Machine
) -> None:
    wanted = read(tables, machine, {"H1,H2": "tolerance=±0.03mm", "H2": "recast=5um"})
    assert wanted.contours["H2"] == Demand(tolerance_um=30.0, max_recast_um=5.0)


@pytest.mark.parametrize(
    "contours",
    [
        {"H7": "±0.0025mm"},
        {"H7": ""},
        {"H7": "tolerance="},
        {"H7": "bore tolerance=±0.0025mm"},
        {"H7": "tolerance=±1um, tolerance=±2um"},
        {"H7": "tolerance=±1um", "H6,H7": "tolerance=±2um"},
        {" , ": "tolerance=±1um"},
    ],
)
def test_what_cannot_be_read_is_refused_with_the_accepted_form(
    contours: dict[str, str], tables: Tables, machine: Machine
) -> None:
    with pytest.raises(InputError) as caught:
        read(tables, machine, contours)
    assert caught.value.code == "contour-demand"
    assert CONTOUR_FORM in caught.value.remedy


def test_a_value_without_a_unit_is_refused_and_named(tables: Tables, machine: Machine) -> None:
    with pytest.raises(InputError, match="tolerance of H7"):
        read(tables, machine, {"H7": "tolerance=±0.0025"})
