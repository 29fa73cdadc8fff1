"""How warm the place of the next small hole still is from those before."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from kerfwright.trade.material import Material

Floats = NDArray[np.float64]

WINDOW: Final = 256
"""Holes looked back: heat of earlier ones is spread thin."""
_M_PER_MM: Final = 0.001


def rise_k(
    places_mm: Floats,
    *,
    begin_s: Floats,
    end_s: Floats,
    depth_mm: Floats,
    heat_w: float,
    material: Material,
) -> Floats:
    """Return by how much each place is warmer when its hole begins, holes being in order.

    Each earlier hole is a line of heat through the work, let go at the middle of its time:
    ``dT = sum q / (4 pi k t) exp(-s^2 / (4 a t))`` with the heat per depth q = P T / L, the time t
    since, the distance s, the conductivity k and the diffusivity a = k / (rho c).

    Parameters
    ----------
    places_mm : array, shape (n, 3)
    begin_s, end_s : array, shape (n,)
        When the sparking of each hole begins and ends.
    depth_mm : array, shape (n,)
    heat_w : float
        Power that stays in the work.
    material : Material

    Returns
    -------
    array, shape (n,)
        K.

    Notes
    -----
    Validity: work large against the distances, faces that give off no heat: water takes some of
    it, an edge reflects some back.  The axes of neighbours are taken as parallel.

    References
    ----------
    H. S. Carslaw and J. C. Jaeger, *Conduction of Heat in Solids*, 2nd ed. 1959, 10.3,
    instantaneous line source (from memory).
    """
    conductivity = material.conductivity_w_per_mk
    heat_capacity = material.density_kg_per_m3 * material.heat_capacity_j_per_kgk
    diffusivity = conductivity / heat_capacity
    middle = (begin_s + end_s) / 2
    heat = heat_w * (end_s - begin_s) / (depth_mm * _M_PER_MM)
    rise = np.zeros(len(places_mm))
    for back in range(1, min(WINDOW, len(places_mm) - 1) + 1):
        since = begin_s[back:] - middle[:-back]
        away = ((places_mm[back:] - places_mm[:-back]) ** 2).sum(axis=1) * _M_PER_MM**2
        rise[back:] += (
            heat[:-back]
            / (4 * np.pi * conductivity * since)
            * np.exp(-away / (4 * diffusivity * since))
        )
    return rise
