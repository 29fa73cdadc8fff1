"""What several plans of one part have in common, worked out once."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from typing import Any, TypeVar

_Made = TypeVar("_Made")


class Memory:
    """Results by what they were made from, for plans that differ in little.

    One memory serves plans of one part by the same material, machine, tables and rules, as the
    alternatives of a what-if are; wire, height, demands and the shape of single contours may
    differ.  It keeps all it was given until it is dropped.

    Parameters
    ----------
    shapes : Memory, optional
        What follows from contours, offsets and rules alone, which plans by other materials and
        machines have in common too; without it the memory keeps that by itself.
    """

    def __init__(self, shapes: Memory | None = None) -> None:
        self._kept: dict[Hashable, Any] = {}
        self._shapes = shapes

    @property
    def shapes(self) -> Memory:
        """Where lines are kept that know neither material nor machine."""
        return self if self._shapes is None else self._shapes

    def once(self, make: Callable[[], _Made], *key: Hashable) -> _Made:
        """Return what was made for a key, making it if it is new.

        Parameters
        ----------
        make : callable
        *key : hashable
            All that the result follows from, beyond what is common to the plans.
        """
        if key not in self._kept:
            self._kept[key] = make()
        kept: _Made = self._kept[key]
        return kept
