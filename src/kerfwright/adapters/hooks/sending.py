"""Tell a hook: a file in its folder, or a signed call to its address."""

from __future__ import annotations

import time
from http.client import HTTPException
from typing import IO, Any, Final
from urllib.error import HTTPError
from urllib.request import HTTPRedirectHandler, Request, build_opener

from kerfwright.adapters.hooks.event import signature
from kerfwright.adapters.hooks.settings import Hook
from kerfwright.adapters.whole_files import write_whole
from kerfwright.foundation.errors import KerfwrightError
from kerfwright.foundation.version import __version__

PATIENCE_S: Final = 10.0


class NotToldError(KerfwrightError, RuntimeError):
    """An event could not be told; it is tried again."""


class _NoDetour(HTTPRedirectHandler):
    """Follows no redirect: what is signed for one address is not sent to another."""

    def redirect_request(
        self, req: Request, fp: IO[bytes], code: int, msg: str, headers: Any, newurl: str
    ) -> None:
        """Take no other address."""


def send(hook: Hook, name: str, body: bytes) -> None:
    """Tell a hook an event.

    Raises
    ------
    FileError
        Code ``shop-folder-unwritable``.
    NotToldError
        Code ``hook-not-told``: no answer within 10 s, or none of 2xx.
    """
    if hook.folder is not None:
        # Renamed into its place: whoever watches the folder never reads half a file.
        write_whole(hook.folder / f"{name}.json", body.decode())
        return
    timestamp = str(int(time.time()))
    request = Request(  # noqa: S310 of https or this machine, see read_hooks
        hook.url,
        data=body,
        method="POST",
        headers={
            "Content-Type": "application/json; charset=utf-8",
            "User-Agent": f"kerfwright/{__version__}",
            "Kerfwright-Event": name,
            "Kerfwright-Timestamp": timestamp,
            "Kerfwright-Signature": f"sha256={signature(hook.secret, timestamp, body)}",
        },
    )
    try:
        with build_opener(_NoDetour).open(request, timeout=PATIENCE_S):
            pass
    except HTTPError as fault:
        with fault:
            raise _not_told(hook, f"answered {fault.code}") from fault
    except (OSError, HTTPException, ValueError) as fault:
        raise _not_told(hook, f"did not answer: {fault}") from fault


def _not_told(hook: Hook, what: str) -> NotToldError:
    return NotToldError(
        f"{hook.name} {what}", code="hook-not-told", where=hook.url,
        remedy="It is tried again; `kerfwright hooks` lists what waits.",
    )  # fmt: skip
