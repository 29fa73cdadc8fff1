"""A wire machine: travel, limits and the dialect its control reads."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from kerfwright.trade.part import LengthUnit


class ArcForm(StrEnum):
    """How the arc centre is written."""

    INCREMENTAL_IJ = "incremental-ij"
    """I and J from the start point of the arc (the RS-274 default)."""
    ABSOLUTE_IJ = "absolute-ij"
    """I and J as coordinates."""
    RADIUS = "radius"
    """R; written in parts of at most a quarter turn, read as negative above 180°."""


class OffsetForm(StrEnum):
    """Who applies the offset."""

    WIRE_CENTRE = "wire-centre"
    """The program holds the path of the wire centre (G40)."""
    CONTROLLER = "controller"
    """The program holds the wall; the control offsets it (G41/G42 with D)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Dialect:
    """How a control reads text.

    Attributes
    ----------
    unit : LengthUnit
        Unit of coordinates (G21 or G20).
    decimals : int
        Decimal places of coordinates.
    feed_decimals : int
    arc_form : ArcForm
    offset_form : OffsetForm
    block_numbers : bool
    block_step : int
    program_start, program_end : str
        Lines around the program, such as ``"%"``; empty for none.
    thread, cut_wire : str
        Words that thread and cut the wire.
    condition : str
        Template of the power-condition word with ``{number}``.
    attended_stop : str
        Word of a stop at which the control waits, ``"M00"``.
    optional_stop, end_of_program : str
    offset_table : str
        Template of the line that sets an offset in the D table, with ``{number}`` and
        ``{value}``: ``"G10 L1 P{number} R{value}"``.
    max_line_length : int
    planes : str
        Template of the words that set the heights of the planes of X Y and of U V, with
        ``{program}`` and ``{second}``; empty where the wire stays upright.
    """

    unit: LengthUnit
    decimals: int
    feed_decimals: int
    arc_form: ArcForm
    offset_form: OffsetForm
    block_numbers: bool
    block_step: int
    program_start: str
    program_end: str
    thread: str
    cut_wire: str
    condition: str
    attended_stop: str
    optional_stop: str
    end_of_program: str
    offset_table: str
    max_line_length: int
    planes: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tilt:
    """How a machine leans the wire.

    Attributes
    ----------
    max_angle_deg : float
        Greatest angle of the wire to the vertical.
    travel_u_mm, travel_v_mm : float
        How far the upper guide goes either way from above the lower one.
    lower_guide_mm : float
        From the underside of the work down to the lower guide.
    upper_guide_mm : float
        From the top of the work up to the upper guide, where nothing is in the way.
    guide_radius_mm : float
        Radius over which the wire leaves a guide.  The wire that leans by α then seems to pivot
        R tan(α / 2) beyond the guide's edge, away from the work.
    """

    max_angle_deg: float
    travel_u_mm: float
    travel_v_mm: float
    lower_guide_mm: float
    upper_guide_mm: float
    guide_radius_mm: float = 0.0

    def pivot_shift_mm(self, lean_rad: float) -> float:
        """Return how far beyond each guide the leaning wire seems to pivot.

        ``R tan(α / 2)``: the upright and the leaning wire, both tangent to a circle of radius R,
        cross there.

        Parameters
        ----------
        lean_rad : float
        """
        return self.guide_radius_mm * math.tan(lean_rad / 2)


@dataclass(frozen=True, slots=True, kw_only=True)
class Machine:
    """A wire machine of the shop.

    Attributes
    ----------
    id, name : str
    travel_x_mm, travel_y_mm : float
    max_height_mm : float
        Tallest work.
    max_weight_kg : float
        Heaviest work on the table.
    wire_diameters_mm : tuple of float
        Wires it has guides for, ascending.
    min_start_hole_mm : float
        Smallest hole into which it threads.
    threads_itself : bool
        Whether threading needs no attendant.
    rate_factor : float
        Rough rate relative to the shipped table.
    best_tolerance_um : float
        Half the narrowest tolerance zone it holds on a small part.
    idle_speed_mm_per_min : float
        Speed between start holes.
    power_kw : float
        Mean electrical power while cutting.
    dialect : Dialect
    has_free_energies : bool
        Whether the energy of a spark can be set freely; otherwise only in the machine's own steps,
        of which the pass table holds those in use.
    tilt : Tilt or None
        None where the wire stays upright.
    """

    id: str
    name: str
    travel_x_mm: float
    travel_y_mm: float
    max_height_mm: float
    max_weight_kg: float
    wire_diameters_mm: tuple[float, ...]
    min_start_hole_mm: float
    threads_itself: bool
    rate_factor: float
    best_tolerance_um: float
    idle_speed_mm_per_min: float
    power_kw: float
    dialect: Dialect
    has_free_energies: bool = False
    tilt: Tilt | None = None
