"""Addresses of the jobs: list, add, look, change, download."""

from __future__ import annotations

import asyncio
import re
from dataclasses import asdict
from importlib import resources
from pathlib import PurePath
from typing import Annotated, Final

from fastapi import APIRouter, Depends, Header, Query, Request, Response

from kerfwright.adapters.index import query as index
from kerfwright.adapters.solids_here import has_reader
from kerfwright.app.enquiries import Enquiry, Stage
from kerfwright.foundation.errors import (
    FileError,
    InputError,
    KerfwrightError,
    MissingPackageError,
    UnknownNameError,
)
from kerfwright.foundation.version import __version__
from kerfwright.trade.drawing_files import is_drawing_name, is_solid_name
from kerfwright.workbench import shapes
from kerfwright.workbench.bench import Bench
from kerfwright.workbench.described import IF_MATCH, REVISION
from kerfwright.workbench.desk import Desk
from kerfwright.workbench.figures import current, is_of_before
from kerfwright.workbench.listed import attention, listed, today
from kerfwright.workbench.outcome import draft_offered, is_late, savings_offered, trouble_of
from kerfwright.workbench.parameters import (
    MOST_DRAWING_BYTES,
    MOST_DRAWINGS,
    Computation,
    Drawings,
    JobFile,
    JobId,
    ReasonKey,
)
from kerfwright.workbench.refusals import Answers, content, fault_shape, refusals
from kerfwright.workbench.stack_shapes import StackWanted

router = APIRouter(prefix="/api", tags=["jobs"])

SAMPLE: Final = "escape_wheel.dxf"
WAIT_S: Final = 1.5
"""An edit is answered with its price if that takes no longer; else the page is told later."""
# Named here and not taken from the job folder's module, which loads all that computes.
MEDIA: Final = {
    "program.nc": "text/plain; charset=utf-8",
    "job.toml": "text/plain; charset=utf-8",
    "plan.json": "application/json",
    "proof.json": "application/json",
    "estimate.json": "application/json",
    "plan.svg": "image/svg+xml",
}
BYTES: Final = content("application/octet-stream")
JOB: Final[Answers] = {
    200: {
        "headers": {
            "ETag": {
                "description": "revision of the job, for the If-Match of its next change",
                "schema": {"type": "string"},
            }
        }
    }
}


def our_desk(request: Request) -> Desk:
    """Return the desk of the application."""
    desk: Desk = request.app.state.desk
    return desk


OurDesk = Annotated[Desk, Depends(our_desk)]


async def enquiry_of(job: JobId, desk: OurDesk) -> Enquiry:
    """Return the job of an address."""
    return current(desk.folder.read(job), desk)


OneJob = Annotated[Enquiry, Depends(enquiry_of)]


def _revisions(
    if_match: Annotated[str | None, Header(description=IF_MATCH)] = None,
) -> frozenset[int]:
    """Return the revisions of which the page believes that the job has one."""
    return revisions_said(if_match, whose="the job")


def revisions_said(if_match: str | None, *, whose: str) -> frozenset[int]:
    """Return the revisions that a request names."""
    if if_match is None:
        raise InputError(
            "which revision is to be changed was not said",
            code="revision-missing",
            remedy=f"Send the ETag of {whose} as If-Match.",
        )
    if not re.match(REVISION, if_match, re.ASCII):
        raise InputError(f"{if_match} is no revision of {whose}", code="revision-unreadable")
    return frozenset(int(number) for number in re.findall("[0-9]+", if_match))


Revisions = Annotated[frozenset[int], Depends(_revisions)]


def _patience(
    response: Response,
    prefer: Annotated[
        str | None,
        Header(
            description="`wait=0` answers a change as soon as it is kept; its numbers are fetched "
            "later (RFC 7240, 4.3)"
        ),
    ] = None,
) -> float:
    """Return how long a change may wait for its numbers, s."""
    said = re.search(r"(?:^|,)\s*wait\s*=\s*\"?([0-9]{1,6})", prefer or "", re.IGNORECASE)
    if said is None:
        return WAIT_S
    response.headers["Preference-Applied"] = f"wait={said[1]}"
    return min(WAIT_S, float(said[1]))


Patience = Annotated[float, Depends(_patience)]


@router.get("/about")
def about(desk: OurDesk) -> shapes.About:
    """Say who answers."""
    return shapes.About(version=__version__, jobs_folder=str(desk.folder.folder))


@router.get("/moved")
async def moved(desk: OurDesk) -> shapes.Moved:
    """Say which prices moved when the shop's figures changed last."""
    anew = desk.anew
    return shapes.Moved(
        why=anew.why,
        count=anew.count,
        left=anew.left,
        is_stopped=anew.is_stopped,
        jobs=[shapes.MovedPrice.model_validate(asdict(one)) for one in anew.moved],
    )


@router.delete("/moved", status_code=204)
async def stop_pricing(desk: OurDesk) -> None:
    """Stop pricing open jobs anew; those left keep their price of before until they are opened."""
    desk.anew.halt()


@router.get("/names", responses=refusals(422))
def names(desk: OurDesk) -> shapes.Names:
    """List the materials, wires and machines that a line may name."""
    from kerfwright.wiring import names_known

    return shapes.Names.model_validate({k: list(v) for k, v in names_known(desk.tables).items()})


@router.get("/jobs", responses=refusals(422))
async def jobs(desk: OurDesk, wanted: Annotated[shapes.ListWanted, Query()]) -> shapes.JobList:
    """List jobs, the newest first, from an index that follows the folders of the jobs.

    With `most` a list takes as long for thousands of jobs as for a few; `total` says how many fit.
    """
    found = await asyncio.to_thread(listed, desk, wanted)
    figures = desk.figures()
    none = index.Alike()
    return shapes.JobList(
        folder=str(desk.folder.folder),
        jobs=[
            _card(e, found.alike.get(e.id, none), desk, figures=figures) for e in found.enquiries
        ],
        total=found.total,
        by_stage=dict(found.by_stage),
        unreadable=[
            shapes.Unreadable(message=one.message, where=one.where) for one in found.unreadable
        ],
    )


@router.post("/jobs", status_code=201, responses=refusals(400, 422, 429))
async def add(files: Drawings, desk: OurDesk, request: Request) -> list[shapes.Added]:
    """Add a job for each drawing; what cannot be kept is said file by file."""
    added = []
    for file in files[:MOST_DRAWINGS]:
        name = file.filename or "drawing.dxf"
        content = await file.read(MOST_DRAWING_BYTES + 1)
        try:
            _expect_drawing(name, content)
            enquiry = desk.add(name, content)
        except KerfwrightError as fault:
            added.append(shapes.Added(name=name, job=None, fault=fault_shape(fault)))
        else:
            card = _card(enquiry, desk.folder.alike(enquiry), desk)
            added.append(shapes.Added(name=name, job=card, fault=None))
    too_many = InputError(
        f"only {MOST_DRAWINGS} files are taken at a time",
        code="too-many-files",
        remedy="Drop this one again by itself.",
    )
    request.state.detail = " ".join(one.job.id for one in added if one.job is not None)
    for file in files[MOST_DRAWINGS:]:
        name = file.filename or "drawing.dxf"
        added.append(shapes.Added(name=name, job=None, fault=fault_shape(too_many)))
    return added


@router.post("/jobs/sample", status_code=201, responses=refusals(422))
async def add_sample(desk: OurDesk) -> shapes.Card:
    """Add the sample: the escape wheel of a tower clock, with its lines filled in."""
    content = (resources.files("kerfwright") / "data" / "samples" / SAMPLE).read_bytes()
    enquiry = desk.add(SAMPLE, content)
    lines = {
        "customer": "Tower clock workshop",
        "material": "C270 brass",
        "height": "6 mm",
        "quantity": "1, 5, 25",
        "tolerance": "±0.005 mm",
        "finish": "Ra 0.8 µm",
    }
    after = await desk.change(enquiry.id, revisions={enquiry.revision}, lines=lines, stage=None)
    return _card(after, desk.folder.alike(after), desk)


@router.get("/jobs/{job}", responses=JOB | refusals(404))
async def job(enquiry: OneJob, desk: OurDesk, response: Response) -> shapes.Job:
    """Return one job with all that is computed so far."""
    return await answered(enquiry, desk, response, within_s=WAIT_S)


@router.patch(
    "/jobs/{job}",
    responses=JOB | refusals(400, 404, 409, 422, 428),
)
async def change(
    enquiry: OneJob,
    wanted: shapes.Change,
    revisions: Revisions,
    patience_s: Patience,
    desk: OurDesk,
    response: Response,
) -> shapes.Job:
    """Set lines of the ledger or the stage; a text that cannot be read is refused whole."""
    stage = Stage(wanted.stage) if wanted.stage else None
    own = [(one.contours, one.demands) for one in wanted.own]
    after = await desk.change(
        enquiry.id, revisions=revisions, lines=wanted.lines, stage=stage, own=own
    )
    return await answered(after, desk, response, within_s=patience_s)


@router.post("/jobs/{job}/undo", responses=JOB | refusals(404, 409, 422, 428))
async def undo(
    enquiry: OneJob,
    revisions: Revisions,
    patience_s: Patience,
    desk: OurDesk,
    response: Response,
) -> shapes.Job:
    """Take the last change of the ledger back."""
    after = desk.step(enquiry.id, revisions=revisions, back=True)
    return await answered(after, desk, response, within_s=patience_s)


@router.post("/jobs/{job}/redo", responses=JOB | refusals(404, 409, 422, 428))
async def redo(
    enquiry: OneJob,
    revisions: Revisions,
    patience_s: Patience,
    desk: OurDesk,
    response: Response,
) -> shapes.Job:
    """Make the change again that was taken back last."""
    after = desk.step(enquiry.id, revisions=revisions, back=False)
    return await answered(after, desk, response, within_s=patience_s)


@router.delete("/jobs/{job}", status_code=204, responses=refusals(404))
async def remove(enquiry: OneJob, desk: OurDesk) -> None:
    """Take a job off the list; it is kept whole, and `/api/removed` brings it back."""
    desk.remove(enquiry.id)


@router.post("/jobs/{job}/savings", status_code=202, responses=refusals(404, 409, 422))
async def savings(enquiry: OneJob, desk: OurDesk) -> shapes.Begun:
    """Begin to price what each demand costs; the job holds the answer when it is there."""
    desk.ask_savings(enquiry)
    return _begun(enquiry, desk)


@router.post("/jobs/{job}/stacks", status_code=202, responses=refusals(400, 404, 409, 422))
async def stacks(enquiry: OneJob, wanted: StackWanted, desk: OurDesk) -> shapes.Begun:
    """Begin to price a piece by how many sheets are cut at once; the job holds the answer."""
    desk.ask_stacks(enquiry, wanted.quantity)
    return _begun(enquiry, desk)


@router.post("/jobs/{job}/draft", status_code=202, responses=refusals(404))
async def compute(enquiry: OneJob, desk: OurDesk) -> shapes.Begun:
    """Begin to compute the numbers of a job, where that was stopped."""
    desk.draft_again(enquiry)
    return _begun(enquiry, desk)


@router.post("/jobs/{job}/proof", status_code=202, responses=refusals(404, 409, 422))
async def prove(enquiry: OneJob, desk: OurDesk) -> shapes.Begun:
    """Begin to write and prove the program, where that was stopped."""
    desk.prove_again(enquiry)
    return _begun(enquiry, desk)


@router.delete("/jobs/{job}/running/{what}", status_code=204, responses=refusals(404, 422))
async def stop(enquiry: OneJob, what: Computation, desk: OurDesk) -> None:
    """Stop a computation."""
    desk.stop(enquiry.id, what)


@router.get("/jobs/{job}/reasons", responses=refusals(404))
async def reasons(
    enquiry: OneJob, desk: OurDesk, key: ReasonKey = ""
) -> dict[str, shapes.ReasonShape]:
    """Return why each number, or the one of this key, has its value."""
    found = await desk.reasons(enquiry, within_s=WAIT_S)
    if key and key not in found:
        raise UnknownNameError(f"there is no number {key!r} in this job", code="reason-unknown")
    return {k: shapes.ReasonShape.model_validate(v) for k, v in found.items() if key in {"", k}}


@router.get("/jobs/{job}/geometry", response_class=Response, responses=BYTES | refusals(404))
async def geometry(enquiry: OneJob, desk: OurDesk) -> Response:
    """Return the drawing as arrays, see :mod:`kerfwright.workbench.binary`."""
    bench = await desk.settled(enquiry, within_s=10 * WAIT_S)
    return bytes_answer(bench.drafted.geometry if bench.drafted else b"")


@router.get("/jobs/{job}/wire", response_class=Response, responses=BYTES | refusals(404))
async def wire(enquiry: OneJob, desk: OurDesk) -> Response:
    """Return where the wire is at each minute, as arrays."""
    bench = await desk.settled(enquiry, within_s=10 * WAIT_S)
    return bytes_answer(bench.drafted.wire if bench.drafted else b"")


@router.get(
    "/jobs/{job}/files/{name}",
    response_class=Response,
    responses=content(*sorted(set(MEDIA.values()))) | refusals(404, 409),
)
async def file(enquiry: OneJob, name: JobFile, desk: OurDesk) -> Response:
    """Download a file of the job: only what belongs to what is asked now, and passed its proof."""
    if name not in MEDIA:
        raise UnknownNameError(f"a job has no file {name!r}", code="file-unknown")
    if enquiry.proved_revision != enquiry.revision:
        raise InputError(
            "there is no proved program for what is asked now",
            code="not-proved",
            remedy="Wait for the proof, or mend what the findings name.",
        )
    place = desk.folder.place_of(enquiry.id) / name
    try:
        content = place.read_bytes()
    except OSError as fault:
        raise FileError(
            f"cannot read: {fault.strerror}", code="file-unreadable", where=str(place)
        ) from fault
    headers = {"Content-Disposition": f'attachment; filename="{enquiry.id}-{name}"'}
    return Response(content, media_type=MEDIA[name], headers=headers)


async def answered(
    enquiry: Enquiry, desk: Desk, response: Response, *, within_s: float
) -> shapes.Job:
    """Return a job as it is asked after the wait, with the numbers of that and of nothing else."""
    await desk.settled(enquiry, within_s=within_s)
    now = desk.folder.read(enquiry.id)
    # A later change may have come meanwhile: what was computed for the earlier one is none of it.
    return _job(now, desk.bench(now), desk, response)


def _begun(enquiry: Enquiry, desk: Desk) -> shapes.Begun:
    return shapes.Begun(work=works(desk.bench(enquiry)))


def works(bench: Bench) -> list[shapes.Work]:
    """Return what is being computed for a job."""
    return [
        shapes.Work(what=what, step=step, share=share) for what, (step, share) in bench.work.items()
    ]


def bytes_answer(content: bytes) -> Response:
    """Return arrays as an answer."""
    return Response(content, media_type="application/octet-stream")


_DXF_INSTEAD: Final = {
    ".dwg": "Save it as DXF (R12 to 2018) in the program that drew it.",
    ".pdf": "Ask for the drawing as DXF: a PDF holds no exact geometry.",
}
"""What to do about files that people take for drawings to cut, by the end of their names."""


def _instead_of(name: str) -> str:
    """Return what to do about a file that is no drawing to cut."""
    return _DXF_INSTEAD.get(PurePath(name).suffix.casefold(), "Ask for the drawing as DXF.")


def _expect_drawing(name: str, content: bytes) -> None:
    if not is_drawing_name(name):
        raise InputError(
            "the name ends neither in .dxf nor in .step or .stp",
            code="not-a-drawing",
            where=name,
            remedy=_instead_of(name),
        )
    if is_solid_name(name) and not has_reader():
        raise MissingPackageError(
            "what reads solids, Open CASCADE, is not installed with this workbench",
            code="solids-need-reader",
            where=name,
            remedy="pip install 'kerfwright[solids]' where it runs, or ask for a drawing as DXF.",
        )
    if not content:
        raise InputError(
            "the file is empty",
            code="drawing-empty",
            where=name,
            remedy="Fetch it again, or save it once more: as DXF (R12 to 2018) or STEP.",
        )
    if len(content) > MOST_DRAWING_BYTES:
        raise InputError(
            f"the file has more than {MOST_DRAWING_BYTES // 2**20} MB",
            code="drawing-too-large",
            where=name,
            remedy="Leave out of the drawing what is not cut: hatches, pictures, other sheets.",
        )


def _card(enquiry: Enquiry, alike: index.Alike, desk: Desk, *, figures: str = "") -> shapes.Card:
    asked, outcome = enquiry.asked, enquiry.outcome
    day = today()
    return shapes.Card(
        id=enquiry.id,
        title=enquiry.title,
        added=enquiry.added,
        stage=enquiry.stage.value,
        customer=asked.get("customer", ""),
        due=asked.get("due", ""),
        material=asked.get("material", ""),
        quantity=outcome.get("quantity", asked.get("quantity", "")),
        each=outcome.get("each", ""),
        currency=outcome.get("currency", ""),
        not_offered=outcome.get("not_offered", ""),
        is_of_before=is_of_before(enquiry, figures or desk.figures()),
        attention=attention(desk, enquiry, day=day),
        trouble=trouble_of(enquiry, fault=desk.fault_of(enquiry.id)),
        is_proved=enquiry.proved_revision == enquiry.revision,
        same_drawing=list(alike.same_drawing),
        same_shape=list(alike.same_shape),
        is_late=is_late(enquiry, today=day),
        revision=enquiry.revision,
    )


def _job(enquiry: Enquiry, bench: Bench, desk: Desk, response: Response) -> shapes.Job:
    response.headers["ETag"] = f'"{enquiry.revision}"'
    verdict = bench.proved.verdict if bench.proved else None
    draft = draft_offered(bench.drafted.draft, verdict) if bench.drafted else None
    faults = {what: fault_shape(fault) for what, fault in bench.faults.items()}
    return shapes.Job.model_validate(
        {
            "card": _card(enquiry, desk.folder.alike(enquiry), desk),
            "revision": enquiry.revision,
            "drawing_sha256": enquiry.drawing_sha256,
            "asked": dict(enquiry.asked),
            "draft": draft,
            "fault": faults.get("draft"),
            "proof_fault": faults.get("proof"),
            "savings_fault": faults.get("savings"),
            "stacks": bench.stacks,
            "stacks_fault": faults.get("stacks"),
            "stopped": sorted(bench.stopped),
            "verdict": verdict,
            "savings": savings_offered(bench.savings, bench.drafted, verdict),
            "work": works(bench),
            "can_undo": bool(enquiry.past),
            "can_redo": bool(enquiry.future),
        }
    )
