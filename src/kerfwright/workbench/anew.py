"""Open jobs priced anew after the shop's figures changed, and whose price moved."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable, Sequence
from dataclasses import dataclass, field

from kerfwright.app.enquiries import Enquiry


@dataclass(frozen=True, slots=True, kw_only=True)
class MovedPrice:
    """One job whose price is another now.

    Attributes
    ----------
    id, title, stage, currency : str
    before, after : str
        Price of a piece of the first quantity; empty where there is none.
    """

    id: str
    title: str
    stage: str
    currency: str
    before: str
    after: str


@dataclass(slots=True, kw_only=True)
class Anew:
    """How far the jobs are priced anew.

    Attributes
    ----------
    why : str
        What changed; empty before anything did.
    count, left : int
        Jobs in all, and those not priced yet.
    is_stopped : bool
        A person stopped it; the jobs left keep the price of before until they are opened.
    moved : list of MovedPrice
    """

    why: str = ""
    count: int = 0
    left: int = 0
    is_stopped: bool = False
    moved: list[MovedPrice] = field(default_factory=list)
    task: asyncio.Task[None] | None = None
    tell: Callable[[], None] = lambda: None

    def stop(self) -> None:
        """Price no further."""
        if self.task is not None:
            self.task.cancel()

    def halt(self) -> None:
        """Stop because a person wants it, and say so."""
        self.stop()
        self.is_stopped = self.left > 0
        self.tell()

    def begin(
        self,
        why: str,
        enquiries: Sequence[Enquiry],
        *,
        price: Callable[[Enquiry], Awaitable[Enquiry]],
        tell: Callable[[], None],
    ) -> None:
        """Price jobs one after the other.

        Parameters
        ----------
        why : str
        enquiries : sequence of Enquiry
            As they were before; those of a run that was cut short keep the price of before it.
        price : callable
            Prices one and returns it.
        tell : callable
            Called after each.
        """
        self.stop()
        known = {one.id: one.before for one in self.moved} if self.left else {}
        self.why, self.count, self.left = why, len(enquiries), len(enquiries)
        self.moved, self.is_stopped, self.tell = [], False, tell

        async def run() -> None:
            for before in enquiries:
                after = await price(before)
                self.left -= 1
                was = known.get(before.id, before.outcome.get("each", ""))
                now = after.outcome.get("each", "")
                if was != now:
                    currency = after.outcome.get("currency", before.outcome.get("currency", ""))
                    self.moved.append(
                        MovedPrice(
                            id=before.id, title=before.title, stage=before.stage.value,
                            currency=currency, before=was, after=now,
                        )
                    )  # fmt: skip
                tell()

        self.task = asyncio.ensure_future(run())
