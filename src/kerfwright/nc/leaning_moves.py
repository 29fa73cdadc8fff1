"""Round and word the moves of a leaning wire: X Y and U V, straight and together.

Only the writer uses this.  U and V say where the wire passes the second plane, counted from X Y.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kerfwright.foundation.errors import InputError
from kerfwright.motion.moves import Moves

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]
Indices = NDArray[np.intp]

_STILL_DIGITS = 1
"""X and Y that would move by no more than this while U and V move much further stand still: no
feed in X and Y could be written for such a move."""
_MUCH_FURTHER = 50


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RoundedLean:
    """Moves of a leaning wire in whole digits.

    Attributes
    ----------
    start, end : (2,) and (m, 2) int
        Positions in the first plane.
    start_uv, end_uv : (2,) and (m, 2) int
        Positions in the second plane, counted from those in the first.
    source : (m,) int
        Move that each one came from.
    """

    start: Whole
    end: Whole
    start_uv: Whole
    end_uv: Whole
    source: Indices


def round_lean(moves: Moves, *, digits_per_mm: float) -> RoundedLean:
    """Round both points of every position by themselves; drop moves in which neither moves.

    Parameters
    ----------
    moves : Moves
        Of a leaning wire.
    digits_per_mm : float
        Last digits in a millimetre.
    """
    assert moves.second_start_mm is not None
    assert moves.second_end_mm is not None
    first = np.vstack([moves.start_mm[None, :], moves.end_mm])
    second = np.vstack([moves.second_start_mm[None, :], moves.second_end_mm])
    low = np.rint(first * digits_per_mm).astype(np.int64)
    up = np.rint(second * digits_per_mm).astype(np.int64)
    for k in range(1, len(low)):
        step, other = np.abs(low[k] - low[k - 1]).max(), np.abs(up[k] - up[k - 1]).max()
        if 0 < step <= _STILL_DIGITS and other > _MUCH_FURTHER * step:
            low[k] = low[k - 1]
    moved = (low[1:] != low[:-1]).any(axis=1) | (up[1:] != up[:-1]).any(axis=1)
    return RoundedLean(
        start=low[0],
        end=low[1:][moved],
        start_uv=up[0] - low[0],
        end_uv=(up - low)[1:][moved],
        source=np.flatnonzero(moved),
    )


def lean_feeds(moves: Moves, rounded: RoundedLean) -> Floats:
    """Return the feed to be programmed for each move, (m,) mm/min.

    The feed of a move is that half way between the planes.  F counts along X Y, or along U V
    where X and Y stand still (the rule of the open RS-274 dialect with U V W axes, from memory),
    so it is the feed times the length in X Y, or U V, over the length half way up.

    Parameters
    ----------
    moves : Moves
    rounded : RoundedLean
    """
    low = np.diff(np.vstack([rounded.start[None, :], rounded.end]), axis=0).astype(np.float64)
    uv = np.diff(np.vstack([rounded.start_uv[None, :], rounded.end_uv]), axis=0).astype(np.float64)
    along, other = np.hypot(*low.T), np.hypot(*uv.T)
    middle = np.hypot(*(low + uv / 2).T)
    counted = np.where(along > 0, along, other)
    # A wire that swings about its own middle goes nowhere half way up: as fast as its ends.
    middle = np.maximum(middle, other / 2)
    result: Floats = moves.feed_mm_per_min[rounded.source] * counted / middle
    return result


def lean_words(
    rounded: RoundedLean, feed: Floats, *, decimals: int, feed_decimals: int
) -> list[str]:
    """Return the blocks of a cut; every number of a position stands in every block.

    Parameters
    ----------
    rounded : RoundedLean
    feed : (m,) float
        In units a minute, rounded.
    decimals, feed_decimals : int
    """
    table = np.column_stack([rounded.end, rounded.end_uv]) / 10.0**decimals
    n = f"%.{decimals}f"
    new_feed = np.append(True, feed[1:] != feed[:-1])
    blocks = []
    for k, (row, is_new) in enumerate(zip(table.tolist(), new_feed.tolist(), strict=True)):
        text = f"X{n} Y{n} U{n} V{n}" % tuple(row)
        blocks.append(text + (f" F{feed[k]:.{feed_decimals}f}" if is_new else ""))
    blocks[0] = f"G01 {blocks[0]}"
    return blocks


def check_lean(moves: Moves, name: str) -> None:
    """Refuse positions that are not finite."""
    assert moves.second_start_mm is not None
    assert moves.second_end_mm is not None
    points = (moves.start_mm, moves.end_mm, moves.second_start_mm, moves.second_end_mm)
    if not len(moves):
        raise InputError(f"{name} has no moves", code="cut-empty")
    if not all(np.isfinite(p).all() for p in points):
        raise InputError(f"{name} holds a point that is not finite", code="moves-not-finite")
