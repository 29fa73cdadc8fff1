"""The last few things that were made, so that a second look need not make them again."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable
from typing import Generic, TypeVar

_Key = TypeVar("_Key", bound=Hashable)
_Made = TypeVar("_Made")


class Recent(Generic[_Key, _Made]):
    """Results by what they were made from; the one that was asked for longest ago goes first.

    Parameters
    ----------
    most : int
        How many are kept.
    """

    def __init__(self, most: int) -> None:
        self._most = most
        self._kept: OrderedDict[_Key, _Made] = OrderedDict()

    def once(self, key: _Key, make: Callable[[], _Made]) -> _Made:
        """Return what was made for a key, making it if it is new or forgotten.

        Parameters
        ----------
        key : hashable
            All that the result follows from.
        make : callable
        """
        if key not in self._kept:
            self._kept[key] = make()
        self._kept.move_to_end(key)
        while len(self._kept) > self._most:
            self._kept.popitem(last=False)
        return self._kept[key]

    def clear(self) -> None:
        """Forget everything."""
        self._kept.clear()
