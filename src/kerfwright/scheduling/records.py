"""What is to be put on the machines, when somebody is there, and a timetable of it.

Times are whole minutes from the moment at which a timetable begins; only
:class:`kerfwright.scheduling.hours.Clock` knows the date.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from types import MappingProxyType
from typing import Final

from scipy.special import ndtri

from kerfwright.foundation.errors import InputError
from kerfwright.foundation.ranges import Z_10_90, Range

LEAST_QUANTILE: Final = 0.05
MOST_QUANTILE: Final = 0.95


class Goal(StrEnum):
    """What a timetable is to have least of."""

    DUE = "due"
    """Minutes past the due dates, each times the importance of its load."""
    END = "end"
    """Time until the last load is done."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """Minutes from ``begin_min`` up to, not including, ``end_min``."""

    begin_min: int
    end_min: int
    why: str = ""

    def __post_init__(self) -> None:
        if self.begin_min >= self.end_min:
            raise InputError(
                f"ends at minute {self.end_min}, which is not after its begin, {self.begin_min}",
                code="schedule-span",
                where=self.why,
                remedy="Give the end after the begin.",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """What a load asks of a machine; None where it asks nothing.

    Attributes
    ----------
    definition : str
        Machine definition that its program is written for; empty for any.
    size_x_mm, size_y_mm, height_mm, mass_kg, angle_deg : float or None
    wire_mm : float or None
        Diameter of the wire.
    """

    definition: str = ""
    size_x_mm: float | None = None
    size_y_mm: float | None = None
    height_mm: float | None = None
    mass_kg: float | None = None
    angle_deg: float | None = None
    wire_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ParkMachine:
    """One machine of the park.

    Attributes
    ----------
    id, name : str
    definition : str
        Machine definition by which programs for it are written.
    travel_x_mm, travel_y_mm, max_height_mm, max_mass_kg, max_angle_deg : float
    wire_diameters_mm : tuple of float
        Wires it has guides for.
    wire_mm : float or None
        Wire that is on it when the timetable begins.
    fixture : str
        Fixture that is on it then.
    downs : tuple of Span
        When it stands: repair, maintenance.
    """

    id: str
    name: str = ""
    definition: str = ""
    travel_x_mm: float = math.inf
    travel_y_mm: float = math.inf
    max_height_mm: float = math.inf
    max_mass_kg: float = math.inf
    max_angle_deg: float = math.inf
    wire_diameters_mm: tuple[float, ...] = ()
    wire_mm: float | None = None
    fixture: str = ""
    downs: tuple[Span, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """An attended moment or an unattended stretch of a load.

    Attributes
    ----------
    name : str
        In words of the trade: ``"rough"``, ``"slugs and cut-offs"``.
    minutes : Range
        10 %, likely and 90 %, as of a lognormal quantity.
    is_attended : bool
        Whether the attendant is at the machine all the while.
    does : str
        What the attendant does.
    cautions : tuple of str
    breaks : float
        Wire breaks to be expected in it that want a hand.
    """

    name: str
    minutes: Range
    is_attended: bool
    does: str = ""
    cautions: tuple[str, ...] = ()
    breaks: float = 0.0

    def planned_min(self, quantile: float) -> int:
        """Return the whole minutes that are kept for it, at least one.

        A quantile ``q`` of a lognormal quantity, wider to the side that is wider:
        ``m exp(z_q / z_0.9 ln(side / m))``.

        Parameters
        ----------
        quantile : float
            Share of such stages that take no longer.

        Examples
        --------
        >>> cut = Stage(name="rough", minutes=Range(low=80, likely=100, high=125),
        ...             is_attended=False)
        >>> cut.planned_min(0.5), cut.planned_min(0.9), cut.planned_min(0.7)
        (100, 125, 110)
        """
        likely = self.minutes.likely
        if likely <= 0 or self.minutes.low <= 0:
            return max(1, math.ceil(likely))
        z = float(ndtri(quantile)) / Z_10_90
        ratio = self.minutes.high / likely if z >= 0 else likely / self.minutes.low
        # A minute that is only there by rounding of the last bit is none.
        minutes: float = likely * ratio**z
        return max(1, math.ceil(round(minutes, 6)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """Work that is on one machine from its first stage to its last.

    Attributes
    ----------
    id : str
    stages : tuple of Stage
        In their order.  The first one, where it is attended, is the set-up.
    name : str
    due_min : int or None
        When it has to be done.
    ready_min : int
        Before which it cannot begin.
    importance : int
        A minute late counts so many times.
    need : Need
    fixture : str
        What it is clamped in; empty for none that others share.
    machines : tuple of str
        Machines that it may go on; empty for all that fit.
    after : tuple of str
        Loads that have to be done before.
    running_on : str
        Machine that it is on already; its set-up is then behind it, and it stays there.
    """

    id: str
    stages: tuple[Stage, ...]
    name: str = ""
    due_min: int | None = None
    ready_min: int = 0
    importance: int = 1
    need: Need = field(default_factory=Need)
    fixture: str = ""
    machines: tuple[str, ...] = ()
    after: tuple[str, ...] = ()
    running_on: str = ""

    def __post_init__(self) -> None:
        if not self.stages:
            raise InputError(f"{self.id}: a load needs a stage", code="schedule-empty",
                             remedy="Leave out what is done.")  # fmt: skip
        if self.importance < 1:
            raise InputError(
                f"{self.id}: importance is 1 or more, got {self.importance}",
                code="schedule-importance",
                remedy="Give 1 for the usual, more for what matters more.",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class SetUps:
    """What the load before spares or costs a set-up, attended minutes.

    Attributes
    ----------
    wire_change_min : int
        Another diameter: wire, guides, check of the alignment.
    same_fixture_saves_min : int
        The fixture stays on the table.
    least_min : int
        No set-up is shorter.
    """

    wire_change_min: int = 0
    same_fixture_saves_min: int = 0
    least_min: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Week:
    """All that a timetable is made of; named for what a shop looks at.

    Attributes
    ----------
    machines : tuple of ParkMachine
    loads : tuple of Load
    away : tuple of Span
        When nobody attends, ascending, apart from each other; up to the horizon.
    set_ups : SetUps
    quantile : float
        Share of stages that take no longer than the minutes kept for them.
    horizon_min : int
        Nothing is planned beyond.
    """

    machines: tuple[ParkMachine, ...]
    loads: tuple[Load, ...]
    away: tuple[Span, ...] = ()
    set_ups: SetUps = SetUps()
    quantile: float = 0.5
    horizon_min: int = 100_000

    def __post_init__(self) -> None:
        for what, ids in (("machines", self.machines), ("loads", self.loads)):
            names = [one.id for one in ids]
            if len(set(names)) < len(names) or (what == "machines" and not names):
                raise InputError(
                    f"a timetable needs {what} with names of their own, got {names}",
                    code="schedule-names",
                    remedy="Name each once.",
                )
        if not LEAST_QUANTILE <= self.quantile <= MOST_QUANTILE:
            raise InputError(
                f"the share {self.quantile} is not within {LEAST_QUANTILE} and {MOST_QUANTILE}",
                code="schedule-quantile",
                remedy="0.5 is the likely time, 0.9 the upper end of the 80 % range.",
            )

    def load(self, name: str) -> Load:
        """Return the load of that id."""
        return next(one for one in self.loads if one.id == name)


@dataclass(frozen=True, slots=True, kw_only=True)
class Booking:
    """Where and when one load is.

    Attributes
    ----------
    load, machine : str
    spans : tuple of Span
        One for each stage, in order; between them the machine waits.
    """

    load: str
    machine: str
    spans: tuple[Span, ...]

    @property
    def begin_min(self) -> int:
        """Minute at which it comes on the machine."""
        return self.spans[0].begin_min

    @property
    def end_min(self) -> int:
        """Minute at which it is done."""
        return self.spans[-1].end_min


@dataclass(frozen=True, slots=True, kw_only=True)
class Timetable:
    """Bookings of all loads, and how good they are known to be.

    Attributes
    ----------
    bookings : tuple of Booking
        By begin.
    goal : Goal
    value : int
        What the goal counts, in minutes.
    bound : int
        No timetable has less, as far as was proved.
    method : str
        Who made it, in words.
    stopped : bool
        Whether a person or the end of the time cut the search short.
    left : mapping of str to str
        Loads without a machine, each with the reason.
    """

    bookings: tuple[Booking, ...]
    goal: Goal
    value: int
    bound: int = 0
    method: str = ""
    stopped: bool = False
    left: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))

    @property
    def is_proved(self) -> bool:
        """Whether no timetable can be better."""
        return self.value <= self.bound

    @property
    def gap_share(self) -> float:
        """How far, as a share of its value, it may be from the best one at most."""
        return 0.0 if self.is_proved else (self.value - self.bound) / self.value

    def booking(self, load: str) -> Booking:
        """Return the booking of a load."""
        return next(one for one in self.bookings if one.load == load)


Tell = Callable[[str, float], None]
"""Told what is going on and the share done."""
Stop = Callable[[], bool]
"""Asked now and then whether to end with what there is."""
