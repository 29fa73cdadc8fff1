"""Exact flows that the water through the kerf is held against."""

from __future__ import annotations

import math

import numpy as np

from kerfwright.process.kerf_flow import Floats, _above_zero


def front_flow_mm3_per_s(
    *,
    wire_mm: float,
    gap_um: float,
    pressure_mpa: float,
    length_mm: float,
    viscosity_mpa_s: float,
) -> float:
    """Return the flow along the wire through the half ring of the gap before it.

    Half the flow of a concentric ring with radii a = d/2 and b = a + g,
    ``Q = pi p/(16 mu L) (b⁴ - a⁴ - (b² - a²)²/ln(b/a))``; for a thin gap it becomes the
    plates' ``(pi (a + b)/2) g³ p/(12 mu L)``.

    Parameters
    ----------
    wire_mm, gap_um : float
    pressure_mpa : float
        Difference over the length, MPa.
    length_mm, viscosity_mpa_s : float

    Raises
    ------
    RangeError
        If a length or the viscosity is not above 0.

    Notes
    -----
    Laminar; a wire that touches nothing and does not move.

    References
    ----------
    Axial flow in a concentric annulus, exact solution: Bird, Stewart and Lightfoot, Transport
    Phenomena (from memory).
    """
    _above_zero(
        wire_mm=wire_mm, gap_um=gap_um, length_mm=length_mm, viscosity_mpa_s=viscosity_mpa_s
    )
    a = wire_mm / 2 * 1e-3
    b = a + gap_um * 1e-6
    # log1p keeps its digits where the gap is thin; the powers still cancel to g³/a³.
    bracket = b**4 - a**4 - (b**2 - a**2) ** 2 / math.log1p((b - a) / a)
    flow = math.pi * pressure_mpa * 1e6 / (16 * viscosity_mpa_s * 1e-3 * length_mm * 1e-3) * bracket
    return flow * 1e9


def kerf_pressure(
    behind_mm: Floats | float,
    up_mm: Floats | float,
    *,
    height_mm: float,
    mouth_mm: float,
    top_mpa: float,
    bottom_mpa: float,
) -> Floats:
    """Return the pressure in the open kerf behind the wire.

    The kerf is a flat slot ``0 < z < H`` that begins at the wire, x = 0, and goes on behind it.
    Under a nozzle, x < a, the face has its pressure, beyond it none; through the front nothing
    flows.  Slow flow in a slot obeys Laplace's equation, whose solution in the strip is, for
    each nozzle with the depth s below its face,
    ``p = (P/pi) (atan(tanh(pi (a+x)/(2H)) cot(pi s/(2H)))
    + atan(tanh(pi (a-x)/(2H)) cot(pi s/(2H))))``.

    Parameters
    ----------
    behind_mm, up_mm : float or array
        Distance x behind the wire and height z above the lower face, inside the kerf.
    height_mm : float
    mouth_mm : float
        Radius a of the nozzles' mouths.
    top_mpa, bottom_mpa : float
        Pressure at the faces under the nozzles.

    Returns
    -------
    array
        MPa.

    Raises
    ------
    RangeError
        If height or mouth is not above 0.

    Notes
    -----
    Laminar, straight kerf, long against the height, of even width.  At roughing pressure the
    flow near the faces is turbulent and the shape then only an approximation.

    References
    ----------
    Hele-Shaw flow; Poisson kernel of a strip integrated over the mouth (computed here).
    """
    _above_zero(height_mm=height_mm, mouth_mm=mouth_mm)
    x, z = np.asarray(behind_mm, dtype=np.float64), np.asarray(up_mm, dtype=np.float64)
    scale = math.pi / (2 * height_mm)
    ahead, back = np.tanh(scale * (mouth_mm + x)), np.tanh(scale * (mouth_mm - x))

    def one(pressure: float, depth: Floats) -> Floats:
        sine, cosine = np.sin(scale * depth), np.cos(scale * depth)
        share: Floats = np.arctan2(ahead * cosine, sine) + np.arctan2(back * cosine, sine)
        return pressure / math.pi * share

    return one(bottom_mpa, z) + one(top_mpa, height_mm - z)
