"""What every shape of the page is made of."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict


class Shape(BaseModel):
    """A shape: what it does not name is refused."""

    model_config = ConfigDict(extra="forbid")


class Said(Shape):
    """A sentence for either system of units."""

    metric: str = ""
    inch: str = ""


class FoundAt(Shape):
    """Where a finding applies."""

    contour_id: str | None = None
    x_mm: float | None = None
    y_mm: float | None = None
    layer: str | None = None
    entity: str | None = None
    line: int | None = None
    column: int | None = None
    pass_number: int | None = None
