"""The power condition that is in force at every cutting move."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.nc.timeline import CutHeader, Timeline, WordEvent
from kerfwright.proof.records import Claim

_NONE = -1


def check_conditions(timeline: Timeline, claim: Claim) -> Iterator[Finding]:
    """Yield refusals where a cut has no condition, changes it, or has that of another pass.

    Parameters
    ----------
    timeline : Timeline
    claim : Claim
    """
    active = _active(timeline)
    usual: dict[int, int] = {}
    for cut in timeline.headers:
        moves = np.arange(cut.first_move, cut.end_move)
        moves = moves[timeline.is_rapid[moves] == 0]
        if not len(moves):
            continue
        own = active[moves]
        if (own == _NONE).any():
            yield _finding(
                timeline,
                cut,
                int(moves[np.argmax(own == _NONE)]),
                "condition-missing",
                f"pass {cut.pass_number} cuts before any power condition was called",
            )
            continue
        first = int(own[0])
        wanted = claim.condition.get((cut.contour_id, cut.pass_number))
        expected = usual.setdefault(cut.pass_number, first) if wanted is None else wanted
        if first != expected:
            yield _finding(
                timeline,
                cut,
                int(moves[0]),
                "condition-differs",
                f"pass {cut.pass_number} is cut with condition {first}; its own is {expected}",
            )
        changes = np.flatnonzero(own != first)
        if len(changes):
            yield _finding(
                timeline,
                cut,
                int(moves[changes[0]]),
                "condition-changes",
                f"the condition changes from {first} to {int(own[changes[0]])} within pass "
                f"{cut.pass_number}",
            )


def _active(timeline: Timeline) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
    """Return the condition in force at each move; the last call before it counts."""
    active = np.full(len(timeline), _NONE, dtype=np.int64)
    for call in timeline.happenings:
        if call.kind is WordEvent.CONDITION and call.number is not None:
            active[call.before_move :] = call.number
    return active


def _finding(timeline: Timeline, cut: CutHeader, move: int, code: str, message: str) -> Finding:
    return Finding(
        code=code,
        severity=Severity.REFUSAL,
        message=message,
        where=Place(
            contour_id=cut.contour_id,
            pass_number=cut.pass_number,
            line=int(timeline.line[move]),
        ),
        remedy="call the condition of the pass before its first move, and no other",
    )
