"""The shop's tables as a person looks at them and edits them: rows of values with their sources."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from kerfwright.app.said import Said
from kerfwright.foundation.units import KG_PER_LB, MM_PER_INCH, UM_PER_MICROINCH, UM_PER_MM

_M_PER_FOOT: Final = 0.3048


class ValueKind(StrEnum):
    """How a value is written."""

    NUMBER = "number"
    LIST = "list"
    """Numbers with commas between, or points of a curve in brackets."""
    TEXT = "text"
    LINES = "lines"
    """Several texts, one a line."""
    TRUTH = "truth"


@dataclass(frozen=True, slots=True, kw_only=True)
class Unit:
    """The unit that the name of a value carries, and that of people who work in inches.

    Attributes
    ----------
    name : str
        Empty for a plain number.
    inch_name : str
        Empty where both read the same.
    per_inch : float
        How many of the one make one of the other.
    """

    name: str = ""
    inch_name: str = ""
    per_inch: float = 1.0


PLAIN: Final = Unit()
_UNITS: Final[tuple[tuple[str, Unit], ...]] = (
    ("_mm2_per_min", Unit(name="mm²/min", inch_name="in²/min", per_inch=MM_PER_INCH**2)),
    ("_mm_per_min", Unit(name="mm/min", inch_name="in/min", per_inch=MM_PER_INCH)),
    ("_m_per_min", Unit(name="m/min", inch_name="ft/min", per_inch=_M_PER_FOOT)),
    ("_in_per_min", Unit(name="in/min")),
    ("_n_per_mm2", Unit(name="N/mm²")),
    ("_kg_per_m3", Unit(name="kg/m³")),
    ("_w_per_mk", Unit(name="W/(m·K)")),
    ("_kj_per_kg", Unit(name="kJ/kg")),
    ("_j_per_kgk", Unit(name="J/(kg·K)")),
    ("_uohm_cm", Unit(name="µΩ·cm")),
    ("_ohm_cm", Unit(name="Ω·cm")),
    ("_um_per_mk", Unit(name="µm/(m·K)")),
    ("_mm_per_mm", Unit(name="mm/mm")),
    ("_w_per_m2k", Unit(name="W/(m²·K)")),
    ("_c_per_mm3", Unit(name="C/mm³")),
    ("_pct_iacs", Unit(name="% IACS")),
    ("_mpa_s", Unit(name="mPa·s")),
    ("_per_m3", Unit(name="a m³")),
    ("_l_per_h", Unit(name="l an hour")),
    ("_per_kwh", Unit(name="a kWh")),
    ("_per_kg", Unit(name="a kg")),
    ("_per_l", Unit(name="a litre")),
    ("_per_m", Unit(name="a metre")),
    ("_per_h", Unit(name="an hour")),
    ("_mpa", Unit(name="MPa")),
    ("_kpa", Unit(name="kPa")),
    ("_mm2", Unit(name="mm²", inch_name="in²", per_inch=MM_PER_INCH**2)),
    ("_days", Unit(name="days")),
    ("_deg", Unit(name="°")),
    ("_kw", Unit(name="kW")),
    ("ra_um", Unit(name="µm", inch_name="µin", per_inch=UM_PER_MICROINCH)),
    ("_us", Unit(name="µs")),
    ("_mj", Unit(name="mJ")),
    ("_um", Unit(name="µm", inch_name="in", per_inch=MM_PER_INCH * UM_PER_MM)),
    ("_mm", Unit(name="mm", inch_name="in", per_inch=MM_PER_INCH)),
    ("_kg", Unit(name="kg", inch_name="lb", per_inch=KG_PER_LB)),
    ("_min", Unit(name="min")),
    ("_in", Unit(name="in")),
    ("_lb", Unit(name="lb")),
    ("_c", Unit(name="°C")),
    ("_h", Unit(name="h")),
    ("_a", Unit(name="A")),
    ("_v", Unit(name="V")),
    ("_k", Unit(name="K")),
    ("_w", Unit(name="W")),
)
"""Longer endings first: the first that fits holds."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TableValue:
    """One value of a table.

    Attributes
    ----------
    key : str
        Its place, the parts of it with slashes between.
    name : str
        Last part without its unit, in words.
    kind : ValueKind
    unit : Unit
    shown : Said
    source : str
    is_own : bool
        Whether the shop gives it.
    takes_source : bool
        Whether a source can stand beside it.
    shipped, shipped_source : Said, str
        What stands under the shop's own; empty where nothing does.
    remark : str
        What the file says of it.
    """

    key: str
    name: str
    kind: ValueKind
    unit: Unit
    shown: Said
    source: str
    is_own: bool
    takes_source: bool
    shipped: Said
    shipped_source: str
    remark: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TableRow:
    """Values that belong together: a material, a wire, the rates of an hour.

    Attributes
    ----------
    id : str
    title : str
    is_own : bool
        Whether the whole row is the shop's.
    can_copy : bool
        Whether another row can be made like it.
    can_edit : bool
        False for what is shipped whole, such as a machine: it is copied first.
    values : tuple of TableValue
    """

    id: str
    title: str
    is_own: bool
    can_copy: bool
    can_edit: bool
    values: tuple[TableValue, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ShopTable:
    """One table.

    Attributes
    ----------
    name, title, what : str
        ``what`` says in a sentence what is looked up in it.
    file : str
        The shop's own file.
    rows : tuple of TableRow
    """

    name: str
    title: str
    what: str
    file: str
    rows: tuple[TableRow, ...]


TITLES: Final[Mapping[str, tuple[str, str]]] = {
    "materials": ("Materials", "What is cut: density, melting point, how fast it erodes."),
    "wires": ("Wires", "Diameters, strength, how much runs off, what it costs."),
    "machines": ("Machines", "Travels, wires and words of each machine's programs."),
    "rates": ("Rates", "What hours and consumables cost, and how long people take."),
    "passes": ("Passes", "Feed, gap, finish and tolerance of each pass."),
    "holes": ("Small holes", "Tubes, electrodes and times of holes by tube."),
    "planning": ("Planning rules", "Start holes, lead-ins, tabs, clearances."),
    "flushing": ("Flushing", "Pressure, nozzles, and what an open one costs."),
    "spark": ("Spark and surface", "How energy makes gap, roughness and recast layer."),
    "wire_physics": ("Wire physics", "Tension, heat, push and bow of the wire."),
    "learning": ("Learning", "How far measured cuts move the tables."),
    "papers": ("Papers", "The shop's name, terms and days of validity."),
}
"""Tables in the order in which a shop makes them its own."""


def unit_of(name: str) -> Unit:
    """Return the unit that the name of a value ends with.

    >>> unit_of("density_kg_per_m3").name, unit_of("travel_x_mm").inch_name
    ('kg/m³', 'in')
    """
    return next((unit for ending, unit in _UNITS if name.endswith(ending)), PLAIN)


def words_of(name: str) -> str:
    """Return a name without its unit, in words.

    >>> words_of("density_kg_per_m3"), words_of("ra_um")
    ('density', 'Ra')
    """
    if name.startswith("ra_"):
        name = name.replace("ra_um", "Ra").replace("ra_", "Ra ")
    for ending, _ in _UNITS:
        if name.endswith(ending):
            return name.removesuffix(ending).replace("_", " ")
    return name.replace("_", " ")


def number_said(value: float, unit: Unit) -> Said:
    """Return a number with its unit, for either system.

    >>> number_said(25.4, unit_of("wall_mm"))
    Said(metric='25.4 mm', inch='1 in')
    """
    metric = f"{value:.10g} {unit.name}".rstrip()
    if not unit.inch_name:
        return Said(metric=metric, inch=metric)
    return Said(metric=metric, inch=f"{value / unit.per_inch:.6g} {unit.inch_name}")


def numbers_said(values: Sequence[float], unit: Unit) -> Said:
    """Return a list of numbers with their unit, for either system.

    >>> numbers_said([12.7, 25.4], unit_of("diameters_mm"))
    Said(metric='12.7, 25.4 mm', inch='0.5, 1 in')
    """
    metric = f"{', '.join(f'{v:.10g}' for v in values)} {unit.name}".strip()
    if not unit.inch_name:
        return Said(metric=metric, inch=metric)
    inches = ", ".join(f"{v / unit.per_inch:.6g}" for v in values)
    return Said(metric=metric, inch=f"{inches} {unit.inch_name}".strip())


def points_said(points: Sequence[Sequence[float]]) -> Said:
    """Return the points of a curve, each with a colon between; their unit stands with the name.

    >>> points_said([[20, 1.0], [150, 0.9]]).metric
    '20: 1, 150: 0.9'
    """
    text = ", ".join(f"{x:.10g}: {y:.10g}" for x, y in points)
    return Said(metric=text, inch=text)
