"""Which offset measured sizes say to set, and how the shop says that it was set."""

from __future__ import annotations

import shlex
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Final

from kerfwright.foundation.counts import counted
from kerfwright.foundation.findings import Finding, Severity
from kerfwright.foundation.units import both
from kerfwright.process.experience import Learned, SizesTurn, set_way

LEAST_OFF_UM: Final = 1.0
_OFF: Final = 0.2
"""Size expected, in µm and as part of what the tables hold, from which an offset is advised."""
LEAST_JOBS_TO_SET: Final = 2
"""Jobs whose sizes have to say so before an offset is set by them: one reading is no basis."""
COMMAND: Final = "command"
"""Where the data of a finding has what can be typed as it stands."""
_SHOP: Final = " --shop SHOP"
_MEANT: Final = frozenset('"$`\\!%')
"""What means something between double quotes."""
_NAMED: Final = 6
"""Jobs that a sentence names."""


def quoted(text: str) -> str:
    """Return a word as it is typed in a shell, also one that knows no single quotes.

    Examples
    --------
    >>> quoted("shop"), quoted("m / D2 / pass 4"), quoted("a$b c")
    ('shop', '"m / D2 / pass 4"', "'a$b c'")
    """
    plain = shlex.quote(text)
    return plain if plain == text or set(text) & _MEANT else f'"{text}"'


@dataclass(frozen=True, slots=True, kw_only=True)
class OffsetAdvice:
    """An offset that is off by measured sizes of its own pass.

    Attributes
    ----------
    pass_number : int
    size_um : float
        By how much a side is expected off, positive for metal left.
    of : str
        Machine, material, wire and pass; empty in experience from before it was kept.
    turn : SizesTurn or None
        Where the sizes recorded last say that it was set already.
    """

    pass_number: int
    size_um: float
    of: str = ""
    turn: SizesTurn | None = None

    @property
    def set_um(self) -> float:
        """By how much it is to be set smaller, or by the sizes was; below 0 for larger."""
        turn = self.turn
        return round(self.size_um if turn is None else turn.before_um - turn.since_um, 1)

    @property
    def command(self) -> str:
        """What the shop types once it is set; SHOP stands for its folder."""
        if not self.of:
            return ""
        since = (
            [word for job in self.turn.jobs for word in ("--cut-since", job)] if self.turn else []
        )
        said = [
            "--offset-set",
            self.of,
            f"--{set_way(self.set_um)}",
            f"{abs(self.set_um):g}um",
            *since,
        ]
        return f"kerfwright record{_SHOP} {' '.join(map(quoted, said))}"


def advice_of(number: int, known: Learned) -> OffsetAdvice | None:
    """Return which offset to set by sizes measured of the pass itself; None where none is.

    What other passes, materials or machines lend sets no offset: nobody measured this one.  Neither
    do sizes of one job: its clamping, its gauge and its day are in all of them.
    """
    sizes = known.sizes
    if sizes is None or sizes.jobs < LEAST_JOBS_TO_SET or not _is_off(known):
        return None
    turn = sizes.turn
    # Where what came nearer is not what is off, or hardly, it answers nothing.
    if turn is not None and turn.before_um * known.size_bias_um <= 0:
        turn = None
    return OffsetAdvice(pass_number=number, size_um=known.size_bias_um, of=sizes.of, turn=turn)


def is_offset_asked_of_more(known: Learned) -> bool:
    """Return whether the wall of a pass is off that much by its own sizes, of too few jobs yet."""
    sizes = known.sizes
    return sizes is not None and 0 < sizes.jobs < LEAST_JOBS_TO_SET and _is_off(known)


def _is_off(known: Learned) -> bool:
    assert known.sizes is not None
    return abs(known.size_bias_um) >= max(LEAST_OFF_UM, _OFF * known.sizes.tables_um)


def offset_words(number: int, um: float) -> str:
    """Say how to set an offset by the size that is expected.

    Metal left wants the wire nearer: a smaller offset.  A size error is of one side, as an offset
    is.

    Examples
    --------
    >>> offset_words(5, 2.0)
    'set the offset of pass 5 2 µm (0.00008 in) smaller'
    """
    return f"set the offset of pass {number} {both(round(abs(um), 1))} {set_way(um)}"


def advice_words(one: OffsetAdvice) -> str:
    """Say what to set, or to answer, in the middle of a sentence."""
    if one.turn is None:
        return offset_words(one.pass_number, one.size_um)
    return (
        f"the sizes of {turn_jobs(one.turn)}, recorded last, lie {both(abs(one.set_um))} nearer "
        f"nominal than those before: if the offset of pass {one.pass_number} was set in between, "
        "say so"
    )


def turn_jobs(turn: SizesTurn) -> str:
    """Name the jobs that were recorded since, or count them where they are many.

    Parameters
    ----------
    turn : SizesTurn
    """
    if len(turn.jobs) > _NAMED:
        return counted(len(turn.jobs), "job")
    return f"{'job' if len(turn.jobs) == 1 else 'jobs'} {', '.join(turn.jobs)}"


def set_already(one: OffsetAdvice) -> str:
    """Return what to do where the offset behind all those sizes was set; with a space before it."""
    return (
        f" If the offset of pass {one.pass_number} was set since, one line says so for all of them "
        "(record --offset-set)."
    )


def offset_findings(known: Sequence[tuple[int, Learned]]) -> list[Finding]:
    """Return what a plan or quote says of offsets that measured sizes put off.

    Parameters
    ----------
    known : sequence of (int, Learned)
        Number of each pass and what is known of it.

    Returns
    -------
    list of Finding
        ``offset-to-set``, and ``offset-set-in-between`` where the last sizes say that it was.
    """
    found = [one for number, of in known if (one := advice_of(number, of)) is not None]
    return advised(found)


def advised(off: Sequence[OffsetAdvice]) -> list[Finding]:
    """Return the findings of :func:`offset_findings` for advice that is at hand."""
    return [_to_set(one) if one.turn is None else _in_between(one, one.turn) for one in off]


def _to_set(one: OffsetAdvice) -> Finding:
    return Finding(
        code="offset-to-set",
        severity=Severity.NOTE,
        message=f"By the sizes that were measured a side is expected off by {_off(one)}; "
        "positive is metal left. The program has the offsets of the tables.",
        remedy=f"To come out at nominal, {offset_words(one.pass_number, one.size_um)} in the table "
        f"(gap_um of pass {one.pass_number} in passes.toml, or Shop tables): every program takes "
        "its offsets from there, and none is entered at the control beside it. That figure serves "
        "every material, wire and machine planned by the table: where others come out at nominal, "
        "keep a table of its own for this one (--tables). Then say so (record "
        "--offset-set), or it is advised again: sizes recorded until then count as if cut with it, "
        "but for jobs that are named as cut since.",
        data={"pass": one.pass_number, **offset_data(one)},
    )


def _in_between(one: OffsetAdvice, turn: SizesTurn) -> Finding:
    number, jobs = one.pass_number, turn_jobs(turn)
    return Finding(
        code="offset-set-in-between",
        severity=Severity.WARNING,
        message=f"By all sizes that were measured a side is expected off by {_off(one)}; positive "
        f"is metal left. But the sizes of {jobs}, recorded last, lie {both(abs(one.set_um))} "
        f"nearer nominal than those before: the offset of pass {number} may have been set in "
        "between.",
        remedy=f"Set nothing by this. If the offset of pass {number} was set, say so (record "
        f"--offset-set), with what it was set by: sizes from before {jobs} then count as if cut "
        "with it. If it was not, something else changed: find that, or measure another job, before "
        "an offset is set.",
        data={"pass": number, **offset_data(one)},
    )


def _off(one: OffsetAdvice) -> str:
    sign = "-" if one.size_um < 0 else ""
    return f"{sign}{both(round(abs(one.size_um), 1))} (pass {one.pass_number})"


def offset_data(one: OffsetAdvice) -> dict[str, float | str]:
    """Return what a finding keeps of an offset, so that somebody can say that it was set."""
    if not one.of:
        return {}
    jobs = one.turn.jobs if one.turn is not None else ()
    return {
        "offset_of": one.of,
        "smaller_um": one.set_um,
        "cut_since": "\n".join(jobs),
        COMMAND: one.command,
    }


def in_shop(findings: Iterable[Finding], *, shop: str, tables: str = "") -> tuple[Finding, ...]:
    """Return findings whose commands name the folder of the shop, ready to be typed.

    Parameters
    ----------
    findings : iterable of Finding
    shop : str
        Folder of the shop's cuts.
    tables : str
        Folder of its tables; empty for those shipped.
    """
    folders = f" --shop {quoted(shop)}" + (f" --tables {quoted(tables)}" if tables else "")
    return tuple(
        replace(one, data={**one.data, COMMAND: str(one.data[COMMAND]).replace(_SHOP, folders)})
        if COMMAND in one.data
        else one
        for one in findings
    )
