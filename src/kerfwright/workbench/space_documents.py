"""The document of the part and the wire in space, made in the worker that computed them."""

from __future__ import annotations

from typing import Any

from kerfwright.adapters.json_shapes import plain
from kerfwright.app.shown_space import ShownSpace


def space_shape(space: ShownSpace) -> dict[str, Any]:
    """Return the document of a part in space."""
    document: dict[str, Any] = {
        "height_mm": space.height_mm,
        "program_plane_mm": space.planes_mm[0],
        "second_plane_mm": space.planes_mm[1],
        "lower_guide_mm": space.guides_mm[0],
        "upper_guide_mm": space.guides_mm[1],
        "machine": space.machine,
        "limit_angle_deg": space.tilt.max_angle_deg,
        "limit_u_mm": space.tilt.travel_u_mm,
        "limit_v_mm": space.tilt.travel_v_mm,
        "most_angle_deg": plain(space.most_angle),
        "most_u_mm": plain(space.most_u),
        "most_v_mm": plain(space.most_v),
        "walls": [
            {
                "contour_id": one.contour_id,
                "drawn_id": one.drawn_id,
                "kind": one.kind.value,
                "lower_mm": one.lower_mm,
                "upper_mm": one.upper_mm,
                "leans_deg": one.leans_deg,
            }
            for one in space.walls
        ],
        "worst": [plain(one) for one in space.off.worst],
    }
    return document
