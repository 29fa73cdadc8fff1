"""From a kept job to a load for the machines: its strip cut into moments and stretches."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from kerfwright.app.records import JobResult
from kerfwright.app.strip import Stretch, StretchKind, Strip
from kerfwright.costing.breaks import WIRE_BREAKS
from kerfwright.costing.records import Estimate, TimeKind
from kerfwright.foundation.ranges import Range
from kerfwright.foundation.units import mass_text
from kerfwright.planning.plan import Plan
from kerfwright.scheduling.records import Load, Need, Stage

_OPERATIONS: Final[Mapping[StretchKind, tuple[str, ...]]] = {
    StretchKind.SET_UP: ("set-up",),
    StretchKind.LOADING: ("loading",),
    StretchKind.THREADING: ("threading",),
    StretchKind.ROUGH: ("rough pass", "coreless rough pass"),
    StretchKind.CUT_OFF: ("cut-off",),
    StretchKind.STOP: ("attended stops",),
}
"""Lines of the estimate that give the range of a stretch; skims are found by their pass."""
_AFTER: Final = ("removal", "inspection")
"""What is done on the bench between the last cut and the customer."""
_MOST_NAMED: Final = 8
_CUTS: Final = (StretchKind.ROUGH, StretchKind.CUT_OFF, StretchKind.SKIM)


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """What the shop says of a job beside its drawing.

    Attributes
    ----------
    id : str
    quantity : int
        Pieces.
    ready_min : int
    importance : int
    fixture : str
    machines, after : tuple of str
    """

    id: str
    quantity: int
    ready_min: int = 0
    importance: int = 1
    fixture: str = ""
    machines: tuple[str, ...] = ()
    after: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Splitting:
    """How a job is cut into moments and stretches.

    Attributes
    ----------
    least_alone_min : float
        Nobody walks away for less.
    longest_moment_min : int
        A moment that is kept longer is done in parts: somebody goes home in between.
    share_in_time : float
        Quantile at which minutes are kept.
    hand_share : float
        Share of wire breaks that want a hand.
    """

    least_alone_min: float
    longest_moment_min: int
    share_in_time: float
    hand_share: float


def load_of(result: JobResult, strip: Strip, wish: Wish, *, splitting: Splitting) -> Load:
    """Return a job as a load for the machines.

    The set-up comes once, loading and all cuts for every piece, or for every stack of them.
    Ranges are those of the lines of the estimate; within a stage they add end by end.  Wire breaks
    that want a hand are spread over the time that the machine cuts alone.

    Parameters
    ----------
    result : JobResult
        With an estimate.
    strip : Strip
        Of one piece.
    wish : Wish
    splitting : Splitting
    """
    estimate, plan = result.estimate, result.plan
    assert estimate is not None
    times = -(-wish.quantity // estimate.pieces_each)
    ranges = _Ranges(estimate)
    again = [s for s in strip.stretches if s.kind is not StretchKind.SET_UP]
    every = [*strip.stretches, *(s for _ in range(times - 1) for s in again)]
    alone = sum(s.minutes for s in strip.stretches if _cuts_alone(s))
    per_min = splitting.hand_share * _breaks(estimate) / alone if alone else 0.0
    stages = [
        _stage(run, plan=plan, ranges=ranges, per_min=per_min)
        for run in _runs(every, least_alone_min=splitting.least_alone_min)
    ]
    machine, walls = plan.requirement.machine, result.lean.walls.values() if result.lean else ()
    return Load(
        id=wish.id,
        name=result.part.name,
        stages=tuple(part for stage in stages for part in _in_parts(stage, splitting)),
        ready_min=wish.ready_min,
        importance=wish.importance,
        need=Need(
            definition=machine.id,
            height_mm=plan.height_mm,
            angle_deg=max((math.degrees(w.lean_rad) for w in walls), default=None),
            wire_mm=plan.choice.wire.diameter_mm,
        ),
        fixture=wish.fixture,
        machines=wish.machines,
        after=wish.after,
    )


def bench_min(result: JobResult, quantity: int) -> float:
    """Return the likely minutes from the last cut of a job to its parts being ready.

    Parameters
    ----------
    result : JobResult
    quantity : int
        Pieces.
    """
    estimate = result.estimate
    assert estimate is not None
    times = -(-quantity // estimate.pieces_each)
    return sum(
        line.minutes.likely * (times if line.per_piece else 1)
        for line in estimate.times
        if line.kind is TimeKind.BENCH and line.operation in _AFTER
    )


def _cuts_alone(stretch: Stretch) -> bool:
    return stretch.kind in _CUTS and not stretch.is_attended


def _breaks(estimate: Estimate) -> float:
    """Return the mean of the wire breaks in one piece."""
    for reason in estimate.reasons:
        if reason.quantity == WIRE_BREAKS:
            return float(dict(reason.inputs)["mean"])
    return 0.0


class _Ranges:
    """Ranges of stretches by the lines of an estimate."""

    def __init__(self, estimate: Estimate) -> None:
        self._by_operation = {t.operation: t.minutes for t in estimate.times}
        self._by_pass = {
            t.pass_number: t.minutes for t in estimate.times if t.pass_number is not None
        }

    def of(self, stretch: Stretch) -> Range:
        """Return the range of a stretch: as wide, as a share, as that of its line."""
        line = self._line(stretch)
        if line is None or line.likely <= 0:
            return Range.exact(stretch.minutes)
        return Range(
            low=stretch.minutes * line.low / line.likely,
            likely=stretch.minutes,
            high=stretch.minutes * line.high / line.likely,
        )

    def _line(self, stretch: Stretch) -> Range | None:
        for name in _OPERATIONS.get(stretch.kind, ()):
            if name in self._by_operation:
                return self._by_operation[name]
        if stretch.kind in _CUTS and stretch.pass_number is not None:
            return self._by_pass.get(stretch.pass_number)
        return None


def _runs(stretches: Iterable[Stretch], *, least_alone_min: float) -> list[list[Stretch]]:
    """Group stretches that follow each other with or without somebody there.

    A stretch between two moments that is too short to walk away joins them.
    """
    runs: list[list[Stretch]] = []
    for one in stretches:
        if runs and runs[-1][-1].is_attended == one.is_attended:
            runs[-1].append(one)
        else:
            runs.append([one])
    found: list[tuple[bool, list[Stretch]]] = []
    for run in runs:
        attended = run[0].is_attended or sum(s.minutes for s in run) < least_alone_min
        if found and found[-1][0] == attended:
            found[-1][1].extend(run)
        else:
            found.append((attended, run))
    return [
        [replace(s, is_attended=True) for s in run] if attended else run for attended, run in found
    ]


def _stage(run: Sequence[Stretch], *, plan: Plan, ranges: _Ranges, per_min: float) -> Stage:
    minutes = ranges.of(run[0])
    for one in run[1:]:
        minutes = minutes + ranges.of(one)
    is_attended = run[0].is_attended
    kinds = dict.fromkeys(s.kind for s in run)
    return Stage(
        name=_name(kinds, is_attended=is_attended),
        minutes=minutes,
        is_attended=is_attended,
        does=_does(run, plan) if is_attended else "",
        cautions=_cautions(run) if is_attended else (),
        breaks=0.0 if is_attended else per_min * sum(s.minutes for s in run if _cuts_alone(s)),
    )


def _name(kinds: Iterable[StretchKind], *, is_attended: bool) -> str:
    """Say what a stage is: its cuts where it runs alone, what people do where they are there."""
    cuts = [k for k in kinds if k in _CUTS]
    if not is_attended:
        return " and ".join(cuts) or "threading"
    if StretchKind.SET_UP in kinds:
        return "set-up"
    if StretchKind.LOADING in kinds:
        return "next piece"
    if StretchKind.CUT_OFF in kinds or StretchKind.STOP in kinds:
        return "slugs and cut-offs"
    return "threading" if StretchKind.THREADING in kinds else " and ".join(cuts)


def _does(run: Sequence[Stretch], plan: Plan) -> str:
    """Say what people do in a moment, in the order in which they do it."""
    kinds = {s.kind for s in run}
    freed = dict.fromkeys(s.contour_id for s in run if s.kind is StretchKind.CUT_OFF)
    said = ["clamp, square, pick up"] if StretchKind.SET_UP in kinds else []
    # A piece that is cut out comes before the next one goes on.
    out = [text for is_part in (False, True) if (text := _freed(freed, plan, is_part=is_part))]
    load = ["load the piece"] if StretchKind.LOADING in kinds else []
    first_is_load = next(
        (s.kind for s in run if s.kind in (StretchKind.LOADING, StretchKind.CUT_OFF)), None
    )
    said += load + out if first_is_load is StretchKind.LOADING else out + load
    if any(s.kind is StretchKind.THREADING and s.instruction for s in run):
        said.append("thread the wire by hand")
    return "; ".join(said) or "stand by"


def _freed(ids: Iterable[str | None], plan: Plan, *, is_part: bool) -> str:
    """Say which slugs or parts are cut off and taken out, and how heavy they are."""
    by_id = {c.target.id: c.slug for c in plan.contours}
    here = [n for n in ids if n in by_id and by_id[n].is_part is is_part]
    if not here:
        return ""
    named = ", ".join(here[:_MOST_NAMED])
    if len(here) > _MOST_NAMED:
        named += f" and {len(here) - _MOST_NAMED} more"
    what = ("part" if is_part else "slug") + "s" * (len(here) > 1)
    heaviest = mass_text(max(by_id[n].mass_kg for n in here))
    return f"{what} {named} off and out ({'up to ' * (len(here) > 1)}{heaviest})"


def _cautions(run: Sequence[Stretch]) -> tuple[str, ...]:
    """Return what can hurt somebody in a moment."""
    kinds = {s.kind for s in run}
    found = []
    if StretchKind.CUT_OFF in kinds:
        found.append("what comes free falls, tips or jams: support it, hands out while it cuts")
    if kinds & {StretchKind.THREADING, StretchKind.SET_UP, StretchKind.LOADING}:
        found.append("generator off before hands go in; eye protection at the wire")
    return tuple(found)


def _in_parts(stage: Stage, splitting: Splitting) -> tuple[Stage, ...]:
    """Split a moment that is longer than anybody is there at a time."""
    kept = stage.planned_min(splitting.share_in_time)
    if not stage.is_attended or kept <= splitting.longest_moment_min:
        return (stage,)
    count = -(-kept // max(1, splitting.longest_moment_min))
    part = replace(stage, minutes=stage.minutes * (1 / count))
    return tuple(replace(part, name=f"{stage.name} {n} of {count}") for n in range(1, count + 1))
