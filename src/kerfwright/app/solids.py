"""A solid says its own height and walls: what a request may still say beside them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from types import MappingProxyType

from kerfwright.app.records import JobRequest
from kerfwright.foundation.errors import InputError
from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.foundation.sizes import both_lengths
from kerfwright.foundation.units import length_mm
from kerfwright.foundation.zones import zone_asked, zone_held
from kerfwright.trade.part import Part
from kerfwright.trade.requirement import Requirement

_SAME_MM = 1e-3
"""A height written with the digits of a drawing is that of the solid within a micrometre."""


def with_solid_height(request: JobRequest, part: Part) -> JobRequest:
    """Return a request with the height of its solid, where it has one.

    Raises
    ------
    InputError
        ``height-missing`` where nobody and nothing says the height; ``height-not-solid`` where
        another one is asked; ``solid-stack`` where a stack is.
    """
    if part.solid is None:
        if not request.height:
            raise InputError(
                "a drawing does not say how high the work is",
                code="height-missing",
                remedy="Say it: --height 25mm.",
            )
        return request
    height = part.solid.height_mm
    if request.stack is not None or request.covers is not None:
        require_no_solid(part)
    if request.height and abs(length_mm(request.height, what="height") - height) > _SAME_MM:
        raise InputError(
            f"the height is to be {request.height}; the solid is {both_lengths(height)} high along "
            "the wire",
            code="height-not-solid",
            remedy="Leave --height out, or let the wire run another way: --wire-along.",
        )
    return replace(request, height=f"{height:.10g} mm")


def require_no_solid(part: Part) -> None:
    """Refuse a solid in a stack.

    Raises
    ------
    InputError
        Code ``solid-stack``.
    """
    if part.solid is not None:
        raise InputError(
            "a solid is planned alone: its walls are proved against it at its own heights",
            code="solid-stack",
            remedy="For a stack give a drawing of the sheet as DXF.",
        )


def with_solid_walls(
    requirement: Requirement, part: Part
) -> tuple[Requirement, tuple[Finding, ...]]:
    """Return a requirement that asks for the walls of a solid, and what is to be said of them.

    Parameters
    ----------
    requirement : Requirement
    part : Part

    Raises
    ------
    InputError
        Code ``solid-has-walls`` where another wall is asked of a contour.
    """
    if part.solid is None:
        return requirement, ()
    if requirement.walls:
        raise InputError(
            f"a wall is asked of {', '.join(requirement.walls)}; the walls of a solid are those "
            "that it has",
            code="solid-has-walls",
            remedy="Leave --taper out, or give a drawing as DXF.",
        )
    kept = {c.id for c in part.contours}
    walls = {name: wall for name, wall in part.solid.walls.items() if name in kept}
    # Exact to the solid, not to the digits of the text.
    mine = replace(requirement, height_mm=part.solid.height_mm, walls=MappingProxyType(walls))
    return mine, tuple(_too_bent(mine, part))


def _too_bent(requirement: Requirement, part: Part) -> Iterator[Finding]:
    assert part.solid is not None
    for one in part.to_cut:
        bend_um = part.solid.bend_um.get(one.id, 0.0)
        asked_um = requirement.demand_on(one.id).tolerance_um
        if asked_um is not None and bend_um > asked_um:
            yield Finding(
                code="wall-not-straight",
                severity=Severity.REFUSAL,
                message=f"the wall of contour {one.id} is straight along the wire only within "
                f"{zone_held(bend_um)}; ±{zone_asked(asked_um)} are asked",
                where=Place(contour_id=one.id),
                remedy="allow more, or let the sender make it of straight lines",
                data={"bend_um": bend_um, "asked_um": asked_um},
            )
