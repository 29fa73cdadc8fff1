"""Addresses of the earlier versions of a job: list, compare, fetch, take back."""

from __future__ import annotations

import asyncio
from pathlib import Path
from typing import Any, Final

from fastapi import APIRouter, Response

from kerfwright.adapters.version_changes import changes
from kerfwright.adapters.versions import Version, files_of, read_version, versions_of
from kerfwright.foundation.errors import FileError, InputError, UnknownNameError
from kerfwright.workbench import shapes
from kerfwright.workbench.jobs import JOB, MEDIA, OneJob, OurDesk, Patience, Revisions, answered
from kerfwright.workbench.papers import MEDIA as PAPER_MEDIA
from kerfwright.workbench.parameters import OtherVersion, ReasonKey, VersionFileName, VersionNumber
from kerfwright.workbench.refusals import content, refusals
from kerfwright.workbench.version_shapes import (
    PriceOf,
    VersionChange,
    VersionChanges,
    VersionFile,
    VersionList,
    VersionShape,
)

router = APIRouter(prefix="/api/jobs/{job}/versions", tags=["versions"])

_PLAIN: Final = "application/octet-stream"
_EVERY_MEDIA: Final = sorted({*MEDIA.values(), *PAPER_MEDIA.values(), _PLAIN})


@router.get("", responses=refusals(404))
async def versions(enquiry: OneJob, desk: OurDesk) -> VersionList:
    """List every plan and quote of a job as it was made, the first first."""
    found = await asyncio.to_thread(_every, desk.folder.place_of(enquiry.id))
    return VersionList(
        versions=[_shape(one) for one in found if isinstance(one, Version)],
        unreadable=[
            shapes.Unreadable(message=one.message, where=one.where)
            for one in found
            if isinstance(one, FileError | InputError)
        ],
    )


def _every(place: Path) -> list[Version | FileError | InputError]:
    return list(versions_of(place))


@router.get("/{number}", responses=refusals(404, 422))
async def version(enquiry: OneJob, number: VersionNumber, desk: OurDesk) -> VersionShape:
    """Return one version of a job."""
    return _shape(read_version(desk.folder.place_of(enquiry.id), number))


def _reasons(place: Path, number: int) -> dict[str, Any]:
    # Loads all that computes, which nobody who opens the list waits for.
    from kerfwright.adapters.version_reasons import version_reasons
    from kerfwright.workbench.cut_shapes import reasons_shape

    return reasons_shape(version_reasons(place, number))


@router.get("/{number}/reasons", responses=refusals(404, 422))
async def why(
    enquiry: OneJob, number: VersionNumber, desk: OurDesk, key: ReasonKey = ""
) -> dict[str, shapes.ReasonShape]:
    """Return why each price of a version, or the number of this key, has its value, as kept."""
    found = await asyncio.to_thread(_reasons, desk.folder.place_of(enquiry.id), number)
    if key and key not in found:
        raise UnknownNameError(
            f"there is no number {key!r} in version {number}", code="reason-unknown"
        )
    return {k: shapes.ReasonShape.model_validate(v) for k, v in found.items() if key in {"", k}}


@router.get("/{number}/against/{other}", responses=refusals(404, 422))
async def against(
    enquiry: OneJob, number: VersionNumber, other: OtherVersion, desk: OurDesk
) -> VersionChanges:
    """Say what is other in the version `other`: wishes, prices, figures of the shop, files."""
    place = desk.folder.place_of(enquiry.id)
    found = await asyncio.to_thread(changes, place, number, other)
    return VersionChanges(
        first=number,
        second=other,
        changes=[
            VersionChange.model_validate(
                {"kind": c.kind, "name": c.name, "before": c.before, "after": c.after}
            )
            for c in found
        ],
    )


@router.get(
    "/{number}/files/{name}",
    response_class=Response,
    responses=content(*_EVERY_MEDIA) | refusals(404, 422),
)
async def file(
    enquiry: OneJob, number: VersionNumber, name: VersionFileName, desk: OurDesk
) -> Response:
    """Download a file of a version, byte for byte as it was made."""
    found = await asyncio.to_thread(files_of, desk.folder.place_of(enquiry.id), number)
    if name not in found:
        raise UnknownNameError(f"version {number} has no file {name!r}", code="file-unknown")
    media = MEDIA.get(name) or PAPER_MEDIA.get(name.rpartition(".")[2], _PLAIN)
    headers = {"Content-Disposition": f'attachment; filename="{enquiry.id}-v{number}-{name}"'}
    return Response(found[name], media_type=media, headers=headers)


@router.post("/{number}/take-back", responses=JOB | refusals(404, 409, 422, 428))
async def take_back(
    enquiry: OneJob,
    number: VersionNumber,
    revisions: Revisions,
    patience_s: Patience,
    desk: OurDesk,
    response: Response,
) -> shapes.Job:
    """Ask again what was asked in an earlier version; it is computed with the figures of now.

    This is a change as any other, which can be undone.  The version itself stays as it is.
    """
    kept = read_version(desk.folder.place_of(enquiry.id), number)
    after = desk.take_back(enquiry.id, kept, revisions=revisions)
    return await answered(after, desk, response, within_s=patience_s)


def _shape(one: Version) -> VersionShape:
    return VersionShape(
        number=one.number,
        made=one.made,
        kerfwright=one.kerfwright,
        sha256=one.sha256,
        asked=None if one.asked is None else dict(one.asked),
        prices=[PriceOf(quantity=quantity, each=each) for quantity, each in one.prices.items()],
        currency=one.currency,
        is_proved=one.has_program,
        papers=list(one.papers),
        taken_from=one.taken_from,
        files=[VersionFile(name=name, sha256=sha256) for name, sha256 in one.files.items()],
    )
