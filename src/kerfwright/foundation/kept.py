"""Results kept by the very records they were made from."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from typing import Any, TypeVar

from kerfwright.foundation.recent import Recent

_Made = TypeVar("_Made")


class Kept:
    """A bounded memory by identity, for records too large or too rich to be hashed.

    Records do not change, so the same one has the same value; one that is equal but not the same
    only costs the work again.  What a result was made from is held beside it, so that no other
    record can come to stand where it stood.

    Parameters
    ----------
    most : int
        Results kept; the one asked for least recently goes first.

    Examples
    --------
    >>> kept, wire, calls = Kept(most=2), ["a record"], []
    >>> [kept.once(lambda: calls.append(1) or len(calls), wire, key=5.0) for _ in range(3)]
    [1, 1, 1]
    >>> kept.once(lambda: calls.append(1) or len(calls), wire, key=6.0)
    2
    """

    def __init__(self, *, most: int) -> None:
        self._recent: Recent[Hashable, tuple[tuple[object, ...], Any]] = Recent(most)

    def once(self, make: Callable[[], _Made], *records: object, key: Hashable = ()) -> _Made:
        """Return what was made for some records and a key, making it if it is new.

        Parameters
        ----------
        make : callable
            Of a result that nobody changes.
        *records : object
            The records that the result follows from, by identity.
        key : hashable
            All else that it follows from, by value.
        """
        where = (tuple(map(id, records)), key)
        made: _Made = self._recent.once(where, lambda: (records, make()))[1]
        return made

    def clear(self) -> None:
        """Forget everything."""
        self._recent.clear()
