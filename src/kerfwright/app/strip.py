"""The time of one job from left to right: who stands by when, and where the wire is.

One piece is followed from set-up to the last cut.  The minutes are those of the estimate, laid
end to end instead of added up by kind.  What broken wires may add is left out: it has no place
in time.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from kerfwright.costing.attendance import watched_cuts
from kerfwright.costing.rates import HumanMinutes
from kerfwright.geometry.segments import Floats, Indices, Segments
from kerfwright.motion.moves import Codes, Cut, CutKind, Purpose, WirePath, lengths_of_runs_mm
from kerfwright.planning.plan import Plan

_SAGITTA_MM = 0.002
"""Arcs are drawn as chords that stay this near to them: below a pixel at any zoom that helps."""
_MOST_CHORDS = 400
"""Chords of one arc, so that a large radius does not flood the page."""


class StretchKind(StrEnum):
    """What happens in one stretch of a job."""

    SET_UP = "set-up"
    LOADING = "loading"
    THREADING = "threading"
    POSITIONING = "positioning"
    ROUGH = "rough"
    CUT_OFF = "cut-off"
    SKIM = "skim"
    STOP = "stop"


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """One stretch of the job.

    Attributes
    ----------
    kind : StretchKind
    is_attended : bool
        Whether a person has to be there.
    begin_min, minutes : float
    cut : int or None
        Position of the cut in the wire path that it belongs to.
    contour_id : str or None
    pass_number : int or None
    instruction : str
        What the attendant does.
    first_point, end_point : int
        Half-open range of points of the wire in :attr:`Strip.wire`; empty where it stands still.
    """

    kind: StretchKind
    is_attended: bool
    begin_min: float
    minutes: float
    cut: int | None = None
    contour_id: str | None = None
    pass_number: int | None = None
    instruction: str = ""
    first_point: int = 0
    end_point: int = 0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Strip:
    """The whole job on the machine, for one piece.

    Attributes
    ----------
    stretches : tuple of Stretch
    wire : (n, 3) float
        Minute, x and y of the wire centre along every cut, mm; between cuts it is not drawn.
    total_min : float
    """

    stretches: tuple[Stretch, ...]
    wire: Floats
    total_min: float


def strip_of(plan: Plan, path: WirePath, *, minutes: HumanMinutes) -> Strip:
    """Lay the job end to end.

    Parameters
    ----------
    plan : Plan
    path : WirePath
    minutes : HumanMinutes
        How long people and threading take.
    """
    machine = plan.requirement.machine
    line = _Line(_wires_of(path.cuts, idle_mm_per_min=machine.idle_speed_mm_per_min))
    line.add(StretchKind.SET_UP, minutes.set_up, attended=True, says="clamp, square, pick up")
    line.add(StretchKind.LOADING, minutes.loading_per_piece, attended=True, says="load the piece")
    thread_min = minutes.threading(by_itself=machine.threads_itself)
    each = zip(path.cuts, path.ways_mm(), watched_cuts(plan, path), strict=True)
    for cut, way_mm, watched in each:
        line.begin(cut)
        if cut.way.stop_before:
            line.stop(minutes.attended_stop, cut.way.stop_before.instruction)
        line.add(StretchKind.POSITIONING, way_mm / machine.idle_speed_mm_per_min)
        if cut.way.stop_after:
            line.stop(minutes.attended_stop, cut.way.stop_after.instruction)
        if cut.threads:
            line.add(
                StretchKind.THREADING,
                thread_min,
                attended=not machine.threads_itself,
                says="" if machine.threads_itself else "thread the wire by hand",
            )
        if cut.stop_before:
            line.stop(minutes.attended_stop, cut.stop_before.instruction)
        line.cut(attended=watched)
        for _, stop in cut.stops_within:
            line.stop(minutes.attended_stop, stop.instruction)
        if cut.stop_after:
            line.stop(minutes.attended_stop, cut.stop_after.instruction)
    return line.strip()


class _Line:
    """Stretches laid one after the other."""

    def __init__(self, wires: Sequence[Floats]) -> None:
        self._of_cuts = wires
        self._now_min = 0.0
        self._stretches: list[Stretch] = []
        self._wire: list[Floats] = []
        self._points = 0
        self._cut: Cut | None = None
        self._count = 0

    def begin(self, cut: Cut) -> None:
        """Lay what follows as belonging to the next cut."""
        self._cut = cut
        self._count += 1

    def add(
        self,
        kind: StretchKind,
        minutes: float,
        *,
        attended: bool = False,
        says: str = "",
        points: int = 0,
    ) -> None:
        if minutes <= 0:
            return
        cut = self._cut
        self._stretches.append(
            Stretch(
                kind=kind,
                is_attended=attended,
                begin_min=self._now_min,
                minutes=minutes,
                cut=self._count - 1 if cut else None,
                contour_id=cut.contour_id if cut else None,
                pass_number=cut.pass_number if cut else None,
                instruction=says,
                first_point=self._points,
                end_point=self._points + points,
            )
        )
        self._points += points
        self._now_min += minutes

    def stop(self, minutes: float, says: str) -> None:
        self.add(StretchKind.STOP, minutes, attended=True, says=says)

    def cut(self, *, attended: bool) -> None:
        cut = self._cut
        if cut is None or not len(cut.moves):
            return
        wire = self._of_cuts[self._count - 1]
        kind = {
            CutKind.ROUGH: StretchKind.ROUGH,
            CutKind.CUT_OFF: StretchKind.CUT_OFF,
            CutKind.SKIM: StretchKind.SKIM,
        }[cut.kind]
        minutes = float(wire[-1, 0])
        wire[:, 0] += self._now_min
        self._wire.append(wire)
        self.add(kind, minutes, attended=attended, points=len(wire))

    def strip(self) -> Strip:
        wire = np.concatenate(self._wire) if self._wire else np.zeros((0, 3))
        wire.setflags(write=False)
        return Strip(stretches=tuple(self._stretches), wire=wire, total_min=self._now_min)


def _wires_of(cuts: Sequence[Cut], *, idle_mm_per_min: float) -> list[Floats]:
    """Return minute, x and y along each cut from its beginning on, arcs as chords.

    All moves of a job at once: a die plate has hundreds of cuts of a dozen moves.
    """
    runs = [cut.moves for cut in cuts if len(cut.moves)]
    if not runs:
        return [np.zeros((0, 3)) for _ in cuts]
    end, centre = (
        np.concatenate([getattr(run, name) for run in runs]) for name in ("end_mm", "centre_mm")
    )
    turn = np.concatenate([run.turn for run in runs])
    feeds = np.concatenate([run.feed_mm_per_min for run in runs])
    is_return = np.concatenate([run.purpose for run in runs]) == Purpose.RETURN
    # Open kerf is run through at the move's own feed, which is what the program says.
    feeds = np.where(is_return & ~(feeds > 0), idle_mm_per_min, feeds)
    counts = np.array([len(run) for run in runs])
    first = np.cumsum(counts) - counts
    begins = np.empty_like(end)
    begins[1:] = end[:-1]
    begins[first] = np.array([run.start_mm for run in runs])
    lengths = lengths_of_runs_mm(runs)
    durations = lengths / feeds
    wire, move = points_along(
        begins, end, centre, turn, lengths_mm=lengths, durations_min=durations
    )
    since_min = (np.cumsum(durations) - durations)[first]
    edges = np.searchsorted(move, [*first, len(turn)])
    laid = iter(
        np.vstack([[since, *run.start_mm], wire[a:b]]) - (since, 0.0, 0.0)
        for run, since, a, b in zip(runs, since_min, edges[:-1], edges[1:], strict=True)
    )
    return [next(laid) if len(cut.moves) else np.zeros((0, 3)) for cut in cuts]


def points_along(
    begin_mm: Floats,
    end_mm: Floats,
    centre_mm: Floats,
    turn: Codes,
    *,
    lengths_mm: Floats,
    durations_min: Floats,
) -> tuple[Floats, Indices]:
    """Return points along moves after their first, arcs as chords, and the move of each.

    Parameters
    ----------
    begin_mm, end_mm, centre_mm : (n, 2) float
    turn : (n,) int8
        -1 clockwise, 0 line, 1 counter-clockwise.
    lengths_mm, durations_min : (n,) float
        Length and duration of each move.

    Returns
    -------
    (m, 3) float, (m,) int
        Minute from the first move on, x and y.
    """
    spokes = begin_mm - centre_mm
    radius = np.hypot(spokes[:, 0], spokes[:, 1])
    angle = np.arctan2(spokes[:, 1], spokes[:, 0])
    sweep = np.where(turn != 0, turn * lengths_mm / np.maximum(radius, _SAGITTA_MM), 0.0)
    counts = np.where(turn != 0, chords(radius, sweep), 1)
    which = np.repeat(np.arange(len(turn)), counts)
    first = np.cumsum(counts) - counts
    share = (np.arange(counts.sum()) - first[which] + 1) / counts[which]
    turned = angle[which] + share * sweep[which]
    straight = begin_mm[which] + share[:, None] * (end_mm - begin_mm)[which]
    round_ = centre_mm[which] + radius[which, None] * np.column_stack(
        [np.cos(turned), np.sin(turned)]
    )
    points = np.where((turn[which] != 0)[:, None], round_, straight)
    begins_min = np.cumsum(durations_min) - durations_min
    minute = begins_min[which] + share * durations_min[which]
    return np.column_stack([minute, points]), which


def chords(radius_mm: Floats, sweep_rad: Floats) -> Indices:
    """Return how many chords keep within the sagitta of each arc: ``s = R (1 - cos(step/2))``."""
    cosine = 1 - np.minimum(_SAGITTA_MM / np.maximum(radius_mm, _SAGITTA_MM), 1.0)
    step = 2 * np.arccos(cosine)
    wanted = np.ceil(np.abs(sweep_rad) / np.maximum(step, np.pi / _MOST_CHORDS))
    return np.asarray(np.clip(wanted, 1, _MOST_CHORDS), dtype=np.intp)


def points_of(segments: Segments, *, largest_unit: float = 1.0) -> Floats:
    """Return the points of a chain after its first, (n, 2) mm, arcs as chords.

    Parameters
    ----------
    segments : Segments
    largest_unit : float
        How many mm one of its units may turn out to be, where that is not known yet.
    """
    radius = segments.radius * largest_unit
    counts = np.where(segments.is_arc, chords(radius, segments.sweep), 1)
    which = np.repeat(np.arange(len(segments)), counts)
    first = np.cumsum(counts) - counts
    share = (np.arange(counts.sum()) - first[which] + 1) / counts[which]
    return segments.points_at(which, share)
