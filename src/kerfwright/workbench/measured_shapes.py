"""What the page and its server say to each other about measured cuts."""

from __future__ import annotations

from typing import Final, Literal

from pydantic import ConfigDict, Field
from pydantic.config import JsonDict

from kerfwright.workbench.base_shapes import Said, Shape
from kerfwright.workbench.shapes import FindingShape, Span

EXAMPLE: Final[JsonDict] = {
    "pass_number": 1,
    "time": "2 h 50 min",
    "size_error": "+4 µm",
    "finish": "Ra 3.1 µm",
    "wire_used": "0.72 kg",
    "breaks": "0",
}


class CutSaid(Shape):
    """One cut as it is typed at the machine; texts carry their units, an empty one says nothing."""

    model_config = ConfigDict(extra="forbid", json_schema_extra={"examples": [EXAMPLE]})

    pass_number: int = Field(ge=1, le=99, description="number of the pass, from 1 for the rough")
    time: str = Field(description="how long the wire sparked: 2 h 50 min, 0:34:12, 95 s")
    length: str = Field(
        "",
        description="of the cut, with its unit: 120 mm, 4.7 in; empty for the whole pass of one "
        "piece, as planned",
    )
    size_error: str = Field(
        "",
        description="on one side, from where this pass should leave the wall; + is more metal:"
        " 4 µm, -0.0002 in",
    )
    finish: str = Field(
        "",
        description="roughness that was measured, with its unit: Ra 3.1 µm, 32 µin; empty for none",
    )
    wire_used: str = Field(
        "", description="mass of wire that was used, with its unit: 0.72 kg, 2 lb; empty for none"
    )
    breaks: str = Field("", description="how often the wire broke; empty where nobody counted")
    note: str = Field("", max_length=80, description="tells apart cuts alike in all else")


class MendedSaid(Shape):
    """What was mended since a size was measured."""

    model_config = ConfigDict(
        extra="forbid", json_schema_extra={"examples": [{"reason": "offset set on the machine"}]}
    )

    reason: str = Field(max_length=200, description="in a few words; kept with the size")


class OffsetSetSaid(Shape):
    """An offset that the shop set, and by how much."""

    model_config = ConfigDict(
        extra="forbid",
        json_schema_extra={
            "examples": [
                {
                    "of": "generic-mm / brass-c270 / hard-brass 0.25 mm / pass 1",
                    "by": "5.4 µm",
                    "way": "smaller",
                }
            ]
        },
    )

    of: str = Field(
        max_length=400, description="machine, material, wire and pass, as the finding names them"
    )
    by: str = Field(max_length=40, description="by how much, with its unit: 5.4 µm, 0.0002 in")
    way: Literal["smaller", "larger"] = Field(
        description="smaller brings the wire nearer the wall, larger away from it"
    )
    cut_since: list[str] = Field(
        [], max_length=1000, description="jobs that were cut with it already"
    )
    is_sure: bool = Field(
        False, description="take it down too where the measured sizes speak against it"
    )
    reason: str = Field("", max_length=200, description="in a few words; kept with it")


class PlannedPass(Shape):
    """What was predicted of one pass of one piece."""

    number: int
    wall_mm: float
    minutes: Span
    believed_min: tuple[float, float] = Field(
        description="a time beyond these is more likely a slip of the pen: it is asked about"
    )
    ra_um: float
    tolerance_um: float
    leaves_um: tuple[float, float] = Field(
        description="stock it leaves for later passes, from which its size error is measured: least"
        " and most of the contours"
    )
    wire_kg: float


class CutBounds(Shape):
    """What no cut can be beyond: least and most of each answer."""

    minutes: tuple[float, float]
    feed_mm_per_min: tuple[float, float]
    ra_um: tuple[float, float]
    wire_kg: tuple[float, float]
    size_error_um: float = Field(description="most, either way")


class CutShape(Shape):
    """One measured cut of the job."""

    batch: str
    pass_number: int
    minutes: float
    length_mm: float
    size_error_um: float | None
    ra_um: float | None
    wire_kg: float | None
    breaks: int | None
    note: str
    taken_back: str = Field(description="why; empty for a cut that counts")
    is_size_in_question: bool = Field(
        description="far beyond what the pass holds: counts for nothing until it is confirmed"
    )
    is_size_confirmed: bool = Field(description="somebody said that it is right")
    is_size_mended: bool = Field(
        description="it was right and its cause is gone since: it counts no more"
    )


class OutcomeShape(Shape):
    """One pass, predicted and measured."""

    number: int
    cuts: int
    length_mm: float
    predicted_min: Span
    measured_min: float
    predicted_ra_um: float
    measured_ra_um: float | None
    tolerance_um: float
    size_error_um: float | None
    breaks: int | None
    is_inside: bool


class MeasuredDesk(Shape):
    """The measured cuts of a job."""

    shop_folder: str
    bounds: CutBounds
    passes: list[PlannedPass] = Field(description="empty until the job has a plan")
    cuts: list[CutShape]
    outcomes: list[OutcomeShape]


class RecordedShape(Shape):
    """What became of a cut that was recorded, or taken back."""

    batch: str = Field(description="by which it is taken back; empty where it was known already")
    sentence: Said = Field(description="what is expected now, and was before")
    questions: list[FindingShape] = Field(description="values that are likely a slip of the pen")
    notes: list[FindingShape]
    desk: MeasuredDesk
