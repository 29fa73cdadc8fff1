"""Which cuts somebody stands by."""

from __future__ import annotations

from collections import defaultdict, deque

from kerfwright.motion.moves import CutKind, WirePath
from kerfwright.planning.plan import Plan


def watched_cuts(plan: Plan, path: WirePath) -> tuple[bool, ...]:
    """Return for each cut of a path whether someone stands by while it runs."""
    attended = _attendance(plan)
    watched = []
    for cut in path.cuts:
        listed = attended.get((cut.kind.value, cut.contour_id, cut.pass_number))
        # A cut that the plan does not list is attended only where a piece comes free.
        watched.append(listed.popleft() if listed else cut.kind is CutKind.CUT_OFF)
    return tuple(watched)


def _attendance(plan: Plan) -> dict[tuple[str, str, int], deque[bool]]:
    """Return whether someone stands by, in order: the skims of a body and of its tab differ."""
    attended: defaultdict[tuple[str, str, int], deque[bool]] = defaultdict(deque)
    for operation in plan.operations:
        key = (operation.kind.value, operation.contour_id, operation.pass_number)
        attended[key].append(operation.attended)
    return dict(attended)
