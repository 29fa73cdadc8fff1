"""The one place through which every request of somebody goes who has to log in.

It stands around all routes: no body is read, no job looked for and no file opened before it is
known who asks, that his role may ask it, and that a change comes from our own page.
"""

from __future__ import annotations

import hmac
from http.cookies import CookieError, SimpleCookie
from typing import Final

from starlette.datastructures import Headers
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from kerfwright.adapters.seats.audit import Deed
from kerfwright.adapters.seats.store import Session
from kerfwright.app.seats import Right
from kerfwright.foundation.errors import InputError, KerfwrightError, UnknownNameError
from kerfwright.workbench.door import Door
from kerfwright.workbench.refusals import refusal_answer
from kerfwright.workbench.rights import Asked, asked_by

CHANGE_TOKEN: Final = "x-kerfwright-change"  # noqa: S105 the name of a header
_READING: Final = ("GET", "HEAD", "WEBSOCKET")
_REFUSED_FROM: Final = 400
_NOT_LOGGED_IN: Final = 4401
_SIZE_UNKNOWN: Final = 2**31


class Gate:
    """Let through who may.

    Parameters
    ----------
    app : ASGI application
    door : Door
    """

    def __init__(self, app: ASGIApp, door: Door) -> None:
        self._app = app
        self._door = door

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request, or refuse it."""
        is_ours = scope["type"] in {"http", "websocket"} and scope["path"].startswith("/api/")
        if is_ours:
            scope.setdefault("state", {})["session"] = None
        # The page itself holds nothing of the shop: it is what asks for the password.
        if not is_ours or not self._door.asks:
            await self._app(scope, receive, send)
            return
        asked = asked_by(_method(scope), scope["path"])
        session: Session | None = None
        try:
            session = await self._door.session(_token(scope, self._door.cookie))
            _admit(scope, asked, session, self._door)
        except KerfwrightError as fault:
            if session is not None:
                await self._door.write(_deed(scope, asked, session, fault_kind=fault.code))
            await _refuse(scope, receive, send, fault)
            return
        scope["state"]["session"] = session
        if session is None or asked is None or scope["type"] == "websocket":
            await self._app(scope, receive, send)
            return
        await self._app(scope, receive, self._written(scope, asked, session, send))

    def _written(self, scope: Scope, asked: Asked, session: Session, send: Send) -> Send:
        """Return a way to answer that first writes down what was asked."""

        async def written(message: Message) -> None:
            if message["type"] == "http.response.start":
                status = int(message["status"])
                is_refused = status >= _REFUSED_FROM
                if asked.kind or is_refused:
                    deed = _deed(scope, asked, session, status=status)
                    # Who is refused this very minute is told so; nothing was shown to him.
                    await self._door.write(deed)
            await send(message)

        return written


def _admit(scope: Scope, asked: Asked | None, session: Session | None, door: Door) -> None:
    """Refuse who may not."""
    if asked is not None and all(one.right is Right.LOG_IN for one in asked.needs):
        return
    if session is None:
        raise InputError(
            "who asks is not logged in, or no longer",
            code="log-in-needed",
            remedy="Log in with your name and your password.",
        )
    if asked is None:
        raise UnknownNameError("there is no such address", code="address-unknown")
    missing = [one.right for one in asked.needs if not session.seat.may(one.right)]
    if missing:
        raise InputError(
            f"{session.seat.role.value}s may not: {missing[0].value}",
            code="not-for-this-role",
            remedy="Ask an owner of the shop.",
        )
    if _method(scope) in _READING:
        return
    said = Headers(scope=scope).get(CHANGE_TOKEN, "")
    if not hmac.compare_digest(said.encode(), session.change_token.encode()):
        raise InputError(
            "a change did not come from this page",
            code="change-token",
            remedy="Load the page anew.",
        )
    if any(one.is_upload for one in asked.needs):
        size = Headers(scope=scope).get("content-length", "")
        door.uploads.take(session.seat.name, int(size) if size.isdigit() else _SIZE_UNKNOWN)


async def _refuse(scope: Scope, receive: Receive, send: Send, fault: KerfwrightError) -> None:
    if scope["type"] == "websocket":
        await send(
            {"type": "websocket.close", "code": _NOT_LOGGED_IN, "reason": fault.message[:100]}
        )
        return
    await refusal_answer(fault)(scope, receive, send)


def _deed(
    scope: Scope,
    asked: Asked | None,
    session: Session,
    *,
    status: int = 403,
    fault_kind: str = "",
) -> Deed:
    names = asked.names if asked else {}
    own = {k: v for k, v in names.items() if k != "job"}
    form = asked.form if asked else "an address that is none"
    # What a route itself says of what it did, such as which jobs it added.
    told = str(scope["state"].get("detail", ""))
    is_refused = bool(fault_kind) or status >= _REFUSED_FROM
    return Deed(
        seat=session.seat.name,
        role=session.seat.role.value,
        address=address_of(scope),
        kind="refused" if is_refused or asked is None else asked.kind,
        deed=f"{_method(scope)} {form}",
        job=names.get("job", ""),
        detail=" ".join([*own.values(), *(one for one in (told, fault_kind) if one)]),
        status=status,
    )


def address_of(scope: Scope) -> str:
    """Return from where a request came."""
    client = scope.get("client")
    return str(client[0]) if client else ""


def _method(scope: Scope) -> str:
    return "WEBSOCKET" if scope["type"] == "websocket" else str(scope["method"])


def _token(scope: Scope, name: str) -> str:
    try:
        found = SimpleCookie(Headers(scope=scope).get("cookie", "")).get(name)
    except CookieError:
        return ""
    return "" if found is None else found.value
