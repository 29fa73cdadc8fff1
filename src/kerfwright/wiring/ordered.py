"""Which kept jobs are ordered, how many of each and for when; what they left on the machines."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path

from kerfwright.adapters.enquiry_folder import ENQUIRY, EnquiryFolder
from kerfwright.app.enquiries import Enquiry
from kerfwright.app.marks import Mark, MarkKind, Standing
from kerfwright.app.week import JobWish
from kerfwright.foundation.errors import InputError
from kerfwright.scheduling.records import Load, ParkMachine


def enquiry_of(folder: Path) -> Enquiry | None:
    """Return the enquiry of a job that the page keeps; None for a job of the command line.

    Raises
    ------
    FileError, InputError
        If it cannot be read.
    """
    if not (folder / ENQUIRY).is_file():
        return None
    return EnquiryFolder(folder=folder.parent).read(folder.name)


def expect_proved(enquiry: Enquiry) -> None:
    """Refuse a job whose program is not of what it asks now.

    Raises
    ------
    InputError
        Code ``schedule-not-proved``.
    """
    if enquiry.proved_revision != enquiry.revision:
        raise InputError(
            "what it asks has no proved program yet, or its figures changed since",
            code="schedule-not-proved",
            where=enquiry.id,
            remedy="Open the job, so that its program is proved, and plan the week again.",
        )


def as_ordered(wish: JobWish, enquiry: Enquiry | None, marks: Sequence[Mark]) -> JobWish:
    """Return what the shop says of a job, filled up by what stands with the job itself.

    Parameters
    ----------
    wish : JobWish
        Of the park; goes first.
    enquiry : Enquiry or None
    marks : sequence of Mark
        The last one of an order says how many pieces.
    """
    if enquiry is not None:
        expect_proved(enquiry)
        due = enquiry.asked.get("due")
        if wish.due is None and due:
            wish = replace(wish, due=date.fromisoformat(due))
    ordered = [m.quantity for m in marks if m.kind is MarkKind.ORDERED]
    return replace(wish, quantity=wish.quantity or (ordered[-1] if ordered else None))


def as_left(
    machines: Sequence[ParkMachine], loads: Sequence[Load], standings: Mapping[str, Standing]
) -> tuple[ParkMachine, ...]:
    """Return the machines with wire and fixture of the last load that was set up on each."""
    found = []
    for machine in machines:
        here = [
            (standing.ends[0], load)
            for load in loads
            if (standing := standings.get(load.id)) is not None
            and standing.machine == machine.id
            and standing.ends
            and standing.fits(load)
        ]
        if here:
            _, last = max(here, key=lambda one: one[0])
            wire = last.need.wire_mm if last.need.wire_mm is not None else machine.wire_mm
            machine = replace(machine, wire_mm=wire, fixture=last.fixture)  # noqa: PLW2901
        found.append(machine)
    return tuple(found)
