"""What is known of one job besides its enquiry, and what is being computed for it."""

from __future__ import annotations

import asyncio
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from kerfwright.foundation.errors import InputError, KerfwrightError
from kerfwright.workbench.computed import Drafted, Proved
from kerfwright.workbench.shapes import What

if TYPE_CHECKING:
    from kerfwright.adapters.papers.make import Papers


class ChangedElsewhereError(InputError):
    """Somebody else changed the job since it was read."""


@dataclass(slots=True, kw_only=True)
class Bench:
    """What is known of one job besides its enquiry, by revision.

    Attributes
    ----------
    revision : int
        Revision of what was asked that everything here belongs to.
    figures : str
        Of the shop, by which all of it was computed.
    papers_asked : bool
        Whether papers were asked for since this is known, by a person or because they were lost.
    papers_again : bool
        Whether they were made anew by themselves.
    faults : dict
        Why a computation came to nothing; that of one is none of another.
    stopped : set
        Computations that a person stopped, and that were not begun again.
    """

    revision: int
    figures: str = ""
    drafted: Drafted | None = None
    proved: Proved | None = None
    savings: dict[str, Any] | None = None
    stacks: dict[str, Any] | None = None
    papers: Papers | None = None
    papers_asked: bool = False
    papers_again: bool = False
    savings_reasons: dict[str, dict[str, Any]] = field(default_factory=dict)
    stack_reasons: dict[str, dict[str, Any]] = field(default_factory=dict)
    draft_reasons: dict[str, dict[str, Any]] | None = None
    faults: dict[What, KerfwrightError] = field(default_factory=dict)
    stopped: set[What] = field(default_factory=set)
    work: dict[What, tuple[str, float]] = field(default_factory=dict)
    running: dict[What, asyncio.Task[None]] = field(default_factory=dict)

    @property
    def fault(self) -> KerfwrightError | None:
        """Why the job itself could not be computed."""
        return self.faults.get("draft")

    def take_stacks(self, other: Bench) -> None:
        """Take what stacks cost over from a bench of before, where the shop's figures are those."""
        if other.figures == self.figures:
            self.stacks, self.stack_reasons = other.stacks, other.stack_reasons

    def stop(self) -> None:
        """Stop every computation."""
        for task in list(self.running.values()):
            task.cancel()

    def forget_papers(self) -> None:
        """Take back papers that say what is asked no more."""
        running = self.running.get("papers")
        if running is not None:
            running.cancel()
        self.papers = None
        self.faults.pop("papers", None)

    @property
    def reasons(self) -> dict[str, dict[str, Any]]:
        """Why every number that is known has its value."""
        proved = {} if self.proved is None else self.proved.reasons
        return {
            **(self.draft_reasons or {}),
            **proved,
            **self.savings_reasons,
            **self.stack_reasons,
        }
