"""Heads beside clamps where the wire leans: each follows its own guide, aside of the wall."""

from __future__ import annotations

from typing import Final

import numpy as np
import shapely

from kerfwright.foundation.findings import Finding
from kerfwright.geometry.ruled import RuledWall
from kerfwright.planning.beside_clamps import solid_of
from kerfwright.planning.clamps import clamp_refusal, way_to_move
from kerfwright.trade.clamps import Clamps
from kerfwright.trade.machine import Tilt

_PIECES_PER_SIDE: Final = 64
"""Chords of a side at a guide; of a half circle of 20 mm they leave 6 µm."""


def heads_refusal(
    contour_id: str, ruled: RuledWall, tilt: Tilt, *, lean_rad: float, clamps: Clamps | None
) -> Finding | None:
    """Return the refusal of a wall at which a head would meet a clamp; None where both pass.

    The proof measures the same along the program; here the guides go in the wall, without the
    fraction of a millimetre by which the wire stands beside it.

    Parameters
    ----------
    contour_id : str
    ruled : RuledWall
    tilt : Tilt
        Where the guides are.
    lean_rad : float
        Greatest angle of the wall.
    clamps : Clamps or None
    """
    if clamps is None:
        return None
    shift = tilt.pivot_shift_mm(lean_rad)
    heads = {
        "the lower head": ruled.lower_mm - tilt.lower_guide_mm - shift,
        "the upper head": ruled.upper_mm + tilt.upper_guide_mm + shift,
    }
    rows = np.repeat(np.arange(len(ruled)), _PIECES_PER_SIDE)
    share = np.tile(np.arange(_PIECES_PER_SIDE) / _PIECES_PER_SIDE, len(ruled))
    body = solid_of(clamps)
    rings = {
        name: shapely.LinearRing(ruled.points(rows, share, height))
        for name, height in heads.items()
    }
    name, ring = min(rings.items(), key=lambda one: float(one[1].distance(body)))
    near = float(ring.distance(body))
    if near >= clamps.reach_mm:
        return None
    at, _ = shapely.shortest_line(ring, body).coords
    return clamp_refusal(
        contour_id,
        name,
        at=(at[0], at[1]),
        near_mm=near,
        clamps=clamps,
        move=way_to_move(clamps, shapely.MultiLineString(list(rings.values())), ring),
    )
