"""Work materials and wires, each value with its source."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from kerfwright.foundation.sources import Source

FAMILIES: Final = (
    "steel",
    "stainless",
    "nickel",
    "titanium",
    "aluminium",
    "copper",
    "carbide",
    "refractory",
    "graphite",
    "diamond",
    "controlled-expansion",
)
"""Of work materials."""
UNMOLTEN: Final = {
    "graphite": "loosened and cracked grains and of what settles on them",
    "diamond": "diamond turned to graphite and of cobalt molten or washed out between the grains",
}
"""Families without a melt to freeze again, and what is hurt instead: graphite goes to vapour,
diamond turns to graphite in hot cobalt before it could melt (from memory, as in materials.toml)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Material:
    """A conductive work material.

    Attributes
    ----------
    id : str
        Key in the table, ``"tool-steel-d2"``.
    name : str
        As printed, ``"AISI D2 tool steel"``.
    family : str
        ``"steel"``, ``"stainless"``, ``"nickel"``, ``"titanium"``, ``"aluminium"``,
        ``"copper"``, ``"carbide"``, ``"refractory"``, ``"graphite"``, ``"diamond"`` or
        ``"controlled-expansion"``.
    aliases : tuple of str
        Other names people write.
    density_kg_per_m3, melting_c, conductivity_w_per_mk, heat_capacity_j_per_kgk : float
    latent_heat_kj_per_kg : float or None
    resistivity_uohm_cm : float or None
        None where the grade decides (PCD).
    expansion_um_per_mk : float or None
        Growth per metre and kelvin; None where the grade decides.
    rate_factor : float
        Rough area rate relative to tool steel with the same wire.
    ra_factor : float
        Roughness relative to steel at equal energy.
    yield_mpa : float
        Low value of the yield strength, MPa, in the softest usual state; the strength at
        rupture where ``is_brittle``.
    sources : mapping of str to Source
        Source of each field that is a number.
    recast_factor : float
        Depth of the recast layer relative to steel at equal energy.
    is_brittle : bool
        Whether it breaks without yielding: a tab of it snaps.
    notes : tuple of str
        Warnings of the trade for this material.
    recast_note : str
        One more where no recast layer is asked; empty for none.
    """

    id: str
    name: str
    family: str
    aliases: tuple[str, ...]
    density_kg_per_m3: float
    melting_c: float
    conductivity_w_per_mk: float
    heat_capacity_j_per_kgk: float
    latent_heat_kj_per_kg: float | None
    resistivity_uohm_cm: float | None
    rate_factor: float
    ra_factor: float
    yield_mpa: float
    sources: Mapping[str, Source]
    recast_factor: float = 1.0
    is_brittle: bool = False
    notes: tuple[str, ...] = ()
    recast_note: str = ""
    expansion_um_per_mk: float | None = None

    @property
    def hurt_word(self) -> str:
        """What sparks leave hurt of it: recast, but not of what never melts under them."""
        return "hurt layer" if self.family in UNMOLTEN else "recast"


@dataclass(frozen=True, slots=True, kw_only=True)
class Wire:
    """A wire electrode of one kind and diameter.

    Attributes
    ----------
    kind : str
        Key in the table, ``"hard-brass"``.
    name : str
        As printed.
    diameter_mm : float
    density_kg_per_m3, tensile_n_per_mm2 : float
    rate_factor : float
        Rough rate relative to plain hard brass of the same diameter.
    run_speed_m_per_min : float
        Usual unwinding speed.
    spool_kg : float
    price_per_kg : float
        In the currency of the rate table.
    sources : mapping of str to Source
    """

    kind: str
    name: str
    diameter_mm: float
    density_kg_per_m3: float
    tensile_n_per_mm2: float
    rate_factor: float
    run_speed_m_per_min: float
    spool_kg: float
    price_per_kg: float
    sources: Mapping[str, Source]

    @property
    def radius_mm(self) -> float:
        """Half the diameter, mm."""
        return self.diameter_mm / 2
