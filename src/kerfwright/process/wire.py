"""The taut wire: tension, bow and natural frequency."""

from __future__ import annotations

import math
from typing import Final

from kerfwright.foundation.errors import RangeError
from kerfwright.trade.material import Wire

USUAL_SHARE: Final = 0.35
"""Share of the strength at which brass runs: 22 N on 0.30 mm of at least 900 N/mm² (Sato et
al., read) is 311 N/mm²."""


def tension_n(wire: Wire, *, share: float = USUAL_SHARE) -> float:
    """Return a usual wire tension: ``T = share * sigma * pi d^2/4``.

    Parameters
    ----------
    wire : Wire
    share : float
        Of the tensile strength.

    Returns
    -------
    float
        N.

    References
    ----------
    Sato et al., wire-break tests: brass 0.30 mm at 22 N (read); the share is computed from it.
    """
    return share * wire.tensile_n_per_mm2 * math.pi * wire.diameter_mm**2 / 4


def static_bow_um(
    load_n_per_m: float, *, height_mm: float, span_mm: float, tension_n: float
) -> float:
    """Return the bow of the wire at mid-height: ``delta = q h (2L - h) / (8 T)``.

    Parameters
    ----------
    load_n_per_m : float
        Discharge and flushing force per height of work, N/m.
    height_mm : float
        Height h of the work, centred between the guides.
    span_mm : float
        Distance L between the guides.
    tension_n : float

    Returns
    -------
    float
        µm.

    Raises
    ------
    RangeError
        If the work is taller than the span or the tension is not above 0.

    Notes
    -----
    A string without stiffness, at rest; small against the span.

    References
    ----------
    Equilibrium of a string (computed); equation of motion in Puri and Bhattacharyya, J. Mater.
    Process. Technol. 141 (2003) 295-301 (from memory).
    """
    if not 0 < height_mm <= span_mm or not tension_n > 0:
        raise RangeError(
            f"work of {height_mm:g} mm between guides {span_mm:g} mm apart at {tension_n:g} N; "
            "the work must fit and the tension be above 0",
            code="bow-out-of-range",
        )
    height_m, span_m = height_mm / 1000, span_mm / 1000
    bow_m = load_n_per_m * height_m * (2 * span_m - height_m) / (8 * tension_n)
    return bow_m * 1_000_000


def barrel_um(load_n_per_m: float, *, height_mm: float, tension_n: float) -> float:
    """Return by how much the wire bows more at mid-height than at the faces: ``q h^2 / (8 T)``.

    Parameters
    ----------
    load_n_per_m : float
        Force per height of work in the direction looked at.
    height_mm, tension_n : float

    Returns
    -------
    float
        µm.  It does not depend on the distance of the guides.

    References
    ----------
    Equilibrium of a string (computed).
    """
    height_m = height_mm / 1000
    return load_n_per_m * height_m**2 / (8 * tension_n) * 1_000_000


def engaged_arc_rad(stock_um: float, *, radius_um: float) -> float:
    """Return the arc of the wire's front that sparks in a skim: ``theta = arccos(1 - w/R)``.

    From the point that touches the finished wall to the one where the stock begins.

    Parameters
    ----------
    stock_um : float
        Stock ``w`` on one side; from two radii on the whole front sparks.
    radius_um : float
        Wire and gap, ``R = d/2 + g``.

    Raises
    ------
    RangeError
        If the stock is below 0 or the radius not above it.

    Notes
    -----
    Even pressure over the arc sums to a push along its bisector: ``sin(theta/2)`` of it against
    the travel and ``cos(theta/2)`` off the wall.

    References
    ----------
    Geometry of a circle along a straight wall (computed).

    Examples
    --------
    A stock of 35 µm pushes 0.25 mm wire with a gap of 20 µm 0.37 as hard along as off the wall:

    >>> round(math.tan(engaged_arc_rad(35, radius_um=145) / 2), 2)
    0.37
    """
    if not stock_um >= 0 or not radius_um > 0:
        raise RangeError(
            f"a stock of {stock_um:g} µm before a radius of {radius_um:g} µm; the stock must not "
            "be below 0 and the radius must be above it",
            code="bow-out-of-range",
        )
    return math.acos(max(1 - stock_um / radius_um, -1.0))


def natural_frequency_hz(wire: Wire, *, span_mm: float, tension_n: float) -> float:
    """Return the lowest natural frequency of the taut wire: ``f = sqrt(T/mu) / (2 L)``.

    Parameters
    ----------
    wire : Wire
        Gives the mass per length, ``mu = rho pi d^2/4``.
    span_mm : float
        Distance L between the guides.
    tension_n : float

    Returns
    -------
    float
        Hz.

    Raises
    ------
    RangeError
        If the span or the tension is not above 0.

    Notes
    -----
    A string without stiffness and damping.  The sparks, tens of thousands a second, are far above
    it; what shakes the wire at this pitch is their grouping and the water.

    References
    ----------
    Vibrating string (computed); 22 N on 0.30 mm brass over 100 mm give 960 Hz (PROCESS 3.6).
    """
    if not span_mm > 0 or not tension_n > 0:
        raise RangeError(
            f"a wire of {span_mm:g} mm at {tension_n:g} N; both must be above 0",
            code="bow-out-of-range",
        )
    kg_per_m = wire.density_kg_per_m3 * math.pi * (wire.diameter_mm / 1000) ** 2 / 4
    return math.sqrt(tension_n / kg_per_m) / (2 * span_mm / 1000)
