"""What a batch came to, for people and as JSON."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from pathlib import Path
from typing import Any

from kerfwright.adapters.batch.drawings import JOURNAL
from kerfwright.app.batch.records import State
from kerfwright.app.batch.summary import CommonFinding, Summary
from kerfwright.cli.output import Page
from kerfwright.foundation.counts import counted
from kerfwright.wiring.batch import BatchDone

_MOST_REASONS = 8
_MOST_WORDS = 160


def is_refused(summary: Summary) -> bool:
    """Return whether some row has no price, or one for a part only."""
    return bool(set(summary.states) - {State.PRICED})


def shape(done: BatchDone, out: Path) -> Mapping[str, Any]:
    """Return what a batch came to, for JSON."""
    summary = done.summary
    return {
        "format": "kerfwright-batch",
        "version": 1,
        "folder": str(out),
        "files": [*done.files, JOURNAL],
        "rows": summary.rows,
        "states": {state.value: count for state, count in summary.states.items()},
        "planned": done.planned,
        "known": done.known,
        "seconds": round(done.seconds, 1),
        "stopped": done.is_stopped,
        "broken_off": None
        if done.fault is None
        else {"code": done.fault.code, "message": done.fault.message},
        "totals": {
            currency: {"priced": str(whole), "priced in part": str(part)}
            for currency, (whole, part) in summary.totals.items()
        },
        "machine_min": round(summary.machine_min, 1),
        "attended_min": round(summary.attended_min, 1),
        "in_the_way": [asdict(one) for one in summary.reasons],
        "findings": [asdict(one) for one in summary.common],
        "spoilt_lines": done.spoilt,
    }


def show(done: BatchDone, out: Path) -> None:
    """Print the summary."""
    page, summary = Page(), done.summary
    page.heading(f"{counted(summary.rows, 'drawing')}")
    page.table(
        ["state", "drawings"], [(state.value, str(n)) for state, n in summary.states.items()]
    )
    rate = f", {done.planned / done.seconds:.2g} a second" if done.planned else ""
    page.line(
        f"{done.planned} planned now in {done.seconds:.0f} s{rate}; {done.known} known from before",
        indent=2,
    )
    if done.spoilt:
        page.line(f"torn in the journal, and not counted: {counted(done.spoilt, 'line')}", indent=2)
    for currency, (whole, part) in summary.totals.items():
        more = f", and {part:,} for what can be cut of those priced in part" if part else ""
        page.line(
            f"priced: {whole:,} {currency}{more}; likely, the least quantity of each", indent=2
        )
    if summary.totals:
        page.line(
            f"machine {summary.machine_min / 60:.1f} h, {summary.attended_min / 60:.1f} h of it"
            " with somebody by",
            indent=2,
        )
    _show_reasons(page, summary)
    _show_common(page, summary)
    page.heading(f"Written to {out}")
    page.line(", ".join((*done.files, JOURNAL)), indent=2)
    if done.is_stopped or done.fault is not None:
        left = summary.states.get(State.NOT_DONE, 0)
        page.line(
            f"Stopped with {counted(left, 'drawing')} not done. What was done is kept: the same"
            " command goes on from there.",
            indent=2,
            style="bold",
        )


def _show_reasons(page: Page, summary: Summary) -> None:
    if not summary.reasons:
        return
    page.heading("In the way of a price")
    for one in summary.reasons[:_MOST_REASONS]:
        _show_one(page, one)
    more = sum(one.drawings for one in summary.reasons[_MOST_REASONS:])
    if more:
        page.line(f"… and {counted(more, 'drawing')} more, see the table", indent=2)


def _show_common(page: Page, summary: Summary) -> None:
    if not summary.common:
        return
    page.heading("Most common findings")
    for one in summary.common:
        _show_one(page, one)


def _show_one(page: Page, one: CommonFinding) -> None:
    times = f", {one.times} times" if one.times > one.drawings else ""
    page.line(f"{one.code}: {counted(one.drawings, 'drawing')}{times}", indent=2)
    short = one.example[:_MOST_WORDS]
    page.line(f"such as: {short}{'…' if len(one.example) > _MOST_WORDS else ''}", indent=6)
