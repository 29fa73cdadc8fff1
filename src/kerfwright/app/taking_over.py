"""What may be taken over from a drawing, beside what is asked already.

A contour carries one tolerance, one finish and one recast layer, and several texts may ask them of
it: two sizes of one opening, a general note and a size.  The closest keeps them all, so taking a
text over never loosens anything; that stays possible, on purpose.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from enum import Enum, auto
from types import MappingProxyType
from typing import Final

from kerfwright.app.drawing_says import Saying
from kerfwright.app.drawn_sizes import sized
from kerfwright.app.enquiries import CONTOUR, Asked
from kerfwright.app.enquiry_lines import own_lines
from kerfwright.app.line_hints import TITLES
from kerfwright.app.offered_lines import Lines, demands_of, lines_of
from kerfwright.app.requirements import named_demands
from kerfwright.app.said import Said
from kerfwright.app.taken_lines import are_taken, stand_instead
from kerfwright.foundation.directed import Use
from kerfwright.foundation.errors import KerfwrightError
from kerfwright.foundation.shortened import shortened
from kerfwright.foundation.units import (
    UM_PER_MM,
    UnitSystem,
    most_mm,
    roughness_text,
)
from kerfwright.foundation.zones import zone_text
from kerfwright.trade import roughness
from kerfwright.trade.fits import FitTable, tolerance_of_wall
from kerfwright.trade.part import Part
from kerfwright.trade.statements import Reading

_HAIR: Final = 1e-3
"""Share by which two limits may differ that are one: decimals of a line."""
_MOST_LETTERS: Final = 40
_MOST_NAMED: Final = 4
_OF_JOB: Final = ""
"""In place of a contour: what is asked of the whole job."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """How close a demand is.

    Attributes
    ----------
    um : float
        Half width of a zone, a roughness, a depth.
    shift_um : float
        From the drawn line to the middle of a zone.
    """

    um: float
    shift_um: float = 0.0

    def is_closer(self, other: Limit) -> bool:
        """Tell whether this one allows less than another."""
        return self.um < other.um * (1 - _HAIR)

    def is_same(self, other: Limit) -> bool:
        """Tell whether both allow the same."""
        away_um = max(abs(self.um - other.um), abs(self.shift_um - other.shift_um))
        return away_um <= _HAIR * other.um


@dataclass(frozen=True, slots=True, kw_only=True)
class Offer:
    """What a person can do with a reading of the drawing.

    Attributes
    ----------
    lines : dict of str to str
        What taking it over sets, or has set; it loosens nothing.
    is_taken : bool
        Whether all of it is asked already.
    stays : tuple of Said
        What is asked closer already, of what and from which text.
    instead : tuple of Said
        What it would stand in place of.
    looser : dict of str to str
        What would ask it although something closer is asked.
    of_picked : mapping of str to str
        What contours that a person picks would be asked, by the name of the demand.
    closer : tuple of str
        Contours of which something closer than that is asked already.
    """

    lines: Lines = field(default_factory=dict)
    is_taken: bool = False
    stays: tuple[Said, ...] = ()
    instead: tuple[Said, ...] = ()
    looser: Lines = field(default_factory=dict)
    of_picked: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    closer: tuple[str, ...] = ()


class _Stands(Enum):
    FREE = auto()
    TAKEN = auto()
    LOOSER = auto()
    CLOSER = auto()


class TakingOver:
    """Offers of a drawing, held against what is asked.

    Parameters
    ----------
    sayings : iterable of Saying
        All that the drawing says: what stands already may come from another text of it.
    asked : mapping of str to str
        The lines as they are.
    part : Part
    fits : FitTable
    """

    def __init__(
        self, sayings: Iterable[Saying], asked: Asked, part: Part, *, fits: FitTable
    ) -> None:
        self._asked = asked
        self._fits = fits
        self._unit = part.drawing_unit
        self._contours = {c.id.upper(): c for c in part.contours}
        self._own = {
            name.removeprefix(CONTOUR).upper(): named_demands(text, name)
            for name, text in asked.items()
            if name.startswith(CONTOUR) and text
        }
        self._limits: dict[tuple[str, str, str], Limit | None] = {}
        self._sources: dict[tuple[str, str, str], str] = {}
        for one in sayings:
            for reading in one.statement.readings:
                ids, demands = demands_of(reading)
                for what, text in demands.items():
                    for name in ids or (_OF_JOB,):
                        self._sources.setdefault((name, what, text), one.statement.text)

    def offer(self, reading: Reading) -> Offer:
        """Return what can be done with a reading."""
        if reading.of_picked:
            return self._to_be_picked(reading)
        ids, demands = demands_of(reading)
        if not demands:
            return self._of_job(lines_of(reading, asked=self._asked))
        found: dict[_Stands, list[tuple[str, str]]] = {}
        for name in ids or (_OF_JOB,):
            for what, text in demands.items():
                found.setdefault(self._stands(name, what, text), []).append((name, what))
        free = [*found.get(_Stands.FREE, ()), *found.get(_Stands.LOOSER, ())]
        closer = found.get(_Stands.CLOSER, [])
        return Offer(
            lines=self._lines(free, demands),
            is_taken=list(found) == [_Stands.TAKEN],
            stays=tuple(self._said(closer, demands, is_closer=True)),
            instead=tuple(self._said(found.get(_Stands.LOOSER, []), demands, is_closer=False)),
            looser=self._lines([*free, *closer], demands) if closer else {},
        )

    def _of_job(self, lines: Lines) -> Offer:
        """Return an offer of which nothing is closer than another: material, height, quantity."""
        return Offer(
            lines=lines,
            is_taken=are_taken(lines, self._asked),
            instead=stand_instead(lines, self._asked),
        )

    def _to_be_picked(self, reading: Reading) -> Offer:
        demands = named_demands(reading.of_picked, "")
        taken, closer = [], []
        for name in self._contours:
            ways = {self._stands(name, what, text) for what, text in demands.items()}
            own = self._own.get(name, {})
            if all(own.get(what) == text for what, text in demands.items()):
                taken.append(name)
            elif _Stands.CLOSER in ways:
                closer.append(name)
        return Offer(
            is_taken=bool(taken),
            instead=(_same(f"asked of {_listed(taken)}"),) if taken else (),
            of_picked=MappingProxyType(demands),
            closer=tuple(closer),
        )

    def _lines(self, places: list[tuple[str, str]], demands: Mapping[str, str]) -> Lines:
        lines: Lines = {}
        for name, what in places:
            text = {what: demands[what]}
            lines |= text if name == _OF_JOB else own_lines({**self._asked, **lines}, [name], text)
        return lines

    def _standing(self, name: str, what: str) -> tuple[str, str]:
        """Return what is asked now, and of what: the contour itself or the job."""
        own = self._own.get(name, {}).get(what, "") if name != _OF_JOB else ""
        return (own, name) if own else (self._asked.get(what, ""), _OF_JOB)

    def _stands(self, name: str, what: str, text: str) -> _Stands:
        standing, of = self._standing(name, what)
        if standing and standing == text and of == name:
            return _Stands.TAKEN
        now, wanted = self._limit(name, what, standing), self._limit(name, what, text)
        if now is None or wanted is None:
            # What cannot be read is refused elsewhere, and is no reason to keep it.
            return _Stands.LOOSER if standing and of == name else _Stands.FREE
        if now.is_closer(wanted):
            return _Stands.CLOSER
        if of != name:
            return _Stands.FREE
        return _Stands.TAKEN if now.is_same(wanted) else _Stands.LOOSER

    def _limit(self, name: str, what: str, text: str) -> Limit | None:
        if not text:
            return None
        key = (name if what == "tolerance" else _OF_JOB, what, text)
        if key not in self._limits:
            try:
                self._limits[key] = self._read(name, what, text)
            except KerfwrightError:
                self._limits[key] = None
        return self._limits[key]

    def _read(self, name: str, what: str, text: str) -> Limit:
        match what:
            case "tolerance":
                if name in self._contours:
                    text = sized(text, self._contours[name], self._unit, self._fits)
                zone = tolerance_of_wall(text, table=self._fits)
                return Limit(um=zone.half_um, shift_um=zone.shift_um)
            case "finish":
                return Limit(um=roughness.finish(text).ra_um)
            case _:
                return Limit(um=most_mm(text, what=what) * UM_PER_MM)

    def _said(
        self, places: list[tuple[str, str]], demands: Mapping[str, str], *, is_closer: bool
    ) -> Iterable[Said]:
        """Say what stands at some places, those alike in one sentence."""
        groups: dict[tuple[str, str, str], list[str]] = {}
        for name, what in places:
            standing, of = self._standing(name, what)
            source = self._source(name if of else _OF_JOB, what, standing)
            groups.setdefault((what, standing, source), []).append(name)
        for (what, standing, source), names in groups.items():
            limit = self._limit(names[0], what, standing)
            wanted = self._limit(names[0], what, demands[what])
            where = _listed([name for name in names if name]) or "the whole job"
            is_off = limit is not None and wanted is not None and limit.shift_um != wanted.shift_um
            yield Said(
                **{
                    system.value: f"{where}: {_limit_words(what, limit, standing, system)}"
                    f"{' stands, which is closer' * is_closer}, from {source}"
                    f"{_OTHER_MIDDLE * is_off}"
                    for system in UnitSystem
                }
            )

    def _source(self, name: str, what: str, text: str) -> str:
        said = self._sources.get((name, what, text)) or self._sources.get((_OF_JOB, what, text))
        if said:
            return f"“{shortened(' '.join(said.split()), _MOST_LETTERS)}”"
        if name == _OF_JOB:
            return f"the line {TITLES[what][0]} of the job"
        return "its own line, which no text of this drawing asks: ask which holds"


_OTHER_MIDDLE: Final = (
    "; the two zones lie about different middles: ask whether one wall can keep both"
)


def _limit_words(what: str, limit: Limit | None, text: str, system: UnitSystem) -> str:
    if limit is None:
        return text
    if what == "finish":
        return roughness_text(limit.um, system=system)
    return f"{'±' * (what == 'tolerance')}{zone_text(limit.um, Use.ASKED, system=system)}"


def _same(text: str) -> Said:
    return Said(metric=text, inch=text)


def _listed(names: list[str]) -> str:
    more = f" and {len(names) - _MOST_NAMED} more" if len(names) > _MOST_NAMED else ""
    return f"{', '.join(names[:_MOST_NAMED])}{more}"
