"""What the page and its server say to each other about nests."""

from __future__ import annotations

from typing import Annotated

from pydantic import ConfigDict, Field

from kerfwright.nesting.records import Turns, Want
from kerfwright.workbench.base_shapes import Shape
from kerfwright.workbench.parameters import JOB_SAYS
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

    job: _Text = Field(description=JOB_SAYS)
    quantity: int = Field(ge=1, le=_MOST_PIECES, description="how many pieces of it")
    turns: Turns = Field(
        Turns.QUARTER,
        description="how a piece may be turned: `none` as drawn, `along` by half turns, `quarter` "
        "by quarter turns, `free` by any angle",
    )


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

    parts: list[NestPart] = Field(
        min_length=1, max_length=_MOST_PARTS, description="what is laid, job by job"
    )
    sheets: list[_Text] = Field(
        min_length=1, max_length=50, description="sizes, `300x200mm`, with `=2` where there are two"
    )
    material: _Text = Field(description="of every sheet; `material` of `/api/names` lists them")
    thickness: _Text = Field(description="of every sheet, with its unit: `2.5 mm`, `0.1 in`")
    wire: _Text = Field("", description="`wire` of `/api/names` lists them; empty for the usual")
    web: _Text = Field(
        "", description="metal that stays between two kerfs, with its unit; empty for the usual"
    )
    frame: _Text = Field(
        "", description="metal that stays at the edge, with its unit; empty for the usual"
    )
    clamps: list[_Text] = Field(
        default=[],
        max_length=50,
        description="what stays free of cuts, each as X, Y, width and height with their unit",
    )
    want: Want = Field(
        Want.MATERIAL,
        description="what counts first among nests that need nearly as much material: `material`, "
        "or `way`, the shortest way between the parts",
    )
    seconds: float = Field(
        20.0, ge=1, le=_MOST_SECONDS, description="how long to look for better, seconds"
    )
    seed: int = Field(
        0,
        ge=0,
        le=2**31 - 1,
        description="begins the search; with the same one it goes the same way",
    )
    fills_openings: bool = Field(
        default=True, description="whether small parts may be laid in the openings of larger ones"
    )


class NestPlacement(Shape):
    """Where one part lies: turned about the zero point of its drawing, then shifted."""

    kind: _Text = Field(description="`id` of its kind, as `kinds` of the nest has it")
    copy_number: int = Field(ge=1, description="which piece of the kind, from 1")
    sheet: int = Field(ge=0, description="which sheet, from 0")
    turn_deg: _Number = Field(description="turn about the zero point, counter-clockwise, degrees")
    x_mm: _Number = Field(description="shift along X after the turn, mm")
    y_mm: _Number = Field(description="shift along Y after the turn, mm")
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

    moved: list[NestPlacement] = Field(
        min_length=1, max_length=_MOST_PIECES, description="each piece that lies elsewhere now"
    )


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
