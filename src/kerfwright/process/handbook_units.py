"""Handbook properties in another unit than is asked for: what fits the usual only if converted.

A melting point in °F is a fine number of °C of another metal; only beside what the metals of its
family have does it show.  The spans of the families are handbook values from memory (ASM Handbook
volumes 1 and 2; CRC Handbook of Chemistry and Physics), rounded outwards; every shipped material
lies within them.  They ask, they refuse nothing: an alloy may lie outside.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from kerfwright.foundation.findings import Finding, Severity
from kerfwright.trade.material import Material

_Span = tuple[float, float]
_FIELDS: Final = (
    "density_kg_per_m3",
    "melting_c",
    "conductivity_w_per_mk",
    "heat_capacity_j_per_kgk",
    "latent_heat_kj_per_kg",
    "resistivity_uohm_cm",
    "expansion_um_per_mk",
)
_NONE: Final = (0.0, float("inf"))
_USUAL: Final[MappingProxyType[str, tuple[_Span, ...]]] = MappingProxyType(
    {
        "steel": (
            (6900, 8900), (1130, 1545), (14, 80), (420, 600), (200, 310), (9, 120), (9, 20),
        ),
        "stainless": (
            (7400, 8300), (1370, 1530), (10, 30), (420, 540), (220, 310), (40, 110), (9.5, 19.5),
        ),
        "nickel": (
            (7700, 9300), (1200, 1460), (8, 32), (370, 560), (200, 320), (6, 150), (10, 17),
        ),
        "titanium": (
            (4300, 5000), (1540, 1720), (5, 23), (450, 650), (270, 440), (40, 200), (7, 11.5),
        ),
        "aluminium": (
            (2500, 3000), (470, 665), (70, 240), (830, 1000), (320, 450), (2.6, 12), (18, 25),
        ),
        "copper": (
            (7200, 9000), (800, 1240), (15, 405), (340, 480), (160, 240), (1.6, 50), (16, 22),
        ),
        "refractory": (
            (6000, 22_700), (1850, 3430), (35, 180), (125, 450), (140, 400), (4.5, 45), (4, 9),
        ),
        "carbide": (
            (10_500, 15_800), (2600, 2900), (25, 125), (160, 350), (200, 600), (15, 100), (4, 8),
        ),
        "controlled-expansion": (
            (7900, 8500), (1400, 1480), (8, 20), (400, 560), (220, 310), (45, 90), (0.1, 8),
        ),
        "graphite": (
            (1500, 2000), (3500, 4000), (40, 180), (600, 900), _NONE, (500, 3000), (1, 10),
        ),
    }
)  # fmt: skip
"""From and to by family, in the order of the fields."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Unit:
    """A unit that handbooks print a property in.

    Attributes
    ----------
    name : str
    asked : callable
        From a value in it to the one asked for.
    """

    name: str
    asked: Callable[[float], float]


def _times(name: str, factor: float) -> _Unit:
    return _Unit(name=name, asked=lambda value: value * factor)


_CAL_J: Final = 4.1868
"""Of the steam tables, which the British thermal unit goes with."""
_BTU_PER_H_FT_F: Final = 1.730735
"""In W/(m K): 1055.056 J over 3600 s, 0.3048 m and 5/9 K."""
_COPPER_UOHM_CM: Final = 172.41
"""µΩ cm times per cent of the International Annealed Copper Standard (IEC 60028)."""
_ASKED: Final = MappingProxyType(
    dict(zip(_FIELDS, ("kg/m³", "°C", "W/(m K)", "J/(kg K)", "kJ/kg", "µΩ cm", "µm/(m K)"),
             strict=True))
)  # fmt: skip
_OTHERS: Final[MappingProxyType[str, tuple[_Unit, ...]]] = MappingProxyType(
    {
        "density_kg_per_m3": (
            _times("g/cm³", 1000.0),
            _times("lb/in³", 27_679.9),
            _times("lb/ft³", 16.01846),
        ),
        "melting_c": (
            _Unit(name="°F", asked=lambda value: (value - 32) / 1.8),
            _Unit(name="K", asked=lambda value: value - 273.15),
        ),
        "conductivity_w_per_mk": (
            _times("BTU/(h ft °F)", _BTU_PER_H_FT_F),
            _times("BTU in/(h ft² °F)", _BTU_PER_H_FT_F / 12),
            _times("cal/(s cm °C)", 100 * _CAL_J),
            _times("kcal/(h m °C)", _CAL_J / 3.6),
            _times("W/(cm K)", 100.0),
        ),
        "heat_capacity_j_per_kgk": (
            _times("cal/(kg K)", _CAL_J),
            _times("cal/(g K) or BTU/(lb °F)", 1000 * _CAL_J),
            _times("J/(g K)", 1000.0),
        ),
        "latent_heat_kj_per_kg": (
            _times("cal/g", _CAL_J),
            _times("BTU/lb", 2.326),
            _times("J/kg", 1e-3),
        ),
        "resistivity_uohm_cm": (
            _times("nΩ m", 0.1),
            _times("Ω mm²/m or µΩ m", 100.0),
            _times("Ω circ mil/ft", 0.1662426),
            _times("µΩ in", 2.54),
            _Unit(name="% IACS", asked=lambda value: _COPPER_UOHM_CM / value),
        ),
        "expansion_um_per_mk": (_times("µin/(in °F)", 1.8), _times("1/K", 1e6)),
    }
)


def handbook_unit_findings(material: Material) -> list[Finding]:
    """Ask about properties that are unusual for their family and usual in another unit.

    Parameters
    ----------
    material : Material

    Returns
    -------
    list of Finding
        Code ``handbook-unit``, one for each property.

    Notes
    -----
    A unit that leaves the value within what its family has cannot be told: kcal/(h m °C), which is
    1.16 W/(m K), hardly ever, BTU/(h ft °F) not for copper or aluminium.
    """
    spans = _USUAL.get(material.family)
    if spans is None:
        return []
    found = []
    for name, span in zip(_FIELDS, spans, strict=True):
        value = getattr(material, name)
        if value is None or span[0] <= value <= span[1]:
            continue
        fits = [
            (unit.name, asked)
            for unit in _OTHERS[name]
            if span[0] <= (asked := unit.asked(value)) <= span[1]
        ]
        if fits:
            found.append(_finding(material, name, value, span, fits))
    return found


def _finding(
    material: Material, name: str, value: float, span: _Span, fits: list[tuple[str, float]]
) -> Finding:
    unit = _ASKED[name]
    said = " or ".join(f"{other}, which is {asked:.4g} {unit}" for other, asked in fits)
    return Finding(
        code="handbook-unit",
        severity=Severity.WARNING,
        message=f"{name} of {material.name} is {value:.4g} {unit}; metals of its family "
        f"({material.family}) have {span[0]:g} to {span[1]:g}. It would fit in {said}.",
        remedy=f"Look up the unit in the handbook and enter the value in {unit}. If it is right as "
        "it stands, leave it: nothing is changed by itself.",
        data={
            "property": name,
            "value": value,
            "usual_from": span[0],
            "usual_to": span[1],
            "fits": ", ".join(other for other, _ in fits),
            "converted": fits[0][1],
        },
    )
