"""Before and after: what new measured cuts moved, with ranges."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TypedDict

from kerfwright.foundation.ranges import Range
from kerfwright.learning.records import LearningRules, MeasuredCut
from kerfwright.process.expected import ExpectedPass, expected_passes, tabled_passes
from kerfwright.process.experience import Experience, FewJobs
from kerfwright.process.nozzles import rough_range_mm_per_min
from kerfwright.process.offset_advice import OffsetAdvice, advice_of, is_offset_asked_of_more
from kerfwright.process.technology import Flushing, Technology
from kerfwright.trade.machine import Machine
from kerfwright.trade.material import Material, Wire

_Key = tuple[str, str, str, float, int, float, Flushing]
_LEAST_MOVE = 0.01
"""Share by which a pass moves that is worth a word though no cut of it is new."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sight:
    """What is expected of a pass at one time.

    Attributes
    ----------
    feed_mm_per_min : Range
        Of a single cut.
    ra_um : Range
    tolerance_um : float
    size_bias_um : float
    offset : OffsetAdvice or None
        Where sizes of the pass itself say that its offset is off.
    is_offset_asked_of_more : bool
        Whether they would, were they of more jobs.
    sizes, size_jobs : int
        How many count, and of how many jobs.
    wire_factor : Range
        On the wire used in a minute.
    breaks_per_h : Range
    """

    feed_mm_per_min: Range
    ra_um: Range
    tolerance_um: float
    size_bias_um: float
    offset: OffsetAdvice | None
    is_offset_asked_of_more: bool
    sizes: int
    size_jobs: int
    wire_factor: Range
    breaks_per_h: Range


@dataclass(frozen=True, slots=True, kw_only=True)
class Moved:
    """One pass of one machine, material, wire and height, before and after.

    Attributes
    ----------
    machine, material, wire : str
        Names as printed.
    height_mm : float
        Height of the cuts: at each its own feed is expected.
    pass_number : int
    cuts : int
        New measured cuts of it, or those taken back; 0 of a pass that moved with others.
    known_cuts, known_jobs : int
        All that the shop now has of it, and of how many jobs.
    measured_feed_mm_per_min : float or None
        Length over time of the new cuts; of those that are left, where some were taken back, and
        None where none is.  One short cut with a slip in it moves that little.
    measured_least_mm_per_min, measured_most_mm_per_min : float or None
        Slowest and fastest of them.
    before, after : Sight
    few : FewJobs or None
        What few jobs alone did to the feed, where that is much.
    nozzles : Flushing
        How they stood along the rough cuts: the feeds are those under them.
    measured_full_mm_per_min : float or None
        What the measured feed is at full feed: slow corners and lead-ins of its jobs taken out.
    closed_feed_mm_per_min : tuple of float or None
        Likely feed under closed nozzles before and after, where the cuts were under others and the
        shop has none under closed ones of the same machine, material and wire: which of the two,
        the rate or the factor of the nozzles, was off is then not known, and each takes its part.
    """

    machine: str
    material: str
    wire: str
    height_mm: float
    pass_number: int
    cuts: int
    known_cuts: int
    known_jobs: int
    measured_feed_mm_per_min: float | None
    measured_least_mm_per_min: float | None
    measured_most_mm_per_min: float | None
    before: Sight
    after: Sight
    few: FewJobs | None = None
    nozzles: Flushing = Flushing.SEALED
    closed_feed_mm_per_min: tuple[float, float] | None = None
    measured_full_mm_per_min: float | None = None

    @property
    def narrowing(self) -> float:
        """Width of the feed's 10–90 % range after over before, each as a factor high/low - 1."""
        ends = [(s.feed_mm_per_min.high, s.feed_mm_per_min.low) for s in (self.before, self.after)]
        before, after = (high / low - 1 for high, low in ends)
        return after / before


def moved_and_along(
    cuts: Sequence[MeasuredCut],
    *,
    measured: Sequence[MeasuredCut],
    every: Sequence[MeasuredCut],
    technology: Technology,
    before: Experience | None,
    after: Experience,
    rules: LearningRules,
) -> tuple[tuple[Moved, ...], tuple[Moved, ...]]:
    """Compare what was expected of the passes of some cuts with what now is, and of those along.

    What a pass teaches of machine, material, wire and height goes to the others too.

    Parameters
    ----------
    cuts : sequence of MeasuredCut
        The new ones, or those taken back.
    measured : sequence of MeasuredCut
        Those whose feed is said: the new ones, or those that are left.
    every : sequence of MeasuredCut
        All that the shop now has.
    technology : Technology
        The tables.
    before : Experience or None
        None for the tables alone.
    after : Experience
    rules : LearningRules
        Spread of the tables where there is no experience.

    Returns
    -------
    moved : tuple of Moved
        By machine, material, wire, pass, height and nozzles, in the order of their first cuts.
    along : tuple of Moved
        Passes of which no cut is new, on the machines, materials and wires of the cuts: those that
        moved by a hundredth or more, by height and pass; with ``cuts`` 0.
    """
    seen = _Seen.of(every, technology=technology, before=before, after=after, rules=rules)
    return seen.moved(cuts, measured), seen.along(cuts)


def offsets_of(moved: Sequence[Moved]) -> tuple[OffsetAdvice, ...]:
    """Return the offsets that sizes say to set, each pass once, whatever its heights."""
    found = {one.of: one for row in moved if (one := row.after.offset) is not None}
    return tuple(found.values())


def _is_moved(row: Moved) -> bool:
    was, now = row.before, row.after
    return any(
        abs(new / old - 1) >= _LEAST_MOVE
        for old, new in (
            (was.feed_mm_per_min.likely, now.feed_mm_per_min.likely),
            (was.ra_um.likely, now.ra_um.likely),
            (was.tolerance_um, now.tolerance_um),
        )
    )


class _CutIn(TypedDict):
    material: Material
    height_mm: float
    wire: Wire
    machine: Machine
    technology: Technology


_Sights = tuple[tuple[ExpectedPass, ...], tuple[ExpectedPass, ...]]
_Scene = tuple[int, int, int, float]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Seen:
    """What was expected and now is, of any pass."""

    technology: Technology
    before: Experience | None
    after: Experience
    rules: LearningRules
    known: Mapping[_Key, Sequence[str]]
    """Jobs of the cuts that the shop has, by what they share."""
    closed: frozenset[tuple[object, ...]]
    """Machines, materials, wires and passes that the shop has cut under closed nozzles."""
    made: dict[_Scene, _Sights] = field(default_factory=dict)
    """All passes of one cut, before and after: a table of cuts asks for each many times."""

    @classmethod
    def of(
        cls,
        every: Sequence[MeasuredCut],
        *,
        technology: Technology,
        before: Experience | None,
        after: Experience,
        rules: LearningRules,
    ) -> _Seen:
        """Sort all that the shop has."""
        known: dict[_Key, list[str]] = {}
        for cut in every:
            known.setdefault(_key(cut, rules), []).append(cut.job)
        return cls(
            technology=replace(technology, experience=None),
            before=before,
            after=after,
            rules=rules,
            known=known,
            closed=frozenset(key[:5] for key in known if key[-1] is Flushing.SEALED),
        )

    def passes(self, one: MeasuredCut) -> _Sights:
        """Return all passes of a cut, before and after."""
        # The cuts are held by the caller meanwhile, so that an id means one of their records.
        scene = (id(one.machine), id(one.material), id(one.wire), one.height_mm)
        if scene not in self.made:
            cut: _CutIn = {
                "material": one.material,
                "height_mm": one.height_mm,
                "wire": one.wire,
                "machine": one.machine,
                "technology": self.technology,
            }
            tabled = tabled_passes(**cut)
            self.made[scene] = (
                expected_passes(tabled, self.before, **cut),
                expected_passes(tabled, self.after, **cut),
            )
        return self.made[scene]

    def moved(
        self, cuts: Sequence[MeasuredCut], measured: Sequence[MeasuredCut]
    ) -> tuple[Moved, ...]:
        """Return the passes of some cuts; the feed said is that of the measured ones."""
        groups: dict[_Key, list[MeasuredCut]] = {}
        for cut in cuts:
            groups.setdefault(_key(cut, self.rules), []).append(cut)
        timed: dict[_Key, list[MeasuredCut]] = {}
        for cut in measured:
            timed.setdefault(_key(cut, self.rules), []).append(cut)
        return tuple(
            self.row(group[0], timed.get(key, ()), len(group)) for key, group in groups.items()
        )

    def along(self, cuts: Sequence[MeasuredCut]) -> tuple[Moved, ...]:
        """Return the other passes of the machines, materials, wires and heights of some cuts."""
        touched: dict[tuple[str | float, ...], list[MeasuredCut]] = {}
        for cut in cuts:
            machine, material, kind, wire_mm, _, height_mm, _ = _key(cut, self.rules)
            touched.setdefault((machine, material, kind, wire_mm, height_mm), []).append(cut)
        rows = []
        for group in touched.values():
            own = {cut.pass_number for cut in group}
            for number in range(1, len(self.technology.passes) + 1):
                if number not in own:
                    row = self.row(replace(group[0], pass_number=number), (), 0)
                    if _is_moved(row):
                        rows.append(row)
        return tuple(rows)

    def row(self, one: MeasuredCut, theirs: Sequence[MeasuredCut], cuts: int) -> Moved:
        """Return a pass before and after; ``theirs`` are the cuts whose feed is said."""
        key = _key(one, self.rules)
        passes = [both[one.pass_number - 1] for both in self.passes(one)]
        nozzles = key[-1]
        sights = [
            _under(_sight(p, one.pass_number, rules=self.rules), p, nozzles, self.technology)
            for p in passes
        ]
        learned = passes[1].learned
        jobs = self.known.get(key, [])
        feeds = [cut.feed_mm_per_min for cut in theirs]
        return Moved(
            machine=one.machine.name,
            material=one.material.name,
            wire=f"{one.wire.diameter_mm:g} mm {one.wire.name}",
            height_mm=one.height_mm,
            pass_number=one.pass_number,
            cuts=cuts,
            known_cuts=len(jobs),
            known_jobs=len(set(jobs)),
            measured_feed_mm_per_min=_over_time(theirs) if theirs else None,
            measured_full_mm_per_min=_over_time(theirs, at_full=True) if theirs else None,
            measured_least_mm_per_min=min(feeds, default=None),
            measured_most_mm_per_min=max(feeds, default=None),
            before=sights[0],
            after=sights[1],
            few=learned.few if learned else None,
            nozzles=nozzles,
            closed_feed_mm_per_min=None
            if nozzles is Flushing.SEALED or key[:5] in self.closed
            else (passes[0].feed_mm_per_min, passes[1].feed_mm_per_min),
        )


def _under(sight: Sight, one: ExpectedPass, nozzles: Flushing, technology: Technology) -> Sight:
    """Return a sight with the feed under a state of the nozzles."""
    feed = rough_range_mm_per_min(one, nozzles, law=technology.rough)
    return replace(sight, feed_mm_per_min=feed)


def _over_time(cuts: Sequence[MeasuredCut], *, at_full: bool = False) -> float:
    """Return the feed of cuts together, mm/min: their length over the time it took, or would take.

    At full feed a cut takes the share of its time that its moves are slower by.
    """
    length_mm = sum(cut.length_mm for cut in cuts)
    return length_mm / sum(
        cut.length_mm / cut.feed_mm_per_min * (cut.feed_share if at_full else 1.0) for cut in cuts
    )


def _key(cut: MeasuredCut, rules: LearningRules) -> _Key:
    return (
        rules.machine_id(cut.machine),
        cut.material.id,
        cut.wire.kind,
        cut.wire.diameter_mm,
        cut.pass_number,
        # A feed of 10 mm says nothing beside one expected at 80.
        cut.height_mm,
        # Skims know no nozzles.
        cut.flushing if cut.pass_number == 1 else Flushing.SEALED,
    )


def _sight(one: ExpectedPass, number: int, *, rules: LearningRules) -> Sight:
    known = one.learned
    sizes = known.sizes if known else None
    ra_sigma, wire_sigma = rules.ra_unit_log(one.fine_spark_sigma_log), rules.wire_sigma_log
    return Sight(
        feed_mm_per_min=one.feed_range_mm_per_min,
        ra_um=Range.lognormal(one.ra_um, sigma_log=known.ra_sigma_log if known else ra_sigma),
        tolerance_um=one.tolerance_um,
        size_bias_um=known.size_bias_um if known else 0.0,
        offset=advice_of(number, known) if known is not None else None,
        is_offset_asked_of_more=known is not None and is_offset_asked_of_more(known),
        sizes=sizes.count if sizes else 0,
        size_jobs=sizes.jobs if sizes else 0,
        wire_factor=Range.lognormal(
            known.wire_factor if known else 1.0,
            sigma_log=known.wire_sigma_log if known else wire_sigma,
        ),
        breaks_per_h=known.breaks_per_h
        if known
        else Range.lognormal(rules.breaks_per_h, sigma_log=rules.breaks_sigma_log),
    )
