"""Addresses of a job's measured cuts: what was predicted, what came out, and taking it back."""

from __future__ import annotations

from typing import Any, Final

from fastapi import APIRouter

from kerfwright.workbench.jobs import OneJob, OurDesk
from kerfwright.workbench.measured_shapes import (
    CutSaid,
    MeasuredDesk,
    MendedSaid,
    OffsetSetSaid,
    RecordedShape,
)
from kerfwright.workbench.parameters import Batch, PassNumber
from kerfwright.workbench.refusals import refusals

router = APIRouter(prefix="/api/jobs/{job}/measured", tags=["measured cuts"])

# By name: what computes is loaded by the worker, not by the server.
_TASKS: Final = "kerfwright.workbench.measured_tasks"
_TEXTS: Final = ("time", "length", "size_error", "finish", "wire_used", "breaks", "note")


@router.get("", responses=refusals(404, 422))
async def measured(enquiry: OneJob, desk: OurDesk) -> MeasuredDesk:
    """Return the passes of a job as predicted, and each cut of it that was measured."""
    return MeasuredDesk.model_validate(await _run(desk, "look", desk.folder.place_of(enquiry.id)))


@router.post("", status_code=201, responses=refusals(400, 404, 409, 422))
async def record(enquiry: OneJob, said: CutSaid, desk: OurDesk) -> RecordedShape:
    """Keep a measured cut in the shop's folder and the job's, learn from it, price open jobs anew.

    A value far from what was expected is kept and asked about; the batch takes it back.
    """
    texts = {"pass": str(said.pass_number)}
    texts |= {name: text for name in _TEXTS if (text := getattr(said, name).strip())}
    found = await _run(desk, "keep", texts, desk.folder.place_of(enquiry.id))
    desk.price_anew("a measured cut")
    return RecordedShape.model_validate(found)


@router.post("/{pass_number}/confirm", responses=refusals(404, 422))
async def confirm(enquiry: OneJob, pass_number: PassNumber, desk: OurDesk) -> RecordedShape:
    """Say that the sizes of a pass that are in question are right; from then on they count."""
    found = await _run(desk, "confirm", pass_number, desk.folder.place_of(enquiry.id))
    desk.price_anew("a size confirmed")
    return RecordedShape.model_validate(found)


@router.post("/{pass_number}/mended", responses=refusals(400, 404, 422))
async def mended(
    enquiry: OneJob, pass_number: PassNumber, said: MendedSaid, desk: OurDesk
) -> RecordedShape:
    """Say that sizes of a pass were right and their cause is gone since; they count no more."""
    place = desk.folder.place_of(enquiry.id)
    found = await _run(desk, "mend", said.reason, pass_number, place)
    desk.price_anew("a cause of sizes mended")
    return RecordedShape.model_validate(found)


@router.post("/offset-set", responses=refusals(400, 404, 422))
async def offset_set(enquiry: OneJob, said: OffsetSetSaid, desk: OurDesk) -> RecordedShape:
    """Say that an offset was set: sizes recorded so far count as if cut with it.

    But for those of jobs that are named as cut since.
    """
    place = desk.folder.place_of(enquiry.id)
    found = await _run(desk, "offset_set", said.model_dump(), place)
    desk.price_anew("an offset set")
    return RecordedShape.model_validate(found)


@router.delete("/{batch}", responses=refusals(404, 422))
async def take_back(enquiry: OneJob, batch: Batch, desk: OurDesk) -> RecordedShape:
    """Take a cut back; it stays on file, and what was learned from it goes."""
    found = await _run(desk, "give_back", batch, desk.folder.place_of(enquiry.id))
    desk.price_anew("a cut taken back")
    return RecordedShape.model_validate(found)


async def _run(desk: Any, task: str, *arguments: Any) -> Any:
    return await desk.run(f"{_TASKS}.{task}", *arguments, desk.shop_folder, desk.tables)
