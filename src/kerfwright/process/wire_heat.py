"""Temperature along the travelling wire."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from kerfwright.foundation.errors import RangeError
from kerfwright.foundation.kept import Kept
from kerfwright.process.technology import Flushing
from kerfwright.process.three_bands import solve_three_bands
from kerfwright.process.wire_physics import HeatLaw, WirePhysics, effective_current_a, section_m2
from kerfwright.trade.material import Wire

Floats = NDArray[np.float64]

_MM: Final = 1e-3
_LEAST_CELLS: Final = 800
"""Cells along a short wire: halving them moves the hottest point by less than 0.1 K (tested)."""
_LONGEST_CELL_MM: Final = 0.1
"""The same for a long one: coarser cells move the faces of the work against those of the gaps."""
_HALF: Final = 0.5
_ROUNDING: Final = 1e-3
"""Of a cell: so much more asks for no cell more."""
_SQUARES: Final = Kept(most=256)
"""Shares of current by height and grid: what each current, pass and wire of a job has in common."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WireProfile:
    """Coefficients and heat along a wire, in SI units, for the linear balance.

    Attributes
    ----------
    length_m : float
    conduction_w_m : float
        ``k A``, W m/K.
    transport_w_per_k : float
        ``rho c A v``.
    film_w_per_mk : float or (n,) float
        ``h pi d``; by cell where it differs along the wire.
    water_c : float
    source_w_per_m : (n,) float
        Spark and Joule heat at the middle of each of ``n`` equal cells.
    """

    length_m: float
    conduction_w_m: float
    transport_w_per_k: float
    film_w_per_mk: float | Floats
    water_c: float
    source_w_per_m: Floats

    @property
    def middles_m(self) -> Floats:
        """Middles of the cells, m from the upper contact."""
        n = len(self.source_w_per_m)
        middles: Floats = (np.arange(n, dtype=np.float64) + 0.5) * (self.length_m / n)
        return middles


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WireTemperature:
    """Temperature along the wire from the upper to the lower contact.

    Attributes
    ----------
    along_mm, temperature_c : (n,) float
    in_work : (n,) bool
        Whether the place lies within the height of the work.
    mean_a : float
        Mean current of the sparks at which it is so warm.
    """

    along_mm: Floats
    temperature_c: Floats
    in_work: NDArray[np.bool_]
    mean_a: float

    @property
    def hottest_c(self) -> float:
        """Highest temperature, °C."""
        return float(self.temperature_c.max())


def film_w_per_m2k(
    physics: WirePhysics, *, height_mm: float, flushing: Flushing, flow_ratio: float = 1.0
) -> float:
    """Return the film coefficient within the work: ``h = h_0 (V/V_0)^n s^(H/H_0)``.

    Parameters
    ----------
    physics : WirePhysics
    height_mm : float
    flushing : Flushing
        Gives the share ``s``: what an open nozzle leaves of the film at the height ``H_0``.
    flow_ratio : float
        Flow over the usual one.

    Notes
    -----
    Water that escapes at an open nozzle is missing all the more the deeper the kerf: the power
    ``H/H_0`` has that direction, its figure is common practice.

    References
    ----------
    Sato et al. (read) for the direction; the exponent of flow is that of turbulent ducts (from
    memory).
    """
    heat = physics.heat
    open_share = heat.film[flushing] ** (height_mm / heat.film_height_mm)
    return float(heat.film_w_per_m2k * flow_ratio**heat.film_flow_exponent * open_share)


def wire_profile(  # one argument per quantity of the balance
    wire: Wire,
    *,
    height_mm: float,
    mean_a: float,
    peak_a: float,
    physics: WirePhysics,
    flushing: Flushing = Flushing.SEALED,
    flow_ratio: float = 1.0,
    cells: int | None = None,
) -> WireProfile:
    """Return the heat balance of a wire in a cut.

    Sparks bring the share ``eta u I / H`` per length within the work, one at a time, each at
    one place; :func:`mean_square_share` is what its current, squared, leaves of ``rho_el I^2/A``
    along the wire.  A nozzle that
    is kept off its face lengthens the free wire by the gap, and there the film is only
    ``free_film_share`` of that under closed nozzles: the stream of the nozzle spreads.  Within a
    nozzle the water runs past the wire whether it then goes through the kerf or escapes, so there
    the film is that of closed nozzles in every state; the share of an open one is lost in the kerf.

    Parameters
    ----------
    wire : Wire
        Its usual run speed is taken.
    height_mm : float
    mean_a, peak_a : float
        Mean and peak of triangular pulses.
    physics : WirePhysics
    flushing : Flushing
    flow_ratio : float
    cells : int or None
        None for cells short enough.

    Raises
    ------
    RangeError
        If height, current or flow is not above 0.
    """
    if not (height_mm > 0 and mean_a > 0 and peak_a > 0 and flow_ratio > 0):
        raise RangeError(
            f"height {height_mm:g} mm, mean current {mean_a:g} A, peak {peak_a:g} A, flow "
            f"{flow_ratio:g}; all must be above 0",
            code="wire-heat-out-of-range",
        )
    metal, heat, area = physics.metal(wire), physics.heat, section_m2(wire)
    top, height = heat.top_mm * _MM, height_mm * _MM
    length = height + top + (heat.contact_gap_mm + heat.lower_off_mm) * _MM
    if cells is None:
        cells = max(_LEAST_CELLS, math.ceil(length / (_LONGEST_CELL_MM * _MM) - _ROUNDING))
    edges = np.linspace(0.0, length, cells + 1)
    # Exact means over each cell, so that the total heat does not depend on the grid.
    depth = np.clip((edges - top) / height, 0.0, 1.0)
    inside = np.diff(depth) * height
    sparks = heat.spark_share_to_wire * heat.spark_voltage_v * mean_a / height * inside
    effective = effective_current_a(mean_a, peak_a=peak_a)
    squared = _SQUARES.once(
        lambda: _most_square_share(heat, edges, height_m=height), heat, key=(height, cells)
    )
    joule = physics.resistivity_ohm_m(wire) / area * effective**2 * squared
    film = _films(
        physics,
        edges_m=edges,
        within=inside / np.diff(edges),
        height_mm=height_mm,
        flushing=flushing,
        flow_ratio=flow_ratio,
    )
    speed = wire.run_speed_m_per_min / 60
    return WireProfile(
        length_m=length,
        conduction_w_m=metal.conductivity_w_per_mk * area,
        transport_w_per_k=wire.density_kg_per_m3 * metal.heat_capacity_j_per_kgk * area * speed,
        film_w_per_mk=np.pi * wire.diameter_mm * _MM * film,
        water_c=heat.water_c,
        source_w_per_m=sparks / (length / cells) + joule,
    )


def _most_square_share(heat: HeatLaw, edges_m: Floats, *, height_m: float) -> Floats:
    """Return the most that the squared share comes to in each cell for gaps up to those given.

    A contact taken far off its face leaves current to the other one.  How much is not known, so
    that the wire is not counted cooler for it: at each place stands the most of all gaps from none
    to that given.  Each share is linear in ``1/(2 l + L)``, so its square is largest at an end.
    """
    found: Floats | None = None
    for upper_mm in {0.0, heat.upper_off_mm}:
        for lower_mm in {0.0, heat.lower_off_mm}:
            # The free wire of a side carries one current: only its length is that of another gap.
            squared = mean_square_share(
                edges_m + (upper_mm - heat.upper_off_mm) * _MM,
                top_m=(heat.contact_gap_mm + upper_mm) * _MM,
                height_m=height_m,
                lead_m=heat.lead_mm * _MM,
                wire_m=height_m + (2 * heat.contact_gap_mm + upper_mm + lower_mm) * _MM,
            )
            found = squared if found is None else np.maximum(found, squared)
    assert found is not None, "there is no gap at all"
    return found


def mean_square_share(
    edges_m: Floats,
    *,
    top_m: float,
    height_m: float,
    lead_m: float = 0.0,
    wire_m: float | None = None,
) -> Floats:
    """Return the mean square of the share of a spark's current that flows in each cell of a wire.

    A spark at ``z`` of a wire ``L`` takes the share ``u = (l + L - z)/(2 l + L)`` of its current
    from the upper contact and ``1 - u`` from the lower one, ``l`` the wire that withstands a pulse
    as much as the lead to a contact does.  With ``z`` even over the work, the mean square at ``y``
    within it is the integral over the work of ``u^2`` for sparks below ``y`` and of ``(1 - u)^2``
    for those above, over its height; in the free wire it is that of the nearer face.

    Parameters
    ----------
    edges_m : (n + 1,) float
        Edges of the cells, m from the upper contact; the last is the lower contact.
    top_m, height_m : float
        Where the work begins, and how high it is.
    lead_m : float
    wire_m : float or None
        Wire between the contacts; None for up to the last edge.

    Returns
    -------
    (n,) float
        Exact mean over each cell.

    References
    ----------
    Sum of the currents at a node and of the voltages around the loop (computed); the limit of
    leads that withstand far more than the wire, R/4: Schacht, PhD KU Leuven, chapter III (read).

    Examples
    --------
    Without leads and free wire a third at the contacts, a twelfth at mid-height, a sixth over
    all; with leads that decide alone a quarter everywhere:

    >>> edges = np.linspace(0, 0.1, 1001)
    >>> share = mean_square_share(edges, top_m=0.0, height_m=0.1)
    >>> [round(float(share[n]), 3) for n in (0, 500)], round(float(share.mean()), 3)
    ([0.333, 0.083], 0.167)
    >>> share = mean_square_share(edges, top_m=0.0, height_m=0.1, lead_m=1e3)
    >>> round(float(share.min()), 3), round(float(share.max()), 3)
    (0.25, 0.25)
    """
    loop = (edges_m[-1] if wire_m is None else wire_m) + 2 * lead_m
    # Places as shares of current: v = (l + y)/(2 l + L), and u = 1 - v.
    at = (edges_m + lead_m) / loop
    begin, end = (top_m + lead_m) / loop, (top_m + height_m + lead_m) / loop
    # From the middle, x = v - 1/2: the integrals of (1/2 - x)^2 from the place to the lower face
    # and of (1/2 + x)^2 from the upper face to it add up to a constant and x^2.  Left as powers of
    # v they would be small differences of large numbers for a long lead.
    off, first, last = at - _HALF, begin - _HALF, end - _HALF
    constant = (last - first) * _HALF**2 + (last**3 - first**3) / 3 - (first**2 + last**2) / 2
    inside = np.clip(off, first, last)
    whole = constant * off + (inside**3 - first**3) / 3
    whole += first**2 * np.minimum(off - first, 0.0) + last**2 * np.maximum(off - last, 0.0)
    shares: Floats = np.diff(whole) / np.diff(off) / (last - first)
    return shares


def _films(
    physics: WirePhysics,
    *,
    edges_m: Floats,
    within: Floats,
    height_mm: float,
    flushing: Flushing,
    flow_ratio: float,
) -> float | Floats:
    """Return the film coefficient in a nozzle, in the gap before it and in the kerf, by cell."""
    closed, kerf = (
        film_w_per_m2k(physics, height_mm=height_mm, flushing=state, flow_ratio=flow_ratio)
        for state in (Flushing.SEALED, flushing)
    )
    heat = physics.heat
    if kerf == closed and not (heat.upper_off_mm or heat.lower_off_mm):
        return closed
    free = heat.free_film_share * closed
    gaps = _gap_shares(heat, edges_m, height_mm)
    films: Floats = closed + (kerf - closed) * within + (free - closed) * gaps
    return films


def _gap_shares(heat: HeatLaw, edges_m: Floats, height_mm: float) -> Floats:
    """Return how much of each cell is wire that runs free between a face and its nozzle."""
    free = np.zeros(len(edges_m) - 1)
    for begin_mm, off_mm in (
        (heat.contact_gap_mm, heat.upper_off_mm),
        (heat.top_mm + height_mm, heat.lower_off_mm),
    ):
        free += np.diff(np.clip(edges_m / _MM, begin_mm, begin_mm + off_mm)) * _MM
    shares: Floats = free / np.diff(edges_m)
    return shares


def solve_profile(profile: WireProfile) -> Floats:
    """Solve ``k A T'' - rho c A v T' - h pi d (T - T_0) + s = 0`` in each cell, °C.

    The wire comes in at the temperature of the water; at the lower contact ``T' = 0``.

    Notes
    -----
    Finite volumes: conduction by central, transport by exponential weighting of the neighbours
    (Scharfetter and Gummel; Patankar, *Numerical Heat Transfer and Fluid Flow*, 1980, section
    5.2, from memory), exact between cells without source at any ratio of the two.

    References
    ----------
    Balance: Jennes, Snoeys and Dekeyser, CIRP Annals 33 (1984) 93-98 (from memory).
    """
    n = len(profile.source_w_per_m)
    step = profile.length_m / n
    up, down = _weights(profile, step)
    first_up, _ = _weights(profile, step / 2)
    west, east = np.full(n, up), np.full(n, down)
    west[0], east[-1] = first_up, 0.0
    sink = profile.film_w_per_mk * step
    # With temperatures above the water the right side is the heat alone; transport in and out of
    # a cell is the difference of the two weights, which the equation of continuity cancels.
    above = solve_three_bands(
        -west[1:], west + east + sink, -east[:-1], profile.source_w_per_m * step
    )
    warm: Floats = profile.water_c + above
    return warm


def _weights(profile: WireProfile, step: float) -> tuple[float, float]:
    """Return what a cell gets from upstream and from downstream per kelvin, W/K."""
    conduct, carry = profile.conduction_w_m / step, profile.transport_w_per_k
    if carry == 0:
        return conduct, conduct
    if conduct == 0:
        return carry, 0.0
    ratio = carry / conduct
    # B(x) = x / (exp x - 1): what comes against the travel; with the travel it is B + x.
    against = float(ratio / np.expm1(min(ratio, 700.0)))
    return conduct * (against + ratio), conduct * against


def wire_temperature(  # one argument per quantity of the balance
    wire: Wire,
    *,
    height_mm: float,
    mean_a: float,
    peak_a: float,
    physics: WirePhysics,
    flushing: Flushing = Flushing.SEALED,
    flow_ratio: float = 1.0,
) -> WireTemperature:
    """Return the temperature along a wire in a cut; see :func:`solve_profile`.

    Parameters
    ----------
    wire : Wire
    height_mm : float
    mean_a, peak_a : float
    physics : WirePhysics
    flushing : Flushing
    flow_ratio : float

    Notes
    -----
    Means over the section and over many pulses: the spots under single sparks melt and do not
    enter.  Resistivity at 20 °C; that of brass rises by some tens of percent when hot.
    """
    profile = wire_profile(
        wire,
        height_mm=height_mm,
        mean_a=mean_a,
        peak_a=peak_a,
        physics=physics,
        flushing=flushing,
        flow_ratio=flow_ratio,
    )
    along = profile.middles_m / _MM
    top = physics.heat.top_mm
    return WireTemperature(
        along_mm=along,
        temperature_c=solve_profile(profile),
        in_work=(along > top) & (along < top + height_mm),
        mean_a=mean_a,
    )
