"""Tabs against hand calculation and handbook limits."""

from __future__ import annotations

import math

import pytest

from kerfwright.adapters.tables import load_tables
from kerfwright.planning.holding import flushing_force_n, size_tab, tab_safety, torsion_factor

RULES = load_tables().rules


@pytest.mark.parametrize(
    ("ratio", "factor"),
    # Timoshenko & Goodier, Theory of Elasticity, torsion of rectangular bars, k2 (from memory).
    [(1.0, 0.208), (1.5, 0.231), (2.0, 0.246), (3.0, 0.267), (4.0, 0.282), (10.0, 0.312)],
)
def test_the_torsion_factor_agrees_with_the_table_of_the_theory_of_elasticity(
    ratio: float, factor: float
) -> None:
    assert torsion_factor(ratio) == pytest.approx(factor, rel=0.006)


def test_a_very_long_section_twists_like_a_thin_strip() -> None:
    # Membrane analogy: tau = 3 T / (long short²).
    assert torsion_factor(1e6) == pytest.approx(1 / 3, rel=1e-4)


def test_pure_bending_is_the_section_modulus() -> None:
    # 30 N at 50 mm on 3 mm x 20 mm: 1500 / (3 * 400 / 6) = 7.5 MPa; 300 / 7.5 = 40.
    safety = tab_safety(3.0, height_mm=20, load_n=30, arm_mm=50, side_mm=0, yield_mpa=300)
    # Shear: 1.5 * 30 / 60 = 0.75 MPa, far from deciding.
    assert safety == pytest.approx(40.0)


def test_pure_shear_decides_at_a_short_arm() -> None:
    # 1.5 * 600 / (3 * 2) = 150 MPa; 300 / sqrt(3) / 150 = 1.1547.
    safety = tab_safety(3.0, height_mm=2, load_n=600, arm_mm=0, side_mm=0, yield_mpa=300)
    assert safety == pytest.approx(300 / math.sqrt(3) / 150)


def test_a_light_slug_gets_the_smallest_usual_tab() -> None:
    size = size_tab(
        height_mm=20, mass_kg=0.05, area_mm2=300, perimeter_mm=80, arm_mm=10, side_mm=5,
        yield_mpa=300, rules=RULES,
    )  # fmt: skip
    assert size.width_mm == RULES.tab_min_mm
    assert not size.is_limited


def test_a_wide_thin_piece_gets_a_tab_that_just_keeps_the_safety() -> None:
    size = size_tab(
        height_mm=2, mass_kg=1.6, area_mm2=100_000, perimeter_mm=1400, arm_mm=160, side_mm=0,
        yield_mpa=300, rules=RULES,
    )  # fmt: skip
    # Bending alone, by hand: w = 6 F a SF / (sigma h²) with F = 1.6 * 9.80665 + 14.137.
    load = 1.6 * 9.80665 + 0.5 * math.pi / 4 * 36
    assert size.width_mm == pytest.approx(6 * load * 160 * 3 / (300 * 4), rel=1e-4)
    assert size.safety == pytest.approx(3.0, rel=1e-4)


def test_a_tab_never_takes_more_than_its_share_of_the_perimeter() -> None:
    size = size_tab(
        height_mm=0.5, mass_kg=1.6, area_mm2=100_000, perimeter_mm=1400, arm_mm=160, side_mm=100,
        yield_mpa=300, rules=RULES,
    )  # fmt: skip
    assert size.width_mm == pytest.approx(140.0)
    assert size.is_limited


def test_flushing_pushes_on_the_nozzle_face_or_the_piece_whichever_is_smaller() -> None:
    assert flushing_force_n(4.0, rules=RULES) == pytest.approx(2.0)
    assert flushing_force_n(1e6, rules=RULES) == pytest.approx(0.5 * math.pi * 9)
