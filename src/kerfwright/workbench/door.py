"""The door: who is let in, how often somebody may try, and what is written down of it."""

from __future__ import annotations

import asyncio
import time
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Final

from kerfwright.adapters.seats.audit import Audit, Deed
from kerfwright.adapters.seats.store import SeatStore, Session
from kerfwright.foundation.errors import InputError
from kerfwright.workbench.limits import Allowance, Waits, network_of

COOKIE: Final = "kerfwright"
_HASHES_AT_ONCE: Final = 2
"""Each takes 64 MiB and a core."""
_SAME_VIEW_S: Final = 60.0
"""A page reads what it shows anew at every change: within this it is one view."""
_MOST_VIEWS: Final = 5000
_UPLOADS: Final = 60
_UPLOAD_BYTES: Final = 4 * 2**30
_UPLOADS_WITHIN_S: Final = 600.0


@dataclass(slots=True, kw_only=True)
class Door:
    """Who is let in.

    Attributes
    ----------
    seats : SeatStore
    audit : Audit
    always_asks : bool
        Whether log-in is asked though nobody was given a seat, as beyond this machine.
    is_secure : bool
        Whether browsers reach this server by TLS only.
    uploads : Allowance
    """

    seats: SeatStore
    audit: Audit
    always_asks: bool = False
    is_secure: bool = False
    uploads: Allowance = field(
        default_factory=lambda: Allowance(
            most=_UPLOADS, most_bytes=_UPLOAD_BYTES, within_s=_UPLOADS_WITHIN_S
        )
    )
    waits: Waits = field(default_factory=Waits)
    now_s: Callable[[], float] = time.monotonic
    _asked_once: bool = field(default=False, init=False)
    _views: OrderedDict[tuple[str, ...], float] = field(default_factory=OrderedDict, init=False)
    _hashing: asyncio.Semaphore = field(
        default_factory=lambda: asyncio.Semaphore(_HASHES_AT_ONCE), init=False
    )

    @property
    def asks(self) -> bool:
        """Whether log-in is asked; once it was, until this server ends."""
        self._asked_once = self._asked_once or self.always_asks or self.seats.is_asked
        return self._asked_once

    @property
    def cookie(self) -> str:
        """Name of the cookie; under TLS one that no other server of the domain can set.

        RFC 6265bis (4.1.3.2): a name that begins so is taken with ``Secure`` and for this very
        server only.
        """
        return f"__Host-{COOKIE}" if self.is_secure else COOKIE

    async def session(self, token: str) -> Session | None:
        """Return who holds a token."""
        if not token:
            return None
        return await asyncio.to_thread(self.seats.session, token)

    async def is_still_in(self, session: Session) -> bool:
        """Return whether a session has not ended, without counting as a use of it."""
        return await asyncio.to_thread(_is_in, self.seats, session.key)

    async def log_in(self, name: str, password: str, *, address: str) -> tuple[str, Session]:
        """Begin a session, and write down that somebody tried.

        Raises
        ------
        InputError
            Code ``log-in-wrong``.
        WaitError
            Code ``log-in-wait``.
        """
        plain, network = name.strip().casefold(), network_of(address)
        is_known = await asyncio.to_thread(self.seats.knows, plain, address)
        # From where a seat came before, what strangers try elsewhere in its name counts nothing.
        keys = [("known", plain, network)] if is_known else [("seat", plain), ("address", network)]
        tried = Deed(seat=plain, address=address, kind="log-in", deed="log in", status=200)
        try:
            self.waits.begin(keys)
        except InputError:
            if self._is_news(("wait", plain, network)):
                await self.write(_refused(tried, 429))
            raise
        async with self._hashing:
            found = await asyncio.to_thread(self.seats.log_in, name, password, address=address)
        if found is None:
            await self.write(_refused(tried, 401))
            raise InputError(
                "this is not the name and the password of a seat",
                code="log-in-wrong",
                remedy="An owner can give a new password.",
            )
        self.waits.passed(keys)
        await self.write(
            Deed(
                seat=plain,
                role=found[1].seat.role.value,
                address=address,
                kind="log-in",
                deed="log in",
                status=200,
            )
        )
        return found

    async def check_password(self, session: Session, password: str) -> None:
        """Refuse a password that is not the seat's own, as for log-in.

        Raises
        ------
        InputError
            Code ``password-wrong``.
        WaitError
        """
        keys = [("password", session.seat.name)]
        self.waits.begin(keys)
        async with self._hashing:
            found = await asyncio.to_thread(
                self.seats.log_in, session.seat.name, password, address=session.address
            )
        if found is None:
            raise InputError("the present password is another", code="password-wrong")
        self.waits.passed(keys)
        await asyncio.to_thread(self.seats.log_out, found[1].key)

    async def write(self, deed: Deed) -> None:
        """Write down what somebody did; a view that is repeated at once is one view.

        Raises
        ------
        FileError
        """
        view = (deed.kind, deed.seat, deed.address, deed.deed, deed.job, deed.detail)
        if deed.kind == "view" and not self._is_news(view):
            return
        await asyncio.to_thread(self.audit.add, deed)

    def _is_news(self, what: tuple[str, ...]) -> bool:
        now_s = self.now_s()
        last_s = self._views.pop(what, None)
        is_news = last_s is None or now_s - last_s >= _SAME_VIEW_S
        self._views[what] = now_s if last_s is None or is_news else last_s
        while len(self._views) > _MOST_VIEWS:
            self._views.popitem(last=False)
        return is_news

    def close(self) -> None:
        """Let go of the database."""
        self.seats.database.close()


def _is_in(seats: SeatStore, key: str) -> bool:
    return seats.session_of_key(key, is_used=False) is not None


def _refused(deed: Deed, status: int) -> Deed:
    return Deed(seat=deed.seat, address=deed.address, kind="refused", deed=deed.deed, status=status)
