"""Why a wall made in two cuts is made so: what the first leaves, and what takes it."""

from __future__ import annotations

import math
from collections.abc import Iterator

from kerfwright.foundation.answers import Answer
from kerfwright.foundation.sources import Reason, Source, SourceTag
from kerfwright.planning.plan import Plan

_COMPUTED = Source(tag=SourceTag.COMPUTED)
_TAKE = (
    "sum of the stock of all passes but the rough one; where the first cut leaves no more, the "
    "second begins with pass 2"
)


def split_answers(plan: Plan) -> Iterator[Answer]:
    """Yield the answers on every second cut.

    Parameters
    ----------
    plan : Plan
    """
    for c in plan.seconds:
        follows = c.follows
        assert follows is not None
        low, high = follows.wall.stands_mm(c.target.id)
        first = c.passes[follows.first_pass - 1]
        for name, quantity, value, formula, inputs in (
            (
                "stock left by the first cut",
                "left_um",
                follows.left_um,
                "height of its part of the wall x tan(angle), at the face",
                (
                    ("height_mm", high - low),
                    ("angle_deg", math.degrees(math.atan(follows.wall.slope))),
                ),
            ),
            (
                "stock that skims take together",
                "skims_take_um",
                follows.skims_take_um,
                _TAKE,
                tuple((f"stock_{p.number}_um", p.stock_um) for p in c.passes[1:]),
            ),
            (
                "width of its first kerf",
                "kerf_um",
                follows.kerf_um,
                "d + 2 x gap; what the first cut leaves must be less, or a ring comes loose",
                (("d_mm", c.choice.wire.diameter_mm), ("gap_um", first.gap_um)),
            ),
        ):
            yield Answer(
                about=c.target.id,
                name=name,
                path="",
                reason=Reason(
                    quantity=quantity,
                    value=value,
                    formula=formula,
                    inputs=inputs,
                    source=_COMPUTED,
                ),
                also="land relief",
            )
