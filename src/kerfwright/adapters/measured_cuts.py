"""Measured cuts from a table of text: CSV, or rows that a person types.

A column is a word with texts that carry units (``length``: ``"412 mm"``), or the word with a unit
behind it and plain numbers (``length_mm``: ``412``).  A row that cannot be used is refused with its
line and the reason, and kept whole; the others are taken.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache, partial
from typing import Final, TypeVar

from kerfwright.adapters.job_measured import OfJob
from kerfwright.adapters.learning_rules import load_cut_limits
from kerfwright.adapters.machines import load_machine
from kerfwright.adapters.measured_units import (
    KG,
    is_nth_skim,
    missing_remedy,
    read_breaks,
    read_kg,
    read_minutes,
    read_pass,
    read_size_um,
)
from kerfwright.adapters.table_columns import expect_column
from kerfwright.foundation.errors import InputError, KerfwrightError, sentence
from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.foundation.units import (
    MM_PER_INCH,
    UM_PER_MICROINCH,
    UM_PER_MM,
    length_mm,
    number,
    tidy,
)
from kerfwright.learning.batch import CutBatch, RefusedRow
from kerfwright.learning.possible import CutLimits, require_possible
from kerfwright.learning.records import MeasuredCut
from kerfwright.process.experience import TYPED
from kerfwright.process.technology import Flushing
from kerfwright.trade.catalogue import Catalogue
from kerfwright.trade.machine import Machine
from kerfwright.trade.material import Material, Wire
from kerfwright.trade.roughness import finish

Row = Mapping[str, str]
_T = TypeVar("_T")

_WORDS: Final = ("job", "machine", "material", "wire", "pass", "flushing", "breaks", "note")
_UNITS: Final[Mapping[str, Mapping[str, float]]] = {
    "height": {"height_mm": 1.0, "height_in": MM_PER_INCH},
    "length": {"length_mm": 1.0, "length_in": MM_PER_INCH},
    "time": {"time_min": 1.0, "time_h": 60.0, "time_s": 1 / 60},
    "finish": {"ra_um": 1.0, "ra_uin": UM_PER_MICROINCH},
    "size_error": {
        "size_error_um": 1.0,
        "size_error_mm": UM_PER_MM,
        "size_error_in": MM_PER_INCH * UM_PER_MM,
    },
    "wire_used": {f"wire_used_{unit}": factor for unit, factor in KG.items()},
}
"""Columns of plain numbers of each quantity, and what makes them mm, min, µm or kg."""
_NEEDED: Final = ("job", "machine", "material", "wire", "height", "pass", "length", "time")
COLUMNS: Final = (*_WORDS, *_UNITS, *(column for plain in _UNITS.values() for column in plain))


def decoded(content: bytes, *, name: str) -> str:
    """Return the text of a table as a spreadsheet saves it.

    Raises
    ------
    InputError
        Code ``table-not-utf8``: other encodings turn a µ into something else unseen.
    """
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        line = content.count(b"\n", 0, fault.start) + 1
        raise InputError(
            f"line {line} is not UTF-8 text",
            code="table-not-utf8",
            where=name,
            remedy="Save the table as CSV in UTF-8.",
        ) from fault


def read_cuts(
    text: str,
    *,
    catalogue: Catalogue,
    passes: int,
    name: str = "",
    usual: Row | None = None,
    job: OfJob | None = None,
    limits: CutLimits | None = None,
) -> CutBatch:
    """Read a CSV table of measured cuts; commas, semicolons or tabs between the cells.

    Parameters
    ----------
    text : str
        A header line and one row a cut; lines that begin with ``#`` are remarks.
    catalogue : Catalogue
        Materials and wires the shop knows.
    passes : int
        How many passes the tables have.
    name : str
        Name of the file for messages.
    usual : mapping of str to str, optional
        Values for columns that the table lacks or leaves empty.
    job : OfJob, optional
        The job that was cut, for what is still missing: its material, the length of a pass.
    limits : CutLimits, optional
        What no row can be beyond; the shipped ones if not given.

    Returns
    -------
    CutBatch
        The cuts and the refused rows; together they are every row of the table.

    Raises
    ------
    InputError
        Code ``columns-unknown``, ``columns-missing`` or ``columns-twice`` where the header cannot
        be used: then no row could be trusted.
    """
    columns, rows = split_table(text, name=name)
    _check(columns, {**(job.usual if job else {}), **(usual or {})}, job, name)
    return read_rows(
        rows, catalogue=catalogue, passes=passes, name=name, usual=usual, job=job, limits=limits
    )


def split_table(text: str, *, name: str) -> tuple[list[str], Iterator[tuple[int, str, Row | None]]]:
    """Return the columns of a table and its rows: line, text, and cells where they fit.

    Raises
    ------
    InputError
        Code ``columns-missing`` if there is no header line.
    """
    lines = text.removeprefix("\ufeff").splitlines()
    heads = [i for i, line in enumerate(lines) if line.strip() and not line.startswith("#")]
    if not heads:
        raise InputError("the table has no header line", code="columns-missing", where=name)
    head = lines[heads[0]]
    delimiter = max(",;\t", key=head.count)
    columns = [_column(cell) for cell in next(csv.reader([head], delimiter=delimiter))]
    return columns, _rows(lines, heads[0] + 1, columns, delimiter)


def read_typed(
    cuts: Sequence[Row],
    *,
    catalogue: Catalogue,
    passes: int,
    job: OfJob | None = None,
    usual: Row | None = None,
    limits: CutLimits | None = None,
) -> CutBatch:
    """Read cuts that a person typed, each as texts by the names of columns.

    Raises
    ------
    InputError
        Code ``columns-unknown`` or ``columns-twice``.
    """
    rows: list[tuple[int, str, Row | None]] = []
    for count, cells in enumerate(cuts, start=1):
        _known_columns([*cells], TYPED)
        rows.append((count, "; ".join(f"{name}={text}" for name, text in cells.items()), cells))
    return read_rows(
        rows,
        catalogue=catalogue,
        passes=passes,
        name=TYPED,
        usual=usual,
        job=job,
        noun="cut",
        limits=limits,
    )


def typed_cut(text: str) -> dict[str, str]:
    """Split one typed cut, ``"pass=1; time=2 h 50 min"``, into texts by name.

    Raises
    ------
    InputError
        Code ``typed-cut-unreadable``.

    Examples
    --------
    >>> typed_cut("pass=1; time=2 h 50 min")
    {'pass': '1', 'time': '2 h 50 min'}
    """
    found: dict[str, str] = {}
    for part in text.split(";"):
        name, sign, value = part.partition("=")
        if not sign or not value.strip() or _column(name) in found:
            raise InputError(
                f"{part.strip()!r} of the cut {text!r} is not NAME=VALUE, or is there twice",
                code="typed-cut-unreadable",
                remedy="Write pass=1; time=2 h 50 min; finish=Ra 3.1 µm.",
            )
        found[_column(name)] = value.strip()
    return found


def _column(name: str) -> str:
    return tidy(name).replace(" ", "_").replace("-", "_")


def _check(columns: list[str], usual: Row, job: OfJob | None, name: str) -> None:
    stems = _known_columns(columns, name)
    given = {*stems, *map(_stem, usual), *(("length",) if job and job.passes else ())}
    missing = [need for need in _NEEDED if need not in given]
    if missing:
        raise InputError(
            f"the table has no column for {', '.join(missing)}",
            code="columns-missing",
            where=name,
            remedy="Add the column, or say the value for all rows on the command line.",
        )


def _known_columns(columns: list[str], name: str) -> list[str]:
    """Return what each column is about; refuse one that is unknown or said twice."""
    for column in columns:
        expect_column(column, COLUMNS, where=name)
    stems = [_stem(column) for column in columns]
    twice = sorted({stem for stem in stems if stems.count(stem) > 1})
    if twice:
        raise InputError(
            f"given in two columns: {', '.join(twice)}", code="columns-twice", where=name
        )
    return stems


@lru_cache(maxsize=256)
def _stem(column: str) -> str:
    return next((stem for stem, plain in _UNITS.items() if column in plain), column)


def _rows(
    lines: list[str], first: int, columns: list[str], delimiter: str
) -> Iterator[tuple[int, str, Row | None]]:
    for index in range(first, len(lines)):
        line = lines[index]
        if not line.strip() or line.startswith("#"):
            continue
        cells = next(csv.reader(io.StringIO(line), delimiter=delimiter))
        fits = len(cells) == len(columns)
        yield index + 1, line, dict(zip(columns, cells, strict=True)) if fits else None


def read_rows(
    rows: Iterable[tuple[int, str, Row | None]],
    *,
    catalogue: Catalogue,
    passes: int,
    name: str = "",
    usual: Row | None = None,
    job: OfJob | None = None,
    noun: str = "line",
    limits: CutLimits | None = None,
) -> CutBatch:
    """Read rows of texts by column name; as :func:`read_cuts` for what is typed.

    Parameters
    ----------
    rows : iterable of (int, str, mapping or None)
        Line number, the row as it was written, and its cells; None where the count of cells is
        not that of the columns.
    catalogue : Catalogue
    passes : int
    name : str
    usual : mapping of str to str, optional
    job : OfJob, optional
    noun : str
        What a row is called in messages.
    limits : CutLimits, optional
    """
    job = job or OfJob()
    reader = _Reader(
        catalogue=catalogue,
        passes=passes,
        usual={**job.usual, **(usual or {})},
        job=job,
        name=f"{name} {noun}".strip(),
        limits=limits or load_cut_limits(),
    )
    cuts: list[MeasuredCut] = []
    refused: list[RefusedRow] = []
    for line, said, cells in rows:
        try:
            if cells is None:
                raise InputError(
                    "the row has not as many cells as the header has columns", code="row-length"
                )
            cuts.append(reader.cut(cells, line))
        except KerfwrightError as fault:
            finding = Finding(
                code=fault.code,
                severity=Severity.REFUSAL,
                message=sentence(f"{noun.capitalize()} {line} is not taken: {fault.message}"),
                where=Place(line=line),
                remedy=fault.remedy or "Correct the row and record it again.",
            )
            refused.append(RefusedRow(line=line, text=said, finding=finding))
    return CutBatch(
        cuts=tuple(cuts), refused=tuple(refused), name=name, notes=tuple(reader.notes())
    )


_FAR_LENGTHS: Final = 5.0
"""Lengths of the job's pass from which a row is asked about: a few pieces in one row are usual, a
decimal point or an inch for a millimetre makes more."""


@dataclass(slots=True, kw_only=True)
class _Reader:
    """Turns cells into cuts; names are looked up once."""

    catalogue: Catalogue
    passes: int
    usual: dict[str, str]
    job: OfJob
    name: str
    limits: CutLimits
    planned: set[int] = field(default_factory=set)
    """Passes whose length was taken from the job."""
    long: list[tuple[int, int, float]] = field(default_factory=list)
    """Line, pass and length of rows far longer than the pass of the job."""
    skims: dict[str, int] = field(default_factory=dict)
    """Passes said by their place among the skims, and what they were read as."""
    machines: dict[str, Machine] = field(default_factory=dict)
    materials: dict[str, Material] = field(default_factory=dict)
    wires: dict[str, Wire] = field(default_factory=dict)

    def cut(self, cells: Row, line: int) -> MeasuredCut:
        """Return the cut of a row."""
        filled = {column: text.strip() for column, text in cells.items() if text.strip()}
        usual = {k: v for k, v in self.usual.items() if not _given(filled, _stem(k))}
        row = usual | filled
        said = self.job.passes.get(read_pass(row["pass"])) if "pass" in row else None
        is_planned = said is not None and not _given(row, "length")
        missing = [need for need in _NEEDED if not _given(row, need)]
        if is_planned:
            missing.remove("length")
        if missing == ["length"] and self.job.passes and row["job"] == self.job.usual.get("job"):
            has = ", ".join(f"{n}" for n in sorted(self.job.passes))
            raise InputError(
                f"the job {row['job']} has no pass {row['pass']}; it has {has}",
                code="pass-not-of-job",
                remedy="Correct the pass; or give the length, if the job had a pass more than "
                "its plan.",
            )
        if missing:
            raise InputError(
                f"there is no {' and no '.join(missing)}",
                code="cell-missing",
                remedy=missing_remedy(missing),
            )
        minutes = _value(row, "time", read_minutes)
        height = _value(row, "height", partial(length_mm, what="height"))
        length = _value(row, "length", length_mm)
        number_of_pass = self._pass(row["pass"])
        if is_planned and said is not None:
            length = said.wall_mm
            self.planned.add(number_of_pass)
        if number_of_pass > self.passes:
            raise InputError(
                f"pass {number_of_pass} is not in the tables, which have 1 to {self.passes}",
                code="pass-unknown",
            )
        if said is not None and length is not None and length > _FAR_LENGTHS * said.wall_mm > 0:
            self.long.append((line, number_of_pass, length))
        assert minutes is not None
        assert height is not None
        assert length is not None
        cut = MeasuredCut(
            job=row["job"],
            machine=_once(self.machines, row["machine"], load_machine),
            material=_once(self.materials, row["material"], self.catalogue.material),
            wire=_once(self.wires, row["wire"], self.catalogue.wire),
            height_mm=height,
            pass_number=number_of_pass,
            length_mm=length,
            minutes=minutes,
            flushing=_flushing(row.get("flushing", self.job.nozzles.value)),
            ra_um=_value(row, "finish", lambda text: finish(text).ra_um),
            size_error_um=_value(row, "size_error", read_size_um),
            wire_kg=_value(row, "wire_used", read_kg),
            breaks=read_breaks(row["breaks"]) if "breaks" in row else None,
            feed_share=self.job.feed_share(number_of_pass, says_nozzles="flushing" in row),
            guides_factor=self.job.guides_of(row["job"]),
            note=row.get("note", ""),
            place=f"{self.name} {line}".strip(),
        )
        require_possible(cut, self.limits)
        return cut

    def _pass(self, text: str) -> int:
        number_of_pass = read_pass(text)
        if is_nth_skim(text):
            self.skims[text] = number_of_pass
        return number_of_pass

    def notes(self) -> Iterator[Finding]:
        """Say which lengths were taken from the job, which go far beyond it, and named skims."""
        for said, number_of_pass in self.skims.items():
            yield Finding(
                code="pass-by-name",
                severity=Severity.NOTE,
                message=f"{said!r} is read as pass {number_of_pass}, the rough one being pass 1.",
                where=Place(pass_number=number_of_pass),
                remedy="Give the number that the set-up sheet has, if another was meant.",
            )
        for line, number_of_pass, length in self.long:
            wall_mm = self.job.passes[number_of_pass].wall_mm
            yield Finding(
                code="length-beyond-job",
                severity=Severity.WARNING,
                message=f"{self.name} {line}: {length:,.6g} mm is {length / wall_mm:,.3g} "
                f"times the {wall_mm:.1f} mm that pass {number_of_pass} of the job has in one "
                "piece. It is kept.",
                where=Place(line=line, pass_number=number_of_pass),
                remedy="Check the length and its unit; it is right where the row is that many "
                "pieces. If it is wrong, take the batch back (record --withdraw), correct the row "
                "and record it again.",
                data={"length_mm": length, "job_length_mm": wall_mm},
            )
        for number_of_pass in sorted(self.planned):
            wall_mm = self.job.passes[number_of_pass].wall_mm
            yield Finding(
                code="length-of-job",
                severity=Severity.NOTE,
                message=f"The length of pass {number_of_pass} is that of the plan, {wall_mm:.1f} "
                "mm: every wall and lead of one piece.",
                remedy="Give the length where the time is that of fewer walls, or of more pieces.",
            )


def _given(row: Row, stem: str) -> bool:
    return any(_stem(column) == stem for column in row)


def _once(known: dict[str, _T], said: str, find: Callable[[str], _T]) -> _T:
    if said not in known:
        known[said] = find(said)
    return known[said]


def _value(row: Row, stem: str, read: Callable[[str], float]) -> float | None:
    """Read the column of a quantity, whichever of its forms the table has."""
    if stem in row:
        text = row[stem]
        return _signed(text, read) if stem == "size_error" else read(text)
    for column, factor in _UNITS[stem].items():
        text = row.get(column, "")
        if text:
            return _signed(text, partial(number, what=column)) * factor
    return None


def _signed(text: str, read: Callable[[str], float]) -> float:
    """Read a value that may be below 0; whether it may is checked by the record."""
    bare = text.strip()
    sign = -1.0 if bare.startswith(("-", "−")) else 1.0
    return sign * read(bare.lstrip("-−+"))


def _flushing(text: str) -> Flushing:
    try:
        return Flushing(tidy(text).replace(" ", "-"))
    except ValueError:
        raise InputError(
            f"flushing {text!r} is not known",
            code="flushing-unknown",
            remedy=f"Write {', '.join(Flushing)}.",
        ) from None
