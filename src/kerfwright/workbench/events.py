"""One WebSocket for each open page: the server tells it what changed."""

from __future__ import annotations

import asyncio
import contextlib
from typing import Any, Final

from starlette.websockets import WebSocket, WebSocketDisconnect

from kerfwright.adapters.seats.store import Session
from kerfwright.app.seats import Right
from kerfwright.foundation.errors import KerfwrightError
from kerfwright.workbench.door import Door

_MOST_WAITING: Final = 1000
"""Messages kept for a page that does not read; then it is let go and has to come back."""
LOOKS_EVERY_S = 15.0
"""How soon a page is told no more after its session ended."""
_NOT_LOGGED_IN: Final = 4401


class Hub:
    """All open pages."""

    def __init__(self) -> None:
        self._queues: set[asyncio.Queue[dict[str, Any]]] = set()

    def publish(self, message: dict[str, Any]) -> None:
        """Tell every page."""
        for queue in list(self._queues):
            try:
                queue.put_nowait(message)
            except asyncio.QueueFull:
                self._queues.discard(queue)

    async def serve(
        self, socket: WebSocket, door: Door | None = None, session: Session | None = None
    ) -> None:
        """Serve one page until it goes away, or until who looks at it is logged in no more.

        A guest is told nothing: not even that there are jobs of others.
        """
        await socket.accept()
        queue: asyncio.Queue[dict[str, Any]] = asyncio.Queue(_MOST_WAITING)
        if session is None or session.seat.may(Right.SEE):
            self._queues.add(queue)
        sender = asyncio.ensure_future(self._send(socket, queue))
        watching = [sender]
        if door is not None and session is not None:
            watching.append(asyncio.ensure_future(_watch(socket, door, session)))
        try:
            while True:
                await socket.receive_text()
        except WebSocketDisconnect:
            pass
        finally:
            self._queues.discard(queue)
            for one in watching:
                one.cancel()
                with contextlib.suppress(asyncio.CancelledError):
                    await one

    @staticmethod
    async def _send(socket: WebSocket, queue: asyncio.Queue[dict[str, Any]]) -> None:
        with contextlib.suppress(WebSocketDisconnect, RuntimeError):
            while True:
                await socket.send_json(await queue.get())


async def _watch(socket: WebSocket, door: Door, session: Session) -> None:
    """Close a page's socket once its session has ended."""
    with contextlib.suppress(WebSocketDisconnect, RuntimeError):
        while await _is_still_in(door, session):
            await asyncio.sleep(LOOKS_EVERY_S)
        await socket.close(_NOT_LOGGED_IN, "logged out")


async def _is_still_in(door: Door, session: Session) -> bool:
    try:
        return await door.is_still_in(session)
    except KerfwrightError:
        # Nobody can say: then nothing more is told.
        return False
