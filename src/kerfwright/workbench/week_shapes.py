"""What the page and its server say to each other about the week of the shop."""

from __future__ import annotations

from typing import Literal

from pydantic import ConfigDict, Field

from kerfwright.app.enquiries import Stage
from kerfwright.app.marks import MOST_KG, MOST_MIN
from kerfwright.workbench.base_shapes import Shape
from kerfwright.workbench.shapes import Fault, FindingShape

MOMENT = r"^\d{4}-\d\d-\d\d[ T]\d\d:\d\d$"
"""A moment by the clock on the wall of the shop."""
MOMENT_SAYS = "by the clock on the wall: `2027-03-01 08:00`"
_MACHINE_SAYS = "`id` of the machine, as the park has it"


class _Kept(Shape):
    """Part of a document that another release may have written."""

    model_config = ConfigDict(extra="ignore")


class DownShape(_Kept):
    """When a machine stands."""

    begin: str
    end: str
    why: str


class WeekMachine(_Kept):
    """A machine of the park."""

    id: str
    name: str
    wire_mm: float | None = Field(description="on it when the timetable begins")
    downs: list[DownShape]


class WeekStage(_Kept):
    """An attended moment or an unattended stretch of a job."""

    name: str
    attended: bool
    begin: str
    end: str
    breaks: float = Field(description="wire breaks to be expected that want a hand")


class WeekBooking(_Kept):
    """Where and when one job is."""

    job: str
    machine: str
    wire_mm: float | None
    running: bool
    first_stage: int = Field(0, description="stages of the job that are behind it")
    due: str | None = Field(description="off the machine by then")
    done: list[str] = Field(description="10 %, likely and 90 % of the runs end before")
    held_share: float | None = Field(description="share of runs in time")
    stages: list[WeekStage]


class WeekTouch(_Kept):
    """One moment in which somebody has to be at a machine."""

    when: str
    minutes: int
    machine: str
    job: str
    name: str
    does: str
    cautions: list[str]
    alone_min: int = Field(description="how long the machine runs alone afterwards")
    stage: int = Field(-1, description="number in the whole job, from 0; -1 where it is not known")
    stages: int = 0
    moments: int = Field(0, description="how many of the stages somebody attends")


class WeekMove(_Kept):
    """A job that is elsewhere, or begins at another time, than was told."""

    model_config = ConfigDict(extra="ignore", populate_by_name=True)

    job: str
    from_machine: str
    to_machine: str
    begins: str = Field(alias="from", serialization_alias="begins")
    becomes: str = Field(alias="to", serialization_alias="becomes")


class WeekPromise(_Kept):
    """The first day that may be promised."""

    job: str
    day: str
    held_share: float
    likely_day: str
    later: list[str] = Field(description="jobs that were in time and would be late for it")


class WeekShape(_Kept):
    """A timetable: what is on which machine when, and how good that is known to be."""

    begin: str
    holds: bool
    goal: str
    value_min: int
    at_least_min: int
    gap_share: float
    proved: bool
    method: str
    stopped: bool
    machines: list[WeekMachine] = Field(default_factory=list)
    there: list[tuple[str, str]] = Field(
        default_factory=list, description="spells in which somebody attends"
    )
    bookings: list[WeekBooking]
    left: dict[str, str] = Field(description="jobs that go on no machine, and why")
    touches: list[WeekTouch]
    replanned: bool
    moves: list[WeekMove]
    promise: WeekPromise | None
    findings: list[FindingShape]


class MarkShape(Shape):
    """What a person marked of a job at its machine."""

    id: str
    kind: Literal["begun", "done", "break", "ordered"]
    at: str
    machine: str = ""
    stage: int | None = None
    stages: int = 0
    moments: int = 0
    name: str = ""
    took_min: float | None = None
    ran_min: float | None = None
    stood_min: float | None = None
    wire_kg: float | None = None
    quantity: int | None = None
    why: str = ""
    where: str = ""


class MarkSaid(Shape):
    """What is marked of a job."""

    model_config = ConfigDict(
        extra="forbid",
        json_schema_extra={
            "examples": [
                {
                    "kind": "break",
                    "machine": "M1",
                    "why": "flushing",
                    "where": "H3, rough",
                    "stood_min": 25,
                }
            ]
        },
    )

    kind: Literal["begun", "done", "break", "ordered"] = Field(
        description="`begun` and `done` a stage, which need `machine`, `stage` and `stages`; "
        "`break` of the wire, which needs `machine` and `why`; `ordered`, which needs `quantity`"
    )
    at: str | None = Field(None, pattern=MOMENT, description=f"{MOMENT_SAYS}; null for now")
    machine: str = Field("", max_length=300, description=_MACHINE_SAYS)
    stage: int | None = Field(
        None, ge=0, le=100_000, description="number of the stage in the whole job, from 0"
    )
    stages: int = Field(0, ge=0, le=100_000, description="how many the whole job has")
    moments: int = Field(0, ge=0, le=100_000, description="how many of them somebody attends")
    name: str = Field("", max_length=300, description="of the stage, as the week has it")
    took_min: float | None = Field(
        None, ge=0, le=MOST_MIN, description="how long somebody was there, minutes"
    )
    ran_min: float | None = Field(
        None,
        ge=0,
        le=MOST_MIN,
        description="how long the machine ran alone before, by its own clock, minutes",
    )
    stood_min: float | None = Field(
        None, ge=0, le=MOST_MIN, description="how long it stood after a break, minutes"
    )
    wire_kg: float | None = Field(
        None, ge=0, le=MOST_KG, description="wire used up for the whole job, kg"
    )
    quantity: int | None = Field(None, ge=1, le=1_000_000, description="pieces that were ordered")
    why: str = Field("", max_length=300, description="of a break: why, in a person's words")
    where: str = Field("", max_length=300, description="of a break: contour and pass, in words")


class OrderedJob(Shape):
    """A job that is ordered, and what was marked of it."""

    job: str
    title: str
    customer: str
    due: str
    quantities: str = Field(description="as they were priced")
    stage: Stage
    proved: bool = Field(description="whether its program is of what it asks now")
    marks: list[MarkShape]
    marks_fault: str = Field(description="why its marks cannot be read; empty where they can")


class WeekWork(Shape):
    """A search that runs."""

    step: str
    share: float


class WeekDeskShape(Shape):
    """The week: what people work by, what was tried, and what is done."""

    now: str = Field(description="the clock on the wall of the server")
    has_park: bool
    kept: WeekShape | None = Field(description="what people work by")
    kept_fault: Fault | None
    tried: WeekShape | None = Field(description="the last that was searched for, not kept")
    tried_for: str = Field(description="job whose day was asked for with it; else empty")
    work: WeekWork | None
    fault: Fault | None = Field(description="why the last search gave nothing")
    jobs: list[OrderedJob]


class WeekWanted(Shape):
    """What week is to be searched for."""

    model_config = ConfigDict(extra="forbid", json_schema_extra={"examples": [{"seconds": 5}]})

    begin: str | None = Field(
        None, pattern=MOMENT, description=f"from when on, {MOMENT_SAYS}; null for now"
    )
    seconds: float = Field(
        10, ge=0.5, le=600, description="how long to look for a better week, seconds"
    )
    quote: str | None = Field(
        None,
        description="id of the job whose first day is asked for, put among those that are ordered",
    )
    anew: bool = Field(default=False, description="whether what people were told does not count")


class ParkShape(Shape):
    """The file of the park."""

    text: str | None = Field(description="null where there is none yet")
    sample: str = Field(description="a park to begin with")


_PARK = (
    'format = "kerfwright-park"\nversion = 1\n'
    '[attendant]\nmon = ["07:00-12:00", "12:30-16:00"]\ntue = ["07:00-16:00"]\n'
    'wed = ["07:00-16:00"]\nthu = ["07:00-16:00"]\nfri = ["07:00-14:00"]\n'
    '[[machine]]\nid = "M1"\nwire = "0.25 mm"\n'
)


class ParkSaid(Shape):
    """A park to keep, and what stood there when it was written."""

    model_config = ConfigDict(extra="forbid", json_schema_extra={"examples": [{"text": _PARK}]})

    text: str = Field(
        max_length=200_000, description="the whole file, TOML; `sample` of `/api/park` is one"
    )
    instead_of: str | None = Field(
        None, description="`text` of `/api/park` before the change; null where there was none"
    )


class DownSaid(Shape):
    """A machine that stands."""

    model_config = ConfigDict(
        extra="forbid",
        json_schema_extra={
            "examples": [
                {
                    "machine": "M1",
                    "begin": "2027-03-01 08:00",
                    "end": "2027-03-01 12:00",
                    "why": "spindle",
                }
            ]
        },
    )

    machine: str = Field(max_length=300, description=_MACHINE_SAYS)
    begin: str = Field(pattern=MOMENT, description=f"from when on it stands, {MOMENT_SAYS}")
    end: str = Field(pattern=MOMENT, description=f"when it runs again, {MOMENT_SAYS}")
    why: str = Field(
        "", max_length=300, pattern=r"^[^,\n\r]*$", description="in a few words without a comma"
    )
