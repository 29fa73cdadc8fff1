"""Take down that a shop set an offset: sizes from before count as if cut with it."""

from __future__ import annotations

from collections.abc import Collection

from kerfwright.app.cut_store import CutStore
from kerfwright.app.record_cuts import LearningTables, Recorded, answered, known_by
from kerfwright.app.said import Said
from kerfwright.foundation.counts import counted
from kerfwright.foundation.errors import InputError
from kerfwright.foundation.units import UnitSystem, small_length_text
from kerfwright.learning.batch import OffsetSaid
from kerfwright.learning.records import LearningRules, MeasuredCut, combination_of, levels


def set_offset(
    said: OffsetSaid, *, cut_since: Collection[str], store: CutStore, tables: LearningTables
) -> Recorded:
    """Count the sizes of a pass as with the offset that was set, and learn anew.

    Parameters
    ----------
    said : OffsetSaid
        Which, and by how much; its sizes are found here.
    cut_since : collection of str
        Jobs that were cut with it already: their sizes stay as they are.
    store : CutStore
    tables : LearningTables

    Raises
    ------
    InputError
        Code ``offset-unknown`` where no size of such a pass was measured, or of no other job, and
        ``job-not-measured`` for a job that has none.
    """
    with store.one_writer():
        before = known_by(store, tables)
        sized = [cut for cut in store.cuts().cuts if cut.size_now_um is not None]
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
        name = store.set_offset(said, found)
        return answered(found, store, tables, before, name=name)


def offset_set_words(done: Recorded, said: OffsetSaid) -> Said:
    """Say what was taken down.

    Parameters
    ----------
    done : Recorded
    said : OffsetSaid
    """
    way, count = "smaller" if said.smaller_um > 0 else "larger", len(done.batch.cuts)
    metric, inch = (
        f"Offset of {said.of} set {small_length_text(abs(said.smaller_um), system=system)} {way}: "
        f"{counted(count, 'size')} from before {'counts' if count == 1 else 'count'} as if cut "
        "with it."
        for system in (UnitSystem.METRIC, UnitSystem.INCH)
    )
    return Said(metric=metric, inch=inch)


def _of(cut: MeasuredCut, rules: LearningRules) -> str:
    *_, together = levels(
        machine=cut.machine,
        material=cut.material,
        wire=cut.wire,
        height_mm=cut.height_mm,
        pass_number=cut.pass_number,
        rules=rules,
    )
    return _plain(combination_of(together))


def _plain(text: str) -> str:
    return " ".join(text.split())
