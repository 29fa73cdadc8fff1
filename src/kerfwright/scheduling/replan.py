"""A timetable anew after a breakdown or a rush job, with few moves."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from kerfwright.scheduling.problem import Told
from kerfwright.scheduling.records import Load, Timetable, Week


@dataclass(frozen=True, slots=True, kw_only=True)
class MoveCosts:
    """What counts as a move, and how much.

    Attributes
    ----------
    slack_min : int
        A begin that shifts by no more is no move.
    costs_min : int
        A move counts as so many minutes past a due date.
    """

    slack_min: int
    costs_min: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """One load that is elsewhere or at another time than was told.

    Attributes
    ----------
    load : str
    from_machine, to_machine : str
    from_min, to_min : int
        Begins, minutes of the new timetable.
    """

    load: str
    from_machine: str
    to_machine: str
    from_min: int
    to_min: int


def told_of(
    week: Week, before: Mapping[str, tuple[str, int]], *, costs: MoveCosts
) -> dict[str, Told]:
    """Return what was told, for :func:`kerfwright.scheduling.solve.timetable`.

    Parameters
    ----------
    week : Week
        The new one.
    before : mapping of str to (str, int)
        Machine and begin of each load as it was told, in minutes of the new week.
    costs : MoveCosts
    """
    number = {m.id: k for k, m in enumerate(week.machines)}
    return {
        load.id: Told(
            machine=number.get(before[load.id][0], -1),
            begin_min=before[load.id][1],
            slack_min=costs.slack_min,
            costs_min=costs.costs_min,
        )
        for load in week.loads
        # What is on a machine stays there: that is no move, whatever it does.
        if load.id in before and not load.running_on
    }


def rest_of(load: Load, *, machine: str, spans: tuple[tuple[int, int], ...]) -> Load | None:
    """Return what is left of a load at minute 0 of a new week; None where it is done.

    Parameters
    ----------
    load : Load
    machine : str
        That it is on.
    spans : tuple of (int, int)
        Its stages in minutes of the new week.

    Returns
    -------
    Load or None
        As it was where it has not begun.  A stage that runs is left for the share of its minutes
        that is to come.
    """
    from dataclasses import replace

    if spans[0][0] >= 0:
        return load
    left = []
    for stage, (begin, end) in zip(load.stages, spans, strict=True):
        if end <= 0:
            continue
        share = 1.0 if begin >= 0 else end / (end - begin)
        left.append(replace(stage, minutes=stage.minutes * share, breaks=stage.breaks * share))
    if not left:
        return None
    return replace(load, stages=tuple(left), running_on=machine, after=(), ready_min=0)


def moves(
    week: Week,
    before: Mapping[str, tuple[str, int]],
    after: Timetable,
    *,
    costs: MoveCosts,
) -> tuple[Move, ...]:
    """Return what is elsewhere, or begins at another time, than was told; by its begin."""
    found = []
    for booking in after.bookings:
        if booking.load not in before or week.load(booking.load).running_on:
            continue
        machine, begin = before[booking.load]
        if machine != booking.machine or abs(begin - booking.begin_min) > costs.slack_min:
            found.append(
                Move(
                    load=booking.load,
                    from_machine=machine,
                    to_machine=booking.machine,
                    from_min=begin,
                    to_min=booking.begin_min,
                )
            )
    return tuple(found)
