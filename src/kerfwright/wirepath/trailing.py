"""How far the wire trails in each pass of a plan, and where slowing down is not enough."""

from __future__ import annotations

from functools import partial

from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.foundation.units import both
from kerfwright.motion.moves import Cut, Moves, WirePath
from kerfwright.planning.memory import Memory
from kerfwright.planning.plan import Plan
from kerfwright.process.feed_advice import FeedLimit, feed_limits
from kerfwright.process.wire_physics import WirePhysics
from kerfwright.wirepath.feeds import trailing_um


def limits_of(plan: Plan, *, physics: WirePhysics) -> dict[int, FeedLimit]:
    """Return lag and allowance of each pass of a plan, by its number.

    Parameters
    ----------
    plan : Plan
    physics : WirePhysics
    """
    limits = feed_limits(
        plan.passes,
        wire=plan.choice.wire,
        height_mm=plan.height_mm,
        physics=physics.with_nozzles_off(plan.rules.nozzles_off_mm),
    )
    return {limit.pass_number: limit for limit in limits}


def trailing_findings(
    plan: Plan, path: WirePath, *, physics: WirePhysics, memory: Memory | None = None
) -> tuple[Finding, ...]:
    """Return a finding for each cut in which the wire trails by more than is allowed.

    There the feed is already the least that keeps the gap steady.  In the last pass that is a
    warning; in the passes before it a note, for the next one cuts it away or leaves it even.

    Parameters
    ----------
    plan : Plan
    path : WirePath
    physics : WirePhysics
    memory : Memory, optional
        In which the path was built: cuts that another plan had too are not looked at again.
    """
    memory = Memory() if memory is None else memory
    limits = limits_of(plan, physics=physics)
    found = (_finding(plan, cut, limits[cut.pass_number], memory) for cut in path.cuts)
    return tuple(f for f in found if f is not None)


def _worst(moves: Moves, limit: FeedLimit) -> tuple[int, float]:
    """Return the move at which the wire trails most, and by how much, µm."""
    error = trailing_um(moves, limit=limit)
    worst = int(error.argmax())
    return worst, float(error[worst])


def _finding(plan: Plan, cut: Cut, limit: FeedLimit, memory: Memory) -> Finding | None:
    held = limit.lag_um, limit.allowed_um
    # Moves of an opening that is cut as another is trail as those do.
    first = memory.once(lambda: cut.moves, "moved from", cut.moves)
    worst, value = memory.once(partial(_worst, first, limit), "trails", first, *held)
    if value <= limit.allowed_um:
        return None
    own = next(c.passes for c in plan.walls if c.target.id == cut.contour_id)
    is_last = cut.pass_number == own[-1].number
    x, y = cut.moves.end_mm[worst]
    return Finding(
        code="wire-lag-beyond-allowance",
        severity=Severity.WARNING if is_last else Severity.NOTE,
        message=(
            f"the wire trails by about {both(value)} at a corner or small arc of pass "
            f"{cut.pass_number} even at {limit.rules.least_factor:.0%} of its feed; "
            f"{both(limit.allowed_um)} are allowed"
        ),
        where=Place(
            contour_id=cut.contour_id, x_mm=float(x), y_mm=float(y), pass_number=cut.pass_number
        ),
        remedy=(
            "Add a pass, open the tolerance, or round the corner."
            if is_last
            else "The next pass meets uneven stock there; check the corner on the first piece."
        ),
        data={"error_um": value, "allowed_um": limit.allowed_um, "lag_um": limit.lag_um},
    )
