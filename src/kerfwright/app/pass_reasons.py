"""Why there are so many passes: what each number of them leaves of what is asked."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Final

from kerfwright.app.records import JobResult
from kerfwright.foundation.answers import Answer
from kerfwright.foundation.counts import counted
from kerfwright.foundation.sources import Reason, Source, SourceTag
from kerfwright.foundation.units import both, both_roughness
from kerfwright.foundation.zones import zone_asked, zone_held
from kerfwright.process.held import ra_held_um, recast_held_um
from kerfwright.process.hurt_layer import ra_left_um, recast_left_um
from kerfwright.process.left_draws import (
    left_shares,
    ra_left_range_um,
    recast_left_range_um,
)
from kerfwright.process.technology import BY_LIKELY_VALUE, Pass, Technology
from kerfwright.trade.requirement import Demand

_COMPUTED: Final = Source(tag=SourceTag.COMPUTED)
_OLDER: Final = {
    "ra_um": "It counts peaks of earlier passes that a skim leaves standing where it takes less "
    "than thought; the range of a pass's own roughness does not",
    "recast_um": "It counts what an earlier pass hurt and a skim leaves standing where it takes "
    "less than thought; the range of a pass's own recast does not",
}


def pass_count_answers(result: JobResult, technology: Technology) -> Iterator[Answer]:
    """Yield why the job has so many passes, and what they leave against what is asked.

    The demand is that of the contours that need most passes.  For each number of passes stand the
    tolerance held, and finish and recast layer by the likely value and as surely as the shop wants
    them met, as far as they are asked.

    Parameters
    ----------
    result : JobResult
        With at least one pass.
    technology : Technology
        The tables that the plan was made with.
    """
    plan = result.plan
    asked = next(
        (
            result.requirement.demand_on(one.target.id)
            for one in plan.contours
            if one.choice.passes == plan.passes
        ),
        result.requirement.demand,
    )
    limits = tuple(_asked(asked))
    left = tuple(
        (
            f"after {counted(count, 'pass', 'passes')}",
            _left(plan.passes[:count], asked, technology),
        )
        for count in range(1, len(plan.passes) + 1)
    )
    further = tuple(
        (f"further pass {number}", said.removeprefix(f"Pass {number} ").rstrip("."))
        for number, said in enumerate(plan.choice.further, start=len(plan.passes) + 1)
    )
    yield _answer(
        "number of passes",
        ("passes", float(len(plan.passes))),
        "the fewest passes that hold all that is asked; finish and recast count as held where "
        f"{_share(technology)}",
        (("decided by", plan.choice.limiting), *limits, *left, *further),
        also="further passes",
    )
    last = plan.passes[-1]
    law = technology.spark.surface
    for name, line, field, value_um, limit, span in (
        ("finish left", "finish", "ra_um", last.ra_um, asked.ra_um, ra_left_range_um),
        ("recast layer left", "recast", "recast_um", last.recast_um, asked.max_recast_um,
         recast_left_range_um),
    ):  # fmt: skip
        if limit is None:
            continue
        found = _answer(
            name,
            (field, value_um),
            f"what the last pass leaves; passes are chosen so that {_share(technology)}. "
            f"{_OLDER[field]}",
            (*limits, *left),
            f"ledger/{line}",
        )
        of_layer, of_finish = left_shares(plan.passes, law=law)
        reason = replace(
            found.reason,
            range=span(plan.passes, law=law),
            shares=of_finish if field == "ra_um" else of_layer,
        )
        yield replace(found, reason=reason)


def _asked(asked: Demand) -> Iterator[tuple[str, str]]:
    if asked.tolerance_um is not None:
        yield "tolerance asked", f"±{zone_asked(asked.tolerance_um)}"
    if asked.ra_um is not None:
        yield "finish asked", both_roughness(asked.ra_um)
    if asked.max_recast_um is not None:
        yield "recast allowed", zone_asked(asked.max_recast_um)


def _left(passes: Sequence[Pass], asked: Demand, technology: Technology) -> str:
    """Say what these passes leave of everything that is asked."""
    law = technology.spark.surface
    found = [f"holds ±{zone_held(passes[-1].tolerance_um)}"]
    if asked.ra_um is not None:
        likely, held = ra_left_um(passes, law=law), ra_held_um(passes, technology=technology)
        found.append(f"{both_roughness(likely)} likely, surely {both_roughness(held)}")
    if asked.max_recast_um is not None:
        likely = recast_left_um(passes, law=law)
        held = recast_held_um(passes, technology=technology)
        found.append(f"recast {both(likely)} likely, surely {zone_held(held)}")
    return "; ".join(found)


def _share(technology: Technology) -> str:
    """Say how sure the shop wants to be of finish and recast."""
    allowed = technology.limits.allowed_miss
    if allowed >= BY_LIKELY_VALUE:
        return "the likely value is within"
    return f"{100 * (1 - allowed):.3g} walls in a hundred are within: the value called sure"


def _answer(
    name: str,
    value: tuple[str, float],
    formula: str,
    inputs: tuple[tuple[str, float | str], ...],
    path: str = "",
    also: str = "",
) -> Answer:
    return Answer(
        about="job",
        also=also,
        name=name,
        path=path,
        reason=Reason(
            quantity=value[0],
            value=value[1],
            formula=formula,
            inputs=inputs,
            source=_COMPUTED,
        ),
    )
