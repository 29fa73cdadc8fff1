"""The spread of cutting times, split among machine, material and so on by common practice.

A feed tells the figures of its own law; all passes of a job together are slow or fast by causes
that no law has, and these are split here.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from typing import Final

from kerfwright.costing.cut_spread import CUTTING
from kerfwright.costing.shares import RATE_OF_TABLES
from kerfwright.foundation.answers import Answer
from kerfwright.foundation.sources import Reason, Shares
from kerfwright.process.feed_beyond import FeedUnsure

_ALONE: Final = (RATE_OF_TABLES,)
"""Lumps that are a cutting time's only; in sums its parts are told by its name."""
_SPLIT_BY: Final = "split of the feed's spread among inputs: common practice, no source"


def split_feeds(answers: Iterable[Answer], feed: Shares) -> Iterator[Answer]:
    """Return answers of a job without a shop, the spread of its feeds split among the inputs.

    Parameters
    ----------
    answers : iterable of Answer
    feed : Shares
        Share of the variance of a feed by input, adding up to 1, as learning begins with.
    """
    for answer in answers:
        if any(who in (*_ALONE, CUTTING) for who, _ in answer.reason.shares):
            yield replace(answer, reason=_split(answer.reason, feed))
        else:
            yield answer


def shares_of_work(feed: Shares, unsure: Sequence[FeedUnsure]) -> Shares:
    """Return shares by input of work that may be beyond routine: what is on top has its cause.

    Parameters
    ----------
    feed : Shares
        Of routine work, adding up to 1.
    unsure : sequence of FeedUnsure
        Of each pass; at least one.

    Examples
    --------
    >>> from kerfwright.process.feed_spread import Beyond
    >>> tall = FeedUnsure(
    ...     routine_log=0.3, beyond=(Beyond(what="height", level="", sigma_log=0.1),)
    ... )
    >>> found = shares_of_work((("height", 0.1), ("job", 0.9)), [tall])
    >>> [(who, round(part, 2)) for who, part in found]
    [('height', 0.19), ('job', 0.81)]
    """
    parts = {who: part * math.fsum(p.routine_log**2 for p in unsure) for who, part in feed}
    for one in (one for p in unsure for one in p.beyond):
        parts[one.what] = parts.get(one.what, 0.0) + one.sigma_log**2
    whole = math.fsum(parts.values())
    return tuple((who, part / whole) for who, part in parts.items())


def _split(reason: Reason, feed: Shares) -> Reason:
    shares: list[tuple[str, float]] = []
    for who, share in reason.shares:
        if who in _ALONE:
            shares += [(name, share * part) for name, part in feed]
        elif who == CUTTING:
            shares += [(f"{CUTTING}: {name}", share * part) for name, part in feed]
        else:
            shares.append((who, share))
    source = reason.source
    citation = f"{source.citation}; {_SPLIT_BY}" if source.citation else _SPLIT_BY
    return replace(
        reason,
        shares=tuple(sorted(shares, key=lambda part: -part[1])),
        source=replace(source, citation=citation),
    )
