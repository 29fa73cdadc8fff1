"""Behind a proxy: only it is answered, and it says who asks and that he came by TLS."""

from __future__ import annotations

import ipaddress

from starlette.datastructures import Headers
from starlette.types import ASGIApp, Receive, Scope, Send

from kerfwright.workbench.refusals import fault_answer
from kerfwright.workbench.shapes import Fault


class Proxied:
    """Answer a proxy only.

    Parameters
    ----------
    app : ASGI application
    proxy : str
        Its address.
    """

    def __init__(self, app: ASGIApp, proxy: str) -> None:
        self._app = app
        self._proxy = ipaddress.ip_address(proxy)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request, or refuse it."""
        if scope["type"] not in {"http", "websocket"}:
            await self._app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        # The last is the one that the proxy itself saw; those before are the stranger's word.
        asking = headers.get("x-forwarded-for", "").rpartition(",")[2].strip()
        is_by_tls = headers.get("x-forwarded-proto", "").strip().casefold() in {"https", "wss"}
        if self._is_proxy(scope) and asking and is_by_tls:
            await self._app({**scope, "client": (asking, 0)}, receive, send)
        elif scope["type"] == "websocket":
            await send({"type": "websocket.close", "code": 1008, "reason": "not by the proxy"})
        else:
            said = Fault(
                code="not-from-here",
                message="this server is reached by its proxy and by TLS only",
                remedy="The proxy sets X-Forwarded-For and X-Forwarded-Proto.",
            )
            await fault_answer(said, 403)(scope, receive, send)

    def _is_proxy(self, scope: Scope) -> bool:
        client = scope.get("client")
        try:
            return client is not None and ipaddress.ip_address(client[0]) == self._proxy
        except ValueError:
            return False
