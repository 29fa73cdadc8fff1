"""What the page and its server say to each other of seats, sessions, quotes and deeds."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import ConfigDict, Field

from kerfwright.app.seats import LEAST_PASSWORD
from kerfwright.workbench.base_shapes import Shape
from kerfwright.workbench.shapes import Stage
from kerfwright.workbench.version_shapes import PriceOf

RoleName = Literal["owner", "estimator", "programmer", "attendant", "guest"]
_Name = Annotated[
    str,
    Field(
        max_length=200,
        description="by which somebody logs in: 1 to 40 letters a to z, digits, and . _ - between "
        "them",
    ),
]
_Customer = Annotated[
    str,
    Field(
        max_length=200,
        description="of a guest the firm whose quotes are shown, as the line `customer` of its "
        "jobs has it, at most 120 letters; empty for everybody else",
    ),
]
_ROLE_SAYS = "what somebody may do in the shop; `roles` of `/api/seats` says what each may"
_PASSWORD_SAYS = f"of {LEAST_PASSWORD} letters or more"
RightName = Literal[
    "LOG_IN",
    "OWN_SEAT",
    "SEE",
    "ASK",
    "PAPERS",
    "PROGRAM",
    "CUTS",
    "TABLES",
    "REMOVE",
    "DELETE",
    "SEATS",
    "AUDIT",
    "MARK",
    "NUMBERS",
    "OWN_QUOTES",
]
_MOST_PASSWORD = 1000
_SAMPLE_WORDS = "kettle brisk lantern oak"


class SessionShape(Shape):
    """Who is logged in, and what he may."""

    asks: bool = Field(description="whether log-in is asked at all; the rest is empty where not")
    name: str = ""
    role: RoleName | None = None
    customer: str = Field("", description="firm of a guest")
    change_token: str = Field("", description="to be sent with every change")
    may: list[RightName]


class LogIn(Shape):
    """Name and password."""

    model_config = ConfigDict(
        extra="forbid",
        json_schema_extra={"examples": [{"name": "ada", "password": _SAMPLE_WORDS}]},
    )

    name: _Name
    password: str = Field(max_length=_MOST_PASSWORD, description="as it was given")


class NewPassword(Shape):
    """The present password and the next."""

    model_config = ConfigDict(
        extra="forbid",
        json_schema_extra={"examples": [{"now": _SAMPLE_WORDS, "next": f"{_SAMPLE_WORDS} tree"}]},
    )

    now: str = Field(max_length=_MOST_PASSWORD, description="the present password")
    next: str = Field(max_length=_MOST_PASSWORD, description=f"the next password, {_PASSWORD_SAYS}")


class SeatShape(Shape):
    """Somebody who may log in."""

    name: str
    role: RoleName
    customer: str
    added: str


class SeatList(Shape):
    """Everybody who may log in, and what each role may do, in words."""

    seats: list[SeatShape]
    roles: dict[RoleName, list[str]]


class NewSeat(Shape):
    """Somebody who is to log in."""

    model_config = ConfigDict(
        extra="forbid",
        json_schema_extra={
            "examples": [{"name": "berta", "role": "programmer", "password": _SAMPLE_WORDS}]
        },
    )

    name: _Name
    role: RoleName = Field(description=_ROLE_SAYS)
    customer: _Customer = ""
    password: str = Field(max_length=_MOST_PASSWORD, description=f"to begin with, {_PASSWORD_SAYS}")


class SeatChange(Shape):
    """What is to be other of a seat; both end its sessions."""

    model_config = ConfigDict(
        extra="forbid",
        json_schema_extra={"examples": [{"role": "guest", "customer": "Tower clocks"}]},
    )

    role: RoleName | None = Field(None, description=f"{_ROLE_SAYS}; null for as it is")
    customer: _Customer = ""
    password: str | None = Field(
        None,
        max_length=_MOST_PASSWORD,
        description=f"another password, {_PASSWORD_SAYS}; null for as it is",
    )


class Quote(Shape):
    """A quote as it was made for a customer; money as text, to the cent."""

    job: str
    title: str
    reference: str
    revision: str = Field(description="of the drawing, as the customer counts")
    stage: Stage
    made: str
    prices: list[PriceOf]
    currency: str


class QuoteList(Shape):
    """The quotes of one firm."""

    customer: str
    quotes: list[Quote]


class DeedShape(Shape):
    """What somebody did."""

    number: int
    at: str
    seat: str
    role: str
    address: str
    kind: Literal["view", "change", "download", "log-in", "refused"]
    deed: str
    job: str
    detail: str
    status: int


class DeedList(Shape):
    """The last of what was done, the newest first."""

    deeds: list[DeedShape]


class DeedsWanted(Shape):
    """Which deeds are to be listed."""

    before: int | None = Field(None, ge=1, le=2**62, description="only those with a lower number")
    most: int = Field(200, ge=1, le=1000, description="how many of the newest, from 1 to 1000")
    job: str = Field("", max_length=200, description="only those about this job")
