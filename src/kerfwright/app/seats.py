"""Who may do what: seats of a shop, their roles, and what each role may do.

One table for everything: the addresses of the server are held to it, and the documents print it.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from kerfwright.foundation.errors import InputError

LEAST_PASSWORD: Final = 12
"""Letters of a password at least; of its kind of letters nothing is asked.  Common practice, no
source."""
_MOST_PASSWORD: Final = 1000
"""More is no password but a try to keep the server busy."""
_NAME: Final = re.compile(r"[a-z0-9](?:[a-z0-9._-]{0,38}[a-z0-9])?")
_MOST_CUSTOMER: Final = 120


class Role(StrEnum):
    """What somebody is in the shop."""

    OWNER = "owner"
    ESTIMATOR = "estimator"
    PROGRAMMER = "programmer"
    ATTENDANT = "attendant"
    GUEST = "guest"


class Right(StrEnum):
    """What may be done; the value says it in words."""

    LOG_IN = "log in"
    OWN_SEAT = "log out, change the own password"
    SEE = "see jobs, their prices and reasons, and the shop's tables"
    ASK = "add jobs, change what is asked, compute and prove, compare demands"
    PAPERS = "make and fetch quotes and papers"
    PROGRAM = "fetch programs and the files beside them"
    CUTS = "record measured cuts"
    MARK = "mark what is done of the week, and that a machine stands"
    NUMBERS = "see the numbers of the shop"
    TABLES = "change the shop's tables"
    REMOVE = "take jobs off the list and bring them back"
    DELETE = "delete for good"
    SEATS = "say who may log in, and as what"
    AUDIT = "read and export who did what"
    OWN_QUOTES = "see the quotes of the own firm only"


_ALL: Final = frozenset({Right.LOG_IN, Right.OWN_SEAT})
_HOUSE: Final = _ALL | {Right.SEE, Right.MARK}
MAY: Final = {
    Role.OWNER: frozenset(Right) - {Right.OWN_QUOTES},
    Role.ESTIMATOR: _HOUSE | {Right.ASK, Right.PAPERS, Right.REMOVE, Right.NUMBERS},
    Role.PROGRAMMER: _HOUSE | {Right.ASK, Right.PAPERS, Right.PROGRAM, Right.CUTS, Right.REMOVE},
    Role.ATTENDANT: _HOUSE | {Right.PROGRAM, Right.CUTS},
    Role.GUEST: _ALL | {Right.OWN_QUOTES},
}
"""What each role may do; whatever is not named is refused."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Seat:
    """Somebody who may log in.

    Attributes
    ----------
    name : str
    role : Role
    customer : str
        Of a guest: the firm whose quotes are shown, as the line *Customer* of its jobs has it.
    added : str
        When, ISO 8601 in UTC.
    """

    name: str
    role: Role
    customer: str = ""
    added: str = ""

    def may(self, right: Right) -> bool:
        """Return whether the role of this seat may do something."""
        return right in MAY[self.role]


def checked_seat(name: str, role: Role, customer: str = "") -> Seat:
    """Return a new seat.

    Raises
    ------
    InputError
        Codes ``seat-name``, ``seat-customer``.

    Examples
    --------
    >>> checked_seat("Ada", Role.GUEST, " Tower  Clocks ").customer
    'Tower Clocks'
    """
    plain = name.strip().casefold()
    if not _NAME.fullmatch(plain):
        raise InputError(
            f"{name!r} cannot be the name of a seat",
            code="seat-name",
            remedy="Take 1 to 40 letters a to z, digits, and . _ - between them.",
        )
    firm = firm_of(customer)
    if (role is Role.GUEST) != bool(firm) or len(firm) > _MOST_CUSTOMER:
        raise InputError(
            "a guest has a customer, of at most 120 letters, and nobody else has one",
            code="seat-customer",
            remedy="Name the firm as the line Customer of its jobs does.",
        )
    return Seat(name=plain, role=role, customer=firm)


def firm_of(customer: str) -> str:
    """Return the name of a firm with single spaces only."""
    return " ".join(customer.split())


def is_of_firm(customer: str, asked: str) -> bool:
    """Return whether the customer of a job is a firm; capital letters and spaces count nothing.

    >>> is_of_firm("Tower Clocks", "tower  clocks "), is_of_firm("Tower", "Tower Clocks")
    (True, False)
    """
    firm = firm_of(customer).casefold()
    return bool(firm) and firm == firm_of(asked).casefold()


def check_password(password: str, *, name: str) -> None:
    """Refuse a password that is easily guessed.

    Raises
    ------
    InputError
        Code ``password-weak``.
    """
    is_one_letter = len(set(password)) < LEAST_PASSWORD // 3
    if (
        not LEAST_PASSWORD <= len(password) <= _MOST_PASSWORD
        or is_one_letter
        or name.casefold() in {password.casefold(), password.casefold()[::-1]}
    ):
        raise InputError(
            f"a password has at least {LEAST_PASSWORD} letters, not few alike, and is no name",
            code="password-weak",
            remedy="Four words that do not belong together are one that can be kept in mind.",
        )
