"""What places of start holes, lead-ins and tabs are held to, with the shop's tables."""

from __future__ import annotations

from kerfwright.app.records import JobResult
from kerfwright.planning.ground import ground_in
from kerfwright.planning.limits import Ground
from kerfwright.wiring import technology_of


def ground_of(result: JobResult, contour_id: str) -> Ground | None:
    """Return what decides where start, lead-in and tab of a contour may stand."""
    return ground_in(result.plan, contour_id, technology=technology_of(result.request))
