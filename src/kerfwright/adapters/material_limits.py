"""Between which values each property of a solid metal lies: beyond them it is a slip of the hand.

Handbook values from memory (CRC Handbook of Chemistry and Physics; ASM Handbook) of the elements
and alloys at either end, with room beside them.  They catch a wrong unit or a digit too many, no
wrong alloy: that is what the indices of erodibility are beside.
"""

from __future__ import annotations

from types import MappingProxyType
from typing import Final

from kerfwright.adapters.figures import Span

MATERIAL_SPANS: Final = MappingProxyType(
    {
        "density_kg_per_m3": Span(
            low=500, high=23_000, why="lithium 534, osmium 22,590; 8.44 g/cm³ is 8440"
        ),
        "melting_c": Span(low=100, high=4_200, why="indium 157, hafnium carbide about 3,960"),
        "conductivity_w_per_mk": Span(
            low=1, high=2_500, why="hot-pressed ceramics a few, diamond about 2,200"
        ),
        "heat_capacity_j_per_kgk": Span(
            low=100, high=4_000, why="uranium 116, lithium 3,580; 0.423 J/gK is 423"
        ),
        "latent_heat_kj_per_kg": Span(
            low=10, high=12_000, why="lead 23, carbon about 8,700; 280,000 J/kg is 280"
        ),
        "resistivity_uohm_cm": Span(
            low=1, high=3e8, why="silver 1.6; 100 to 300 Ω cm is where sparks cease"
        ),
        "expansion_um_per_mk": Span(low=0.05, high=100, why="super invar 0.3, lithium 46"),
        "yield_mpa": Span(low=3, high=10_000, why="lead about 5, carbide in compression 6,000"),
        "ra_factor": Span(
            low=0.1, high=10, why="a factor to tool steel; those shipped are 0.7–1.5"
        ),
        "recast_factor": Span(low=0.1, high=10, why="to tool steel; those shipped are 0.6 to 1"),
    }
)
