"""Addresses of the jobs that were taken off the list: list, bring back, delete for good."""

from __future__ import annotations

from dataclasses import asdict

from fastapi import APIRouter

from kerfwright.adapters.removed_jobs import delete_for_good, removed_jobs
from kerfwright.workbench.jobs import OurDesk
from kerfwright.workbench.parameters import RemovedName
from kerfwright.workbench.refusals import refusals
from kerfwright.workbench.version_shapes import BroughtBack, RemovedJob, RemovedList

router = APIRouter(prefix="/api/removed", tags=["jobs"])


@router.get("")
async def removed(desk: OurDesk) -> RemovedList:
    """List the jobs that were taken off the list."""
    found = removed_jobs(desk.folder.folder)
    return RemovedList(jobs=[RemovedJob.model_validate(asdict(one)) for one in found])


@router.post("/{name}/bring-back", responses=refusals(404, 409))
async def bring_back(name: RemovedName, desk: OurDesk) -> BroughtBack:
    """Put a job back on the list, whole: drawing, versions, papers, steps that can be undone."""
    return BroughtBack(id=desk.bring_back(name))


@router.delete("/{name}", status_code=204, responses=refusals(404))
async def delete(name: RemovedName, desk: OurDesk) -> None:
    """Delete a job for good that was taken off the list; nothing brings it back."""
    delete_for_good(desk.folder.folder, name)
