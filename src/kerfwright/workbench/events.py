"""One WebSocket for each open page: the server tells it what changed."""

from __future__ import annotations

import asyncio
import contextlib
from typing import Any, Final

from starlette.websockets import WebSocket, WebSocketDisconnect

_MOST_WAITING: Final = 1000
"""Messages kept for a page that does not read; then it is let go and has to come back."""


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

    async def serve(self, socket: WebSocket) -> None:
        """Serve one page until it goes away."""
        await socket.accept()
        queue: asyncio.Queue[dict[str, Any]] = asyncio.Queue(_MOST_WAITING)
        self._queues.add(queue)
        sender = asyncio.ensure_future(self._send(socket, queue))
        try:
            while True:
                await socket.receive_text()
        except WebSocketDisconnect:
            pass
        finally:
            self._queues.discard(queue)
            sender.cancel()
            with contextlib.suppress(asyncio.CancelledError):
                await sender

    @staticmethod
    async def _send(socket: WebSocket, queue: asyncio.Queue[dict[str, Any]]) -> None:
        with contextlib.suppress(WebSocketDisconnect, RuntimeError):
            while True:
                await socket.send_json(await queue.get())
