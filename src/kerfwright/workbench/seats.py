"""Addresses of an owner: who may log in, and what was done."""

from __future__ import annotations

import asyncio
from collections.abc import Iterator
from dataclasses import asdict
from typing import Annotated

from fastapi import APIRouter, Query, Request, Response
from fastapi.responses import StreamingResponse

from kerfwright.adapters.seats.audit import Line
from kerfwright.app.seats import MAY, Role, Seat, checked_seat
from kerfwright.workbench.parameters import SeatName
from kerfwright.workbench.refusals import content, refusals
from kerfwright.workbench.seat_shapes import (
    DeedList,
    DeedShape,
    DeedsWanted,
    NewSeat,
    SeatChange,
    SeatList,
    SeatShape,
)
from kerfwright.workbench.session import OurDoor, OurSession

router = APIRouter(prefix="/api", tags=["seats"])


@router.get("/seats", responses=refusals(409))
async def seats(_session: OurSession, door: OurDoor) -> SeatList:
    """List everybody who may log in."""
    found = await asyncio.to_thread(door.seats.seats)
    return SeatList(
        seats=[_shape(one) for one in found],
        roles={role.value: sorted(right.value for right in MAY[role]) for role in Role},
    )


@router.post("/seats", status_code=201, responses=refusals(400, 409, 422))
async def add(_session: OurSession, said: NewSeat, door: OurDoor, request: Request) -> SeatShape:
    """Let somebody log in."""
    seat = checked_seat(said.name, Role(said.role), said.customer)
    request.state.detail = f"{seat.name} {seat.role.value} {seat.customer}".rstrip()
    await asyncio.to_thread(door.seats.add, seat, said.password)
    return _shape(seat)


@router.patch("/seats/{seat}", status_code=204, responses=refusals(400, 404, 409, 422))
async def change(
    _session: OurSession, seat: SeatName, said: SeatChange, door: OurDoor, request: Request
) -> None:
    """Give somebody another role or another password; his sessions end."""
    words = [said.role, said.customer, "new password" if said.password is not None else ""]
    request.state.detail = " ".join(word for word in words if word)
    if said.role is not None:
        after = checked_seat(seat, Role(said.role), said.customer)
        await asyncio.to_thread(door.seats.change_role, after)
    if said.password is not None:
        await asyncio.to_thread(door.seats.change_password, seat, said.password)


@router.delete("/seats/{seat}", status_code=204, responses=refusals(404, 409))
async def remove(_session: OurSession, seat: SeatName, door: OurDoor) -> None:
    """Let somebody log in no more; what he did stays written."""
    await asyncio.to_thread(door.seats.remove, seat)


@router.get("/audit", responses=refusals(409, 422))
async def audit(
    _session: OurSession, wanted: Annotated[DeedsWanted, Query()], door: OurDoor
) -> DeedList:
    """List what was done, the newest first; no content of any drawing is in it."""
    found = await asyncio.to_thread(
        door.audit.lines, before=wanted.before, most=wanted.most, job=wanted.job
    )
    return DeedList(deeds=[_deed(one) for one in found])


@router.get("/audit.csv", response_class=Response, responses=content("text/csv") | refusals(409))
async def audit_csv(_session: OurSession, door: OurDoor) -> Response:
    """Download all that was done, the first first."""
    headers = {"Content-Disposition": 'attachment; filename="kerfwright-audit.csv"'}
    # Asked once here, so that a database that does not answer is a fault and not half a file.
    await asyncio.to_thread(door.audit.lines, most=1)
    rows: Iterator[str] = door.audit.csv_rows()
    return StreamingResponse(rows, media_type="text/csv; charset=utf-8", headers=headers)


def _shape(seat: Seat) -> SeatShape:
    return SeatShape(name=seat.name, role=seat.role.value, customer=seat.customer, added=seat.added)


def _deed(line: Line) -> DeedShape:
    return DeedShape.model_validate({"number": line.number, "at": line.at} | asdict(line.deed))
