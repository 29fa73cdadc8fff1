"""How each sheet of a stack comes out, and which do not keep what is asked."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from scipy.special import ndtr

from kerfwright.foundation.findings import Finding, Severity
from kerfwright.foundation.zones import zone_asked, zone_held
from kerfwright.planning.plan import Plan
from kerfwright.planning.rules import PlanningRules
from kerfwright.planning.sheets import SEEN, least_held_um, sheets_of
from kerfwright.process.stack_shape import SheetShape
from kerfwright.process.technology import Pass, Technology
from kerfwright.process.wire_physics import WirePhysics
from kerfwright.trade.material import Wire
from kerfwright.trade.requirement import Requirement

SHEETS_CODE: Final = "sheets-beyond-tolerance"
_SIGMAS: Final = 2.0
"""Standard deviations of the size in half the zone that a sheet holds."""


def share_outside(asked_um: float, *, holds_um: float) -> float:
    """Return the share of walls outside a tolerance ``a`` where ``h`` is held: ``2 Phi(-2 a/h)``.

    Half the zone that is held is taken as two standard deviations of a normal size, as it is
    where experience is learnt from.

    Parameters
    ----------
    asked_um, holds_um : float
        Half zones.

    References
    ----------
    Table of the normal distribution: 4.55 % lie beyond two standard deviations (from memory).

    Examples
    --------
    >>> round(share_outside(10.0, holds_um=10.0), 4), round(share_outside(10.0, holds_um=20.0), 4)
    (0.0455, 0.3173)
    """
    return 2 * float(ndtr(-_SIGMAS * asked_um / holds_um))


def shapes_of(
    plan: Plan, technology: Technology, physics: WirePhysics | None
) -> tuple[SheetShape, ...]:
    """Return how each sheet of a plan's stack comes out, from the top."""
    if physics is None or not plan.contours:
        return ()
    return sheets_of(
        plan.passes,
        plan.requirement,
        wire=plan.choice.wire,
        technology=technology,
        physics=physics.with_nozzles_off(plan.rules.nozzles_off_mm),
    )


def holds_um(
    passes: Sequence[Pass],
    requirement: Requirement,
    *,
    wire: Wire,
    technology: Technology,
    physics: WirePhysics | None,
    rules: PlanningRules,
) -> float:
    """Return the tolerance that passes hold, half the zone: of a stack, in its worst sheet."""
    mean_um = passes[-1].tolerance_um
    if physics is None:
        return mean_um
    there = physics.with_nozzles_off(rules.nozzles_off_mm)
    sheets = sheets_of(passes, requirement, wire=wire, technology=technology, physics=there)
    return max(mean_um, least_held_um(sheets) or 0.0)


def sheet_findings(
    plan: Plan, technology: Technology, physics: WirePhysics | None
) -> tuple[Finding, ...]:
    """Return a finding where sheets of a stack come out beyond the tolerance asked.

    Parameters
    ----------
    plan : Plan
    technology : Technology
    physics : WirePhysics or None
        None: nothing is known of single sheets, and nothing said.
    """
    asked_um = plan.requirement.tolerance_um
    sheets = shapes_of(plan, technology, physics)
    if asked_um is None or not sheets:
        return ()
    beyond = [s for s in sheets if s.holds_um > asked_um * SEEN]
    if not beyond:
        return ()
    worst = max(beyond, key=lambda s: s.holds_um)
    shares = [share_outside(asked_um, holds_um=s.holds_um) for s in beyond]
    return (
        Finding(
            code=SHEETS_CODE,
            severity=Severity.WARNING,
            message=f"For {len(beyond)} of {len(sheets)} pieces of the stack "
            f"±{zone_asked(asked_um)} is not promised, for no number of passes holds it: piece "
            f"{worst.piece} from the top holds ±{zone_held(worst.holds_um)}, for the wall is not "
            f"as straight over the height as in a single sheet. {_percent(shares)} of the walls of "
            "these pieces are to be expected outside, of a piece that holds just what is asked "
            f"{_percent([share_outside(asked_um, holds_um=asked_um)])}.",
            remedy="Cut lower stacks, or agree the wider limits.",
            data={
                "pieces_beyond": len(beyond),
                "asked_um": asked_um,
                "holds_um": worst.holds_um,
                "share_outside": max(shares),
            },
        ),
    )


def _percent(shares: Sequence[float]) -> str:
    """Return shares from least to most in percent, to a tenth below a tenth of all.

    >>> _percent([0.0476, 0.0593]), _percent([0.0455]), _percent([0.2, 0.3173])
    ('4.8% to 5.9%', '4.5%', '20% to 32%')
    """
    least, most = (f"{x:.1%}" if x < _TENTH else f"{x:.0%}" for x in (min(shares), max(shares)))
    return least if least == most else f"{least} to {most}"


_TENTH: Final = 0.1
