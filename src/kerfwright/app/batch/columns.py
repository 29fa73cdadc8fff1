"""Which column of a row cannot be used: the texts are tried one by one."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from kerfwright.foundation.errors import KerfwrightError

Read = Callable[[Mapping[str, Any]], object]
"""Reads what is asked of a job, without its drawing; raises what is wrong with it."""


def fault_of(
    given: Mapping[str, Any], *, usual: Mapping[str, Any], read: Read
) -> tuple[str, KerfwrightError] | None:
    """Return the field that cannot be used and what is wrong with it; None where all can.

    Parameters
    ----------
    given : mapping of str to Any
        What is asked.
    usual : mapping of str to Any
        Values that can be used, for fields without which nothing can be read.
    read : callable

    Notes
    -----
    A field is blamed that is refused beside usual values alone.  Where only two of them together
    cannot be, none is: the field is then empty.
    """
    try:
        read({**usual, **given})
    except KerfwrightError as whole:
        for name, value in given.items():
            try:
                read({**usual, name: value})
            except KerfwrightError as fault:
                return name, fault
        return "", whole
    return None
