"""What is said of a batch as it is recorded: rows refused, cuts known already, cuts set aside."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from kerfwright.foundation.counts import counted
from kerfwright.foundation.errors import sentence
from kerfwright.foundation.findings import Finding, Severity
from kerfwright.learning.batch import Added, CutBatch, KeptCuts, RefusedRow


def refused_findings(batch: CutBatch) -> list[Finding]:
    """Return why rows are refused; a reason that several share is said once, with their lines."""
    alike: dict[tuple[str, str], list[RefusedRow]] = {}
    for row in batch.refused:
        reason = row.finding.message.partition(": ")[2]
        alike.setdefault((reason, row.finding.remedy), []).append(row)
    found = []
    for (reason, _), rows in alike.items():
        first = rows[0].finding
        if len(rows) > 1:
            noun = first.message.partition(" ")[0]
            lines = [row.line for row in rows]
            first = replace(
                first,
                message=f"{noun}s {_runs(lines)} are not taken: {reason}",
                data={**first.data, "lines": ", ".join(f"{line}" for line in lines)},
            )
        found.append(first)
    return found


def _runs(lines: Sequence[int]) -> str:
    """Write lines that follow each other as one: 2–5, 9."""
    runs: list[list[int]] = []
    for line in lines:
        if runs and line == runs[-1][1] + 1:
            runs[-1][1] = line
        else:
            runs.append([line, line])
    return ", ".join(f"{a}" if a == b else f"{a}–{b}" for a, b in runs)


def noted_findings(batch: CutBatch, added: Added) -> list[Finding]:
    """Return what is noted of the cuts of a batch beside those that were kept of it."""
    found = []
    again = len(batch.cuts) - len(added.cuts)
    if not batch.cuts:
        found.append(
            Finding(
                code="cuts-none-taken",
                severity=Severity.REFUSAL,
                message="No row could be taken; nothing was learned.",
                remedy="Correct the rows named and record them again.",
            )
        )
    if again:
        found.append(
            Finding(
                code="cuts-recorded-before",
                severity=Severity.NOTE,
                message=f"{again} of {counted(len(batch.cuts), 'cut')} "
                f"{'was' if again == 1 else 'were'} recorded before; "
                f"{'it counts' if again == 1 else 'they count'} once.",
                remedy="If one was another cut, alike in everything, tell it apart by a note.",
                data={"count": again},
            )
        )
    if added.alike:
        places = ", ".join(cut.place for cut in added.alike)
        found.append(
            Finding(
                code="cuts-resemble",
                severity=Severity.WARNING,
                message=f"{counted(len(added.alike), 'cut')} as long and in the same time as one "
                "recorded before, of the same job and pass, but something else differs; "
                f"{'it counts' if len(added.alike) == 1 else 'they count'} too ({places}).",
                remedy="If they are the same, take the earlier batch back: record --withdraw.",
                data={"count": len(added.alike)},
            )
        )
    return found


def aside_findings(kept: KeptCuts) -> list[Finding]:
    """Return a finding for each reason why kept cuts do not count."""
    reasons = Counter(row.finding.message for row in kept.aside)
    if kept.too_late:
        reasons["the tables have no such pass any more"] = kept.too_late
    return [
        Finding(
            code="cuts-set-aside",
            severity=Severity.WARNING,
            message=sentence(
                f"{counted(count, 'kept cut')} {'does' if count == 1 else 'do'} not count: {reason}"
            ),
            remedy="They stay on file and count again when it comes back to the tables.",
            data={"count": count},
        )
        for reason, count in reasons.items()
    ]
