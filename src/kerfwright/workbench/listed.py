"""Which jobs are listed, in which order: those of the index, or what needs attention first."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime

from kerfwright.adapters.index import query as index
from kerfwright.app.enquiries import Enquiry, Stage
from kerfwright.workbench import shapes
from kerfwright.workbench.desk import Desk
from kerfwright.workbench.outcome import attention_of


def listed(desk: Desk, wanted: shapes.ListWanted) -> index.Listed:
    """Return the jobs that a list wants.

    Parameters
    ----------
    desk : Desk
    wanted : ListWanted
    """
    is_by_attention = wanted.by == "attention"
    query = index.Query(
        search=wanted.search,
        stages=tuple(Stage(one) for one in wanted.stage),
        order=index.Order.ADDED if is_by_attention else index.Order(wanted.by),
        descending=not wanted.rising,
        most=None if is_by_attention else wanted.most,
        skipped=0 if is_by_attention else wanted.skip,
    )
    found = desk.folder.listed(query)
    if not is_by_attention:
        return found
    # It moves with the day and with what is open here, so that no index holds it.
    day = today()
    counts = {one.id: len(attention(desk, one, day=day)) for one in found.enquiries}
    every = sorted(found.enquiries, key=lambda one: counts[one.id], reverse=not wanted.rising)
    # What needs none comes last, whichever way.
    every.sort(key=lambda one: not counts[one.id])
    end = None if wanted.most is None else wanted.skip + wanted.most
    return replace(found, enquiries=tuple(every[wanted.skip : end]))


def today() -> date:
    """Return the day it is here."""
    return datetime.now(UTC).astimezone().date()


def attention(desk: Desk, enquiry: Enquiry, *, day: date) -> list[str]:
    """Return why somebody should look at a job.

    Parameters
    ----------
    desk : Desk
    enquiry : Enquiry
    day : date
    """
    bench = desk.known_bench(enquiry.id)
    return attention_of(
        enquiry,
        today=day,
        fault=desk.fault_of(enquiry.id),
        is_stopped=bench is not None and "draft" in bench.stopped,
        is_reading=bench is not None and "draft" in bench.running,
    )
