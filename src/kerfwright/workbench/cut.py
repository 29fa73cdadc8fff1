"""What is shown of a proved cut: as a document, as bytes, and the addresses of the bytes."""

from __future__ import annotations

from typing import Annotated, Final

from fastapi import APIRouter, Depends, Response

from kerfwright.app.enquiries import Enquiry
from kerfwright.foundation.errors import InputError
from kerfwright.workbench.computed import Proved
from kerfwright.workbench.desk import Desk
from kerfwright.workbench.jobs import BYTES, bytes_answer, enquiry_of, our_desk
from kerfwright.workbench.refusals import refusals

router = APIRouter(prefix="/api", tags=["cut"])
OurDesk = Annotated[Desk, Depends(our_desk)]


async def _proved(enquiry: Annotated[Enquiry, Depends(enquiry_of)], desk: OurDesk) -> Proved:
    proved = desk.bench(enquiry).proved
    if proved is None or not proved.deviations:
        raise InputError(
            "no program was read back for what is asked now",
            code="not-proved",
            remedy="Wait for the proof, or mend what the findings name.",
        )
    return proved


Cut = Annotated[Proved, Depends(_proved)]
_ANSWERS: Final = BYTES | refusals(404, 409)


@router.get("/jobs/{job}/cut/path", response_class=Response, responses=_ANSWERS)
def path(cut: Cut) -> Response:
    """Return the wire's path by the program: minute, place and line, as arrays."""
    return bytes_answer(cut.path)


@router.get("/jobs/{job}/cut/pieces", response_class=Response, responses=_ANSWERS)
def pieces(cut: Cut) -> Response:
    """Return the edges of the pieces that come free, as arrays."""
    return bytes_answer(cut.pieces)


@router.get("/jobs/{job}/cut/deviations", response_class=Response, responses=_ANSWERS)
def deviations(cut: Cut) -> Response:
    """Return the proof's deviation from the drawing along each contour, as arrays."""
    return bytes_answer(cut.deviations)


@router.get("/jobs/{job}/cut/space", response_class=Response, responses=_ANSWERS)
def space(cut: Cut) -> Response:
    """Return walls and wire in space, of a job with walls that lean, as arrays."""
    return bytes_answer(_leaning(cut.space))


@router.get("/jobs/{job}/cut/walls", response_class=Response, responses=_ANSWERS)
def walls(cut: Cut) -> Response:
    """Return the proof's deviation of each wall that leans, height by height, as arrays."""
    return bytes_answer(_leaning(cut.walls))


def _leaning(content: bytes) -> bytes:
    if not content:
        raise InputError(
            "no wall of this job leans",
            code="nothing-leans",
            remedy="Ask for a taper at a contour: then part and wire are shown in space.",
        )
    return content
