"""What cutting outlines as strings saves against a start of its own for each."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from kerfwright.costing.records import Estimate, TimeKind
from kerfwright.foundation.findings import Finding, Severity
from kerfwright.foundation.sizes import both_sizes
from kerfwright.foundation.units import minutes_text
from kerfwright.motion.moves import WirePath
from kerfwright.planning.plan import Plan, StartKind

_ATTENDED = frozenset({TimeKind.MACHINE_ATTENDED})
_BENCH = frozenset({TimeKind.BENCH})
_MACHINE = frozenset({TimeKind.MACHINE_ATTENDED, TimeKind.MACHINE_UNATTENDED})


@dataclass(frozen=True, slots=True, kw_only=True)
class Counted:
    """What one way of cutting a job takes, likely values of one piece.

    Attributes
    ----------
    threadings, holes : int
        Holes that are to be drilled.
    attended_min, bench_min, machine_min : float
        Of somebody at the machine, of somebody at the bench, and of the machine, attended or not.
    each : Decimal
        Price at the first quantity asked.
    """

    threadings: int
    holes: int
    attended_min: float
    bench_min: float
    machine_min: float
    each: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class StringSavings:
    """A job both ways.

    Attributes
    ----------
    strung, alone : Counted
        As strings, and with a start for each outline.
    """

    strung: Counted
    alone: Counted

    @property
    def pays(self) -> bool:
        """Whether strings cost less."""
        return self.strung.each < self.alone.each


def counted(plan: Plan, path: WirePath, estimate: Estimate) -> Counted:
    """Return what a job takes as planned."""

    def minutes(kinds: frozenset[TimeKind]) -> float:
        return sum(t.minutes.likely for t in estimate.times if t.kind in kinds)

    return Counted(
        threadings=sum(cut.threads for cut in path.cuts),
        holes=sum(c.start.kind is StartKind.DRILLED for c in plan.contours),
        attended_min=minutes(_ATTENDED),
        bench_min=minutes(_BENCH),
        machine_min=minutes(_MACHINE),
        each=estimate.prices[0].each,
    )


def string_finding(plan: Plan, savings: StringSavings, *, currency: str) -> Finding:
    """Return what is cut as strings, and what that saves or costs."""
    strung, alone = savings.strung, savings.alone
    names = "; ".join("-".join(s.contour_ids) for s in plan.strings)
    parts = sum(len(s.contour_ids) for s in plan.strings)
    channels_mm = sum(s.length_mm for s in plan.strings)
    attended = alone.attended_min - strung.attended_min
    bench = alone.bench_min - strung.bench_min
    machine = alone.machine_min - strung.machine_min
    price = alone.each - strung.each
    return Finding(
        code="parts-on-a-string",
        severity=Severity.NOTE,
        message=f"{parts} outlines are cut as {strings_said(len(plan.strings))}, {names}: the wire "
        f"goes from part to part through {both_sizes(channels_mm)} of channels in the waste. "
        f"{strung.holes} start holes instead of {alone.holes}, {strung.threadings} threadings "
        f"instead of {alone.threadings}; {_less(attended)} of somebody at the machine, "
        f"{_less(bench)} at the bench and {_less(machine)} of machine, and the piece costs "
        f"{abs(price)} {currency} {'less' if price >= 0 else 'more'}.",
        remedy="Ask for a start of its own for each with --strings never.",
        data={
            "strings": float(len(plan.strings)),
            "parts": float(parts),
            "channels_mm": channels_mm,
            "threadings_saved": float(alone.threadings - strung.threadings),
            "holes_saved": float(alone.holes - strung.holes),
            "attended_min_saved": attended,
            "bench_min_saved": bench,
            "machine_min_saved": machine,
            "saved_each": float(price),
        },
    )


def does_not_pay(savings: StringSavings, *, currency: str) -> Finding:
    """Return that strings were looked at and cost more."""
    more = savings.strung.each - savings.alone.each
    return Finding(
        code="strings-do-not-pay",
        severity=Severity.NOTE,
        message=f"Cut as strings the piece would cost {more} {currency} more: the channels take "
        "longer than the holes and threadings that they save.",
        remedy="Lay the parts closer, or ask for strings all the same with --strings always.",
        data={"more_each": float(more)},
    )


def not_proved(plan: Plan) -> Finding:
    """Return that strings would pay, but their program fails its proof."""
    names = "; ".join("-".join(s.contour_ids) for s in plan.strings)
    return Finding(
        code="strings-not-proved",
        severity=Severity.WARNING,
        message=f"Cut as strings, {names}, the program fails its proof; each outline has a start "
        "of its own.",
        remedy="See what the proof says with --strings always, or lay the parts further apart.",
    )


def no_strings(why: str) -> Finding:
    """Return that strings were asked for and none can be made."""
    return Finding(
        code="no-strings",
        severity=Severity.WARNING,
        message=f"No outlines are cut as a string, though it was asked for: {why}.",
        remedy="Lay the parts nearer together with a web for the channels, or leave the wish out.",
    )


def strings_said(count: int) -> str:
    """Return how many strings, in words."""
    return "a string" if count == 1 else f"{count} strings"


def _less(minutes: float) -> str:
    return f"{minutes_text(abs(minutes))} {'less' if minutes >= 0 else 'more'}"
