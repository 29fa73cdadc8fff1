"""What is said of water that does not reach a rough cut as it should."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.foundation.sizes import both_feeds
from kerfwright.planning.flushing import dirt, known_rate
from kerfwright.planning.flushing_state import FlushingState
from kerfwright.planning.plan import ContourPlan
from kerfwright.planning.rules import PlanningRules
from kerfwright.process.flushing import Bath, BreakRisk, Derating, rough_advice
from kerfwright.process.technology import Flushing, PassChoice, Technology
from kerfwright.process.wire_break import PUBLISHED_FROM_MM, is_below_published
from kerfwright.trade.material import Wire
from kerfwright.trade.requirement import Requirement

BESIDE_EDGE_CODE: Final = "cut-beside-stock-edge"


_AT_USUAL_FEED = {
    BreakRisk.USUAL: "be at no greater risk",
    BreakRisk.RAISED: "break sooner",
    BreakRisk.HIGH: "be likely to break",
}
_AT_REDUCED_FEED = {
    BreakRisk.USUAL: "it is at no greater risk",
    BreakRisk.RAISED: "it still breaks sooner",
    BreakRisk.HIGH: "it is still likely to break",
}


def breaks_words(found: Derating, states: Sequence[FlushingState], wire: Wire) -> str:
    """Return what the wire risks at the usual feed and at that of the program, in words.

    Where the wire was worked out, the factors are those that the estimate counts with; before
    them stands what would come of the feed of closed nozzles, after them what closed ones have.
    """
    if not any(state.has_wire for state in states):
        return _by_dirt(found)
    unslowed = times_as_often([state.breaks_unslowed for state in states])
    closed = times_as_often([state.breaks_closed for state in states])
    than_closed = times_as_often([s.breaks_unslowed / s.breaks_closed for s in states])
    high = found.risk_at_usual_feed is BreakRisk.HIGH
    would = "be likely to break:" if high else "break"
    return (
        f"At the usual feed, in up to {found.worst_ratio:.2g} times the dirt of closed nozzles, "
        f"the wire would {would} {than_closed} an hour as with them, {unslowed} an hour as in a "
        "usual rough cut. That is why the "
        "feed is taken back. At the feed of this program it breaks "
        f"{how_often([state.breaks for state in states], wire)}, {_COUNTED}; with closed nozzles, "
        f"by heat alone, {closed}."
    )


_COUNTED = (
    "which the breaks in the estimate have in them. Only the slower feed keeps it at that: an "
    "open nozzle makes no cut safer"
)


def _by_dirt(found: Derating) -> str:
    """Say what the wire risks where only the dirt was worked out."""
    return f"{_would(found)}; at the feed of this program {_AT_REDUCED_FEED[found.risk]}."


def _would(found: Derating) -> str:
    return f"At the usual feed the wire would {_AT_USUAL_FEED[found.risk_at_usual_feed]}"


def how_often(factors: Sequence[float], wire: Wire) -> str:
    """Return how often the wire breaks against a usual rough cut, as in *about 2 times as often*.

    Of a wire too thin for anything to be published on its breaks, that is said.

    Parameters
    ----------
    factors : sequence of float
        On the breaks an hour of a usual rough cut.
    wire : Wire
    """
    said = f"{times_as_often(factors)} an hour as in a usual rough cut"
    if not is_below_published(wire):
        return said
    return (
        f"{said} (a guess: nothing is published on breaks of wire below {PUBLISHED_FROM_MM:g} mm, "
        "which may break oftener)"
    )


def times_as_often(factors: Sequence[float]) -> str:
    """Return the least and the most of some factors on the breaks an hour in words.

    Parameters
    ----------
    factors : sequence of float

    Examples
    --------
    >>> times_as_often([1.632]), times_as_often([0.87, 1.4]), times_as_often([1.0, 1.004])
    ('about 1.6 times as often', '0.87 to 1.4 times as often', 'as often')
    """
    least, most = (_two_digits(pick(factors)) for pick in (min, max))
    if least != most:
        return f"{least} to {most} times as often"
    return "as often" if float(least) == 1 else f"about {least} times as often"


def _two_digits(value: float) -> str:
    return f"{value:.2g}" if value < _ALL_DIGITS_FROM else f"{value:.0f}"


_ALL_DIGITS_FROM = 99.5
"""From here on two digits would be written with an exponent."""


def _stands(rules: PlanningRules) -> str:
    """Say how the nozzles stand, where numbers or the bath were given."""
    said = [
        f"{name} {gap:g} mm off"
        for name, gap in (("upper", rules.upper_gap_mm), ("lower", rules.lower_gap_mm))
        if gap is not None
    ]
    if rules.bath is Bath.OPEN_AIR:
        said.append("work above the bath")
    return f" ({', '.join(said)})" if said else ""


def water_findings(
    contours: Sequence[ContourPlan],
    requirement: Requirement,
    choice: PassChoice,
    technology: Technology,
    rules: PlanningRules,
) -> list[Finding]:
    """Return warnings where nozzles do not close: one for the job's set-up, one for each edge.

    And a refusal where work and gaps together are more than the machine has room for.  Its height
    is that of work under closed nozzles, so gaps that close count for nothing.

    Parameters
    ----------
    contours : sequence of ContourPlan
        With what the wire bears worked out, where it is.
    requirement, choice, technology, rules
    """
    found: list[Finding] = []
    if rules.nozzles is not Flushing.SEALED:
        found.append(_nozzle_finding(contours, requirement, choice, technology, rules))
        found += _beyond_machine(requirement, rules)
    beside_edge = [c for c in contours if c.flushing.beside]
    if beside_edge:
        beside = dirt(None, requirement, choice, technology, rules)
        found += [edge_finding(c, beside) for c in beside_edge]
    return found


def _nozzle_finding(
    contours: Sequence[ContourPlan],
    requirement: Requirement,
    choice: PassChoice,
    technology: Technology,
    rules: PlanningRules,
) -> Finding:
    factor = known_rate(rules.nozzles, requirement, choice, technology, rules).factor
    along = dirt(rules.nozzles, requirement, choice, technology, rules)
    which = (
        "One nozzle does not close"
        if rules.nozzles is Flushing.ONE_OPEN
        else "Neither nozzle closes"
    )
    return Finding(
        code="nozzle-not-closed",
        severity=Severity.WARNING,
        message=f"{which} on the work{_stands(rules)}: the rough feed is taken to "
        f"{factor:.0%} of the usual. "
        f"{breaks_words(along, [c.flushing for c in contours], choice.wire)}{_overruled(rules)}",
        remedy=rough_advice(
            rules.nozzles,
            law=technology.flushing,
            height_mm=requirement.height_mm,
            wire_mm=choice.wire.diameter_mm,
            family=requirement.material.family,
        ),
        data={"rate_factor": factor, "risk": along.risk.value},
    )


def _overruled(rules: PlanningRules) -> str:
    """Say that gaps given count before the word that nozzles are sealed, said or not."""
    if rules.upper_gap_mm is None and rules.lower_gap_mm is None:
        return ""
    return (
        " The gaps given say how the nozzles stand: they count, and a word that says sealed does "
        "not."
    )


def _beyond_machine(requirement: Requirement, rules: PlanningRules) -> list[Finding]:
    machine, height = requirement.machine, requirement.height_mm
    needed, limit = height + sum(rules.nozzles_off_mm), machine.max_height_mm
    # Work that is too high by itself has a refusal of its own.
    if needed <= limit or height > limit:
        return []
    return [
        Finding(
            code="nozzles-beyond-machine",
            severity=Severity.REFUSAL,
            message=f"Work of {height:.4g} mm{_stands(rules)} needs {needed:.4g} mm between the "
            f"nozzles; {machine.name} takes {limit:.4g} mm.",
            remedy=f"Give gaps of no more than {limit - height:.4g} mm together, bring the nozzles "
            "nearer to the work, or choose a larger machine.",
            data={"value_mm": needed, "limit_mm": limit},
        )
    ]


def edge_finding(contour: ContourPlan, beside: Derating) -> Finding:
    """Return the warning of a contour of which a part runs beside the edge of the stock.

    Parameters
    ----------
    contour : ContourPlan
    beside : Derating
        There, by :func:`dirt`.
    """
    state, contour_id = contour.flushing, contour.target.id
    count = len(state.beside)
    feed = contour.edge_feed_mm_per_min
    longest = max(state.beside, key=lambda stretch: stretch.length_mm)
    middle = (longest.begin_mm + longest.end_mm) / 2
    ((x, y),) = contour.loops[0].contour.points_at(np.array([middle])).tolist()
    return Finding(
        code=BESIDE_EDGE_CODE,
        severity=Severity.WARNING,
        message=f"{state.edge_share:.0%} of the rough cut of {contour_id}, in "
        f"{'one stretch' if count == 1 else f'{count} stretches'}, runs within "
        f"{state.edge_reach_mm:g} mm of the edge of the stock, where neither nozzle closes: its "
        f"feed is taken to {state.beside_factor:.0%} there, "
        f"{both_feeds(feed)}. {_breaks_beside(beside, state, contour.choice.wire)}",
        where=Place(contour_id=contour_id, pass_number=1, x_mm=x, y_mm=y),
        remedy="Leave more stock, clamp a strip against the edge, or take the power back "
        "there and submerge.",
        data={
            "edge_share": state.edge_share,
            "beside_factor": state.beside_factor,
            "rate_factor": state.rate_factor,
            "feed_mm_per_min": feed,
        },
    )


def _breaks_beside(found: Derating, state: FlushingState, wire: Wire) -> str:
    """Say what the wire risks beside the edge at the usual feed and at that of the program."""
    if not state.has_wire:
        return _by_dirt(found)
    return (
        f"At the usual feed the wire would run in up to {found.worst_ratio:.2g} times the dirt of "
        "closed nozzles; at the feed of this program it breaks there "
        f"{how_often([state.breaks_beside], wire)}, {_COUNTED}."
    )
