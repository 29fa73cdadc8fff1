"""The application: routes, the page itself, and what goes around both."""

from __future__ import annotations

import asyncio
import os
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from fastapi import Depends, FastAPI, WebSocket
from fastapi.responses import FileResponse, PlainTextResponse, Response
from fastapi.staticfiles import StaticFiles
from starlette.middleware.gzip import GZipMiddleware

from kerfwright.adapters.enquiry_store import open_store
from kerfwright.adapters.seats.audit import Audit
from kerfwright.adapters.seats.store import open_seats
from kerfwright.foundation.version import __version__
from kerfwright.workbench import (
    cut,
    jobs,
    measured,
    nests,
    numbers,
    papers,
    pinned,
    places,
    quotes,
    removed,
    seats,
    session,
    shop_tables,
    versions,
    week,
)
from kerfwright.workbench.described import INTRODUCTION, Described
from kerfwright.workbench.desk import Desk
from kerfwright.workbench.door import Door
from kerfwright.workbench.events import Hub
from kerfwright.workbench.gate import Gate
from kerfwright.workbench.guard import LOOPBACK, Guard
from kerfwright.workbench.nest_desk import Nests
from kerfwright.workbench.proxied import Proxied
from kerfwright.workbench.refusals import ANYWHERE, answer_refusals, expect_whole_letters
from kerfwright.workbench.telling import keep_telling
from kerfwright.workbench.week_desk import WeekDesk

_PARTS: Final = (
    *(session, seats, quotes, jobs, removed, versions, papers, measured),
    *(shop_tables, cut, places, pinned, nests, week, numbers),
)
"""In the order in which addresses are looked for."""
STATIC: Final = Path(__file__).parent / "static"
_WORTH_PACKING: Final = 2048
_MOST_HEAVY: Final = 4
"""More proofs at a time than this gain nothing on a shop's computer."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """How the page is served.

    Attributes
    ----------
    jobs : Path
        Folder of the job folders.
    tables, shop : Path or None
    index : str or None
        Address of the index of the jobs; None for a file among them.
    hosts : tuple of str
        Names the server answers to.
    always_asks : bool
        Whether log-in is asked though nobody was given a seat.
    is_secure : bool
        Whether browsers reach the server by TLS only.
    proxy : str or None
        Address of the only machine that may ask, for others, by TLS.
    """

    jobs: Path
    tables: Path | None = None
    shop: Path | None = None
    index: str | None = field(default=None, repr=False)
    hosts: tuple[str, ...] = LOOPBACK
    always_asks: bool = False
    is_secure: bool = False
    proxy: str | None = None


def is_built() -> bool:
    """Return whether the page itself is there."""
    return (STATIC / "index.html").is_file()


def create_app(settings: Settings) -> Described:
    """Return the application.

    Raises
    ------
    FileError
        If the folder of jobs cannot be written to.
    """
    folder = open_store(settings.jobs, url=settings.index)
    folder.ready()
    hub = Hub()
    people = open_seats(settings.jobs, url=settings.index)
    door = Door(
        seats=people,
        audit=Audit(database=people.database),
        always_asks=settings.always_asks,
        is_secure=settings.is_secure,
    )

    @asynccontextmanager
    async def lifespan(app: FastAPI) -> AsyncIterator[None]:
        heavy = max(1, min(_MOST_HEAVY, (os.cpu_count() or 1) - 1))
        own = {"tables": settings.tables, "shop": settings.shop}
        # Beyond this machine log-in is always asked.
        desk = Desk(folder, hub, **own, heavy=heavy, takes_paths=lambda: not door.asks)
        nests_laid, week_planned = Nests(desk, hub), WeekDesk(folder, hub)
        app.state.desk, app.state.nests, app.state.week = desk, nests_laid, week_planned
        # Its libraries take a moment: they are loaded while the page opens.
        opening = asyncio.create_task(asyncio.to_thread(folder.ready_index))
        telling = asyncio.create_task(keep_telling(folder))
        yield
        telling.cancel()
        await opening
        for one in (nests_laid, week_planned, desk):
            one.close()
        door.close()
        folder.index.close()

    app = Described(
        title="kerfwright workbench",
        version=__version__,
        description=INTRODUCTION,
        lifespan=lifespan,
        docs_url=None,
        redoc_url=None,
        openapi_url="/api/openapi.json",
        responses=ANYWHERE,
        dependencies=[Depends(expect_whole_letters)],
    )
    app.state.door = door
    for part in _PARTS:
        app.include_router(part.router)
    answer_refusals(app)

    @app.websocket("/api/events")
    async def events(socket: WebSocket) -> None:
        await hub.serve(socket, door, socket.state.session)

    _serve_page(app)
    app.add_middleware(GZipMiddleware, minimum_size=_WORTH_PACKING, compresslevel=4)
    app.add_middleware(Gate, door=door)
    app.add_middleware(Guard, hosts=settings.hosts, is_secure=settings.is_secure)
    if settings.proxy is not None:
        app.add_middleware(Proxied, proxy=settings.proxy)
    return app


def _serve_page(app: FastAPI) -> None:
    if not is_built():

        @app.get("/", include_in_schema=False)
        def unbuilt() -> Response:
            return PlainTextResponse("The page is not built; run `make serve`.", status_code=503)

        return
    app.mount("/assets", StaticFiles(directory=STATIC / "assets"), name="assets")

    @app.get("/", include_in_schema=False)
    def page() -> Response:
        return FileResponse(STATIC / "index.html", headers={"Cache-Control": "no-cache"})

    @app.get("/icon.svg", include_in_schema=False)
    def icon() -> Response:
        return FileResponse(STATIC / "icon.svg")

    @app.get("/licenses.md", include_in_schema=False)
    def licences() -> Response:
        return FileResponse(STATIC / "licenses.md", media_type="text/plain; charset=utf-8")
