"""Addresses of one's own session: who am I, log in, log out, another password."""

from __future__ import annotations

import asyncio
from typing import Annotated, Final

from fastapi import APIRouter, Depends, Request, Response

from kerfwright.adapters.seats.store import Session
from kerfwright.app.seats import MAY
from kerfwright.foundation.errors import InputError
from kerfwright.workbench.door import Door
from kerfwright.workbench.gate import address_of
from kerfwright.workbench.refusals import Answers, refusals
from kerfwright.workbench.seat_shapes import LogIn, NewPassword, SessionShape

router = APIRouter(prefix="/api/session", tags=["seats"])

_COOKIE: Final[Answers] = {
    201: {
        "headers": {
            "Set-Cookie": {"description": "the session", "schema": {"type": "string"}},
        }
    }
}


def our_door(request: Request) -> Door:
    """Return the door of the application."""
    door: Door = request.app.state.door
    return door


OurDoor = Annotated[Door, Depends(our_door)]


def our_session(request: Request) -> Session:
    """Return who asks.

    Raises
    ------
    InputError
        Code ``log-in-off`` where log-in is not asked.
    """
    found: Session | None = request.state.session
    if found is None:
        raise _off()
    return found


OurSession = Annotated[Session, Depends(our_session)]


def _off() -> InputError:
    return InputError(
        "these jobs ask for no log-in",
        code="log-in-off",
        remedy="kerfwright seats add NAME --role owner begins it.",
    )


@router.get("")
async def who(request: Request, door: OurDoor) -> SessionShape:
    """Say who is logged in."""
    found: Session | None = request.state.session
    return SessionShape(asks=door.asks, may=[]) if found is None else _shape(found)


@router.post("", status_code=201, responses=_COOKIE | refusals(400, 409, 422, 429))
async def log_in(said: LogIn, request: Request, response: Response, door: OurDoor) -> SessionShape:
    """Log in; the session is kept in a cookie that no script can read."""
    if not door.asks:
        raise _off()
    address = address_of(request.scope)
    token, session = await door.log_in(said.name, said.password, address=address)
    response.set_cookie(
        door.cookie,
        token,
        max_age=int(door.seats.limits.most_s),
        path="/",
        secure=door.is_secure,
        httponly=True,
        samesite="strict",
    )
    return _shape(session)


@router.delete("", status_code=204, responses=refusals(409))
async def log_out(session: OurSession, response: Response, door: OurDoor) -> None:
    """End the session."""
    await asyncio.to_thread(door.seats.log_out, session.key)
    response.delete_cookie(
        door.cookie, path="/", secure=door.is_secure, httponly=True, samesite="strict"
    )


@router.put("/password", status_code=204, responses=refusals(400, 409, 422, 429))
async def password(said: NewPassword, session: OurSession, door: OurDoor) -> None:
    """Take another password; every session of this seat ends, this one too."""
    await door.check_password(session, said.now)
    await asyncio.to_thread(door.seats.change_password, session.seat.name, said.next)


def _shape(session: Session) -> SessionShape:
    seat = session.seat
    return SessionShape(
        asks=True,
        name=seat.name,
        role=seat.role.value,
        customer=seat.customer,
        change_token=session.change_token,
        may=sorted(one.name for one in MAY[seat.role]),
    )
