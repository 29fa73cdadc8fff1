"""Who may ask: only pages of our own, on the names this server answers to.

A page from elsewhere can send requests to 127.0.0.1, and a name that its owner points there later
(DNS rebinding) even reads the answers.  Both are refused by the ``Host`` and ``Origin`` headers
(RFC 9110, 7.2; RFC 6454, 7), for WebSockets too, which no same-origin rule of browsers covers
(RFC 6455, 10.2).
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import JSONResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

LOOPBACK: Final = ("127.0.0.1", "localhost", "[::1]")
_READING: Final = ("GET", "HEAD", "OPTIONS")
_POLICY: Final = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
    "connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
_HEADERS: Final = {
    "Content-Security-Policy": _POLICY,
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=()",
}
_BY_TLS: Final = "max-age=31536000"


class Guard:
    """Refuse strangers and tell browsers to be strict.

    Parameters
    ----------
    app : ASGI application
    hosts : iterable of str
        Names this server answers to, without port.
    is_secure : bool
        Whether browsers are to come by TLS only from now on (RFC 6797, 6.1).
    """

    def __init__(
        self, app: ASGIApp, hosts: Iterable[str] = LOOPBACK, *, is_secure: bool = False
    ) -> None:
        self._app = app
        self._hosts = frozenset(host.lower() for host in hosts)
        self._said = _HEADERS | ({"Strict-Transport-Security": _BY_TLS} if is_secure else {})

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request, or refuse it."""
        if scope["type"] not in {"http", "websocket"}:
            await self._app(scope, receive, send)
            return
        fault = self._fault(scope)
        if fault:
            if scope["type"] == "websocket":
                await send({"type": "websocket.close", "code": 1008, "reason": fault})
                return
            answer = JSONResponse(
                {"code": "not-from-here", "message": fault, "where": "", "remedy": "", "line": ""},
                status_code=403,
            )
            await answer(scope, receive, send)
            return

        async def strict(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in self._said.items():
                    headers[name] = value
                if scope["path"].startswith("/api/"):
                    headers.setdefault("Cache-Control", "no-store")
            await send(message)

        await self._app(scope, receive, strict)

    def _fault(self, scope: Scope) -> str:
        headers = Headers(scope=scope)
        host = headers.get("host", "")
        if _name(host) not in self._hosts:
            return "this server does not answer to that name"
        origin = headers.get("origin")
        is_reading = scope["type"] == "http" and scope["method"] in _READING
        if origin is None:
            # Programs other than browsers send none; browsers always do where it matters.
            site = headers.get("sec-fetch-site", "same-origin")
            return "" if is_reading or site in {"same-origin", "none"} else "asked from elsewhere"
        return "" if urlsplit(origin).netloc.lower() == host.lower() else "asked from elsewhere"


def _name(host: str) -> str:
    name, colon, port = host.lower().rpartition(":")
    return name if colon and port.isdigit() else host.lower()
