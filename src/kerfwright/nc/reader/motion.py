"""Turn the words of consecutive moves into ends and centres, all moves at once."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from kerfwright.trade.machine import ArcForm
from kerfwright.trade.part import LengthUnit

Floats = NDArray[np.float64]
Codes = NDArray[np.int8]
Flags = NDArray[np.bool_]
Integers = NDArray[np.int64]

MM_PER_UNIT = {LengthUnit.MILLIMETRE: 1.0, LengthUnit.INCH: 25.4}

RADIUS_LIMIT = {LengthUnit.MILLIMETRE: 0.002, LengthUnit.INCH: 0.0002}
"""Largest difference of the two radii of an arc in program units (NISTIR 6556, from memory)."""

_RAPID, _LINE, _CLOCKWISE, _COUNTER = 0.0, 1.0, 2.0, 3.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MoveWords:
    """Numbers of the words G X Y U V I J R F of n moves, nan where a word is absent."""

    g: Floats
    x: Floats
    y: Floats
    u: Floats
    v: Floats
    i: Floats
    j: Floats
    r: Floats
    f: Floats


@dataclass(slots=True, kw_only=True)
class MotionState:
    """The modal state that moves depend on; lengths in program units.

    Attributes
    ----------
    motion : float
        0 to 3 for G00 to G03, nan before the first.
    feed_per_min : float
        Units per minute, nan before the first F.
    x, y, u, v : float
    has_planes : bool
        Whether the heights of the two planes are set.
    offset_is_on : bool
    is_absolute : bool
        G90 rather than G91.
    is_threaded : bool
    """

    motion: float = float("nan")
    feed_per_min: float = float("nan")
    x: float = 0.0
    y: float = 0.0
    u: float = 0.0
    v: float = 0.0
    has_planes: bool = False
    offset_is_on: bool = False
    is_absolute: bool = True
    is_threaded: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """A rule broken by one move.

    Attributes
    ----------
    move : int
        Index among the moves looked at.
    code, message : str
    letters : str
        Letters of the words to point at, best first.
    """

    move: int
    code: str
    message: str
    letters: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Resolved:
    """Moves in millimetres; the lean is U V."""

    start: Floats
    end: Floats
    start_lean: Floats
    end_lean: Floats
    centre: Floats
    turn: Codes
    is_rapid: Codes
    feed: Floats


@dataclass(slots=True, kw_only=True)
class _Faults:
    found: list[Fault] = field(default_factory=list)

    def add(self, where: Flags, code: str, message: str, letters: str) -> None:
        if where.any():
            move = int(np.flatnonzero(where)[0])
            self.found.append(Fault(move=move, code=code, message=message, letters=letters))


def resolve(
    words: MoveWords, state: MotionState, *, unit: LengthUnit, arc_form: ArcForm
) -> Resolved | Fault:
    """Apply modal rules to moves, in order; advance `state`.

    Returns
    -------
    Resolved or Fault
        The moves, or the fault of the first one that breaks a rule; `state` then stays as it was.
    """
    faults = _Faults()
    motion = _carry(words.g, state.motion)
    feed = _carry(words.f, state.feed_per_min)
    if state.is_absolute:
        x, y = _carry(words.x, state.x), _carry(words.y, state.y)
        u, v = _carry(words.u, state.u), _carry(words.v, state.v)
    else:
        x = state.x + np.cumsum(np.nan_to_num(words.x))
        y = state.y + np.cumsum(np.nan_to_num(words.y))
        u = state.u + np.cumsum(np.nan_to_num(words.u))
        v = state.v + np.cumsum(np.nan_to_num(words.v))
    end = np.stack([x, y], axis=1)
    lean = np.stack([u, v], axis=1)
    start_lean = np.vstack([[[state.u, state.v]], lean[:-1]])
    start = np.vstack([[[state.x, state.y]], end[:-1]])
    is_rapid = motion == _RAPID
    is_arc = motion >= _CLOCKWISE
    _check_words(faults, words, motion, feed, state)
    _check_lean(faults, words, motion, lean, state)
    turn = np.where(motion == _CLOCKWISE, -1, np.where(motion == _COUNTER, 1, 0)).astype(np.int8)
    centre = np.zeros_like(end)
    if is_arc.any():
        centre = _centres(faults, words, start, end, turn, unit, arc_form)
    if faults.found:
        # Of several faults of one move the one found first says most.
        return min(faults.found, key=lambda fault: fault.move)
    state.motion, state.feed_per_min = float(motion[-1]), float(feed[-1])
    state.x, state.y = float(x[-1]), float(y[-1])
    state.u, state.v = float(u[-1]), float(v[-1])
    scale = MM_PER_UNIT[unit]
    return Resolved(
        start=start * scale,
        end=end * scale,
        start_lean=start_lean * scale,
        end_lean=lean * scale,
        centre=np.where(is_arc[:, None], centre, 0.0) * scale,
        turn=turn,
        is_rapid=is_rapid.astype(np.int8),
        feed=np.where(is_rapid, 0.0, feed * scale),
    )


def _carry(values: Floats, before: float) -> Floats:
    """Fill each nan with the value before it."""
    index = np.where(np.isnan(values), 0, np.arange(1, len(values) + 1))
    filled: Floats = np.append(before, values)[np.maximum.accumulate(index)]
    return filled


def _check_words(
    faults: _Faults, words: MoveWords, motion: Floats, feed: Floats, state: MotionState
) -> None:
    faults.add(np.isnan(motion), "motion-missing", "a move before any of G00 to G03", "XY")
    faults.add(words.f <= 0, "feed-value", "a feed must be above 0", "F")
    if state.is_threaded:
        faults.add(
            motion == _RAPID, "rapid-while-threaded", "a rapid would drag the threaded wire", "GXY"
        )
    else:
        faults.add(
            motion >= _LINE, "wire-not-threaded", "a feed move before the wire is threaded", "GXY"
        )
    faults.add(
        (motion >= _LINE) & np.isnan(feed), "feed-missing", "a feed move before any F", "GXY"
    )
    is_arc = motion >= _CLOCKWISE
    for letter, values in (("I", words.i), ("J", words.j), ("R", words.r)):
        faults.add(
            ~is_arc & ~np.isnan(values),
            "centre-without-arc",
            f"{letter} stands only with G02 and G03",
            letter,
        )
    faults.add(
        is_arc & np.isnan(words.x) & np.isnan(words.y),
        "arc-end-missing",
        "an arc needs X or Y",
        "GIJR",
    )


def _check_lean(
    faults: _Faults, words: MoveWords, motion: Floats, lean: Floats, state: MotionState
) -> None:
    has_uv = ~np.isnan(words.u) | ~np.isnan(words.v)
    if not has_uv.any() and not lean.any():
        return
    if not state.has_planes:
        faults.add(
            has_uv, "planes-unknown", "U and V before the heights of their planes are set", "UV"
        )
    leans = (lean != 0).any(axis=1) | has_uv
    faults.add(
        leans & (motion >= _CLOCKWISE), "arc-leans", "a leaning wire makes straight moves only", "G"
    )
    if state.offset_is_on:
        faults.add(leans, "offset-leans", "a leaning wire while the offset is on", "UVXY")


def _centres(
    faults: _Faults,
    words: MoveWords,
    start: Floats,
    end: Floats,
    turn: Codes,
    unit: LengthUnit,
    arc_form: ArcForm,
) -> Floats:
    is_arc = turn != 0
    ij = np.stack([words.i, words.j], axis=1)
    has_ij = ~np.isnan(ij)
    has_r = ~np.isnan(words.r)
    if arc_form is ArcForm.RADIUS:
        faults.add(
            is_arc & has_ij.any(axis=1), "arc-form", "this machine's arcs take R, not I and J", "IJ"
        )
        faults.add(is_arc & ~has_r, "arc-centre-missing", "an arc needs R", "GXY")
        return _centres_from_radius(faults, words.r, start, end, turn, unit)
    faults.add(is_arc & has_r, "arc-form", "this machine's arcs take I and J, not R", "R")
    if arc_form is ArcForm.ABSOLUTE_IJ:
        faults.add(
            is_arc & ~has_ij.all(axis=1), "arc-centre-missing", "an arc needs I and J", "GXY"
        )
        centre = np.nan_to_num(ij)
    else:
        faults.add(is_arc & ~has_ij.any(axis=1), "arc-centre-missing", "an arc needs I or J", "GXY")
        centre = start + np.nan_to_num(ij)
    first, last = np.hypot(*(start - centre).T), np.hypot(*(end - centre).T)
    known = is_arc & has_ij.any(axis=1)
    faults.add(known & (first == 0), "arc-radius-zero", "the centre is the start point", "IJ")
    excess = np.where(known, np.abs(first - last), 0.0)
    limit = RADIUS_LIMIT[unit]
    wrong = excess > limit
    if wrong.any():
        which = int(np.flatnonzero(wrong)[0])
        faults.add(
            wrong,
            "arc-radius-mismatch",
            f"the radii at the ends of the arc are {first[which]:.6f} and {last[which]:.6f}"
            f" {unit}, which differ by {excess[which]:.6f}; the limit is {limit} {unit}",
            "IJXY",
        )
    return centre


def _centres_from_radius(
    faults: _Faults, radius: Floats, start: Floats, end: Floats, turn: Codes, unit: LengthUnit
) -> Floats:
    is_arc = (turn != 0) & ~np.isnan(radius)
    chord = end - start
    half = np.hypot(*chord.T) / 2
    faults.add(
        is_arc & (half == 0),
        "arc-radius-full-circle",
        "the R form has no full circle: its ends coincide",
        "XY",
    )
    size = np.abs(radius)
    limit = RADIUS_LIMIT[unit]
    short = is_arc & (half - size > limit)
    if short.any():
        which = int(np.flatnonzero(short)[0])
        faults.add(
            short,
            "arc-radius-short",
            f"R is {size[which]:.6f} {unit}, but half the chord is {half[which]:.6f} {unit}",
            "R",
        )
    # A negative R is the arc above 180°: its centre lies on the other side of the chord.
    side = turn * np.where(radius < 0, -1.0, 1.0)
    rise = np.sqrt(np.maximum(np.nan_to_num(size) ** 2 - half**2, 0.0)) * side
    normal = np.stack([-chord[:, 1], chord[:, 0]], axis=1)
    unit_normal = normal / np.maximum(2 * half, np.finfo(np.float64).tiny)[:, None]
    centre: Floats = (start + end) / 2 + unit_normal * rise[:, None]
    return centre
