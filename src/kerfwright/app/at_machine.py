"""What somebody at the machine is shown of a job's passes, and told of what was learned."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

from kerfwright.app.record_cuts import Recorded
from kerfwright.app.said import Said
from kerfwright.foundation.counts import counted
from kerfwright.foundation.directed import Use
from kerfwright.foundation.units import (
    MM_PER_INCH,
    UnitSystem,
    length_text,
    roughness_text,
)
from kerfwright.foundation.zones import zone_text
from kerfwright.learning.batch import CutOfJob
from kerfwright.learning.moved import Moved
from kerfwright.learning.outcome import PassForecast, PassOutcome
from kerfwright.process.technology import Flushing

_NO_MOVE = 0.005
"""Half a percent: below it the figures read the same."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AtMachine:
    """A job as somebody at the machine sees it.

    Attributes
    ----------
    passes : tuple of PassForecast
        As predicted before any of them was measured.
    wire_kg_per_min : float
        Wire that runs off in a minute.
    cuts : tuple of CutOfJob
        In the order in which they were recorded.
    outcomes : tuple of PassOutcome
        Each measured pass beside its prediction.
    in_question : frozenset of (int, float)
        Pass and size error, µm, of cuts whose size counts for nothing until somebody answers.
    leaves_um : mapping of int to (float, float)
        Stock that each pass leaves on the wall for those after it: least and most of its contours.
    """

    passes: tuple[PassForecast, ...]
    wire_kg_per_min: float
    cuts: tuple[CutOfJob, ...]
    outcomes: tuple[PassOutcome, ...]
    in_question: frozenset[tuple[int, float]] = frozenset()
    leaves_um: Mapping[int, tuple[float, float]] = field(default_factory=dict)


def learned_words(done: Recorded, *, is_withdrawn: bool) -> Said:
    """Return in one sentence what the figures were before and are now; empty if nothing moved.

    Parameters
    ----------
    done : Recorded
    is_withdrawn : bool
        Whether its cuts were taken back rather than added.
    """
    if not done.moved or not (done.new or is_withdrawn):
        return Said()
    row = done.moved[0]
    return Said(metric=_sentence(row, UnitSystem.METRIC), inch=_sentence(row, UnitSystem.INCH))


def confirmed_words(done: Recorded, *, is_mended: bool = False) -> Said:
    """Return in one sentence what a pass holds, now that its sizes count or do so no more."""
    if not done.moved:
        return Said()
    row = done.moved[0]
    was, now = (
        {s: zone_text(one.tolerance_um, Use.HELD, system=s) for s in UnitSystem}
        for one in (row.before, row.after)
    )
    counts = "no more, its cause is mended" if is_mended else "now"
    metric, inch = (
        f"The size of pass {row.pass_number} counts {counts}: the pass is said to hold "
        f"±{now[s]}, and was ±{was[s]}."
        for s in (UnitSystem.METRIC, UnitSystem.INCH)
    )
    return Said(metric=metric, inch=inch)


def _sentence(row: Moved, system: UnitSystem) -> str:
    was, now = row.before, row.after
    which = "The rough pass" if row.pass_number == 1 else f"Pass {row.pass_number}"
    if row.nozzles is not Flushing.SEALED:
        which += f" with nozzles {row.nozzles.replace('-', ' ')}"
    height = length_text(row.height_mm, system=system, decimals=2)
    wire = row.wire if system is UnitSystem.METRIC else _WIRE.sub(_in_inches, row.wire)
    unit_mm, unit = (MM_PER_INCH, "in") if system is UnitSystem.INCH else (1.0, "mm")

    def feed(value_mm_per_min: float) -> str:
        return f"{value_mm_per_min / unit_mm:.3g}"

    feeds = [f"{feed(s.feed_mm_per_min.likely)} {unit}/min" for s in (was, now)]
    ends = f"{feed(now.feed_mm_per_min.low)} to {feed(now.feed_mm_per_min.high)}"
    finishes = [roughness_text(s.ra_um.likely, system=system) for s in (was, now)]
    moved = abs(now.ra_um.likely / was.ra_um.likely - 1) > _NO_MOVE
    before, after = (f" and {text}" if moved else "" for text in finishes)
    known = (
        f"from {counted(row.known_cuts, 'measured cut')}"
        if row.known_cuts
        else "from the tables alone"
    )
    return (
        f"{which} in {row.material}, {height} high, with {wire}: we expected {feeds[0]}"
        f"{before}; {known} we now expect {feeds[1]} ({ends} in eight cases of ten){after}."
    )


_WIRE: Final = re.compile(r"^([\d.]+) mm\b")


def _in_inches(found: re.Match[str]) -> str:
    """Return the diameter that a wire is called by as an inch shop calls it."""
    return f"{float(found[1]) / MM_PER_INCH:.4f} in"
