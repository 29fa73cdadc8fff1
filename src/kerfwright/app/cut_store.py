"""Where a shop keeps its measured cuts, as recording and learning see it."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import AbstractContextManager
from typing import Protocol

from kerfwright.learning.batch import Added, CutBatch, KeptBatch, KeptCuts, OffsetSaid
from kerfwright.learning.posterior import Posterior
from kerfwright.learning.records import MeasuredCut


class CutStore(Protocol):
    """Where a shop keeps its measured cuts and what it learned; files first, SQL another time."""

    def one_writer(self) -> AbstractContextManager[None]:
        """Keep other processes from writing meanwhile."""
        ...

    def add(self, batch: CutBatch) -> Added:
        """Keep the cuts of a batch that are not kept yet, and its refused rows."""
        ...

    def cuts(self) -> KeptCuts:
        """Return every cut that counts."""
        ...

    def basis(self) -> str:
        """Return a hash of what learning rests on: the batches that count, and the rules."""
        ...

    def batches(self) -> tuple[KeptBatch, ...]:
        """Return every batch, also those taken back."""
        ...

    def withdraw(self, *names: str, reason: str) -> tuple[MeasuredCut, ...]:
        """Take batches back, or that an offset was set, by their hashes; return their cuts."""
        ...

    def confirm_sizes(
        self, cuts: Sequence[MeasuredCut], reason: str, *, is_mended: bool = False
    ) -> None:
        """Keep that a person says that these sizes are right, or were until their cause went."""
        ...

    def confirm_sheets(self, *names: str, reason: str) -> tuple[MeasuredCut, ...]:
        """Keep that a person looked batches up and says that they are right; return their cuts."""
        ...

    def set_offset(self, said: OffsetSaid, cuts: Sequence[MeasuredCut]) -> str:
        """Keep that an offset was set since these cuts were measured; return what it is called."""
        ...

    def save(self, posterior: Posterior) -> Posterior:
        """Keep a posterior for good, make it the current one and return it with its hash."""
        ...

    def current(self) -> Posterior | None:
        """Return what was learned last."""
        ...

    def posterior(self, sha256: str) -> Posterior:
        """Return what was learned at some time, by its hash."""
        ...
