"""Who brings how much of the spread of a time."""

from __future__ import annotations

import math
from typing import Final

from kerfwright.costing.cut_spread import CUTTING
from kerfwright.costing.estimate import kind_of
from kerfwright.costing.times import PEOPLE, TimedLine, for_quantity
from kerfwright.foundation.sources import Shares
from kerfwright.process.experience import Loadings

RATE_OF_TABLES: Final = "cutting rate of the tables"
"""Who brings the spread of a cutting time without a shop, where nobody splits it."""
RATE_OF_SHOP: Final = "cutting rate, what the shop's cuts leave open"
"""The same where the feed is learned from cuts."""
_OF_A_CUT: Final = ("job", "cut")
"""Inputs of a single cut's spread that passes do not share."""


def line_shares(line: TimedLine, *, quantity: int = 1) -> Shares:
    """Return who brings how much of the spread of a time line, of so many loads."""
    if line.line.minutes.low == line.line.minutes.high:
        return ()
    if line.loadings:
        inputs = line.learned.feed_shares if line.learned is not None else ()
        return split_shares(for_quantity(line.loadings, quantity), inputs)
    return ((RATE_OF_TABLES if line.cause == CUTTING else named_cause(line.cause), 1.0),)


def named_cause(cause: str) -> str:
    """Return how a person reads a cause."""
    return "people's pace" if kind_of(cause) == PEOPLE else cause


def split_shares(loadings: Loadings, inputs: Shares) -> Shares:
    """Return shares by kind of cause, the cutting rate's own split among its inputs."""
    variance = math.fsum(sigma**2 for _, sigma in loadings)
    kinds: dict[str, float] = {}
    for cause, sigma in loadings:
        kinds[kind_of(cause)] = kinds.get(kind_of(cause), 0.0) + sigma**2 / variance
    shared = [(who, share) for who, share in inputs if who not in _OF_A_CUT]
    whole = math.fsum(share for _, share in shared)
    rate = kinds.pop(CUTTING, 0.0)
    if not whole:
        name = RATE_OF_SHOP if inputs else RATE_OF_TABLES
        return ((name, rate), *kinds.items()) if rate else tuple(kinds.items())
    parts = [*((who, rate * share / whole) for who, share in shared), *kinds.items()]
    return tuple(sorted(parts, key=lambda part: -part[1]))
