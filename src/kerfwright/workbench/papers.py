"""Addresses of a job's papers: how they are wanted, made, looked at and taken."""

from __future__ import annotations

from collections.abc import Set as AbstractSet
from dataclasses import replace
from typing import TYPE_CHECKING, Annotated, Final

from fastapi import APIRouter, Depends, Header, Response

from kerfwright.app.enquiries import Enquiry
from kerfwright.foundation.errors import InputError, UnknownNameError
from kerfwright.workbench.bench import Bench, ChangedElsewhereError
from kerfwright.workbench.desk import Desk
from kerfwright.workbench.jobs import WAIT_S, OneJob, OurDesk, revisions_said
from kerfwright.workbench.paper_shapes import PaperDesk, PaperFile, PaperOrder, UsualWords
from kerfwright.workbench.parameters import PageNumber, PaperName
from kerfwright.workbench.refusals import content, fault_shape, refusals

if TYPE_CHECKING:
    from kerfwright.adapters.papers.wanted import Wanted

router = APIRouter(prefix="/api/jobs/{job}/papers", tags=["papers"])

_TITLES: Final = {
    "quote.pdf": ("Quote", "the customer"),
    "set-up.pdf": ("Set-up sheet", "the operator"),
    "inspection.pdf": ("Inspection sheet", "the inspector"),
    "holes.pdf": ("Hole sheet", "the driller"),
    "path.dxf": ("Path of the wire, DXF", "other programs"),
    "path.svg": ("Path of the wire, SVG", "other programs"),
}
MEDIA: Final = {"pdf": "application/pdf", "dxf": "image/vnd.dxf", "svg": "image/svg+xml"}
_IF_MATCH: Final = (
    "revision of how the papers are wanted that this is of: the `revision` of the papers in "
    "quotation marks; where they have another, somebody changed it meanwhile and 409 is answered"
)


def _revisions(
    if_match: Annotated[str | None, Header(description=_IF_MATCH)] = None,
) -> frozenset[int]:
    """Return the revisions of which the page believes that the papers have one."""
    return revisions_said(if_match, whose="the papers")


_Revisions = Annotated[frozenset[int], Depends(_revisions)]


@router.get("", responses=refusals(404, 422))
async def papers(enquiry: OneJob, desk: OurDesk) -> PaperDesk:
    """Return how a job's papers are wanted, and those made for what is asked now."""
    return await _desk_of(enquiry, desk)


@router.patch("", responses=refusals(400, 404, 409, 422, 428))
async def want(
    enquiry: OneJob, order: PaperOrder, revisions: _Revisions, desk: OurDesk
) -> PaperDesk:
    """Keep how the papers are wanted; those that were made otherwise are taken away."""
    _kept(enquiry, order, revisions, desk)
    return await _desk_of(enquiry, desk)


@router.post("", status_code=202, responses=refusals(400, 404, 409, 422, 428))
async def make(
    enquiry: OneJob, order: PaperOrder, revisions: _Revisions, desk: OurDesk
) -> PaperDesk:
    """Keep how the papers are wanted and begin to make them; the job tells when they are there."""
    desk.ask_papers(enquiry, _kept(enquiry, order, revisions, desk))
    return await _desk_of(enquiry, desk)


@router.get(
    "/{name}",
    response_class=Response,
    responses=content(*MEDIA.values()) | refusals(404, 409),
)
async def paper(enquiry: OneJob, name: PaperName, desk: OurDesk) -> Response:
    """Download a paper, made for what is asked now."""
    content = _made(enquiry, name, desk)[0]
    headers = {"Content-Disposition": f'attachment; filename="{enquiry.id}-{name}"'}
    return Response(content, media_type=MEDIA[name.rpartition(".")[2]], headers=headers)


@router.get(
    "/{name}/pages/{number}",
    response_class=Response,
    responses=content(MEDIA["svg"]) | refusals(404, 409, 422),
)
async def page(enquiry: OneJob, name: PaperName, number: PageNumber, desk: OurDesk) -> Response:
    """Return a page of a paper as a picture (SVG), counted from 1."""
    pages = _made(enquiry, name, desk)[1]
    if not 1 <= number <= len(pages):
        raise UnknownNameError(f"{name} has {len(pages)} pages", code="file-unknown")
    return Response(pages[number - 1], media_type="image/svg+xml")


def _made(enquiry: Enquiry, name: str, desk: Desk) -> tuple[bytes, tuple[bytes, ...]]:
    if name not in _TITLES:
        raise UnknownNameError(f"a job has no paper {name!r}", code="file-unknown")
    found = desk.bench(enquiry).papers
    if found is None or name not in found.files:
        raise InputError(
            "this paper is not made for what is asked now",
            code="not-proved",
            remedy="Make the papers first.",
        )
    return found.files[name], found.pages.get(name, ())


def _kept(enquiry: Enquiry, order: PaperOrder, revisions: AbstractSet[int], desk: Desk) -> Wanted:
    """Return how papers are wanted with what was sent in place of what was kept, and keep it."""
    # On demand: the page opens before what makes papers is loaded.
    from kerfwright.adapters.papers.wanted import read_wanted, save_wanted

    place = desk.folder.place_of(enquiry.id)
    before = read_wanted(place)
    if before.revision not in revisions:
        raise ChangedElsewhereError(
            "how the papers are wanted was changed in another window meanwhile",
            code="changed-elsewhere",
            remedy="It now shows the latest; make your change again if it is still wanted.",
        )
    sent = order.model_dump(include=order.model_fields_set)
    said = _wanted(_order_of(before).model_copy(update=sent))
    after = replace(said, made_for=before.made_for, revision=before.revision)
    if after != before:
        after = replace(after, made_for=0, revision=before.revision + 1)
        save_wanted(place, after)
        desk.bench(enquiry).forget_papers()
        desk.computing.tell(enquiry.id, enquiry.revision)
    return after


def _order_of(wanted: Wanted) -> PaperOrder:
    words = wanted.words
    return PaperOrder(
        paper=wanted.paper.value,
        unit=wanted.unit.value if wanted.unit else None,
        number=wanted.number,
        what_if=wanted.asks_what_if,
        delivery=words.delivery,
        terms=None if words.terms is None else list(words.terms),
        valid_days=words.valid_days,
    )


def _wanted(order: PaperOrder) -> Wanted:
    from kerfwright.adapters.papers.typeset import Paper
    from kerfwright.adapters.papers.wanted import PaperWords, Wanted
    from kerfwright.trade.part import LengthUnit

    terms = order.terms
    return Wanted(
        paper=Paper(order.paper),
        unit=LengthUnit(order.unit) if order.unit else None,
        number=order.number.strip(),
        asks_what_if=order.what_if,
        words=PaperWords(
            delivery=order.delivery.strip(),
            terms=None if terms is None else tuple(t for text in terms if (t := text.strip())),
            valid_days=order.valid_days,
        ),
    )


async def _desk_of(enquiry: Enquiry, desk: Desk) -> PaperDesk:
    from kerfwright.adapters.papers.rules import load_paper_rules
    from kerfwright.adapters.papers.wanted import read_wanted

    bench = await desk.settled(enquiry, within_s=WAIT_S)
    wanted = read_wanted(desk.folder.place_of(enquiry.id))
    desk.ask_papers_again(enquiry, wanted)
    usual = load_paper_rules(desk.tables)
    return PaperDesk(
        wanted=_order_of(wanted),
        revision=wanted.revision,
        usual=UsualWords(
            shop_name=usual.shop_name,
            shop_lines=list(usual.shop_lines),
            delivery=usual.delivery,
            terms=list(usual.terms),
            valid_days=usual.valid_days,
        ),
        files=_files(bench),
        refused=fault_shape(refused) if (refused := bench.faults.get("papers")) else None,
        again=bench.papers_again,
    )


def _files(bench: Bench) -> list[PaperFile]:
    if bench.papers is None:
        return []
    pages = bench.papers.pages
    return [
        PaperFile(
            name=name,
            title=_TITLES[name][0],
            reader=_TITLES[name][1],
            pages=len(pages.get(name, ())),
            size_kb=-(-len(content) // 1000),
        )
        for name, content in bench.papers.files.items()
    ]
