"""Why passes that were not chosen would leave and take what the plan says of them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Final

from kerfwright.app.records import JobResult
from kerfwright.foundation.answers import Answer
from kerfwright.foundation.ranges import Range
from kerfwright.foundation.sources import Reason, Source, SourceTag
from kerfwright.planning.plan_answers import pass_answers
from kerfwright.process.choice import passes_of
from kerfwright.process.technology import Pass, Technology

_WALL_MM: Final = 100.0
"""Length of wall of which the sentences tell."""
IF_CUT: Final = "if cut"
"""How the names of their numbers end."""
_ALSO: Final = "further pass more minutes per 100 mm of wall not chosen"


def further_answers(result: JobResult, technology: Technology) -> Iterator[Answer]:
    """Yield why each further pass of the table would have its feed, finish and time.

    Parameters
    ----------
    result : JobResult
        With at least one pass.
    technology : Technology
        The tables that the plan was made with.
    """
    choice = result.plan.choice
    if not choice.further:
        return
    every = passes_of(
        len(technology.passes),
        requirement=result.requirement,
        wire=choice.wire,
        technology=technology,
        stock_by=choice.stock_by,
    )
    for one in every[len(choice.passes) :]:
        for answer in pass_answers(one):
            # Settings follow from the passes that are cut; these have no place in the plan.
            if answer.reason.range is None:
                continue
            yield replace(
                answer, name=f"{answer.name} {IF_CUT}", path="", also=f"{answer.also} {_ALSO}"
            )
        yield _minutes(one)


def _minutes(one: Pass) -> Answer:
    feed = one.feed_range_mm_per_min
    return Answer(
        about=f"pass {one.number}",
        name=f"more minutes per 100 mm {IF_CUT}",
        path="",
        reason=Reason(
            quantity="minutes",
            value=_WALL_MM / one.feed_mm_per_min,
            formula="100 mm of wall / feed of the pass, which would be cut beside those chosen",
            inputs=(("feed_mm_per_min", one.feed_mm_per_min), ("wall_mm", _WALL_MM)),
            source=Source(tag=SourceTag.COMPUTED),
            range=Range(
                low=_WALL_MM / feed.high,
                likely=_WALL_MM / one.feed_mm_per_min,
                high=_WALL_MM / feed.low,
            ),
            shares=(("feed", 1.0),),
        ),
        also=_ALSO,
    )
