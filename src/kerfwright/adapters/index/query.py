"""What may be asked of the index, and what it answers; loads no database."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from kerfwright.app.enquiries import Enquiry, Stage


class Order(StrEnum):
    """By what a list is sorted."""

    ADDED = "added"
    TITLE = "title"
    CUSTOMER = "customer"
    DUE = "due"
    MATERIAL = "material"
    STAGE = "stage"
    EACH = "each"


@dataclass(frozen=True, slots=True, kw_only=True)
class Query:
    """Which jobs are wanted, in which order.

    Attributes
    ----------
    search : str
        Words that title, name, stage and what is asked must all hold, in any case.
    stages : tuple of Stage
        Empty for every stage.
    order : Order
        Jobs that say nothing of it come last, either way round.
    descending : bool
    most : int or None
        How many are wanted; None for all.
    skipped : int
        How many of the first are left out.
    """

    search: str = ""
    stages: tuple[Stage, ...] = ()
    order: Order = Order.ADDED
    descending: bool = True
    most: int | None = None
    skipped: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Alike:
    """Other jobs of the same part.

    Attributes
    ----------
    same_drawing : tuple of str
        With the very same drawing.
    same_shape : tuple of str
        With the same shapes in another drawing.
    """

    same_drawing: tuple[str, ...] = ()
    same_shape: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Unreadable:
    """A job folder that cannot be read.

    Attributes
    ----------
    message, where : str
    """

    message: str
    where: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Listed:
    """What a query found.

    Attributes
    ----------
    enquiries : tuple of Enquiry
        Without the steps that can be undone: the folder of the job has them.
    total : int
        How many jobs fit, with those that were not wanted.
    by_stage : mapping of str to int
        How many jobs there are at each stage, whatever was asked for.
    alike : mapping of str to Alike
        By the names of jobs found; a job with none is left out.
    unreadable : tuple of Unreadable
    """

    enquiries: tuple[Enquiry, ...] = ()
    total: int = 0
    by_stage: Mapping[str, int] = field(default_factory=dict)
    alike: Mapping[str, Alike] = field(default_factory=dict)
    unreadable: tuple[Unreadable, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class CaughtUp:
    """What an index took over from the folders.

    Attributes
    ----------
    read, gone : int
        Job folders read anew, and those that are there no more.
    """

    read: int
    gone: int


@dataclass(frozen=True, slots=True, kw_only=True)
class VersionKept:
    """A version of a job with a price, as the index has it.

    Attributes
    ----------
    job : str
    number : int
    made : str
        When, ISO 8601 in UTC.
    sha256 : str
        Of its closed file.
    quantity : int
        The least that was asked.
    each, currency : str
        Likely price of a piece at that quantity.
    """

    job: str
    number: int
    made: str
    sha256: str
    quantity: int
    each: str
    currency: str


@dataclass(frozen=True, slots=True, kw_only=True)
class QuotesKept:
    """Versions with a price.

    Attributes
    ----------
    quotes : tuple of VersionKept
    total : int
        How many there are, with those that were not wanted.
    """

    quotes: tuple[VersionKept, ...]
    total: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Holder:
    """Where a file belongs.

    Attributes
    ----------
    job : str
    number : int
        Of the version.
    name : str
        Of the file in it.
    """

    job: str
    number: int
    name: str
