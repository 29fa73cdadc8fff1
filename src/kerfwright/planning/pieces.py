"""The piece that comes free when a contour closes."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

from kerfwright.geometry.regions import largest_inscribed_circle
from kerfwright.planning.memory import Memory
from kerfwright.planning.plan import Slug
from kerfwright.planning.wires import Paths
from kerfwright.process.choice import JobPasses
from kerfwright.trade.part import PartContour, Role
from kerfwright.trade.requirement import Requirement

_MM3_PER_M3 = 1e9


def piece_of(
    path: Paths,
    *,
    contours: Sequence[PartContour],
    requirement: Requirement,
    choice: JobPasses,
    memory: Memory | None = None,
) -> Slug:
    """Return the piece that comes free: the part without its openings, or the slug.

    What lies directly inside is cut before, so its area is gone: the openings of a part, the
    parts that are made from a slug with the kerf around them.

    Parameters
    ----------
    path : Paths
    contours : sequence of PartContour
        All contours of the drawing.
    requirement : Requirement
    choice : JobPasses
    memory : Memory, optional
        Where to keep, and find, how wide pieces are.
    """
    memory = Memory() if memory is None else memory
    is_part = path.target.role is Role.OUTLINE
    rough = choice.of(path.target.id).passes[0]
    kerf = choice.wire.radius_mm + rough.gap_um / 1000
    outline = path.target.contour if is_part else path.loops[0].contour
    area = abs(outline.area_mm2)
    if not is_part:
        # The slug lies inside the far side of the rough kerf.
        area -= outline.length_mm * kerf
    for child in (c for c in contours if c.parent_id == path.target.id):
        area -= abs(child.contour.area_mm2)
        if not is_part:
            area -= child.contour.length_mm * (choice.of(child.id).passes[0].offset_mm + kerf)
    # The width is told to a hundredth or so of the piece's size; nothing is cut by it.
    within = 0.01 * abs(outline.area_mm2) ** 0.5
    make = partial(largest_inscribed_circle, outline, within_mm=within)
    _, _, radius = memory.shapes.once(make, "inscribed", outline, within)
    width = 2 * radius if is_part else max(2 * (radius - kerf), 0.0)
    density = requirement.material.density_kg_per_m3
    area = max(area, 0.0)
    return Slug(
        is_part=is_part,
        area_mm2=area,
        mass_kg=area * requirement.height_mm / _MM3_PER_M3 * density,
        smallest_width_mm=width,
    )
