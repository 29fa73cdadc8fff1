"""Lengths and times of all cuts of a path at once: one by one they cost more than all together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from kerfwright.foundation.errors import InputError
from kerfwright.geometry.segments import Flags, Floats, Indices
from kerfwright.motion.moves import Cut, Purpose, lengths_of_runs_mm


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Tally:
    """What the cuts of a path add up to, each array with one value for each cut.

    Attributes
    ----------
    wall_mm, wall_min : (n,) float
        Along walls and leads, at the feeds of the program.
    return_mm, return_min : (n,) float
        Back through open kerf.
    least_feed_mm_per_min, most_feed_mm_per_min : (n,) float
        Along walls and leads; nan where a cut has none.
    """

    wall_mm: Floats
    wall_min: Floats
    return_mm: Floats
    return_min: Floats
    least_feed_mm_per_min: Floats
    most_feed_mm_per_min: Floats


def tally(cuts: Sequence[Cut], *, idle_mm_per_min: float) -> Tally:
    """Return lengths and times of cuts.

    Parameters
    ----------
    cuts : sequence of Cut
    idle_mm_per_min : float
        Feed of returns that have none of their own.

    Raises
    ------
    InputError
        Code ``feed-missing`` where a move along a wall has no feed.
    """
    counts = [len(cut.moves) for cut in cuts]
    if not sum(counts):
        none = np.zeros(len(cuts))
        return Tally(
            wall_mm=none,
            wall_min=none,
            return_mm=none,
            return_min=none,
            least_feed_mm_per_min=none + np.nan,
            most_feed_mm_per_min=none + np.nan,
        )
    runs = [cut.moves for cut in cuts]
    feeds = np.concatenate([run.feed_mm_per_min for run in runs])
    purpose = np.concatenate([run.purpose for run in runs])
    index = np.repeat(np.arange(len(cuts)), counts)
    length = lengths_of_runs_mm(runs)
    wall = purpose != Purpose.RETURN.value
    _require_feeds(cuts, index, wall, feeds)
    minutes = length / np.where(feeds > 0, feeds, idle_mm_per_min)

    def each(values: Floats, chosen: Flags) -> Floats:
        found: Floats = np.bincount(
            index[chosen], weights=values[chosen], minlength=len(cuts)
        ).astype(np.float64)
        return found

    least, most = np.full(len(cuts), np.nan), np.full(len(cuts), np.nan)
    along, of_cut = feeds[wall], index[wall]
    if len(along):
        begins = np.flatnonzero(np.diff(of_cut, prepend=-1))
        least[of_cut[begins]] = np.minimum.reduceat(along, begins)
        most[of_cut[begins]] = np.maximum.reduceat(along, begins)
    return Tally(
        wall_mm=each(length, wall),
        wall_min=each(minutes, wall),
        return_mm=each(length, ~wall),
        return_min=each(minutes, ~wall),
        least_feed_mm_per_min=least,
        most_feed_mm_per_min=most,
    )


def _require_feeds(
    cuts: Sequence[Cut],
    index: Indices,
    wall: Flags,
    feeds: Floats,
) -> None:
    bad = np.flatnonzero(wall & ~(feeds > 0))
    if not len(bad):
        return
    first = int(bad[0])
    cut = cuts[int(index[first])]
    place = first - int(np.flatnonzero(index == index[first])[0])
    raise InputError(
        f"move {place + 1} of pass {cut.pass_number} has a feed of {feeds[first]:g} mm/min; "
        "it must be above 0",
        code="feed-missing",
        where=f"contour {cut.contour_id}",
    )
