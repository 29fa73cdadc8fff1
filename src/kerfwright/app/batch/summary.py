"""What a batch comes to."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from kerfwright.app.batch.records import PRICED, Outcome, State

MOST_COMMON: Final = 5
"""Findings that the summary names."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CommonFinding:
    """A finding that many drawings have.

    Attributes
    ----------
    code : str
    drawings, times : int
        Rows that have it, and how often it is there in all.
    example : str
        Its words in the first of them.
    """

    code: str
    drawings: int
    times: int
    example: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Summary:
    """Totals over the rows of a batch.

    Attributes
    ----------
    rows : int
    states : mapping of State to int
        Those that there are.
    totals : mapping of str to (Decimal, Decimal)
        By currency: of what is priced whole, and of what is priced in part.
    machine_min, attended_min : float
        Of all that has a price, likely.
    reasons : tuple of CommonFinding
        What stands in the way of a price; the most frequent first.
    common : tuple of CommonFinding
    """

    rows: int
    states: dict[State, int]
    totals: dict[str, tuple[Decimal, Decimal]]
    machine_min: float
    attended_min: float
    reasons: tuple[CommonFinding, ...]
    common: tuple[CommonFinding, ...]


def summary_of(outcomes: Iterable[Outcome]) -> Summary:
    """Return the totals of a batch; its rows are gone through once and not kept."""
    states: Counter[State] = Counter()
    totals: dict[str, tuple[Decimal, Decimal]] = {}
    machine_min = attended_min = 0.0
    reasons: Counter[str] = Counter()
    drawings: Counter[str] = Counter()
    times: Counter[str] = Counter()
    whys: dict[str, str] = {}
    examples: dict[str, str] = {}
    for one in outcomes:
        states[one.state] += 1
        if one.state in PRICED:
            whole, part = totals.get(one.currency, (Decimal(0), Decimal(0)))
            price = Decimal(one.price)
            if one.state is State.PRICED:
                totals[one.currency] = whole + price, part
            else:
                totals[one.currency] = whole, part + price
            machine_min += one.machine_min or 0.0
            attended_min += one.attended_min or 0.0
        elif one.state is not State.NOT_DONE:
            code = one.code or one.state.value
            reasons[code] += 1
            whys.setdefault(code, one.reason)
        drawings.update(one.codes.keys())
        times.update(one.codes)
        for code, words in one.said.items():
            examples.setdefault(code, words)
    common = sorted(drawings, key=lambda code: (-drawings[code], code))[:MOST_COMMON]
    return Summary(
        rows=states.total(),
        states={state: states[state] for state in State if states[state]},
        totals=dict(sorted(totals.items())),
        machine_min=machine_min,
        attended_min=attended_min,
        reasons=tuple(
            CommonFinding(code=code, drawings=rows, times=rows, example=whys[code])
            for code, rows in sorted(reasons.items(), key=lambda r: (-r[1], r[0]))
        ),
        common=tuple(
            CommonFinding(
                code=code,
                drawings=drawings[code],
                times=times[code],
                example=examples.get(code, ""),
            )
            for code in common
        ),
    )
