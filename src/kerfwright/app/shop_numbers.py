"""The numbers of the shop: quoted against what was marked, use of machines, orders won.

Nothing is made up: what nobody marked is missing, and with each number stand the jobs behind it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from enum import StrEnum
from types import MappingProxyType
from typing import Final

from kerfwright.app.enquiries import Stage
from kerfwright.foundation.errors import KerfwrightError
from kerfwright.foundation.proportions import Share, wilson
from kerfwright.foundation.ranges import Range
from kerfwright.foundation.units import length_mm

_CENT: Final = Decimal("0.01")
WON: Final = (Stage.ORDERED, Stage.DONE)
"""Stages of a quote that became an order."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """What was marked of one kind of minutes.

    Attributes
    ----------
    minutes : float
        Together.
    count : int
        Moments, or stretches, of which minutes were said.
    of : int
        How many the job has; 0 where that is not known.
    """

    minutes: float
    count: int
    of: int

    @property
    def is_whole(self) -> bool:
        """Whether every moment of the job is in it."""
        return 0 < self.of <= self.count


@dataclass(frozen=True, slots=True, kw_only=True)
class Occupied:
    """When a job was on a machine: from its first mark to its last."""

    machine: str
    begin: datetime
    end: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class JobNumbers:
    """One job: what was quoted of it, and what was marked.

    Attributes
    ----------
    id, title : str
    customer : str
    stage : Stage
    asked : mapping of str to str
        Lines of the job.
    quantity : int or None
        Pieces ordered, or the only quantity priced.
    currency : str
    price : Decimal or None
        Quoted for the quantity.
    attended_min, alone_min : Range or None
        At the machine and without anybody, as quoted for the quantity, minutes.
    attended_per_h, alone_per_h : Decimal or None
        What an hour of each was priced at.
    wire_kg : Range or None
        As quoted for the quantity.
    attended, alone : Said
        As marked.
    wire_used_kg : float or None
    breaks : int
        Marked.
    occupied : Occupied or None
    cut_predicted_min, cut_measured_min : float or None
        Of the passes that were measured.
    """

    id: str
    title: str
    customer: str
    stage: Stage
    asked: Mapping[str, str]
    quantity: int | None = None
    currency: str = ""
    price: Decimal | None = None
    attended_min: Range | None = None
    alone_min: Range | None = None
    attended_per_h: Decimal | None = None
    alone_per_h: Decimal | None = None
    wire_kg: Range | None = None
    attended: Said = Said(minutes=0, count=0, of=0)
    alone: Said = Said(minutes=0, count=0, of=0)
    wire_used_kg: float | None = None
    breaks: int = 0
    occupied: Occupied | None = None
    cut_predicted_min: float | None = None
    cut_measured_min: float | None = None

    @property
    def price_at_marked(self) -> Decimal | None:
        """What the job would be priced at with the hours that were marked.

        ``price + Σ (marked - quoted) · rate`` over hours at the machine and without anybody; None
        unless every moment and every stretch was said.
        """
        price = self.price
        if price is None:
            return None
        for said, quoted, per_h in (
            (self.attended, self.attended_min, self.attended_per_h),
            (self.alone, self.alone_min, self.alone_per_h),
        ):
            if quoted is None or per_h is None or not said.is_whole:
                return None
            price += per_h * Decimal(repr((said.minutes - quoted.likely) / 60))
        return price.quantize(_CENT)


class Way(StrEnum):
    """By what quotes are put in groups."""

    ALL = "all"
    CUSTOMER = "customer"
    MATERIAL = "material"
    TOLERANCE = "tolerance"
    FINISH = "finish"
    RECAST = "recast"
    TAPER = "taper"


@dataclass(frozen=True, slots=True, kw_only=True)
class Won:
    """How many quotes of a group became orders.

    Attributes
    ----------
    way : Way
    group : str
    share : Share
        Of those that were decided.
    won, lost, waiting : tuple of str
        Jobs.
    """

    way: Way
    group: str
    share: Share
    won: tuple[str, ...]
    lost: tuple[str, ...]
    waiting: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Used:
    """How long a machine had a job on it.

    Attributes
    ----------
    machine : str
    hours : float
        Within the period; jobs that overlap count once.
    of_hours : float
        Of the period, day and night.
    breaks : int
        Wire breaks that were marked.
    jobs : tuple of str
    """

    machine: str
    hours: float
    of_hours: float
    breaks: int
    jobs: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Against:
    """Quoted minutes against marked ones, over the jobs of which every moment was said.

    Attributes
    ----------
    what : str
        ``"attended"`` or ``"alone"``.
    quoted_min, marked_min : float
    inside : Share
        Jobs whose marked minutes lie within the quoted range, of which 8 in 10 should.
    jobs : tuple of str
    """

    what: str
    quoted_min: float
    marked_min: float
    inside: Share
    jobs: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ShopNumbers:
    """The numbers of a shop.

    Attributes
    ----------
    begin, end : datetime
        Period of the use of machines.
    jobs : tuple of JobNumbers
        Ordered and done.
    against : tuple of Against
    used : tuple of Used
    won : tuple of Won
    """

    begin: datetime
    end: datetime
    jobs: tuple[JobNumbers, ...]
    against: tuple[Against, ...]
    used: tuple[Used, ...]
    won: tuple[Won, ...]


def numbers_of(jobs: Iterable[JobNumbers], *, begin: datetime | None, end: datetime) -> ShopNumbers:
    """Return the numbers of a shop.

    Parameters
    ----------
    jobs : iterable of JobNumbers
        Of every stage.
    begin : datetime or None
        Of the period for the use of machines; None for the first mark.
    end : datetime
        Of that period.
    """
    every = tuple(jobs)
    ordered = tuple(one for one in every if one.stage in WON)
    marked = [one.occupied.begin for one in ordered if one.occupied is not None]
    first = begin or min(marked, default=end)
    return ShopNumbers(
        begin=first,
        end=end,
        jobs=ordered,
        against=tuple(
            _against(what, ordered, said, quoted)
            for what, said, quoted in (
                ("attended", _attended, lambda one: one.attended_min),
                ("alone", _alone, lambda one: one.alone_min),
            )
        ),
        used=tuple(_used(ordered, first, end)),
        won=tuple(_won(every)),
    )


def _attended(one: JobNumbers) -> Said:
    return one.attended


def _alone(one: JobNumbers) -> Said:
    return one.alone


def _against(
    what: str,
    jobs: Sequence[JobNumbers],
    said: Callable[[JobNumbers], Said],
    quoted: Callable[[JobNumbers], Range | None],
) -> Against:
    pairs = [
        (one.id, found, said(one).minutes)
        for one in jobs
        if (found := quoted(one)) is not None and said(one).is_whole
    ]
    inside = sum(found.low <= minutes <= found.high for _, found, minutes in pairs)
    return Against(
        what=what,
        quoted_min=sum(found.likely for _, found, _ in pairs),
        marked_min=sum(minutes for _, _, minutes in pairs),
        inside=wilson(inside, len(pairs)),
        jobs=tuple(name for name, _, _ in pairs),
    )


def _used(jobs: Sequence[JobNumbers], begin: datetime, end: datetime) -> Iterator[Used]:
    of_hours = max(0.0, (end - begin).total_seconds() / 3600)
    spans: dict[str, list[tuple[datetime, datetime, str, int]]] = {}
    for one in jobs:
        if one.occupied is None:
            continue
        first, last = max(begin, one.occupied.begin), min(end, one.occupied.end)
        if first < last:
            row = (first, last, one.id, one.breaks)
            spans.setdefault(one.occupied.machine, []).append(row)
    for machine, rows in sorted(spans.items()):
        hours, free = 0.0, begin
        for first, last, _, _ in sorted(rows):
            hours += max(0.0, (last - max(first, free)).total_seconds() / 3600)
            free = max(free, last)
        yield Used(
            machine=machine,
            hours=hours,
            of_hours=of_hours,
            breaks=sum(row[3] for row in rows),
            jobs=tuple(row[2] for row in sorted(rows)),
        )


def _won(jobs: Sequence[JobNumbers]) -> Iterator[Won]:
    for way in Way:
        groups: dict[str, list[JobNumbers]] = {}
        for one in jobs:
            if one.stage is not Stage.OPEN:
                groups.setdefault(_GROUPS[way](one), []).append(one)
        # The largest first, those of one size by name.
        for group, rows in sorted(groups.items(), key=lambda item: (-len(item[1]), item[0])):
            won, lost, waiting = (
                tuple(one.id for one in rows if one.stage in stages)
                for stages in (WON, (Stage.DECLINED,), (Stage.QUOTED,))
            )
            share = wilson(len(won), len(won) + len(lost))
            yield Won(way=way, group=group, share=share, won=won, lost=lost, waiting=waiting)


_ZONES: Final = ((0.003, "±0.003 mm or closer"), (0.005, "±0.005 mm"), (0.01, "±0.01 mm"))
_SLACK: Final = 1.02
"""Of a limit: ±0.0002 in is ±0.00508 mm, and meant as ±0.005 mm."""


def tolerance_group(text: str) -> str:
    """Return the group of a tolerance as it is asked.

    >>> tolerance_group("±5 µm"), tolerance_group("±0.0002 in"), tolerance_group("H7")
    ('±0.005 mm', '±0.005 mm', 'H7')
    """
    if not text:
        return "none asked"
    try:
        half = length_mm(re.sub(r"^\s*(±|\+/-|\+-)", "", text))
    except KerfwrightError:
        return text
    return next((name for limit, name in _ZONES if half <= limit * _SLACK), "wider than ±0.01 mm")


def _says(line: str) -> Callable[[JobNumbers], str]:
    return lambda one: "asked" if one.asked.get(line) else "not asked"


_GROUPS: Final[Mapping[Way, Callable[[JobNumbers], str]]] = MappingProxyType(
    {
        Way.ALL: lambda _one: "all quotes",
        Way.CUSTOMER: lambda one: one.customer or "no customer said",
        Way.MATERIAL: lambda one: one.asked.get("material") or "no material said",
        Way.TOLERANCE: lambda one: tolerance_group(one.asked.get("tolerance", "")),
        Way.FINISH: _says("finish"),
        Way.RECAST: _says("recast"),
        Way.TAPER: lambda one: (
            "asked" if any(name.startswith("taper ") for name in one.asked) else "not asked"
        ),
    }
)
