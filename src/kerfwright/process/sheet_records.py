"""Rows of one sheet that are off alike: what is asked about them, by a plan, a quote and a record.

One slip of the pen, such as a unit, or how the machine is: one sheet cannot tell (decision 0029).
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from kerfwright.foundation.counts import counted
from kerfwright.foundation.findings import Finding, Severity

_NEAR: Final = 0.12
"""Share by which a factor may miss that of a slip and still be told as like it."""
_SHORT: Final = 12
"""Digits of a batch's name that are enough to tell it from others."""
_MOST_LINES: Final = 12
"""Runs of lines that are named; of more, the first."""
_KNOWN: Final[Mapping[str, tuple[tuple[float, str], ...]]] = MappingProxyType(
    {
        "feed": (
            (60.0, "hours for minutes, or minutes for seconds"),
            (25.4, "inches for millimetres"),
            (10.0, "a digit too many or too few"),
            (100.0, "two digits too many or too few"),
            (1000.0, "metres for millimetres"),
            (3600.0, "hours for seconds"),
        ),
        "ra": (
            (39.37, "microinches for micrometres"),
            (6.0, "Rz for Ra (five to seven times, common practice, no source)"),
            (10.0, "a digit too many or too few"),
            (1000.0, "millimetres for micrometres"),
        ),
        "wire": (
            (2.2046, "pounds for kilograms"),
            (10.0, "a digit too many or too few"),
            (35.274, "ounces for kilograms"),
            (1000.0, "grams for kilograms"),
        ),
    }
)
"""Factors of slips by what was measured: ratios of units, and of digits."""
_SAID: Final = MappingProxyType({"feed": "feed", "ra": "finish (Ra)", "wire": "wire used"})


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetRecord:
    """Rows of one sheet that are off by about one factor, and that no other sheet agrees with.

    Attributes
    ----------
    batch : str
        Name of the batch.
    measure : str
        What was measured: ``feed``, ``ra`` or ``wire``.
    places : tuple of str
        File and line of each row.
    jobs : tuple of str
        Those that they are of.
    factor : float
        Measured over what all else lets expect.
    chance : float
        That one slip explains them.
    """

    batch: str
    measure: str
    places: tuple[str, ...]
    jobs: tuple[str, ...]
    factor: float
    chance: float

    @property
    def times_words(self) -> str:
        """The factor as one says it.

        Examples
        --------
        >>> SheetRecord(
        ...     batch="", measure="feed", places=(), jobs=(), factor=0.0167, chance=1
        ... ).times_words
        'about 1/59.9 of, near 60: hours for minutes, or minutes for seconds,'
        """
        times = self.factor if self.factor >= 1 else 1 / self.factor
        said = f"about {times:.3g} times" if self.factor >= 1 else f"about 1/{times:.3g} of"
        for known, words in _KNOWN[self.measure]:
            if abs(math.log(times / known)) <= _NEAR:
                return f"{said}, near {known:g}: {words},"
        return said


def lines_words(places: Sequence[str]) -> str:
    """Name rows by file and runs of lines.

    Examples
    --------
    >>> lines_words(["a.csv line 2", "a.csv line 3", "a.csv line 4", "a.csv line 9", "typed 1"])
    'a.csv lines 2 to 4, 9; typed 1'
    """
    by_file: dict[str, set[int]] = {}
    others = []
    for place in places:
        file, _, line = place.rpartition(" line ")
        if file and line.isdecimal():
            by_file.setdefault(file, set()).add(int(line))
        elif place and place not in others:
            others.append(place)
    said = [f"{file} {_runs_words(sorted(lines))}" for file, lines in sorted(by_file.items())]
    return "; ".join([*said, *others[:_MOST_LINES]])


def _runs_words(lines: Sequence[int]) -> str:
    runs: list[list[int]] = []
    for line in lines:
        if runs and line == runs[-1][-1] + 1:
            runs[-1].append(line)
        else:
            runs.append([line])
    words = [f"{r[0]} to {r[-1]}" if len(r) > 1 else f"{r[0]}" for r in runs]
    more = "" if len(words) <= _MOST_LINES else " and more"
    word = "line" if len(lines) == 1 else "lines"
    return f"{word} {', '.join(words[:_MOST_LINES])}{more}"


def sheet_findings(sheets: Iterable[SheetRecord]) -> list[Finding]:
    """Return the question about each sheet, once.

    Parameters
    ----------
    sheets : iterable of SheetRecord

    Returns
    -------
    list of Finding
        Code ``sheet-in-question``.
    """
    return [_finding(one) for one in dict.fromkeys(sheets)]


def _finding(one: SheetRecord) -> Finding:
    batch = one.batch[:_SHORT]
    rows = counted(len(one.places), "row")
    named = lines_words(one.places)
    return Finding(
        code="sheet-in-question",
        severity=Severity.WARNING,
        message=f"{rows} of {counted(len(one.jobs), 'job')} in one sheet (batch {batch}"
        f"{': ' + named if named else ''}): the {_SAID[one.measure]} is {one.times_words} what is "
        f"expected by all else, alike in all of them. One slip of the sheet explains that with a "
        f"chance of {one.chance:.0%}; by that much less they count, until jobs of another sheet "
        "agree or the sheet is confirmed.",
        remedy="Check unit and column against what was written at the machine. If wrong: record "
        f'--withdraw {batch} --reason "…", correct the rows and record them again. If right: '
        f"record --confirm {batch}.",
        data={
            "batch": one.batch,
            "measure": one.measure,
            "rows": len(one.places),
            "jobs": ", ".join(itertools.islice(one.jobs, _MOST_LINES)),
            "factor": one.factor,
            "chance": one.chance,
        },
    )
