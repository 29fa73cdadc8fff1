"""Constants of the running wire beside handbook values, retyped here with where they were read.

Elements: open data of mendeleev 1.3.0 (conductivity, specific heat) and pymatgen-core 2026.10.16
(resistivity, molybdenum's conductivity), read.  Alloys by the rule of Kopp and Neumann (specific
heats add up by mass).  Brass wire's 20-28 % of the copper standard: handbook value, from memory.
"""

from __future__ import annotations

import pytest

from kerfwright.adapters.wire_physics import load_wire_physics

PHYSICS = load_wire_physics()
COPPER_UOHM_CM = 1.7241
"""International Annealed Copper Standard at 20 °C (from memory)."""
RESISTIVITY_UOHM_CM = {"molybdenum": 5.34, "tungsten": 5.28}
HEAT_J_PER_KGK = {"molybdenum": 251, "tungsten": 132}
CONDUCTIVITY_W_PER_MK = {"molybdenum": 139, "tungsten": 173}
COPPER_J_PER_KGK, ZINC_J_PER_KGK = 385, 388
BRASSES = ("hard-brass", "half-hard-brass", "soft-brass", "zinc-coated-brass")


@pytest.mark.parametrize("kind", RESISTIVITY_UOHM_CM)
def test_wires_of_one_metal_conduct_and_store_as_the_element(kind):
    metal = PHYSICS.metals[kind]
    share = 100 * COPPER_UOHM_CM / RESISTIVITY_UOHM_CM[kind]
    # Handbooks differ by some 5 % in resistivity, 2 % in the rest.
    assert metal.conductivity_pct_iacs == pytest.approx(share, rel=0.06)
    assert metal.heat_capacity_j_per_kgk == pytest.approx(HEAT_J_PER_KGK[kind], rel=0.02)
    assert metal.conductivity_w_per_mk == pytest.approx(CONDUCTIVITY_W_PER_MK[kind], rel=0.02)


@pytest.mark.parametrize("kind", BRASSES)
def test_brass_stores_heat_as_its_copper_and_zinc_do(kind):
    for zinc in (0.35, 0.40):
        mixed = zinc * ZINC_J_PER_KGK + (1 - zinc) * COPPER_J_PER_KGK
        found = PHYSICS.metals[kind].heat_capacity_j_per_kgk
        assert found == pytest.approx(mixed, rel=0.03)


@pytest.mark.parametrize("kind", BRASSES)
def test_brass_conducts_within_the_band_of_handbooks(kind):
    metal = PHYSICS.metals[kind]
    assert 20 <= metal.conductivity_pct_iacs <= 28
    assert 110 <= metal.conductivity_w_per_mk <= 120


def test_copper_is_the_standard():
    assert PHYSICS.heat.copper_resistivity_uohm_cm == COPPER_UOHM_CM
