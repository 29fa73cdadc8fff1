"""What the wire machine uses up while it cuts."""

from __future__ import annotations

import math

from kerfwright.foundation.errors import RangeError
from kerfwright.trade.material import Wire


def wire_kg_per_m(wire: Wire) -> float:
    """Return the mass of a metre of wire: ``rho pi d^2/4``.

    Parameters
    ----------
    wire : Wire

    Returns
    -------
    float
        kg/m.
    """
    area_mm2 = math.pi * wire.diameter_mm**2 / 4
    return wire.density_kg_per_m3 * area_mm2 / 1_000_000


def wire_kg(running_min: float, *, wire: Wire) -> float:
    """Return the wire that runs off in a time, kg.

    Parameters
    ----------
    running_min : float
        Minutes during which the wire runs.
    wire : Wire
        Its ``run_speed_m_per_min`` is used.
    """
    return wire_kg_per_m(wire) * wire.run_speed_m_per_min * _time(running_min)


def spools(mass_kg: float, *, wire: Wire) -> float:
    """Return how many spools a mass of wire is; not rounded, for a price."""
    return mass_kg / wire.spool_kg


def energy_kwh(running_min: float, *, power_kw: float) -> float:
    """Return the electrical energy of a time at a mean power, kWh."""
    return power_kw * _time(running_min) / 60


def filter_sets(running_min: float, *, life_h: float) -> float:
    """Return the share of a set of filters used up in a cutting time."""
    return _time(running_min) / 60 / life_h


def resin_l(running_min: float, *, litres_per_h: float) -> float:
    """Return the ion-exchange resin used up in a cutting time, litres."""
    return litres_per_h * _time(running_min) / 60


def _time(running_min: float) -> float:
    if not running_min >= 0:
        raise RangeError(
            f"a running time of {running_min:g} min must not be below 0",
            code="consumption-out-of-range",
        )
    return running_min
