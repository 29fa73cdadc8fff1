"""What the page and its server say to each other of earlier versions, and of removed jobs."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from kerfwright.workbench.base_shapes import Shape
from kerfwright.workbench.shapes import Unreadable


class PriceOf(Shape):
    """Price of a piece at one quantity; money as text, to the cent."""

    quantity: int
    each: str


class VersionFile(Shape):
    """A file of a version."""

    name: str
    sha256: str


class VersionShape(Shape):
    """A plan or quote as it was made."""

    number: int
    made: str = Field(description="when, ISO 8601")
    kerfwright: str
    sha256: str = Field(description="of its closed file in the folder of the job")
    asked: dict[str, str] | None = Field(
        description="lines of the ledger that it answers; null where it was made outside the page"
    )
    prices: list[PriceOf]
    currency: str
    is_proved: bool = Field(description="whether a program belongs to it")
    papers: list[str] = Field(description="those of its files that are papers")
    taken_from: int = Field(description="earlier version that it was taken back from; 0 for none")
    files: list[VersionFile]


class VersionList(Shape):
    """The versions of a job, the first first."""

    versions: list[VersionShape]
    unreadable: list[Unreadable]


class VersionChange(Shape):
    """One difference between two versions."""

    kind: Literal["asked", "price", "figure", "made by", "file"]
    name: str
    before: str = Field(description="empty where there was none")
    after: str = Field(description="empty where there is none")


class VersionChanges(Shape):
    """What is other in the second of two versions."""

    first: int
    second: int
    changes: list[VersionChange]


class RemovedJob(Shape):
    """A job that was taken off the list."""

    name: str = Field(description="by which it is brought back")
    id: str = Field(description="name that it had on the list, and will have again")
    title: str
    customer: str
    added: str
    removed: str = Field(description="when, ISO 8601; empty where nothing says so")


class RemovedList(Shape):
    """The jobs that were taken off the list."""

    jobs: list[RemovedJob]


class BroughtBack(Shape):
    """A job that is on the list again."""

    id: str
