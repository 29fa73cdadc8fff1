"""Addresses of a guest: the quotes of his own firm, as they were made for it.

A job of another firm and one that is not there are the same here: both are looked for in the list
of the guest's own quotes and nowhere else, in the same time and with the same answer.
"""

from __future__ import annotations

import asyncio
from collections.abc import Iterator
from typing import Final

from fastapi import APIRouter, Response

from kerfwright.adapters.index.query import Query
from kerfwright.adapters.versions import Version, files_of, numbers_of, read_version
from kerfwright.app.enquiries import Enquiry, Stage
from kerfwright.app.seats import is_of_firm
from kerfwright.foundation.errors import FileError, InputError, UnknownNameError
from kerfwright.workbench.desk import Desk
from kerfwright.workbench.jobs import OurDesk
from kerfwright.workbench.parameters import QuotedJob
from kerfwright.workbench.refusals import content, refusals
from kerfwright.workbench.seat_shapes import Quote, QuoteList
from kerfwright.workbench.session import OurSession
from kerfwright.workbench.version_shapes import PriceOf

router = APIRouter(prefix="/api/quotes", tags=["quotes"])

PAPER: Final = "quote.pdf"
SHOWN: Final = (Stage.QUOTED, Stage.ORDERED, Stage.DONE)
"""A job that is still open is no quote: the shop is at work on it."""


@router.get("", responses=refusals(409))
async def quotes(session: OurSession, desk: OurDesk) -> QuoteList:
    """List the quotes that the shop gave to the firm of a guest."""
    customer = session.seat.customer
    found = await asyncio.to_thread(_quotes_of, customer, desk)
    return QuoteList(customer=customer, quotes=[_shape(*one) for one in found.values()])


@router.get(
    "/{job}/quote.pdf",
    response_class=Response,
    responses=content("application/pdf") | refusals(404, 409),
)
async def paper(session: OurSession, job: QuotedJob, desk: OurDesk) -> Response:
    """Download a quote, byte for byte as it was made."""
    found = await asyncio.to_thread(_quotes_of, session.seat.customer, desk)
    if job not in found:
        raise UnknownNameError("there is no such quote", code="job-unknown")
    enquiry, version = found[job]
    place = desk.folder.place_of(enquiry.id)
    files = await asyncio.to_thread(files_of, place, version.number)
    headers = {"Content-Disposition": f'attachment; filename="{enquiry.id}-{PAPER}"'}
    return Response(files[PAPER], media_type="application/pdf", headers=headers)


def _quotes_of(customer: str, desk: Desk) -> dict[str, tuple[Enquiry, Version]]:
    """Return the jobs of a firm that were quoted, each with the last version that has a quote."""
    listed = desk.folder.listed(Query(search=customer, stages=SHOWN))
    found = {}
    for one in listed.enquiries:
        if is_of_firm(customer, one.asked.get("customer", "")):
            version = next(_with_quote(one, desk), None)
            if version is not None:
                found[one.id] = one, version
    return found


def _with_quote(enquiry: Enquiry, desk: Desk) -> Iterator[Version]:
    place = desk.folder.place_of(enquiry.id)
    for number in reversed(numbers_of(place)):
        try:
            version = read_version(place, number)
        except (FileError, InputError):
            # The shop sees in its list of versions that it cannot be read, and why.
            continue
        asked = version.asked or {}
        # What was quoted to another firm before the job became this one's stays that firm's.
        if PAPER in version.papers and is_of_firm(
            enquiry.asked["customer"], asked.get("customer", "")
        ):
            yield version


def _shape(enquiry: Enquiry, version: Version) -> Quote:
    asked = version.asked or {}
    return Quote(
        job=enquiry.id,
        title=enquiry.title,
        reference=asked.get("reference", ""),
        revision=asked.get("revision", ""),
        stage=enquiry.stage.value,
        made=version.made,
        prices=[PriceOf(quantity=quantity, each=each) for quantity, each in version.prices.items()],
        currency=version.currency,
    )
