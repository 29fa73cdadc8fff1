"""A small-hole machine: travel, tubes, axes that turn the work, and the dialect it reads."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from kerfwright.trade.part import LengthUnit


class AxisLetter(StrEnum):
    """An axis of turning by its letter (ISO 841, from memory)."""

    A = "A"
    """About X."""
    B = "B"
    """About Y."""
    C = "C"
    """About Z."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TurningAxis:
    """An axis that turns the work under the tube.

    Attributes
    ----------
    letter : AxisLetter
    low_deg, high_deg : float
        Limits.
    is_right_handed : bool
        Whether a growing angle turns the work by the right-hand rule about +X, +Y or +Z.
    speed_deg_per_min : float
    """

    letter: AxisLetter
    low_deg: float
    high_deg: float
    is_right_handed: bool
    speed_deg_per_min: float


@dataclass(frozen=True, slots=True, kw_only=True)
class DrillDialect:
    """How the control of a small-hole machine reads text.

    Attributes
    ----------
    unit : LengthUnit
        Unit of coordinates (G21 or G20).
    decimals, angle_decimals, feed_decimals : int
    block_numbers : bool
    block_step : int
    program_start, program_end : str
        Lines around the program; empty for none.
    tube : str
        Takes up a tube, with ``{number}``.
    guide : str
        Sets the gap between guide and face, with ``{value}``.
    touch : str
        Lowers the tube until it touches and calls that height ``{value}``.
    condition : str
        Calls a power condition, with ``{number}``.
    spark_on, spark_off : str
        Switch generator, spindle and water.
    dress : str
        Cuts the worn end of the tube off.
    attended_stop, optional_stop, end_of_program : str
    max_line_length : int
    """

    unit: LengthUnit
    decimals: int
    angle_decimals: int
    feed_decimals: int
    block_numbers: bool
    block_step: int
    program_start: str
    program_end: str
    tube: str
    guide: str
    touch: str
    condition: str
    spark_on: str
    spark_off: str
    dress: str
    attended_stop: str
    optional_stop: str
    end_of_program: str
    max_line_length: int


@dataclass(frozen=True, slots=True, kw_only=True)
class TubeHolder:
    """What holds and guides the tube.

    Attributes
    ----------
    length_mm : float
        Of a new tube.
    held_mm : float
        Of it in the collet.
    guide_length_mm : float
        That it must still pass when the hole is done.
    guide_diameter_mm : float
        Outside, at the mouth: it keeps clear of a slope.
    diameters_mm : tuple of float
        Tubes there are guides for, ascending.
    changes_itself, dresses_itself : bool
        Whether that needs nobody.
    finds_breakthrough : bool
        Whether the control ends a through hole by itself, the run-on after the tube has broken
        through; then the end in the program is the deepest it may go.
    """

    length_mm: float
    held_mm: float
    guide_length_mm: float
    guide_diameter_mm: float
    diameters_mm: tuple[float, ...]
    changes_itself: bool
    dresses_itself: bool
    finds_breakthrough: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class DrillMachine:
    """A machine that drills small holes by tube electrode.

    The tube stands upright; axes of turning carry the work.

    Attributes
    ----------
    id, name : str
    travel_x_mm, travel_y_mm, travel_z_mm : float
        Z is that of the tube.
    max_height_mm, max_weight_kg : float
    tubes : TubeHolder
    axes : tuple of TurningAxis
        None, one or two; the first carries the second.
    rate_factor : float
        Feed relative to the shipped table.
    best_position_um : float
        Half the narrowest zone of place that it holds at the mouth.
    idle_speed_mm_per_min : float
    power_kw : float
    water_l_per_min : float
        Through the tube while it sparks.
    dialect : DrillDialect
    """

    id: str
    name: str
    travel_x_mm: float
    travel_y_mm: float
    travel_z_mm: float
    max_height_mm: float
    max_weight_kg: float
    tubes: TubeHolder
    axes: tuple[TurningAxis, ...]
    rate_factor: float
    best_position_um: float
    idle_speed_mm_per_min: float
    power_kw: float
    water_l_per_min: float
    dialect: DrillDialect
