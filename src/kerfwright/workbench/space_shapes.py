"""What is said of the part and the wire in space, beside their arrays."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from kerfwright.workbench.base_shapes import Shape


class SpaceWallShape(Shape):
    """A wall of the part."""

    contour_id: str
    drawn_id: str = Field(description="contour of the drawing; land and relief have one")
    kind: Literal["upright", "leaning", "land", "relief"]
    lower_mm: float
    upper_mm: float = Field(description="heights between which it is the wall of the part")
    leans_deg: float


class ExtremeShape(Shape):
    """The most that the wire does of something in the program."""

    value: float
    minute: float
    line: int


class WallWorstShape(Shape):
    """One of the places of a leaning wall that are farthest from it."""

    contour_id: str
    x_mm: float
    y_mm: float
    height_mm: float
    deviation_um: float = Field(description="above 0 where stock is left, below 0 cut too deep")
    is_out_of_reach: bool
    pass_number: int


class SpaceShape(Shape):
    """The part and the wire in space; heights are above the underside of the work."""

    height_mm: float
    program_plane_mm: float
    second_plane_mm: float
    lower_guide_mm: float
    upper_guide_mm: float
    machine: str
    limit_angle_deg: float
    limit_u_mm: float
    limit_v_mm: float
    most_angle_deg: ExtremeShape
    most_u_mm: ExtremeShape
    most_v_mm: ExtremeShape
    walls: list[SpaceWallShape] = Field(description="in the order of the arrays")
    worst: list[WallWorstShape] = Field(description="after the last pass, the largest first")
