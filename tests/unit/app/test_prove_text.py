from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

import handmade
from kerfwright.adapters.tables import Tables
from kerfwright.app.prove_text import ProofRequest, read_claim
from kerfwright.foundation.errors import InputError, UnknownNameError
from kerfwright.proof.records import Claim
from kerfwright.trade.machine import Machine

REQUEST = ProofRequest(
    drawing=Path("wheel.dxf"),
    material="D2",
    height="1 in",
    wire="0.25 mm",
    gaps={1: "40 µm", 2: "0.0007 in"},
    starts=(("-10 mm", "0.5 in", "2 mm"),),
)


@pytest.fixture
def read(tables: Tables, machine: Machine) -> object:
    def claim(**changes: object) -> Claim:
        request = replace(REQUEST, **changes)  # type: ignore[arg-type]
        return read_claim(
            request,
            handmade.wheel(),
            catalogue=tables.catalogue,
            machine=machine,
            clamp_reach_mm=tables.rules.clamp_reach_mm,
        )

    return claim


def test_texts_with_units_become_a_claim(read) -> None:
    claim = read()
    assert claim.height_mm == pytest.approx(25.4)
    # Wire radius plus gap: 0.125 + 0.040 and 0.125 + 0.0007 x 25.4.
    assert claim.kerf_radius_mm == pytest.approx({1: 0.165, 2: 0.14278})
    (start,) = claim.starts
    assert (start.x_mm, start.y_mm, start.diameter_mm) == pytest.approx((-10.0, 12.7, 2.0))


def test_without_a_choice_every_contour_is_to_be_cut(read) -> None:
    assert read().cut_ids == {"P1", "H1", "H2", "H3", "H4", "H5"}
    assert read(cut_ids=("H1",)).cut_ids == {"H1"}


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"gaps": {}}, "gap-missing"),
        ({"gaps": {1: "40"}}, "unit-missing"),
        ({"cut_ids": ("H9",)}, "contour-unknown"),
        ({"height": "tall"}, "length-unreadable"),
        ({"starts": (("x", "0 mm", "1 mm"),)}, "length-unreadable"),
    ],
)
def test_what_cannot_be_read_is_an_input_error(read, changes, code) -> None:
    with pytest.raises(InputError) as caught:
        read(**changes)
    assert caught.value.code == code


def test_a_material_in_no_table_is_named(read) -> None:
    with pytest.raises(UnknownNameError, match="cheese"):
        read(material="cheese")
