"""Where the sizes of a pass came nearer nominal all at once, as after an offset was set."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from types import MappingProxyType
from typing import Final

from kerfwright.learning.records import CROSSED, Input
from kerfwright.learning.sizes import Answers, MeasuredSize
from kerfwright.process.experience import SizesTurn
from kerfwright.process.offset_advice import LEAST_JOBS_TO_SET, LEAST_OFF_UM

_TOGETHER: Final = CROSSED.index(Input.COMBINATION)
_LEFT: Final = 0.5
"""Part of what sizes were off by that those since may still be."""


def turns(sizes: Sequence[MeasuredSize], said: Answers) -> Mapping[str, SizesTurn]:
    """Return the combinations whose sizes recorded last all lie nearer nominal than those before.

    By so much that one would set no offset by them, or a far smaller one: what all sizes together
    advise would be set twice, where somebody set it in between.

    Parameters
    ----------
    sizes : sequence of MeasuredSize
    said : Answers
        What becomes of each of them.

    Returns
    -------
    mapping of str to SizesTurn
        By the level of machine, material, wire and pass together.
    """
    groups: dict[str, list[MeasuredSize]] = {}
    for one, is_out in zip(sizes, said.in_question.tolist(), strict=True):
        if not is_out:
            groups.setdefault(one.names[_TOGETHER], []).append(one)
    found = {name: _turn(of) for name, of in sorted(groups.items())}
    return MappingProxyType({name: one for name, one in found.items() if one is not None})


def _turn(sizes: Sequence[MeasuredSize]) -> SizesTurn | None:
    """Return the widest gap between what was recorded before and since, where there is one."""
    ordered = sorted(sizes, key=lambda one: (one.record.recorded, one.record.job, one.close_um))
    # In experience with no more than a day of each, or none, those of one day stay together.
    cuts = [
        k
        for k in range(1, len(ordered))
        if ordered[k].record.recorded != ordered[k - 1].record.recorded
    ]
    ways = [(gap, k) for k in cuts if (gap := _gap(ordered[:k], ordered[k:])) > 0]
    if not ways:
        return None
    _, at = max(ways)
    return SizesTurn(
        jobs=tuple(dict.fromkeys(one.record.job for one in ordered[at:])),
        before_um=_mean(ordered[:at]),
        since_um=_mean(ordered[at:]),
    )


def _gap(before: Sequence[MeasuredSize], since: Sequence[MeasuredSize]) -> float:
    """Return how far sizes lie nearer nominal than all before them, µm; 0 where they do not."""
    was, now = _mean(before), _mean(since)
    if len({one.record.job for one in before}) < LEAST_JOBS_TO_SET:
        return 0.0
    if abs(now) > _LEFT * abs(was) or abs(was - now) < LEAST_OFF_UM:
        return 0.0
    side = math.copysign(1.0, was)
    least = min(side * one.close_um for one in before)
    return max(0.0, least - max(side * one.close_um for one in since))


def _mean(sizes: Iterable[MeasuredSize]) -> float:
    """Return the mean over jobs of the mean size of each, µm."""
    by_job: dict[str, list[float]] = {}
    for one in sizes:
        by_job.setdefault(one.record.job, []).append(one.close_um)
    return math.fsum(math.fsum(of) / len(of) for of in by_job.values()) / len(by_job)
