"""Time by operation: from a plan and its wire path to lines with ranges."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from typing import Final

from kerfwright.costing.attendance import watched_cuts
from kerfwright.costing.coreless import CORELESS
from kerfwright.costing.cut_spread import CUT_TO_CUT, CUTTING, learned_loadings
from kerfwright.costing.measuring import measuring_factors
from kerfwright.costing.rates import HumanMinutes, RateTable
from kerfwright.costing.records import TimeKind, TimeLine
from kerfwright.costing.stack_times import measured_words, of_stack_words, stack_minutes
from kerfwright.costing.uncertainty import Amount
from kerfwright.foundation.counts import counted
from kerfwright.foundation.errors import InputError
from kerfwright.foundation.ranges import Range
from kerfwright.foundation.sources import Reason
from kerfwright.foundation.spread import Outcome, Uncertain, of_ratio, of_sum
from kerfwright.motion.moves import Cut, CutKind, WirePath
from kerfwright.motion.tally import Tally, tally
from kerfwright.planning.plan import Plan, StartKind
from kerfwright.process.experience import Learned, Loadings
from kerfwright.process.hole_depth import spread_together
from kerfwright.process.hole_ranges import TUBE_WEAR
from kerfwright.process.loadings import spread_of, together
from kerfwright.process.small_hole import DrilledHole, drill
from kerfwright.process.technology import Pass, SmallHoleLaw

_LEAST_FEED: Final = 0.1
"""mm/min below which two decimals say too little."""
DRILLING: Final = "drilling rate"
PEOPLE: Final = "people"


def for_quantity(loadings: Loadings, quantity: int) -> Loadings:
    """Return the spreads of the mean of several pieces: only cuts scatter from piece to piece."""
    return tuple(
        (cause, sigma / quantity**0.5 if cause.startswith(CUT_TO_CUT) else sigma)
        for cause, sigma in loadings
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class TimedLine:
    """A time line with the cause of its range.

    Attributes
    ----------
    line : TimeLine
    sigma_log : float
    cause : str
        :data:`CUTTING`, :data:`DRILLING` or the operation itself: people are independent from
        one operation to the next.
    loadings : Loadings
        For cuts that the shop has experience with, or whose nozzles do not close: the spread of
        one piece by cause.
    learned : Learned or None
        That experience.
    count : float or None
        Mean count of what takes the time, where it comes by chance (Poisson).
    burst : float
        Its variance beyond that over its mean.
    """

    line: TimeLine
    sigma_log: float
    cause: str
    loadings: Loadings = ()
    learned: Learned | None = None
    count: float | None = None
    burst: float = 0.0

    @property
    def minutes(self) -> float:
        """Likely minutes."""
        return self.line.minutes.likely

    def amount(self, *, factor: float = 1.0, quantity: int = 1) -> Amount:
        """Return the likely minutes times a factor, with their spread and cause for a quantity."""
        loadings = for_quantity(self.loadings, quantity)
        return Amount(
            likely=self.minutes * factor,
            sigma_log=spread_of(loadings) if loadings else self.sigma_log,
            cause=self.cause,
            loadings=loadings,
            count=None if self.count is None else self.count * quantity,
            burst=self.burst,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Times:
    """All time lines of a job and what the drilling uses.

    Attributes
    ----------
    lines : tuple of TimedLine
    tube_mm : Range
        Electrode tube worn away for one piece.
    tube_sigma_log : float
        Of its logarithm; the wear does not follow the feed of the drill.
    reasons : tuple of Reason
    tally : Tally
        Of the cuts of the path, in their order.
    """

    lines: tuple[TimedLine, ...]
    tube_mm: Range
    tube_sigma_log: float
    reasons: tuple[Reason, ...]
    tally: Tally

    @property
    def running(self) -> tuple[TimedLine, ...]:
        """Lines during which the wire runs and sparks."""
        return tuple(line for line in self.lines if line.cause == CUTTING)


def job_times(
    plan: Plan,
    path: WirePath,
    *,
    rates: RateTable,
    per_load: float = 1.0,
    measured: float | None = None,
) -> Times:
    """Work out the time of every operation of a job.

    Parameters
    ----------
    plan : Plan
    path : WirePath
    rates : RateTable
    per_load : float
        Pieces cut at once as a stack: each is loaded by itself.
    measured : float, optional
        So many of them are measured, each by itself; all where nothing is said.

    Raises
    ------
    InputError
        Code ``feed-missing`` if a cutting move has no feed above 0; ``pass-unknown`` if a cut
        uses a pass that the plan has not.
    """
    people = rates.minutes
    before = _before(plan, people, per_load)
    holes, tube, reasons = _start_holes(plan, people, rates.drilling)
    added = tally(path.cuts, idle_mm_per_min=plan.requirement.machine.idle_speed_mm_per_min)
    during = [*_threading(plan, path, people), *_cutting(plan, path, added)]
    after = _after(plan, path, people, (per_load if measured is None else measured, per_load))
    return Times(
        lines=tuple(
            line for line in (*before, *holes, *during, *after) if line.line.minutes.likely > 0
        ),
        tube_mm=tube.range,
        tube_sigma_log=tube.sigma,
        reasons=reasons,
        tally=added,
    )


def human_line(
    operation: str, kind: TimeKind, minutes: float, basis: str, *, sigma_log: float, once: bool
) -> TimedLine:
    """Return a line of what people do, once a job or for each piece."""
    return TimedLine(
        line=TimeLine(
            operation=operation,
            kind=kind,
            per_piece=not once,
            minutes=Range.lognormal(minutes, sigma_log=sigma_log),
            basis=basis,
        ),
        sigma_log=sigma_log,
        cause=operation,
    )


def set_up_lines(
    people: HumanMinutes, *, per_load: float = 1.0, of: str = "each piece"
) -> list[TimedLine]:
    """Return set-up, once a job, and loading, of each piece or what else is loaded."""
    return [
        human_line(
            "set-up",
            TimeKind.MACHINE_ATTENDED,
            people.set_up,
            "clamp, square, pick up the datum; once a job",
            sigma_log=people.human_sigma_log,
            once=True,
        ),
        human_line(
            "loading",
            TimeKind.MACHINE_ATTENDED,
            people.loading_per_piece * per_load,
            f"change and pick up {of}",
            sigma_log=people.human_sigma_log,
            once=False,
        ),
    ]


def _before(plan: Plan, people: HumanMinutes, per_load: float) -> list[TimedLine]:
    count = len(plan.contours)
    # A stack is laid on the bench and clamped and picked up once.
    stack = plan.requirement.stack
    picked_up = per_load if stack is None else 1.0
    return [
        *(
            human_line(
                name, TimeKind.BENCH, least, said, sigma_log=people.human_sigma_log, once=False
            )
            for name, least, said in stack_minutes(plan, people)
        ),
        human_line(
            "programming",
            TimeKind.PROGRAMMING,
            people.programming_base + people.programming_per_contour * count,
            f"{people.programming_base:g} min and {people.programming_per_contour:g} min for each "
            f"of {counted(count, 'contour')}",
            sigma_log=people.human_sigma_log,
            once=True,
        ),
        *set_up_lines(
            people,
            per_load=picked_up,
            of="each piece" + of_stack_words(picked_up) if stack is None else "each stack",
        ),
    ]


def _start_holes(
    plan: Plan, people: HumanMinutes, law: SmallHoleLaw
) -> tuple[list[TimedLine], Outcome, tuple[Reason, ...]]:
    starts = [c.start for c in plan.contours if c.start.kind is StartKind.DRILLED]
    if not starts:
        return [], of_sum(lambda: 0.0, ()), ()
    holes = [
        drill(
            plan.height_mm,
            diameter_mm=start.diameter_mm,
            material=plan.requirement.material,
            law=law,
        )
        for start in starts
    ]
    sizes = ", ".join(f"{d:g} mm" for d in sorted({s.diameter_mm for s in starts}))
    minutes = sum(hole.minutes.likely for hole in holes)
    sigma_log = spread_together([(h.minutes.likely, h.sigma_log) for h in holes])
    drilling = TimedLine(
        line=TimeLine(
            operation="start-hole drilling",
            kind=TimeKind.BENCH,
            per_piece=True,
            minutes=Range.lognormal(minutes, sigma_log=sigma_log),
            basis=f"{counted(len(holes), 'hole')} of {sizes} through {plan.height_mm:g} mm",
        ),
        sigma_log=sigma_log,
        cause=DRILLING,
    )
    handling = human_line(
        "start-hole handling",
        TimeKind.BENCH,
        people.start_hole_handling * len(holes),
        f"{people.start_hole_handling:g} min for each of {counted(len(holes), 'hole')}",
        sigma_log=people.human_sigma_log,
        once=False,
    )
    return [drilling, handling], _tube(holes, plan, law), (holes[0].reason,)


def _tube(holes: Sequence[DrilledHole], plan: Plan, law: SmallHoleLaw) -> Outcome:
    """Return the tube that several holes use: they wear alike, being of one material."""
    ratio = law.wear_ratio[plan.requirement.material.family]
    wear = Uncertain(name=TUBE_WEAR, value=ratio, sigma=law.wear_sigma_log)
    fixed_mm = math.fsum(h.tube_used_mm - ratio * plan.height_mm for h in holes)
    return of_ratio(lambda k: len(holes) * k * plan.height_mm + fixed_mm, (wear,))


def _threading(plan: Plan, path: WirePath, people: HumanMinutes) -> list[TimedLine]:
    machine = plan.requirement.machine
    count = sum(cut.threads for cut in path.cuts)
    each = people.threading(by_itself=machine.threads_itself)
    how = "by itself" if machine.threads_itself else "by hand"
    lines = [
        human_line(
            "threading",
            TimeKind.MACHINE_UNATTENDED if machine.threads_itself else TimeKind.MACHINE_ATTENDED,
            each * count,
            f"{counted(count, 'time')} {each:g} min {how}",
            sigma_log=people.human_sigma_log,
            once=False,
        )
    ]
    if len(path.cuts) > 1:
        way_mm = math.fsum(path.ways_mm())
        minutes = way_mm / machine.idle_speed_mm_per_min
        lines.append(
            TimedLine(
                line=TimeLine(
                    operation="positioning",
                    kind=TimeKind.MACHINE_UNATTENDED,
                    per_piece=True,
                    minutes=Range.exact(minutes),
                    basis=f"{way_mm:.1f} mm at {machine.idle_speed_mm_per_min:g} mm/min",
                ),
                sigma_log=0.0,
                cause="positioning",
            )
        )
    return lines


@dataclass(slots=True, kw_only=True)
class _Sum:
    """Length and time gathered for one line."""

    wall_mm: float = 0.0
    wall_min: float = 0.0
    return_mm: float = 0.0
    return_min: float = 0.0
    feeds: set[float] = field(default_factory=set)
    cut_min: list[float] = field(default_factory=list)
    """Time of each cut by itself."""
    nozzles: Loadings = ()
    """Sum over the cuts of time times the spread of the factor of their nozzles."""

    @property
    def evenness(self) -> float:
        """How much cuts that scatter independently even out: 1 for one, 1/sqrt(n) for n alike."""
        return math.sqrt(math.fsum(t * t for t in self.cut_min)) / self.minutes

    @property
    def minutes(self) -> float:
        return self.wall_min + self.return_min

    @property
    def basis(self) -> str:
        if not self.wall_min:
            return f"{self.return_mm:.1f} mm through open kerf"
        about = "at" if len(self.feeds) == 1 else "at a mean of"
        feed = self.wall_mm / self.wall_min
        # A slow feed with three digits, never as 0.00.
        said = f"{feed:.2f}" if feed >= _LEAST_FEED else f"{feed:.3g}"
        text = f"{self.wall_mm:.1f} mm {about} {said} mm/min"
        return text + (f", {self.return_mm:.1f} mm through open kerf" if self.return_mm else "")


def _cutting(plan: Plan, path: WirePath, added: Tally) -> list[TimedLine]:
    """Gather the cuts by pass and by whether somebody stands by."""
    passes = {p.number: p for p in plan.passes}
    attended = watched_cuts(plan, path)
    eroded = {c.target.id for c in plan.contours if c.coreless is not None}
    walls = {c.target.id: c for c in plan.walls}
    sums: dict[tuple[str, bool], _Sum] = {}
    number: dict[tuple[str, bool], int] = {}
    for k, (cut, watched) in enumerate(zip(path.cuts, attended, strict=True)):
        if cut.pass_number not in passes:
            raise InputError(
                f"pass {cut.pass_number} is not among the {len(passes)} passes of the plan",
                code="pass-unknown",
                where=f"contour {cut.contour_id}",
            )
        key = (_operation(cut, eroded), watched)
        line, number[key] = sums.setdefault(key, _Sum()), cut.pass_number
        if len(cut.moves):
            _gather(added, k, line)
            wall = walls.get(cut.contour_id)
            if wall is not None and (unsure := wall.feed_loadings(passes[cut.pass_number])):
                line.nozzles = together((1.0, line.nozzles), (line.cut_min[-1], unsure))
    names: defaultdict[str, int] = defaultdict(int)
    for operation, _ in sums:
        names[operation] += 1
    return [
        _cutting_line(
            f"{operation}, attended" if watched and names[operation] > 1 else operation,
            passes[number[operation, watched]],
            line,
            watched=watched,
            more_log=plan.rules.coreless_feed_sigma_log if operation == CORELESS else 0.0,
        )
        for (operation, watched), line in sorted(sums.items(), key=_order)
    ]


def _cutting_line(
    operation: str, one: Pass, line: _Sum, *, watched: bool, more_log: float
) -> TimedLine:
    """Return the line of some cuts; `more_log` is what more than the pass's feed is unsure."""
    loadings: Loadings = ()
    # A slow feed is a long time: rate and nozzles have the same sign in either.
    nozzles = together((1 / line.minutes, line.nozzles)) if line.minutes > 0 else ()
    if one.learned is not None and line.minutes > 0:
        loadings = learned_loadings(
            one.learned, nozzles, operation=operation, evenness=line.evenness, more_log=more_log
        )
    elif nozzles:
        loadings = ((CUTTING, math.hypot(one.feed_sigma_log, more_log)), *nozzles)
    sigma = spread_of(loadings) if loadings else math.hypot(one.feed_sigma_log, more_log)
    return TimedLine(
        line=TimeLine(
            operation=operation,
            kind=TimeKind.MACHINE_ATTENDED if watched else TimeKind.MACHINE_UNATTENDED,
            per_piece=True,
            minutes=Range.lognormal(line.minutes, sigma_log=sigma),
            basis=line.basis,
            pass_number=one.number,
            wall_mm=line.wall_mm,
            wall_min=line.wall_min,
        ),
        sigma_log=sigma,
        cause=CUTTING,
        loadings=loadings,
        learned=one.learned,
    )


def _operation(cut: Cut, eroded: Collection[str]) -> str:
    if cut.kind is CutKind.CUT_OFF:
        return "cut-off"
    if cut.kind is CutKind.ROUGH and cut.contour_id in eroded:
        return CORELESS
    return "rough pass" if cut.kind is CutKind.ROUGH else f"skim pass {cut.pass_number}"


def _order(item: tuple[tuple[str, bool], _Sum]) -> tuple[int, int, bool]:
    operation, watched = item[0]
    number = int(operation.rpartition(" ")[2]) if operation.startswith("skim") else 0
    rank = {"rough pass": 0, CORELESS: 0, "cut-off": 1}.get(operation, 2)
    return rank, number, watched


def _gather(of: Tally, k: int, line: _Sum) -> None:
    """Add one cut to its line."""
    wall_min, return_min = float(of.wall_min[k]), float(of.return_min[k])
    line.wall_mm += float(of.wall_mm[k])
    line.wall_min += wall_min
    # Open kerf is run through at the move's own feed, which is what the program says.
    line.return_mm += float(of.return_mm[k])
    line.return_min += return_min
    line.cut_min.append(wall_min + return_min)
    if len(line.feeds) < 2 and wall_min:
        # One feed or a mean: more need not be told apart.
        line.feeds |= {float(of.least_feed_mm_per_min[k]), float(of.most_feed_mm_per_min[k])}


def _after(
    plan: Plan, path: WirePath, people: HumanMinutes, of_load: tuple[float, float]
) -> list[TimedLine]:
    measured, per_load = of_load
    stops = sum(len(c.stops) for c in path.cuts)
    freed = sum(c.coreless is None for c in plan.contours)
    count = len(plan.contours)
    measuring = people.inspection_per_contour * math.fsum(measuring_factors(plan, people))
    return [
        human_line(
            "attended stops",
            TimeKind.MACHINE_ATTENDED,
            people.attended_stop * stops,
            f"{counted(stops, 'stop')} of {people.attended_stop:g} min",
            sigma_log=people.human_sigma_log,
            once=False,
        ),
        human_line(
            "removal",
            TimeKind.BENCH,
            people.removal_per_piece_freed * freed,
            f"{counted(freed, 'slug or part', 'slugs or parts')}, "
            f"{people.removal_per_piece_freed:g} min each",
            sigma_log=people.human_sigma_log,
            once=False,
        ),
        human_line(
            "inspection",
            TimeKind.BENCH,
            (people.inspection_base + measuring) * measured,
            f"{people.inspection_base:g} min and {measuring:.3g} min for "
            + counted(count, "contour")
            + measured_words(measured, per_load),
            sigma_log=people.human_sigma_log,
            once=False,
        ),
    ]
