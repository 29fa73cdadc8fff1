"""What the page and its server say to each other about nests."""

from __future__ import annotations

from typing import Annotated

from pydantic import ConfigDict, Field

from kerfwright.nesting.records import Turns, Want
from kerfwright.workbench.base_shapes import Shape
from kerfwright.workbench.shapes import Fault, FindingShape

_MOST_PARTS = 200
_MOST_PIECES = 2000
_MOST_SECONDS = 600
_MOST_LETTERS = 200
_Text = Annotated[str, Field(max_length=_MOST_LETTERS)]
_Number = Annotated[float, Field(allow_inf_nan=False, ge=-1e6, le=1e6)]
Row = tuple[float, float, float]


class NestPart(Shape):
    """Parts of one job that are to be laid."""

    model_config = ConfigDict(extra="forbid")

    job: _Text
    quantity: int = Field(ge=1, le=_MOST_PIECES)
    turns: Turns = Turns.QUARTER


class NestWanted(Shape):
    """What is to be laid in what."""

    model_config = ConfigDict(
        extra="forbid",
        json_schema_extra={
            "examples": [
                {
                    "parts": [{"job": "escape-wheel", "quantity": 4, "turns": "quarter"}],
                    "sheets": ["300x200mm"],
                    "material": "C270",
                    "thickness": "2.5 mm",
                    "seconds": 5,
                }
            ]
        },
    )

    parts: list[NestPart] = Field(min_length=1, max_length=_MOST_PARTS)
    sheets: list[_Text] = Field(
        min_length=1, max_length=50, description="sizes, `300x200mm`, with `=2` where there are two"
    )
    material: _Text
    thickness: _Text
    wire: _Text = ""
    web: _Text = Field("", description="metal that stays between two kerfs; empty for the usual")
    frame: _Text = Field("", description="metal that stays at the edge; empty for the usual")
    clamps: list[_Text] = Field(
        default=[], max_length=50, description="X, Y, width and height of what stays free"
    )
    want: Want = Want.MATERIAL
    seconds: float = Field(20.0, ge=1, le=_MOST_SECONDS, description="how long to look for better")
    seed: int = Field(0, ge=0, le=2**31 - 1)
    fills_openings: bool = True


class NestPlacement(Shape):
    """Where one part lies: turned about the zero point of its drawing, then shifted."""

    kind: _Text
    copy_number: int = Field(ge=1, description="from 1")
    sheet: int = Field(ge=0, description="from 0")
    turn_deg: _Number
    x_mm: _Number
    y_mm: _Number
    inside: tuple[str, int] | None = Field(
        None, description="kind and number of the part in whose opening it was laid"
    )


class NestMoved(Shape):
    """Parts that somebody lays elsewhere."""

    model_config = ConfigDict(
        extra="forbid",
        json_schema_extra={
            "examples": [
                {
                    "moved": [
                        {
                            "kind": "escape-wheel",
                            "copy_number": 1,
                            "sheet": 0,
                            "turn_deg": 90,
                            "x_mm": 150,
                            "y_mm": 100,
                        }
                    ]
                }
            ]
        },
    )

    moved: list[NestPlacement] = Field(min_length=1, max_length=_MOST_PIECES)


class NestTried(Shape):
    """What comes of laying parts there; nothing is changed by trying it."""

    holds: bool
    findings: list[FindingShape]


class NestKind(Shape):
    """Parts of one shape."""

    id: str
    job: str
    quantity: int
    placed: int
    turns: Turns
    area_mm2: float
    outline: list[Row] = Field(description="corners: x, y in mm, bulge to the next")
    openings: list[list[Row]]
    angles_deg: list[float] = Field(description="turns that are allowed; empty for any")


class NestSheet(Shape):
    """One sheet with parts in it."""

    id: str
    outline: list[Row]
    holes: list[list[Row]]
    clamps: list[list[Row]]
    left: list[list[list[Row]]] = Field(description="what is worth keeping, each with its holes")
    area_mm2: float
    parts_mm2: float
    used_mm2: float
    density: float = Field(description="metal of the parts over the metal that is gone")
    mass_kg: float


class NestRoom(Shape):
    """What stays free around each part."""

    between_mm: float
    edge_mm: float
    clamp_mm: float
    kerf_side_mm: float


class NestMeasured(Shape):
    """Least distances found; null where there is nothing to measure."""

    between_mm: float | None
    edge_mm: float | None
    clamp_mm: float | None


class NestLaid(Shape):
    """A nest with its check."""

    holds: bool
    material: str
    wire_mm: float
    room: NestRoom
    method: str
    stopped: bool
    measured: NestMeasured
    kinds: list[NestKind]
    sheets: list[NestSheet]
    placements: list[NestPlacement]
    findings: list[FindingShape]


class NestWork(Shape):
    """What is being done for a nest."""

    step: str
    share: float


class NestShape(Shape):
    """A nest: what was asked, what is being done, and what came of it."""

    id: str
    asked: NestWanted
    work: NestWork | None
    fault: Fault | None
    laid: NestLaid | None


class NestBegun(Shape):
    """A nest that is being laid."""

    id: str


class SheetJob(Shape):
    """A job made of a sheet."""

    id: str
    left: list[str] = Field(description="lines of jobs that do not go along, by job")


class SheetJobs(Shape):
    """The jobs made of a nest, one for each sheet."""

    jobs: list[SheetJob]
