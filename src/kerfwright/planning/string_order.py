"""In which order the parts of strings are skimmed and cut off: as the wire gets to them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from kerfwright.planning.plan import ContourPlan
from kerfwright.planning.string_plan import PartString


@dataclass(frozen=True, slots=True, kw_only=True)
class Turns:
    """Outlines in the order of their skims, and of their cut-offs."""

    skims: tuple[ContourPlan, ...]
    cut_offs: tuple[ContourPlan, ...]


def turns_of(
    outlines: Sequence[ContourPlan],
    strings: tuple[PartString, ...],
    *,
    is_interrupted: bool,
) -> Turns:
    """Return the order of skims and cut-offs of outlines, those of strings first.

    The wire stands at the far end of the last string when its roughs are done, unless openings
    come between: from there the skims go backwards, and the cut-offs forwards again.  A string
    that is threaded anew is worked from its start.

    Parameters
    ----------
    outlines : sequence of ContourPlan
        In the order of roughing.
    strings : tuple of PartString
    is_interrupted : bool
        Whether other contours are cut between the roughs and the skims of outlines.
    """
    by_id = {c.target.id: c for c in outlines}
    rows = [[by_id[name] for name in s.contour_ids] for s in strings if s.contour_ids[0] in by_id]
    strung = {c.target.id for row in rows for c in row}
    alone = [c for c in outlines if c.target.id not in strung]
    if not rows:
        return Turns(skims=tuple(alone), cut_offs=tuple(alone))
    has_skims = any(len(c.passes) > 1 for c in outlines)
    if not has_skims:
        last = rows[-1] if is_interrupted else rows[-1][::-1]
        return _turns([], [last, *rows[:-1], alone])
    if is_interrupted:
        # Threaded anew for the skims; the last string ends them at its far end.
        return _turns([alone, *rows], [rows[-1][::-1], *rows[:-1], alone])
    skims = [rows[-1][::-1], alone, *rows[:-1]]
    if len(rows) == 1:
        return _turns(skims, [rows[0], alone])
    return _turns(skims, [rows[-2][::-1], *rows[:-2], rows[-1], alone])


def _turns(
    skims: Sequence[Sequence[ContourPlan]], cut_offs: Sequence[Sequence[ContourPlan]]
) -> Turns:
    return Turns(
        skims=tuple(c for row in skims for c in row),
        cut_offs=tuple(c for row in cut_offs for c in row),
    )
