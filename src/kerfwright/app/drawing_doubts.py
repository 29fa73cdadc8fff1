"""What a drawing says against itself, and what it asks that nobody took over."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import replace
from typing import Final

from kerfwright.app.drawing_says import Saying, what_drawing_says
from kerfwright.app.off_the_line import middle_words
from kerfwright.app.papers.common import ASKS_CLOSER, CONTRADICTED
from kerfwright.app.papers.same_remarks import CONTOURS, listed
from kerfwright.foundation.findings import Finding, Severity
from kerfwright.foundation.shortened import shortened
from kerfwright.foundation.units import MM_PER_INCH, both_roughness
from kerfwright.foundation.zones import zone_asked
from kerfwright.trade.annotation import AnnotationKind
from kerfwright.trade.catalogue import Catalogue
from kerfwright.trade.fits import FitTable
from kerfwright.trade.part import Part
from kerfwright.trade.requirement import Demand, Requirement

_MOST_LETTERS: Final = 60


def contradicted_sizes(sayings: Iterable[Saying]) -> Iterator[Finding]:
    """Yield a warning for each dimension that writes another size than is drawn.

    Parameters
    ----------
    sayings : iterable of Saying
    """
    for one in sayings:
        if one.written_mm is None or one.drawn_mm is None:
            continue
        at = f" at {listed(one.contour_ids)}" if one.contour_ids else ""
        yield Finding(
            code=CONTRADICTED,
            severity=Severity.WARNING,
            message=f"The drawing writes “{_short(one.statement.text)}”{at} where "
            f"{_size(one.drawn_mm)} is drawn: the wire follows the line, and the size comes out "
            f"{_size(abs(one.written_mm - one.drawn_mm))} "
            f"{'larger' if one.drawn_mm > one.written_mm else 'smaller'} than written.",
            where=one.where,
            remedy="Ask which holds; if the written one does, the drawing has to be mended. "
            "Nothing was changed.",
            data={
                "written_mm": one.written_mm,
                "drawn_mm": one.drawn_mm,
                **({CONTOURS: ",".join(one.contour_ids)} if one.contour_ids else {}),
            },
        )


def with_contradictions(part: Part, *, catalogue: Catalogue, fits: FitTable) -> Part:
    """Return a part that warns of each dimension that writes another size than is drawn.

    Only words in place of the measured value can.

    Parameters
    ----------
    part : Part
    catalogue : Catalogue
    fits : FitTable
    """
    own_words = tuple(a for a in part.annotations if a.size is not None and a.size.has_own_words)
    if not own_words:
        return part
    said = what_drawing_says(replace(part, annotations=own_words), catalogue=catalogue, fits=fits)
    return replace(part, findings=(*part.findings, *contradicted_sizes(said)))


def untaken_demands(
    sayings: Iterable[Saying], part: Part, requirement: Requirement
) -> Iterator[Finding]:
    """Yield a warning for each text of the drawing that asks closer than what is planned.

    Parameters
    ----------
    sayings : iterable of Saying
        What the drawing says.
    part : Part
    requirement : Requirement
        What is planned and priced.
    """
    says = tuple(sayings)
    decimals = {_decimals(one) for one in says if one.kind is AnnotationKind.DIMENSION}
    demands = _Demands(says, part, requirement)
    contours = {c.id: c for c in part.to_cut}
    told: set[tuple[object, ...]] = set()
    for one in says:
        meant = [r for r in one.statement.readings if r.option or r.of_picked]
        if any("decimals" in r.data and r.data["decimals"] not in decimals for r in meant):
            # A general tolerance of which no dimension has as many decimals.
            continue
        if not meant or (one.contour_ids and not demands.of(one)):
            continue
        for name, keys in _DEMANDS.items():
            limits = [next((float(r.data[k]) for k in keys if k in r.data), None) for r in meant]
            known = [value for value in limits if value is not None]
            # Of what may mean several things, only what is closer in every one of them.
            if not known or len(known) < len(limits):
                continue
            missed = demands.missed(one, name, max(known))
            # A fit and its limits in one text ask the same.
            keys_of = {
                (name, tuple(missed), one.statement.text),
                (name, tuple(missed), one.where, round(max(known), 3)),
            }
            if missed and not keys_of & told:
                told |= keys_of
                found = _closer(one, name, max(known), missed)
                if name == "tolerance_um":
                    at = {i: contours[i] for i in missed if i}
                    more = [middle_words(one, reading, at) for reading in meant]
                    # Of several meanings, only where the middle is off in every one of them.
                    found = replace(found, message=found.message + more[0] * all(more))
                yield found


class _Demands:
    """What is asked of each contour, to be held against what a text asks of it."""

    def __init__(self, says: Iterable[Saying], part: Part, requirement: Requirement) -> None:
        self._requirement = requirement
        self._planned = {c.id: requirement.demand_on(c.id) for c in part.to_cut}
        # What other texts ask of single contours outranks what one asks of all of them.
        self._said: dict[tuple[str, str], float] = {}
        for one in says:
            for reading in one.statement.readings if one.contour_ids else ():
                for name, keys in _DEMANDS.items():
                    um = next((float(reading.data[k]) for k in keys if k in reading.data), 0.0)
                    for of in one.contour_ids:
                        key = (of, name)
                        self._said[key] = max(um, self._said.get(key, 0.0))

    def of(self, one: Saying) -> tuple[str, ...]:
        """Return the contours to cut that a text stands at."""
        return tuple(name for name in one.contour_ids if name in self._planned)

    def missed(self, one: Saying, name: str, asked_um: float) -> dict[str, Demand]:
        """Return the demands that are wider than what a text asks, by contour; "" for all."""
        if one.contour_ids:
            own = {i: self._planned[i] for i in self.of(one)}
            return {i: d for i, d in own.items() if _is_wider(d, name, asked_um)}
        wide = {i: d for i, d in self._planned.items() if _is_wider(d, name, asked_um)}
        if any(r.of_picked for r in one.statement.readings):
            # Which contour is meant is open: one that keeps it is enough.
            return {"": self._requirement.demand} if len(wide) == len(self._planned) else {}
        wide = {i: d for i, d in wide.items() if not self._is_its_own(i, name, d)}
        asked = self._requirement.contours
        by_job = [i for i in wide if i not in asked or getattr(asked[i], name) is None]
        # The line of the job mends all that have none of their own.
        return {"": self._requirement.demand} if by_job else wide

    def _is_its_own(self, contour_id: str, name: str, demand: Demand) -> bool:
        """Tell whether another text of the drawing asks no more of a contour by itself."""
        own, said_um = getattr(demand, name), self._said.get((contour_id, name), 0.0)
        return own is not None and own <= said_um * (1 + _HAIR)


def _decimals(one: Saying) -> int:
    """Return how many decimals the size of a text has."""
    found = _SIZE.search(_COUNT.sub("", one.statement.text))
    return len(found[1] or "") if found else 0


_COUNT: Final = re.compile(r"^\s*\d{1,4}\s?[xX×]\s")
_SIZE: Final = re.compile(r"\d*[.,](\d+)|\d+")
_DEMANDS: Final = {
    "tolerance_um": ("wall_half_um", "half_um"),
    "ra_um": ("ra_um",),
    "max_recast_um": ("recast_um",),
}
"""Names of a demand, and of the numbers of a reading that ask it."""
_LINES: Final = {"tolerance_um": "tolerance", "ra_um": "finish", "max_recast_um": "recast"}
"""The line of a job that asks a demand."""
_HAIR: Final = 1e-3
"""Share by which a taken limit may miss the written one: decimals of the line."""


def _is_wider(demand: Demand, name: str, asked_um: float) -> bool:
    own = getattr(demand, name)
    return own is None or own > asked_um * (1 + _HAIR)


def _closer(
    one: Saying,
    name: str,
    asked_um: float,
    missed: dict[str, Demand],
) -> Finding:
    ids, wider = tuple(missed), [getattr(one, name) for one in missed.values()]
    is_none = None in wider
    planned_um = None if is_none else max(wider)
    say = both_roughness if name == "ra_um" else zone_asked
    sign = "±" if name == "tolerance_um" else ""
    what = {"tolerance_um": " of each wall", "ra_um": "", "max_recast_um": " of recast layer"}[name]
    at = f" at {listed([i for i in ids if i])}" if any(ids) else ""
    instead = (
        "nothing of the kind is asked"
        if planned_um is None
        else f"{sign}{say(planned_um)} is what is planned and quoted"
    )
    data: dict[str, float | int | str] = {
        "asked_um": asked_um,
        "line": _LINES[name],
        "text": one.statement.text,
    }
    if planned_um is not None:
        data["planned_um"] = planned_um
    if any(ids):
        data[CONTOURS] = ",".join(i for i in ids if i)
    return Finding(
        code=ASKS_CLOSER,
        severity=Severity.WARNING,
        message=f"The drawing asks “{_short(one.statement.text)}”{at}, "
        f"{sign}{say(asked_um)}{what}, and {instead}.",
        where=one.where,
        remedy=_remedy(one, name, at),
        data=data,
    )


def _remedy(one: Saying, name: str, at: str) -> str:
    if any(reading.of_picked for reading in one.statement.readings):
        return f"Pick the contours that it is meant for and ask the {_LINES[name]} of them."
    return (
        f"Take it over from what the drawing says into the line {_LINES[name]!r}"
        f"{at.replace(' at ', ' of ')}, or ask whether it holds."
    )


def _size(value_mm: float) -> str:
    return f"{round(value_mm, 4):g} mm ({value_mm / MM_PER_INCH:.4f} in)"


def _short(text: str) -> str:
    return shortened(" ".join(text.split()), _MOST_LETTERS)
