"""The nests of the page: in memory, the last few."""

from __future__ import annotations

import asyncio
import contextlib
import itertools
import tempfile
from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from kerfwright.foundation.errors import InputError, KerfwrightError, UnknownNameError
from kerfwright.nesting.records import Placement, Solution
from kerfwright.workbench.desk import Desk
from kerfwright.workbench.events import Hub
from kerfwright.workbench.nest_shapes import NestMoved, NestPlacement, NestWanted

if TYPE_CHECKING:
    from kerfwright.app.nest_wishes import NestRequest
    from kerfwright.workbench.nest_tasks import PartToLay

_MOST: Final = 12
_TASKS: Final = "kerfwright.workbench.nest_tasks"


@dataclass(slots=True, kw_only=True)
class Nest:
    """One nest.

    Attributes
    ----------
    id : str
    wanted : NestWanted
    request : NestRequest
    parts : tuple of PartToLay
    ending : Path
        A file that ends the search once it is there.
    laid : dict or None
        As the page gets it.
    solution : Solution or None
    """

    id: str
    wanted: NestWanted
    request: NestRequest
    parts: tuple[PartToLay, ...]
    ending: Path
    work: tuple[str, float] | None = ("waiting", 0.0)
    fault: KerfwrightError | None = None
    laid: dict[str, Any] | None = None
    solution: Solution | None = None
    running: asyncio.Task[None] | None = field(default=None, repr=False)


class Nests:
    """Nests and their computations.

    Parameters
    ----------
    desk : Desk
    hub : Hub
    """

    def __init__(self, desk: Desk, hub: Hub) -> None:
        self._desk, self._hub = desk, hub
        self._all: OrderedDict[str, Nest] = OrderedDict()
        self._numbers = itertools.count(1)
        self._endings = tempfile.TemporaryDirectory(prefix="kerfwright-nests-")

    def close(self) -> None:
        """End every search."""
        for one in self._all.values():
            if one.running is not None:
                one.running.cancel()
        self._endings.cleanup()

    def begin(self, wanted: NestWanted) -> Nest:
        """Begin to lay parts.

        Raises
        ------
        KerfwrightError
            If a job is not there, or a text cannot be read.
        """
        # On demand: the page opens before what reads these texts is loaded.
        from kerfwright.workbench.nest_wanted import request_of

        request, parts = request_of(wanted, self._desk)
        number = str(next(self._numbers))
        nest = Nest(
            id=number,
            wanted=wanted,
            request=request,
            parts=parts,
            ending=Path(self._endings.name) / number,
        )
        self._all[number] = nest
        nest.running = asyncio.ensure_future(self._lay(nest))
        while len(self._all) > _MOST:
            _, old = self._all.popitem(last=False)
            if old.running is not None:
                old.running.cancel()
        return nest

    async def _lay(self, nest: Nest) -> None:
        def report(step: str, share: float) -> None:
            nest.work = (step, share)
            self._tell(nest)

        try:
            found = await self._desk.computing.heavy.run(
                f"{_TASKS}.lay", nest.request, nest.parts, nest.ending, report=report
            )
            if found is not None:
                nest.laid, nest.solution = found
        except KerfwrightError as fault:
            nest.fault = fault
        finally:
            nest.work = nest.running = None
            with contextlib.suppress(OSError):
                nest.ending.unlink()
            self._tell(nest)

    def _tell(self, nest: Nest) -> None:
        self._hub.publish({"type": "nest", "nest": nest.id})

    def get(self, number: str) -> Nest:
        """Return a nest.

        Raises
        ------
        UnknownNameError
            Code ``nest-unknown``.
        """
        found = self._all.get(number)
        if found is None:
            raise UnknownNameError(
                f"there is no nest {number!r}",
                code="nest-unknown",
                remedy="Nests are kept until the server ends: lay the parts again, and make a job "
                "of what is to stay.",
            )
        return found

    def end(self, nest: Nest) -> None:
        """End the search with what there is."""
        if nest.running is not None:
            nest.ending.touch()

    async def tried(self, nest: Nest, wanted: NestMoved) -> dict[str, Any]:
        """Say whether parts may lie where somebody holds them."""
        found: dict[str, Any] = await self._desk.place(
            f"{_TASKS}.try_moved", *self._of(nest), _places(nest, wanted.moved)
        )
        return found

    async def move(self, nest: Nest, wanted: NestMoved) -> Nest:
        """Lay parts elsewhere and check the whole nest anew."""
        nest.laid, nest.solution = await self._desk.place(
            f"{_TASKS}.move", *self._of(nest), _places(nest, wanted.moved)
        )
        return nest

    async def files(self, nest: Nest) -> dict[str, str]:
        """Return the files of a nest by their names."""
        found: dict[str, str] = await self._desk.place(f"{_TASKS}.files_of", *self._of(nest))
        return found

    async def jobs(self, nest: Nest) -> list[tuple[str, list[str]]]:
        """Make a job of each sheet; returns their ids, and what of the parts does not go along.

        Raises
        ------
        InputError
            Code ``nest-refused`` where the nest does not hold.
        """
        if nest.laid is None or not nest.laid["holds"]:
            raise InputError(
                "the nest does not hold, so no sheet of it may be cut",
                code="nest-refused",
                remedy="Move the parts that are named, or lay them again.",
            )
        made: list[tuple[str, list[str]]] = []
        sheets = await self._desk.place(f"{_TASKS}.lines_of_sheets", *self._of(nest))
        for sheet in sheets:
            enquiry = self._desk.add(sheet["name"], sheet["drawing"].encode())
            after = await self._desk.change(
                enquiry.id,
                revisions={enquiry.revision},
                lines=sheet["lines"],
                stage=None,
                own=sheet["own"],
            )
            made.append((after.id, sheet["left"]))
        return made

    def _of(self, nest: Nest) -> tuple[NestRequest, tuple[PartToLay, ...], Solution]:
        if nest.solution is None:
            raise InputError("nothing is laid yet", code="nest-not-laid", remedy="Wait for it.")
        return nest.request, nest.parts, nest.solution


def _places(nest: Nest, moved: Sequence[NestPlacement]) -> tuple[Placement, ...]:
    """Return parts where they are to lie; one that leaves its host lies in no opening any more.

    Raises
    ------
    UnknownNameError
        Code ``nest-part-unknown``.
    """
    assert nest.solution is not None
    known = {(p.kind, p.copy): p for p in nest.solution.placements}
    names = {(one.kind, one.copy_number) for one in moved}
    found = []
    for one in moved:
        name = (one.kind, one.copy_number)
        if name not in known or one.sheet >= len(nest.solution.sheets):
            raise UnknownNameError(
                f"this nest has no {one.kind} {one.copy_number} on a sheet {one.sheet + 1}",
                code="nest-part-unknown",
            )
        host = known[name].inside
        found.append(
            Placement(
                kind=one.kind,
                copy=one.copy_number,
                sheet=one.sheet,
                turn_deg=one.turn_deg,
                x_mm=one.x_mm,
                y_mm=one.y_mm,
                inside=host if host in names else None,
            )
        )
    return tuple(found)
