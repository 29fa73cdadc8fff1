"""Pieces of path of a leaning wire: positions in two planes, joined to moves."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from kerfwright.geometry.segments import Floats
from kerfwright.geometry.wire_line import WireLoop
from kerfwright.motion.moves import Moves, Purpose

_SAME_MM = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LeanRun:
    """Wire positions one after the other.

    Attributes
    ----------
    places : (n, 2, 2) float
        Position, plane (first, second), x and y; mm.
    purpose : Purpose
        Of all the moves between them.
    """

    places: Floats
    purpose: Purpose

    def reversed(self) -> LeanRun:
        """Return the run travelled the other way."""
        return LeanRun(places=self.places[::-1], purpose=self.purpose)

    def but_for(self, purpose: Purpose) -> LeanRun:
        """Return the same run for another purpose."""
        return LeanRun(places=self.places, purpose=purpose)


def upright(point: Floats) -> Floats:
    """Return the position of an upright wire, (2, 2) mm."""
    return np.stack([point, point])


def through(places: Sequence[Floats], *, purpose: Purpose) -> LeanRun:
    """Return straight moves through positions; repeated ones are left out."""
    kept = [places[0]]
    for place in places[1:]:
        if np.abs(place - kept[-1]).max() > _SAME_MM:
            kept.append(place)
    return LeanRun(places=np.array(kept), purpose=purpose)


def joined(runs: Sequence[LeanRun], *, feeds: dict[Purpose, float]) -> Moves:
    """Return the moves of runs that follow each other, with a feed by purpose.

    Raises
    ------
    AssertionError
        If a run does not begin where the one before ends.
    """
    runs = [run for run in runs if len(run.places) > 1]
    for before, after in itertools.pairwise(runs):
        assert np.abs(after.places[0] - before.places[-1]).max() <= _SAME_MM
    ends = np.concatenate([run.places[1:] for run in runs])
    purpose = np.concatenate(
        [np.full(len(run.places) - 1, run.purpose, dtype=np.int8) for run in runs]
    )
    table = np.zeros(max(Purpose) + 1)
    for key, feed in feeds.items():
        table[key] = feed
    return Moves(
        start_mm=runs[0].places[0, 0],
        end_mm=ends[:, 0],
        centre_mm=np.zeros_like(ends[:, 0]),
        turn=np.zeros(len(ends), dtype=np.int8),
        purpose=purpose,
        feed_mm_per_min=table[purpose],
        second_start_mm=runs[0].places[0, 1],
        second_end_mm=ends[:, 1],
    )


class LeanTrack:
    """A loop of wire positions with the length along it at one height.

    Parameters
    ----------
    loop : WireLoop
    height_mm : float
        Height at which length counts.
    """

    def __init__(self, loop: WireLoop, height_mm: float) -> None:
        self.loop = loop
        self.height_mm = height_mm

    @cached_property
    def _places(self) -> Floats:
        places = np.stack([self.loop.lower, self.loop.upper], axis=1)
        return np.concatenate([places, places[:1]])

    @cached_property
    def _points(self) -> Floats:
        points = self.loop.at(self.height_mm)
        return np.vstack([points, points[:1]])

    @cached_property
    def _stations(self) -> Floats:
        # Where the wire turns about a point of this height it still goes on: both planes count.
        step = np.hypot(*np.diff(self._points, axis=0).T)
        swing = np.abs(np.diff(self._places, axis=0)).max(axis=(1, 2))
        return np.concatenate([[0.0], np.cumsum(np.maximum(step, swing * _SWING))])

    @property
    def length_mm(self) -> float:
        """Length once round."""
        return float(self._stations[-1])

    def nearest(self, point: Floats) -> float:
        """Return the length from the start of the loop to the position nearest to a point."""
        begin, along = self._points[:-1], np.diff(self._points, axis=0)
        square = np.maximum((along * along).sum(axis=1), np.finfo(float).tiny)
        share = np.clip(((point - begin) * along).sum(axis=1) / square, 0.0, 1.0)
        away = np.hypot(*(begin + along * share[:, None] - point).T)
        k = int(np.argmin(away))
        return float(self._stations[k] + share[k] * (self._stations[k + 1] - self._stations[k]))

    def at(self, station_mm: float) -> Floats:
        """Return the position at a length, (2, 2) mm."""
        station = station_mm % self.length_mm
        k = int(np.searchsorted(self._stations, station, side="right")) - 1
        k = min(max(k, 0), len(self._stations) - 2)
        step = self._stations[k + 1] - self._stations[k]
        share = (station - self._stations[k]) / step if step > 0 else 0.0
        place: Floats = self._places[k] + (self._places[k + 1] - self._places[k]) * share
        return place

    def along(self, begin_mm: float, length_mm: float, *, purpose: Purpose) -> LeanRun:
        """Return the run forwards from one length over another, at most once round."""
        begin = begin_mm % self.length_mm
        end = begin + length_mm
        every = self._stations[:-1]
        inner: NDArray[np.float64] = np.concatenate([every, every + self.length_mm])
        places = np.concatenate([self._places[:-1], self._places[:-1]])
        between = (inner > begin + _SAME_MM) & (inner < end - _SAME_MM)
        return through([self.at(begin), *places[between], self.at(end)], purpose=purpose)

    def way(self, begin_mm: float, end_mm: float, *, purpose: Purpose) -> LeanRun:
        """Return the shorter way round from one length to another."""
        ahead = (end_mm - begin_mm) % self.length_mm
        if ahead <= self.length_mm / 2:
            return self.along(begin_mm, ahead, purpose=purpose)
        return self.along(end_mm, self.length_mm - ahead, purpose=purpose).reversed()


_SWING = 1e-3
"""Of a swing about a point at the height where length counts, this share counts as length."""
