"""Water through the kerf: pressure between two nozzles, flow past the wire, debris on the way."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from kerfwright.foundation.errors import RangeError
from kerfwright.process.flushing_law import FlushingLaw
from kerfwright.process.three_bands import solve_three_bands

Floats = npt.NDArray[np.float64]

_CELLS: Final = 400
"""Over the height; twice as many change the mean dirt by less than a percent."""


def plate_speed_m_per_s(
    gap_um: float, *, pressure_mpa: float, length_mm: float, viscosity_mpa_s: float
) -> float:
    """Return the mean speed between parallel plates: ``v = w² p / (12 mu L)``.

    Parameters
    ----------
    gap_um : float
        Distance w of the plates.
    pressure_mpa : float
        Difference of pressure p over the length, MPa.
    length_mm : float
    viscosity_mpa_s : float
        mPa·s.

    Raises
    ------
    RangeError
        If a length or the viscosity is not above 0.

    Notes
    -----
    Laminar, see :func:`reynolds_number`; above about 2000 it is an upper bound.

    References
    ----------
    Plane Poiseuille flow, exact solution (from memory of any textbook of fluid mechanics).
    """
    _above_zero(gap_um=gap_um, length_mm=length_mm, viscosity_mpa_s=viscosity_mpa_s)
    gap, length = gap_um * 1e-6, length_mm * 1e-3
    return gap**2 * pressure_mpa * 1e6 / (12 * viscosity_mpa_s * 1e-3 * length)


def reynolds_number(
    gap_um: float, *, speed_m_per_s: float, density_kg_per_m3: float, viscosity_mpa_s: float
) -> float:
    """Return the Reynolds number of a slot, ``2 w v rho / mu`` (hydraulic diameter 2 w)."""
    gap = gap_um * 1e-6
    return 2 * gap * speed_m_per_s * density_kg_per_m3 / (viscosity_mpa_s * 1e-3)


def kerf_reynolds(height_mm: float, *, wire_mm: float, gap_um: float, law: FlushingLaw) -> float:
    """Return the Reynolds number of the water behind the wire, from face to half the height.

    Speed between plates as far apart as the kerf is wide, no faster than a free jet at the face.
    Above some thousands the flow is turbulent and only ratios of set-ups mean anything.

    Parameters
    ----------
    height_mm, wire_mm, gap_um : float
    law : FlushingLaw

    Raises
    ------
    RangeError
        If a length is not above 0.
    """
    _above_zero(height_mm=height_mm, wire_mm=wire_mm, gap_um=gap_um)
    kerf_um = 1000 * wire_mm + 2 * gap_um
    mobility = _mobility_mm2_per_s(height_mm, kerf_um=kerf_um, law=law)
    return reynolds_number(
        kerf_um,
        speed_m_per_s=mobility / (height_mm / 2) / 1000,
        density_kg_per_m3=law.water.density_kg_per_m3,
        viscosity_mpa_s=law.water.viscosity_mpa_s,
    )


def inflow_shape(depth_mm: Floats | float, *, height_mm: float, mouth_mm: float) -> Floats:
    """Return the fall of pressure along the wire below a nozzle of unit pressure, 1/mm.

    ``-dp/ds = (T/H) / (sin² + T² cos²)`` of ``pi s/(2H)``, ``T = tanh(pi a/(2H))``; for a mouth
    far wider than the height, 1/H.

    Raises
    ------
    RangeError
        If height or mouth is not above 0.
    """
    _above_zero(height_mm=height_mm, mouth_mm=mouth_mm)
    turn = math.pi * np.asarray(depth_mm, dtype=np.float64) / (2 * height_mm)
    closed = math.tanh(math.pi * mouth_mm / (2 * height_mm))
    result: Floats = closed / height_mm / (np.sin(turn) ** 2 + closed**2 * np.cos(turn) ** 2)
    return result


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Debris:
    """Debris in the water along the wire.

    Attributes
    ----------
    up_mm : (n,) float
        Heights above the lower face.
    dirt : (n,) float
        Share of the volume that is debris, per mm/min of feed; an order of magnitude.
    mean, worst : float
        Over the height.
    worst_up_mm : float
        Height of the dirtiest place.
    still_up_mm : float or None
        Height at which the water along the wire stands still; None if it runs through.
    """

    up_mm: Floats
    dirt: Floats
    still_up_mm: float | None

    @property
    def mean(self) -> float:
        """Mean over the height."""
        return float(self.dirt.mean())

    @property
    def worst(self) -> float:
        """Largest value."""
        return float(self.dirt.max())

    @property
    def worst_up_mm(self) -> float:
        """Height above the lower face at which it is largest."""
        return float(self.up_mm[int(self.dirt.argmax())])


def debris_along(
    height_mm: float,
    *,
    wire_mm: float,
    gap_um: float,
    top_share: float,
    bottom_share: float,
    law: FlushingLaw,
) -> Debris:
    """Compute how dirty the water along the wire gets.

    Along the wire runs ``Q(z) = M (p_b h(z) - p_t h(H-z))`` with the slot's mobility M and
    :func:`inflow_shape` h; what it loses leaves behind the wire and carries debris with it.
    Every height adds the metal of the kerf there, so that
    ``Q c' - (eps c')' = v w``, with clean water where it comes in and
    ``eps = m (|Q| + l q)`` for the mixing over a length m.  Without mixing,
    ``c(z) = v w integral dz/Q``.

    Parameters
    ----------
    height_mm : float
    wire_mm, gap_um : float
        Give the kerf, ``w = d + 2 g``, and the breadth l = d of the stream along the wire.
    top_share, bottom_share : float
        Share of the supply pressure at each face, 0 to 1, not both 0.
    law : FlushingLaw

    Raises
    ------
    RangeError
        If a length is not above 0 or the shares are out of range.

    Notes
    -----
    The speed is held to that of a free jet of the supply pressure.  Shares of two set-ups at
    one height compare; the absolute share of debris is an order of magnitude at best: bubbles,
    settling and the drag of the running wire are left out.

    References
    ----------
    Computed here; length of mixing: common practice, no source.
    """
    _above_zero(height_mm=height_mm, wire_mm=wire_mm, gap_um=gap_um)
    if not (0 <= top_share <= 1 and 0 <= bottom_share <= 1 and top_share + bottom_share > 0):
        raise RangeError(
            f"shares {top_share:g} and {bottom_share:g} of the pressure; each must be 0 to 1 and "
            "one above 0",
            code="flow-out-of-range",
        )
    mouth = law.nozzle.mouth_radius_mm
    edges = np.linspace(0.0, height_mm, _CELLS + 1)
    stream = bottom_share * inflow_shape(edges, height_mm=height_mm, mouth_mm=mouth)
    stream -= top_share * inflow_shape(height_mm - edges, height_mm=height_mm, mouth_mm=mouth)
    middle = (edges[1:] + edges[:-1]) / 2
    shape = _advected(edges, stream, breadth_mm=wire_mm, mixing_mm=law.debris.mixing_mm)
    mobility = _mobility_mm2_per_s(height_mm, kerf_um=wire_mm * 1000 + 2 * gap_um, law=law)
    # One mm/min is 1/60 mm/s; stream and source share the kerf's width.
    dirt = shape / (60 * mobility * wire_mm)
    inward = stream[0] > 0 > stream[-1]
    still = float(np.interp(0.0, -stream, edges)) if inward else None
    return Debris(up_mm=middle, dirt=dirt, still_up_mm=still)


def _mobility_mm2_per_s(height_mm: float, *, kerf_um: float, law: FlushingLaw) -> float:
    """Return speed times length at full pressure, no faster at the face than a free jet."""
    water = law.water
    slow = 1e6 * plate_speed_m_per_s(
        kerf_um,
        pressure_mpa=water.rough_pressure_mpa,
        length_mm=1000.0,
        viscosity_mpa_s=water.viscosity_mpa_s,
    )
    jet = 1000 * math.sqrt(2 * water.rough_pressure_mpa * 1e6 / water.density_kg_per_m3)
    at_face = float(inflow_shape(0.0, height_mm=height_mm, mouth_mm=law.nozzle.mouth_radius_mm))
    return min(slow, jet / at_face)


def _advected(edges: Floats, stream: Floats, *, breadth_mm: float, mixing_mm: float) -> Floats:
    """Solve ``Q c' - (eps c')' = 1`` by finite volumes, upwind, clean water at inflows."""
    step = float(edges[1] - edges[0])
    lost = np.maximum(-np.diff(stream), 0.0)
    aside = np.interp(edges, (edges[1:] + edges[:-1]) / 2, lost / step)
    mixed = mixing_mm * (np.abs(stream) + breadth_mm * aside) / step
    # Half a cell to the clean water at an inflow; nothing diffuses back through an outflow.
    mixed[0] = 2 * mixed[0] if stream[0] > 0 else 0.0
    mixed[-1] = 2 * mixed[-1] if stream[-1] < 0 else 0.0
    up, down = np.maximum(stream, 0.0), np.minimum(stream, 0.0)
    return solve_three_bands(
        -up[1:-1] - mixed[1:-1],
        up[1:] + mixed[1:] - down[:-1] + mixed[:-1] + lost,
        down[1:-1] - mixed[1:-1],
        np.full(len(edges) - 1, step),
    )


def _above_zero(**values: float) -> None:
    for name, value in values.items():
        if not 0 < value < math.inf:
            raise RangeError(f"{name} is {value:g}; it must be above 0", code="flow-out-of-range")
