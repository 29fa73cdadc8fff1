"""Where a control that applies the offset itself cannot follow a plan."""

from __future__ import annotations

import numpy as np

from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.motion.moves import WirePath
from kerfwright.planning.plan import ContourPlan, Plan


def controller_form_refusals(plan: Plan, path: WirePath) -> list[Finding]:
    """Return a refusal for each contour some cut of which has no programmed wall.

    A control offsets each block of the wall by itself.  Where a bend or an edge of the wall is
    smaller than the offset, no part of the wire's path belongs to it, and the control stops with
    an alarm.

    Parameters
    ----------
    plan : Plan
    path : WirePath
        Of that plan.
    """
    without = {
        (cut.contour_id, cut.pass_number): cut.offset_mm for cut in path.cuts if cut.nominal is None
    }
    found = []
    for c in plan.contours:
        offsets = [o for (name, _), o in without.items() if name == c.target.id]
        if any(cut.stops_within for cut in path.cuts if cut.contour_id == c.target.id):
            found.append(_stops_within(c))
        elif offsets:
            found.append(_refusal(c, max(offsets)))
    return found


def _stops_within(c: ContourPlan) -> Finding:
    return Finding(
        code="controller-form-impossible",
        severity=Severity.REFUSAL,
        message=f"A piece of the slug of {c.target.id} comes free within its rough cut, and the "
        "cut stops before that: in the form in which the control applies the offset it cannot.",
        where=Place(contour_id=c.target.id),
        remedy='Write the program in the wire-centre form (offset_form = "wire-centre" in the '
        "machine definition), or cut the inside away whole.",
    )


def _refusal(c: ContourPlan, offset_mm: float) -> Finding:
    wall = c.target.contour.segments
    seen = np.zeros(len(wall), dtype=bool)
    for loop in c.loops:
        missing = np.ones(len(wall), dtype=bool)
        missing[loop.source[loop.source >= 0]] = False
        seen |= missing
    place = Place(contour_id=c.target.id)
    what = "has no room for the control to bring its offset in"
    if seen.any():
        which = int(np.flatnonzero(seen)[0])
        middle = wall.points_at(np.array([which]), np.array([0.5]))[0]
        place = Place(contour_id=c.target.id, x_mm=float(middle[0]), y_mm=float(middle[1]))
        size = float(wall.radius[which]) if wall.is_arc[which] else float(wall.length[which])
        kind = "a bend of R" if wall.is_arc[which] else "an edge of"
        what = f"has {kind} {size:.3f} mm, smaller than the offset of {offset_mm:.3f} mm"
    return Finding(
        code="controller-form-impossible",
        severity=Severity.REFUSAL,
        message=f"{c.target.id} {what}: a control that offsets by itself cannot follow it.",
        where=place,
        remedy=f"Make inside bends larger than R {offset_mm:.3f} mm, or write the program in the "
        'wire-centre form (offset_form = "wire-centre" in the machine definition).',
        data={"offset_mm": offset_mm},
    )
