"""Addresses of nests: lay, look, move parts by hand, make jobs of the sheets."""

from __future__ import annotations

from typing import Annotated, Final

from fastapi import APIRouter, Depends, Request, Response

from kerfwright.foundation.errors import UnknownNameError
from kerfwright.workbench.nest_desk import Nest, Nests
from kerfwright.workbench.nest_shapes import (
    NestBegun,
    NestMoved,
    NestShape,
    NestTried,
    NestWanted,
    SheetJob,
    SheetJobs,
)
from kerfwright.workbench.parameters import NestFile, NestId
from kerfwright.workbench.refusals import content, fault_shape, refusals

router = APIRouter(prefix="/api/nests", tags=["nests"])
_MEDIA: Final = {
    "svg": "image/svg+xml",
    "dxf": "image/vnd.dxf",
    "json": "application/json",
    "toml": "application/toml",
}


def our_nests(request: Request) -> Nests:
    """Return the nests of the application."""
    nests: Nests = request.app.state.nests
    return nests


OurNests = Annotated[Nests, Depends(our_nests)]


def _nest_of(nest: NestId, nests: OurNests) -> Nest:
    """Return the nest of an address."""
    return nests.get(nest)


OneNest = Annotated[Nest, Depends(_nest_of)]


@router.post("", status_code=202, responses=refusals(400, 404, 422))
async def lay(wanted: NestWanted, nests: OurNests) -> NestBegun:
    """Begin to lay parts of jobs in sheets; the nest holds the answer when it is there."""
    return NestBegun(id=nests.begin(wanted).id)


@router.get("/{nest}", responses=refusals(404))
async def look(nest: OneNest) -> NestShape:
    """Return a nest: what was asked, what is being done, and what came of it."""
    return _shape(nest)


@router.delete("/{nest}/running", status_code=204, responses=refusals(404))
async def end(nest: OneNest, nests: OurNests) -> None:
    """End the search with what there is."""
    nests.end(nest)


@router.post("/{nest}/tried", responses=refusals(400, 404, 409, 422))
async def try_moved(nest: OneNest, wanted: NestMoved, nests: OurNests) -> NestTried:
    """Say whether parts may lie elsewhere; nothing is changed by it."""
    return NestTried.model_validate(await nests.tried(nest, wanted))


@router.put("/{nest}/placements", responses=refusals(400, 404, 409, 422))
async def move(nest: OneNest, wanted: NestMoved, nests: OurNests) -> NestShape:
    """Lay parts elsewhere; the whole nest is checked anew."""
    return _shape(await nests.move(nest, wanted))


@router.post("/{nest}/jobs", status_code=201, responses=refusals(404, 409))
async def make_jobs(nest: OneNest, nests: OurNests) -> SheetJobs:
    """Make a job of each sheet: its drawing, material, height, and what its parts ask."""
    made = await nests.jobs(nest)
    return SheetJobs(jobs=[SheetJob(id=job, left=left) for job, left in made])


@router.get(
    "/{nest}/files/{name}",
    response_class=Response,
    responses=content("image/svg+xml", "image/vnd.dxf", "application/json") | refusals(404, 409),
)
async def file(nest: OneNest, name: NestFile, nests: OurNests) -> Response:
    """Return a file of a nest: the picture or the drawing of a sheet, or its numbers."""
    found = await nests.files(nest)
    if name not in found:
        raise UnknownNameError(
            f"the nest has no file {name!r}; it has {', '.join(sorted(found))}", code="file-unknown"
        )
    return Response(found[name], media_type=_MEDIA[name.rpartition(".")[2]])


def _shape(nest: Nest) -> NestShape:
    return NestShape.model_validate(
        {
            "id": nest.id,
            "asked": nest.wanted,
            "work": {"step": nest.work[0], "share": nest.work[1]} if nest.work else None,
            "fault": fault_shape(nest.fault) if nest.fault else None,
            "laid": nest.laid,
        }
    )
