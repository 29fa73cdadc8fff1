"""Run the server until it is told to stop."""

from __future__ import annotations

import contextlib
import signal
import socket
import webbrowser
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import uvicorn

from kerfwright.foundation.errors import FileError
from kerfwright.workbench.app import Settings, create_app


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where the page is served.

    Attributes
    ----------
    host : str
    port : int
        0 for any free one.
    certificate, key : Path or None
        PEM files; both, or neither.
    """

    host: str
    port: int
    certificate: Path | None = None
    key: Path | None = None

    @property
    def scheme(self) -> str:
        """How browsers reach it."""
        return "http" if self.certificate is None else "https"


def serve(
    settings: Settings, place: Place, *, opens_browser: bool, tell: Callable[[str], None]
) -> None:
    """Serve the page; returns when the server was stopped.

    Parameters
    ----------
    settings : Settings
    place : Place
    opens_browser : bool
    tell : callable
        Told the address once it answers.

    Raises
    ------
    FileError
        Code ``port-taken`` if the port is in use.
    """
    app = create_app(settings)
    listening = _listen(place)
    port = listening.getsockname()[1]
    host = f"[{place.host}]" if ":" in place.host else place.host
    address = f"{place.scheme}://{host}:{port}/"
    config = uvicorn.Config(
        app,
        log_level="warning",
        lifespan="on",
        ws="websockets-sansio",
        # Who stands between says so at the door of the application, and only where there is one.
        proxy_headers=False,
        ssl_certfile=place.certificate,
        ssl_keyfile=place.key,
    )

    def opened() -> None:
        tell(address)
        if opens_browser:
            webbrowser.open(address)

    _Server(config, opened).run(sockets=[listening])


class _Server(uvicorn.Server):
    """A server that says when it answers, and ends quietly when it is told to."""

    def __init__(self, config: uvicorn.Config, opened: Callable[[], None]) -> None:
        super().__init__(config)
        self._opened = opened

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        await super().startup(sockets)
        if self.started:
            self._opened()

    @contextlib.contextmanager
    def capture_signals(self) -> Iterator[None]:
        # The base class raises the signal once more at the end, which would end the process
        # before its workers are put away.
        wanted = (signal.SIGINT, signal.SIGTERM)
        before = {number: signal.signal(number, self.handle_exit) for number in wanted}
        try:
            yield
        finally:
            for number, handler in before.items():
                signal.signal(number, handler)


def _listen(place: Place) -> socket.socket:
    family = socket.AF_INET6 if ":" in place.host else socket.AF_INET
    listening = socket.socket(family, socket.SOCK_STREAM)
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind((place.host, place.port))
    except OSError as fault:
        listening.close()
        raise FileError(
            f"port {place.port} of {place.host} cannot be used: {fault.strerror}",
            code="port-taken",
            remedy="Name another with --port, or --port 0 for any free one; --host is an address "
            "of this machine.",
        ) from fault
    return listening
