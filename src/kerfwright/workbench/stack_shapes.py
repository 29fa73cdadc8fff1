"""What the page and its server say to each other about stacks."""

from __future__ import annotations

from pydantic import ConfigDict, Field

from kerfwright.workbench.base_shapes import Shape


class StackWanted(Shape):
    """For how many pieces stacks are to be priced."""

    model_config = ConfigDict(extra="forbid", json_schema_extra={"examples": [{"quantity": 25}]})

    quantity: int | None = Field(
        default=None,
        ge=1,
        le=100_000,
        description="pieces that are priced; null for the first quantity of the job",
    )


class StackPointShape(Shape):
    """One number of sheets in a stack."""

    pieces: int
    covers: int
    height_mm: float
    stacks: int = Field(description="stacks that the pieces take")
    each: str
    machine_minutes_each: float
    passes: int
    area_rate_mm2_per_min: float = Field(description="of the rough pass at this height")
    tolerance_um: float = Field(description="half the zone of the sheet that holds least")
    blocks: str = Field(description="why it cannot be cut so; empty where it can")


class SheetOfStack(Shape):
    """How one sheet of the stack that costs least comes out."""

    name: str = Field(description="top, middle or bottom")
    piece: int = Field(description="from 1 on top")
    said: str


class StackCurveShape(Shape):
    """What a piece costs by how many sheets are cut at once."""

    currency: str
    quantity: int
    best: int | None = Field(description="place, from 0, of the point to take; null for none")
    why: list[str]
    points: list[StackPointShape]
    sheets: list[SheetOfStack]
