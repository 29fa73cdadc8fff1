"""Take down that a shop set an offset: sizes from before count as if cut with it."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import replace
from typing import Final

from kerfwright.app.cut_store import CutStore
from kerfwright.app.record_cuts import LearningTables, Recorded, answered, known_by
from kerfwright.app.said import Said
from kerfwright.foundation.counts import counted
from kerfwright.foundation.errors import InputError
from kerfwright.foundation.units import UnitSystem, both, small_length_text
from kerfwright.learning.batch import OffsetSaid
from kerfwright.learning.learn import sizes_in_question
from kerfwright.learning.records import LearningRules, MeasuredCut, combination_of, levels
from kerfwright.process.experience import SizesTurn, set_way
from kerfwright.process.offset_advice import LEAST_OFF_UM, turn_jobs


def set_offset(
    said: OffsetSaid,
    *,
    cut_since: Collection[str],
    is_sure: bool,
    store: CutStore,
    tables: LearningTables,
) -> Recorded:
    """Count the sizes of a pass as with the offset that was set, and learn anew.

    Parameters
    ----------
    said : OffsetSaid
        Which, and by how much; its sizes are found here.
    cut_since : collection of str
        Jobs that were cut with it already: their sizes stay as they are.
    is_sure : bool
        Whether it is taken down too where the measured sizes speak against it.
    store : CutStore
    tables : LearningTables

    Raises
    ------
    InputError
        Code ``offset-unknown`` where no size of such a pass was measured, or of no other job, and
        ``job-not-measured`` for a job that has none, and ``offset-in-doubt`` where sizes speak
        against it and nobody is sure; nothing is kept then.
    """
    with store.one_writer():
        before = known_by(store, tables)
        most = len(tables.technology.passes)
        kept = [cut for cut in store.cuts().cuts if cut.pass_number <= most]
        sized = [cut for cut in kept if cut.size_now_um is not None]
        own = [cut for cut in sized if _of(cut, tables.rules) == _plain(said.of)]
        strange = sorted(set(cut_since) - {cut.job for cut in own})
        if own and strange:
            raise InputError(
                f"no size of {said.of} was measured of job {strange[0]!r}",
                code="job-not-measured",
                remedy=f"Jobs with one: {', '.join(dict.fromkeys(cut.job for cut in own))}.",
            )
        found = [cut for cut in own if cut.job not in cut_since]
        if not found:
            others = "; ".join(dict.fromkeys(_of(cut, tables.rules) for cut in sized))
            raise InputError(
                f"every size of {said.of} is of a job cut since"
                if own
                else f"no size of {said.of!r} was measured",
                code="offset-unknown",
                remedy="Name machine, material, wire and pass as the finding does. Measured here: "
                f"{others or 'none'}.",
            )
        if not is_sure:
            turn = None if before is None else before.turns.get(_level(found[0], tables.rules))
            asked = sizes_in_question(sized, technology=tables.technology, rules=tables.rules)
            since = [cut for cut in own if cut.job in cut_since]
            clear = [_without(some, asked) or some for some in (found, since)]
            _check(said, list(_doubts(said, *clear, turn=turn)))
        name = store.set_offset(said, found)
        return answered(found, store, tables, before, name=name)


_IN_THE_TABLE: Final = (
    "Programs take their offsets from the tables: see that it is set there, for a change at the "
    "control alone has to be made for each job again."
)


def offset_set_words(done: Recorded, said: OffsetSaid) -> Said:
    """Say what was taken down.

    Parameters
    ----------
    done : Recorded
    said : OffsetSaid
    """
    way, count = set_way(said.smaller_um), len(done.batch.cuts)
    metric, inch = (
        f"Offset of {said.of} set {small_length_text(abs(said.smaller_um), system=system)} {way}: "
        f"{counted(count, 'size')} from before {'counts' if count == 1 else 'count'} as if cut "
        f"with it. {_IN_THE_TABLE}"
        for system in (UnitSystem.METRIC, UnitSystem.INCH)
    )
    return Said(metric=metric, inch=inch)


def _without(cuts: Sequence[MeasuredCut], asked: Iterable[MeasuredCut]) -> list[MeasuredCut]:
    out = {id(one) for one in asked}
    return [cut for cut in cuts if id(cut) not in out]


def _check(said: OffsetSaid, doubts: Sequence[str]) -> None:
    if not doubts:
        return
    raise InputError(
        f"that the offset of {said.of} was set {_set(said.smaller_um)} is in "
        f"doubt: {'; '.join(doubts)}",
        code="offset-in-doubt",
        remedy="Look again at which way it was set, by how much, and whether it was taken down "
        "already. Jobs that were cut with it are named as cut since (--cut-since). If it was set "
        "so, say it once more with --sure.",
    )


def _doubts(
    said: OffsetSaid,
    found: Sequence[MeasuredCut],
    since: Sequence[MeasuredCut],
    *,
    turn: SizesTurn | None,
) -> Iterator[str]:
    """Say what of an offset that was set the sizes speak against."""
    if all(cut.offset_set_um for cut in found):
        before = dict.fromkeys(_set(cut.offset_set_um) for cut in found)
        yield (
            f"every size that it would move counts already as if cut with it set "
            f"{' or '.join(before)}, and none was measured since"
        )
    if turn is not None and turn.before_um * said.smaller_um > 0:
        named = {cut.job for cut in since}
        if jobs := tuple(job for job in turn.jobs if job not in named):
            yield (
                f"the sizes of {turn_jobs(replace(turn, jobs=jobs))}, recorded last, lie "
                f"{both(round(abs(turn.before_um - turn.since_um), 1))} nearer nominal than those "
                "before, as if cut with it, and are not named as cut since"
            )
    sizes = [cut.size_now_um for cut in found if cut.size_now_um is not None]
    mean_um = _mean(found)
    told = (
        f"the {counted(len(sizes), 'size')} from before "
        + (f"lie {_signed(min(sizes))} to {_signed(max(sizes))}, mean " if sizes[1:] else "is ")
        + f"{_signed(mean_um)}; positive is metal left, "
    )
    if abs(mean_um) >= LEAST_OFF_UM and mean_um * said.smaller_um < 0:
        yield f"{told}which asks for it {set_way(mean_um)}"
        return
    low_um, high_um = _believed(found, since)
    if not low_um <= said.smaller_um <= high_um:
        yield (f"{told}by which it may have been set from {_set(low_um)} to {_set(high_um)}")


def _believed(found: Sequence[MeasuredCut], since: Sequence[MeasuredCut]) -> tuple[float, float]:
    """Return the least and most that an offset may have been set smaller by sizes, µm.

    Whoever sets it may go by any of them or their mean, at its own guides or at close ones, and
    aim at nominal or where the jobs cut since came out: from the least to the most of these,
    and :data:`LEAST_OFF_UM` more to both sides, below which no offset is advised.  Half of what
    sizes ask for may be set to begin with: towards 0 the end is the half, where that is nearer.
    """
    aims = (0.0, _mean(since)) if since else (0.0,)
    steps = [
        size - aim
        for cut in found
        if (now := cut.size_now_um) is not None
        for size in (now, now / cut.guides_factor)
        for aim in aims
    ]
    low, high = min(steps), max(steps)
    return min(low - LEAST_OFF_UM, low / 2), max(high + LEAST_OFF_UM, high / 2)


def _mean(cuts: Sequence[MeasuredCut]) -> float:
    """Return the mean over jobs of the mean size of each, µm."""
    by_job: dict[str, list[float]] = {}
    for cut in cuts:
        if cut.size_now_um is not None:
            by_job.setdefault(cut.job, []).append(cut.size_now_um)
    return math.fsum(math.fsum(of) / len(of) for of in by_job.values()) / len(by_job)


def _signed(um: float) -> str:
    # A 0 that was rounded has no sign.
    return both(round(um, 1) + 0.0)


def _set(smaller_um: float) -> str:
    return f"{both(round(abs(smaller_um), 1))} {set_way(smaller_um)}"


def _level(cut: MeasuredCut, rules: LearningRules) -> str:
    return levels(
        machine=cut.machine,
        material=cut.material,
        wire=cut.wire,
        height_mm=cut.height_mm,
        pass_number=cut.pass_number,
        rules=rules,
    )[-1]


def _of(cut: MeasuredCut, rules: LearningRules) -> str:
    return _plain(combination_of(_level(cut, rules)))


def _plain(text: str) -> str:
    return " ".join(text.split())
