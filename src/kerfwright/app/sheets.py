"""How each sheet of a stack comes out, and which do not keep what is asked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from scipy.special import ndtr

from kerfwright.foundation.findings import Finding, Severity
from kerfwright.foundation.zones import zone_asked, zone_held
from kerfwright.planning.plan import Plan
from kerfwright.planning.rules import PlanningRules
from kerfwright.planning.sheets import SEEN, least_held_um, sheets_of
from kerfwright.process.beyond import of_contours, place_of
from kerfwright.process.stack_shape import SheetShape
from kerfwright.process.technology import Pass, Technology
from kerfwright.process.wire_physics import WirePhysics
from kerfwright.trade.material import Wire
from kerfwright.trade.requirement import Demand, Requirement

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


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetGroup:
    """The sheets of a stack on contours of which the same is asked, after their own passes.

    Attributes
    ----------
    contour_ids : tuple of str
    asked_um : float or None
        Half the zone.
    passes : tuple of Pass
    sheets : tuple of SheetShape
        From the top.
    """

    contour_ids: tuple[str, ...]
    asked_um: float | None
    passes: tuple[Pass, ...]
    sheets: tuple[SheetShape, ...]

    @property
    def worst(self) -> SheetShape:
        """The sheet that holds least."""
        return max(self.sheets, key=lambda sheet: sheet.holds_um)

    @property
    def beyond(self) -> tuple[SheetShape, ...]:
        """The sheets that hold less than is asked."""
        if self.asked_um is None:
            return ()
        return tuple(s for s in self.sheets if s.holds_um > self.asked_um * SEEN)


def groups_of(
    plan: Plan, technology: Technology, physics: WirePhysics | None
) -> tuple[SheetGroup, ...]:
    """Return the sheets of a plan's stack by contours of the same demand; none without a stack.

    Those that hold least come first.
    """
    if physics is None or plan.requirement.stack is None:
        return ()
    there = physics.with_nozzles_off(plan.rules.nozzles_off_mm)
    alike: dict[tuple[Demand, tuple[Pass, ...]], list[str]] = {}
    for c in plan.contours:
        demand = plan.requirement.demand_on(c.target.id)
        alike.setdefault((demand, tuple(c.passes)), []).append(c.target.id)
    groups = (
        SheetGroup(
            contour_ids=tuple(ids),
            asked_um=demand.tolerance_um,
            passes=passes,
            sheets=sheets_of(
                passes,
                plan.requirement,
                wire=plan.choice.wire,
                technology=technology,
                physics=there,
            ),
        )
        for (demand, passes), ids in alike.items()
    )
    return tuple(sorted(groups, key=lambda group: -group.worst.holds_um))


def shapes_of(
    plan: Plan, technology: Technology, physics: WirePhysics | None
) -> tuple[SheetShape, ...]:
    """Return how each sheet of a plan's stack comes out where it holds least, from the top."""
    groups = groups_of(plan, technology, physics)
    return groups[0].sheets if groups else ()


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
    """Return findings on sheets of a stack that come out beyond what is asked of their contours.

    Parameters
    ----------
    plan : Plan
    technology : Technology
    physics : WirePhysics or None
        None: nothing is known of single sheets, and nothing said.
    """
    groups = groups_of(plan, technology, physics)
    return tuple(
        _beyond(group, () if len(groups) == 1 else group.contour_ids)
        for group in groups
        if group.beyond
    )


def _beyond(group: SheetGroup, contour_ids: tuple[str, ...]) -> Finding:
    asked_um, beyond, worst = group.asked_um or 0.0, group.beyond, group.worst
    shares = [share_outside(asked_um, holds_um=s.holds_um) for s in beyond]
    return Finding(
        code=SHEETS_CODE,
        severity=Severity.WARNING,
        message=f"For {len(beyond)} of {len(group.sheets)} pieces of the stack "
        f"±{zone_asked(asked_um)}{of_contours(contour_ids)} is not promised, for no number of "
        f"passes holds it: piece {worst.piece} from the top holds "
        f"±{zone_held(worst.holds_um)}, for the wall is not as straight over the height as in a "
        f"single sheet. {_percent(shares)} of the walls of these pieces are to be expected "
        "outside, of a piece that holds just what is asked "
        f"{_percent([share_outside(asked_um, holds_um=asked_um)])}.",
        where=place_of(contour_ids),
        remedy="Cut lower stacks, or agree the wider limits.",
        data={
            "pieces_beyond": len(beyond),
            "pieces": len(group.sheets),
            "asked_um": asked_um,
            "holds_um": worst.holds_um,
            "share_outside": max(shares),
        },
    )


def _percent(shares: Sequence[float]) -> str:
    """Return shares from least to most in percent, to a tenth below a tenth of all.

    >>> _percent([0.0476, 0.0593]), _percent([0.0455]), _percent([0.2, 0.3173])
    ('4.8% to 5.9%', '4.5%', '20% to 32%')
    """
    least, most = (f"{x:.1%}" if x < _TENTH else f"{x:.0%}" for x in (min(shares), max(shares)))
    return least if least == most else f"{least} to {most}"


_TENTH: Final = 0.1
