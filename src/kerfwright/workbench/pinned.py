"""Addresses of the PDF or picture that is pinned beside a drawing."""

from __future__ import annotations

import asyncio
from typing import Annotated, Any, Final, Literal

from fastapi import APIRouter, File, Response, UploadFile

from kerfwright.adapters.pinned import (
    MOST_BYTES,
    Pinned,
    PinnedKind,
    laid_ready,
    pin,
    pinned_to,
    take_down,
)
from kerfwright.foundation.errors import InputError, UnknownNameError
from kerfwright.workbench.base_shapes import Shape
from kerfwright.workbench.desk import Desk
from kerfwright.workbench.jobs import OneJob, OurDesk
from kerfwright.workbench.parameters import PageNumber
from kerfwright.workbench.refusals import content, refusals

router = APIRouter(prefix="/api/jobs/{job}/pinned", tags=["pinned drawing"])

_FILE: Final = (
    f"a PDF, PNG or JPEG of the drawing, up to {MOST_BYTES // 2**20} MB; its content tells which"
)
_PATIENCE_S: Final = 20.0
_MEDIA: Final = {PinnedKind.PNG: "image/png", PinnedKind.JPEG: "image/jpeg"}


class PinnedShape(Shape):
    """A PDF or picture that is pinned beside a drawing."""

    title: str
    kind: Literal["pdf", "png", "jpg"]
    pages: int
    key: str


class PinBoard(Shape):
    """What is pinned to a job, if anything."""

    pinned: PinnedShape | None


@router.get("", responses=refusals(404, 422))
async def pinned(enquiry: OneJob, desk: OurDesk) -> PinBoard:
    """Say what is pinned beside the drawing of a job."""
    found = pinned_to(desk.folder.place_of(enquiry.id))
    return PinBoard(pinned=None if found is None else await _shape(found, desk))


@router.put("", responses=refusals(400, 404, 413, 422, 429))
async def put(
    enquiry: OneJob, file: Annotated[UploadFile, File(description=_FILE)], desk: OurDesk
) -> PinBoard:
    """Pin a PDF, PNG or JPEG; it takes the place of what was pinned before.

    A PDF that nothing can open takes the place of nothing.
    """
    content = await file.read(MOST_BYTES + 1)
    folder = desk.folder.place_of(enquiry.id)
    with laid_ready(folder, file.filename or "drawing", content) as ready:
        shape = await _shape(ready, desk)
        pin(folder, ready)
    return PinBoard(pinned=shape)


@router.delete("", status_code=204, responses=refusals(404))
async def take_away(enquiry: OneJob, desk: OurDesk) -> None:
    """Take the pinned file away."""
    take_down(desk.folder.place_of(enquiry.id))


@router.get(
    "/pages/{number}",
    response_class=Response,
    responses=content(*_MEDIA.values()) | refusals(404, 422),
)
async def page(enquiry: OneJob, number: PageNumber, desk: OurDesk) -> Response:
    """Return a page as a picture, counted from 1; a picture has one."""
    found = pinned_to(desk.folder.place_of(enquiry.id))
    if found is None:
        raise UnknownNameError("nothing is pinned to this job", code="pinned-none")
    if found.kind is PinnedKind.PDF:
        drawn: bytes = await _in_time(desk, "page_picture", found, number)
        return Response(drawn, media_type="image/png")
    if number != 1:
        raise UnknownNameError(f"the picture has no page {number}", code="page-unknown")
    return Response(found.path.read_bytes(), media_type=_MEDIA[found.kind])


async def _shape(found: Pinned, desk: Desk) -> PinnedShape:
    pages = 1
    if found.kind is PinnedKind.PDF:
        pages = await _in_time(desk, "page_count", found)
    key = f"{found.path.stat().st_mtime_ns:x}"
    return PinnedShape(title=found.title, kind=found.kind.value, pages=pages, key=key)


async def _in_time(desk: Desk, task: str, found: Pinned, *arguments: int) -> Any:
    try:
        return await asyncio.wait_for(desk.run(task, found.path, *arguments), _PATIENCE_S)
    except TimeoutError as fault:
        raise InputError(
            f"the PDF is not drawn within {_PATIENCE_S:.0f} s",
            code="pinned-broken",
            remedy="Save it smaller, or as a picture.",
        ) from fault
