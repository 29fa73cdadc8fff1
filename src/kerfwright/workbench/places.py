"""Where the start hole, the lead-in or the tab of a contour may stand."""

from __future__ import annotations

from typing import Annotated, Literal

from fastapi import APIRouter
from pydantic import ConfigDict, Field

from kerfwright.foundation.errors import InputError
from kerfwright.workbench.base_shapes import Said, Shape
from kerfwright.workbench.jobs import OneJob, OurDesk
from kerfwright.workbench.refusals import refusals

router = APIRouter(prefix="/api/jobs/{job}/places", tags=["places"])

_Coordinate = Annotated[float, Field(allow_inf_nan=False, ge=-1e6, le=1e6)]


class PlaceWanted(Shape):
    """A start hole, a lead-in or a tab at a place: typed, or as coordinates in mm.

    The width of a tab is typed, or given by the place of the end of its metal.
    """

    model_config = ConfigDict(
        extra="forbid",
        json_schema_extra={
            "examples": [{"contour": "H7", "what": "start", "text": "1 mm, 0.02 in"}]
        },
    )

    contour: str = Field(max_length=200, description="`id` of the contour in the draft, such as H7")
    what: Literal["start", "lead-in", "tab", "tab width"] = Field(
        description="what is tried: the start hole, where the wire meets the wall, the middle of "
        "the tab, or how wide its metal is"
    )
    text: str = Field(
        default="",
        max_length=200,
        description="the place as it is typed, X and Y with their units, or a width; empty to go by"
        " `x_mm` and `y_mm`",
    )
    x_mm: _Coordinate = Field(0.0, description="X of the place in the drawing, mm")
    y_mm: _Coordinate = Field(0.0, description="Y of the place in the drawing, mm")


class PlaceCheck(Shape):
    """One limit that a place is held to."""

    limit: str
    said: Said
    state: Literal["met", "warning", "refused"]


class PlaceTried(Shape):
    """What comes of a place; nothing is changed by trying it."""

    is_refused: bool
    spot: tuple[float, float]
    text: str = Field(description="the place as a line keeps it")
    checks: list[PlaceCheck]
    remedy: str
    start: tuple[float, float, float] | None
    lead_in: tuple[float, float] | None
    tab: tuple[float, float] | None
    tab_end: tuple[float, float] | None = Field(description="where the metal of the tab begins")


@router.post("", responses=refusals(400, 404, 409, 422))
async def try_place(enquiry: OneJob, wanted: PlaceWanted, desk: OurDesk) -> PlaceTried:
    """Try a start hole, a lead-in or a tab at a place; to keep it, set its line."""
    request = desk.request(enquiry)
    if request is None:
        raise InputError(
            "nothing is planned before material and height are given", code="job-incomplete"
        )
    found = await desk.place(
        "try_at",
        request,
        enquiry.drawing_sha256,
        wanted.contour,
        wanted.what,
        wanted.text or (wanted.x_mm, wanted.y_mm),
    )
    return PlaceTried.model_validate(found)
