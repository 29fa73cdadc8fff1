"""Addresses of the shop's numbers."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Any, Final, Literal

from fastapi import APIRouter, Query, Response
from pydantic import Field

from kerfwright.app.enquiries import Stage
from kerfwright.foundation.errors import InputError
from kerfwright.workbench.base_shapes import Shape
from kerfwright.workbench.jobs import OurDesk
from kerfwright.workbench.refusals import content, refusals
from kerfwright.workbench.shapes import FindingShape
from kerfwright.workbench.week import OurWeek, moment_from
from kerfwright.workbench.week_desk import now
from kerfwright.workbench.week_shapes import MOMENT, MOMENT_SAYS
from kerfwright.workbench.workers import Report

router = APIRouter(prefix="/api", tags=["numbers"])

_CSV: Final = "text/csv; charset=utf-8"
Three = tuple[float, float, float]


class SaidShape(Shape):
    """Minutes of a job that were marked."""

    minutes: float
    count: int = Field(description="moments, or stretches, of which minutes were said")
    of: int = Field(description="how many the job has; 0 where that is not known")
    whole: bool


class ShareShape(Shape):
    """A count, and the interval of the share behind it at 95 % (Wilson)."""

    count: int
    of: int
    low: float
    high: float


class JobNumbersShape(Shape):
    """One job: what was quoted of it, and what was marked."""

    job: str
    title: str
    customer: str
    stage: Stage
    quantity: int | None
    currency: str
    price: str | None
    price_at_marked: str | None = Field(
        description="with the hours that were marked; null unless every minute was said"
    )
    quoted_why: str = Field(description="why nothing is quoted; empty where it is")
    attended_quoted_min: Three | None = Field(description="10 %, likely and 90 %")
    attended: SaidShape
    alone_quoted_min: Three | None
    alone: SaidShape
    wire_quoted_kg: Three | None
    wire_used_kg: float | None
    breaks: int
    machine: str
    begin: str
    end: str
    cut_predicted_min: float | None = Field(description="of the passes that were measured")
    cut_measured_min: float | None


class AgainstShape(Shape):
    """Quoted minutes against marked ones, over jobs of which every minute was said."""

    what: Literal["attended", "alone"]
    quoted_min: float
    marked_min: float
    inside: ShareShape = Field(description="jobs within the range quoted, 8 in 10 of which should")
    jobs: list[str]


class UsedShape(Shape):
    """How long a machine had a job on it, by what was marked."""

    machine: str
    hours: float
    of_hours: float
    breaks: int
    jobs: list[str]


class WonShape(Shape):
    """How many quotes of a group became orders."""

    way: Literal["all", "customer", "material", "tolerance", "finish", "recast", "taper"]
    group: str
    share: ShareShape = Field(description="of those that were decided")
    won: list[str]
    lost: list[str]
    waiting: list[str]


class NumbersShape(Shape):
    """The numbers of the shop."""

    format: Literal["kerfwright-numbers"]
    version: Literal[1]
    begin: str
    end: str
    jobs: list[JobNumbersShape]
    against: list[AgainstShape]
    machines: list[UsedShape]
    won: list[WonShape]
    findings: list[FindingShape]


class Period(Shape):
    """When machines are looked at, by the clock on the wall."""

    begin: str | None = Field(
        None, pattern=MOMENT, description=f"from when on, {MOMENT_SAYS}; null for the first mark"
    )
    end: str | None = Field(
        None, pattern=MOMENT, description=f"up to when, {MOMENT_SAYS}; null for now"
    )


class PeriodOfTable(Period):
    """Which table is wanted, and for when."""

    table: Literal["jobs", "machines", "won"] = Field(
        "jobs", description="jobs, use of machines, or how many quotes became orders"
    )


def look(
    begin: datetime | None, end: datetime, places: tuple[Any, ...], progress: Report
) -> dict[str, Any]:
    """Return the numbers of the shop; runs in a worker."""
    from kerfwright.adapters.numbers_shape import numbers_shape
    from kerfwright.wiring.shop_numbers import shop_numbers

    jobs, tables, shop = places
    found, remarks = shop_numbers(
        jobs, begin=begin, end=end, tables=tables, shop=shop, progress=progress
    )
    return numbers_shape(found, remarks)


@router.get("/numbers", responses=refusals(422))
async def numbers(wanted: Annotated[Period, Query()], ours: OurWeek, desk: OurDesk) -> NumbersShape:
    """Return quoted against marked, the use of machines, and how many quotes became orders.

    What nobody marked is missing, not guessed; each number names its jobs.
    """
    return NumbersShape.model_validate(await _looked(wanted, ours, desk))


@router.get("/numbers.csv", response_class=Response, responses=content(_CSV) | refusals(422))
async def numbers_csv(
    wanted: Annotated[PeriodOfTable, Query()], ours: OurWeek, desk: OurDesk
) -> Response:
    """Return one table of the numbers for a spreadsheet."""
    from kerfwright.adapters.numbers_shape import csv_text

    document = await _looked(wanted, ours, desk)
    named = f'attachment; filename="{wanted.table}.csv"'
    return Response(
        csv_text(document, wanted.table),
        media_type=_CSV,
        headers={"Content-Disposition": named},
    )


async def _looked(wanted: Period, ours: OurWeek, desk: OurDesk) -> dict[str, Any]:
    places = (ours.place, desk.tables_folder, desk.shop_folder)
    begin = None if wanted.begin is None else moment_from(wanted.begin)
    end = now() if wanted.end is None else moment_from(wanted.end)
    if begin is not None and wanted.end is not None and begin >= end:
        raise InputError(
            f"the period begins at {wanted.begin} and ends at {wanted.end}",
            code="period-empty",
            remedy="Let it end after it begins.",
        )
    found: dict[str, Any] = await ours.aside.run(
        "kerfwright.workbench.numbers.look", begin, end, places
    )
    return found
