"""Tells others of quoted and ordered jobs while the page is served."""

from __future__ import annotations

import asyncio
import logging
from typing import Final

from kerfwright.adapters.enquiry_store import EnquiryStore
from kerfwright.adapters.index.query import Query
from kerfwright.foundation.errors import KerfwrightError

_LOG = logging.getLogger(__name__)
EVERY_S: Final = 15.0


async def keep_telling(store: EnquiryStore, *, every_s: float = EVERY_S) -> None:
    """Look now and then what changed and tell it, for as long as the server runs.

    Parameters
    ----------
    store : EnquiryStore
    every_s : float
        From one look to the next.
    """
    before = ""
    while True:
        try:
            await asyncio.to_thread(turn, store)
            before = ""
        except KerfwrightError as fault:
            # Said once, not every quarter of a minute.
            if str(fault) != before:
                _LOG.warning("others are not told: %s", fault)
            before = str(fault)
        await asyncio.sleep(every_s)


def turn(store: EnquiryStore) -> None:
    """Look what changed and tell what is due, where anybody is to be told.

    Raises
    ------
    KerfwrightError
        If settings or outbox cannot be read.
    """
    from kerfwright.adapters.hooks.settings import HOOKS, read_hooks

    if not (store.folder / HOOKS).is_file():
        return
    from kerfwright.adapters.hooks.outbox import deliver, notice
    from kerfwright.adapters.hooks.sending import send

    hooks = read_hooks(store.folder)
    notice(store.folder, store.listed(Query()).enquiries, hooks)
    deliver(store.folder, hooks, send)
