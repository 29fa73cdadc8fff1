"""A job with something changed, as a what-if prices it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal

from kerfwright.app.offers import Priced
from kerfwright.trade.part import Part
from kerfwright.trade.requirement import Requirement

ONE_SHAPE = "one shape only"
"""Name of what is asked of contours of one shape and not of others."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Change:
    """The job with something changed.

    Attributes
    ----------
    demand : str
        See :class:`kerfwright.app.what_if.Alternative`.
    asked, instead : str
        As it is and as it would be, in both unit systems.
    wording : str
        The sentence up to its effect, with ``{asked}`` and ``{instead}``.
    requirement : Requirement
    quantity : int
    part : Part or None
        With contours changed.
    is_looser : bool
        Whether the customer asks for less: then a change that saves nothing needs a reason.
    must_save : bool
        Whether it is not worth a word where it saves nothing, or costs more.
    must_cost : bool
        Whether it asks for more: where it saves all the same, what makes it is offered by itself.
    is_by_wire : bool
        Whether another wire makes it: then a small difference is within what prices know.
    each_at : tuple of (int, Decimal)
        Price of a piece at every quantity, where each is cut in its own way; else empty.
    is_lifting : bool
        Whether it eases what is beyond the process to what is held.
    own_stack : tuple of (int, Decimal), optional
        Pieces in the stack that is best for the order as asked, and the price of a piece in it,
        where another order is cut in another stack and that too; else None.
    not_counted : str
        What the price leaves out, a sentence for the customer; empty for nothing.
    conceded : mapping of str to (float, float)
        By field of a demand, what is asked and the looser value, µm.
    conceding : callable or None
        Gives the change with other values for these fields, None where nothing is conceded; a
        value as asked concedes nothing.
    priced : Priced or None
        What it costs, where that was found on the way to it.
    """

    demand: str
    asked: str
    instead: str
    wording: str
    requirement: Requirement
    quantity: int
    part: Part | None = None
    is_looser: bool = False
    must_save: bool = False
    must_cost: bool = False
    is_by_wire: bool = False
    each_at: tuple[tuple[int, Decimal], ...] = ()
    is_lifting: bool = False
    own_stack: tuple[int, Decimal] | None = None
    not_counted: str = ""
    conceded: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    conceding: Callable[[Mapping[str, float]], Change | None] | None = None
    priced: Priced | None = None

    @property
    def subject(self) -> str:
        """What is changed and on which contours, the sentence up to its effect."""
        return self.wording.format(asked=self.asked, instead=self.instead)

    @property
    def is_of_one_shape(self) -> bool:
        """Whether contours of one shape are told from those of others."""
        return self.demand == ONE_SHAPE
