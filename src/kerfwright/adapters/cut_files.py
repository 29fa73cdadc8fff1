"""Batches of measured cuts as files: one row a cut, in the units we compute in."""

from __future__ import annotations

import csv
import io
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from kerfwright.adapters.machines import load_machine, shipped_machines
from kerfwright.adapters.owned_files import digest
from kerfwright.adapters.whole_files import read_whole, write_whole
from kerfwright.foundation.errors import InputError, KerfwrightError
from kerfwright.foundation.findings import Finding, Severity
from kerfwright.learning.batch import CutBatch, RefusedRow
from kerfwright.learning.records import MeasuredCut
from kerfwright.process.technology import Flushing
from kerfwright.trade.catalogue import Catalogue
from kerfwright.trade.machine import Machine

_HEAD: Final = (
    "job",
    "machine",
    "machine_name",
    "machine_rate_factor",
    "machine_best_tolerance_um",
    "material",
    "wire_kind",
    "wire_mm",
    "height_mm",
    "pass",
    "length_mm",
    "time_min",
    "flushing",
    "ra_um",
    "size_error_um",
    "wire_kg",
    "breaks",
    "feed_share",
    "guides_factor",
    "note",
    "place",
)
_WHERE: Final = (
    "job", "machine", "material", "wire_kind", "wire_mm", "height_mm", "pass", "length_mm",
    "time_min", "flushing",
)  # fmt: skip
_FOUND: Final = ("ra_um", "size_error_um", "wire_kg", "breaks", "note")
"""Columns that say which cut it was, and what was found on it.  Where the row was read, and what
the machine's own file said that day, do not make another cut."""
_OF_MACHINE: Final = (
    "machine",
    "machine_name",
    "machine_rate_factor",
    "machine_best_tolerance_um",
)
_ABSENT: Final = {"feed_share": "1.0", "guides_factor": "1.0", "note": ""}
"""What a file says that was written before a column was there."""


def cuts_text(cuts: Iterable[MeasuredCut]) -> str:
    """Return cuts as CSV.

    What the tables make of a machine is kept with each cut, as the machine's own file may change.
    """
    stream = io.StringIO()
    writer = csv.DictWriter(stream, _HEAD, lineterminator="\n")
    writer.writeheader()
    writer.writerows(_row(cut) for cut in cuts)
    return stream.getvalue()


def _row(cut: MeasuredCut) -> dict[str, str]:
    machine, wire = cut.machine, cut.wire
    return {
        "job": cut.job,
        "machine": machine.id,
        "machine_name": machine.name,
        "machine_rate_factor": _text(machine.rate_factor),
        "machine_best_tolerance_um": _text(machine.best_tolerance_um),
        "material": cut.material.id,
        "wire_kind": wire.kind,
        "wire_mm": _text(wire.diameter_mm),
        "height_mm": _text(cut.height_mm),
        "pass": str(int(cut.pass_number)),
        "length_mm": _text(cut.length_mm),
        "time_min": _text(cut.minutes),
        "flushing": cut.flushing.value,
        "ra_um": _text(cut.ra_um),
        "size_error_um": _text(cut.size_error_um),
        "wire_kg": _text(cut.wire_kg),
        "breaks": "" if cut.breaks is None else str(int(cut.breaks)),
        "feed_share": _text(cut.feed_share),
        "guides_factor": _text(cut.guides_factor),
        "note": cut.note,
        "place": cut.place,
    }


def _text(value: float | None) -> str:
    # A number of another library would print its type.
    return "" if value is None else repr(float(value))


def _where(row: Mapping[str, str]) -> tuple[str, ...]:
    return tuple(row[name] for name in _WHERE)


def _identity(row: Mapping[str, str]) -> tuple[str, ...]:
    return _where(row) + tuple(row[name] for name in _FOUND)


def rows_of(path: Path) -> list[dict[str, str]]:
    """Return the rows of a file of cuts.

    Raises
    ------
    InputError
        Code ``cuts-damaged`` if a column is missing.
    FileError
    """
    rows = [{**_ABSENT, **row} for row in csv.DictReader(io.StringIO(read_whole(path)))]
    for number, row in enumerate(rows, start=2):
        if any(row.get(name) is None for name in _HEAD):
            raise InputError(
                "the row has not every column", code="cuts-damaged", where=f"{path} line {number}"
            )
    return rows


@dataclass(slots=True)
class Known:
    """The cuts that are kept already, counted: a row met again is the same cut."""

    counts: Counter[tuple[str, ...]] = field(default_factory=Counter)
    places: set[tuple[str, ...]] = field(default_factory=set)

    def take(self, rows: Iterable[Mapping[str, str]]) -> None:
        """Count rows that are kept."""
        for row in rows:
            self.counts[_identity(row)] += 1
            self.places.add(_where(row))

    def new(self, cuts: Iterable[MeasuredCut]) -> tuple[list[MeasuredCut], list[MeasuredCut]]:
        """Return the cuts that are not kept yet, and those of them that resemble a kept one.

        Two alike cuts in one table are two cuts; the same two in a later table are the same.
        """
        left = self.counts.copy()
        found, alike = [], []
        for cut in cuts:
            row = _row(cut)
            if left[_identity(row)] > 0:
                left[_identity(row)] -= 1
                continue
            found.append(cut)
            if _where(row) in self.places:
                alike.append(cut)
        return found, alike


@dataclass(frozen=True, slots=True, kw_only=True)
class CutReader:
    """Reads kept rows against the tables of today.

    Attributes
    ----------
    catalogue : Catalogue
        Materials and wires that the rows name.
    """

    catalogue: Catalogue

    def read(self, path: Path) -> tuple[list[MeasuredCut], list[RefusedRow]]:
        """Return the cuts of a file, and apart from them those that the tables know no more.

        Raises
        ------
        InputError
            Code ``cuts-damaged`` with file and line.
        """
        wires = {(w.kind, w.diameter_mm): w for w in self.catalogue.wires}
        materials = {m.id: m for m in self.catalogue.materials}
        cuts: list[MeasuredCut] = []
        aside: list[RefusedRow] = []
        # One record for all cuts of a machine: what the tables say of it is computed once.
        machines: dict[tuple[str, ...], Machine] = {}
        rows = rows_of(path)
        # The time of the file is that of recording; a copy that loses it says when it was made.
        when = datetime.fromtimestamp(path.stat().st_mtime, tz=UTC).isoformat(timespec="seconds")
        for number, row in enumerate(rows, start=2):
            try:
                material = materials.get(row["material"])
                wire = wires.get((row["wire_kind"], float(row["wire_mm"])))
                if material is None or wire is None:
                    aside.append(_aside(row, line=number, lacks_material=material is None))
                    continue
                said = tuple(row[name] for name in _OF_MACHINE)
                if said not in machines:
                    machines[said] = _machine(row)
                cuts.append(
                    MeasuredCut(
                        job=row["job"],
                        machine=machines[said],
                        material=material,
                        wire=wire,
                        height_mm=float(row["height_mm"]),
                        pass_number=int(row["pass"]),
                        length_mm=float(row["length_mm"]),
                        minutes=float(row["time_min"]),
                        flushing=Flushing(row["flushing"]),
                        ra_um=_optional(row["ra_um"]),
                        size_error_um=_optional(row["size_error_um"]),
                        wire_kg=_optional(row["wire_kg"]),
                        breaks=int(row["breaks"]) if row["breaks"] else None,
                        feed_share=float(row["feed_share"]),
                        guides_factor=float(row["guides_factor"]),
                        note=row["note"],
                        place=row["place"],
                        recorded=when,
                        batch=path.stem,
                    )
                )
            except ValueError as fault:
                reason = fault.message if isinstance(fault, KerfwrightError) else f"{fault}"
                raise InputError(
                    f"the cut cannot be read: {reason}",
                    code="cuts-damaged",
                    where=f"{path} line {number}",
                    remedy="Put the copy of a backup back.",
                ) from fault
        return cuts, aside


def _aside(row: Mapping[str, str], *, line: int, lacks_material: bool) -> RefusedRow:
    what = (
        f"material {row['material']}"
        if lacks_material
        else f"wire {row['wire_kind']} {float(row['wire_mm']):g} mm"
    )
    return RefusedRow(
        line=line,
        text=",".join(row.values()),
        finding=Finding(
            code="cuts-set-aside",
            severity=Severity.WARNING,
            message=f"the tables have no {what} any more",
            remedy="Its cuts are kept and count again when it comes back to the tables.",
        ),
    )


def _machine(row: Mapping[str, str]) -> Machine:
    name = row["machine"]
    shipped = load_machine(name if name in shipped_machines() else None)
    return replace(
        shipped,
        id=name,
        name=row["machine_name"],
        rate_factor=float(row["machine_rate_factor"]),
        best_tolerance_um=float(row["machine_best_tolerance_um"]),
    )


def _optional(text: str) -> float | None:
    return float(text) if text else None


def refused_text(batch: CutBatch) -> str:
    """Return the refused rows as they were written, each under its reason."""
    lines = [f"# Rows of {batch.name or 'the table'} that were not taken, each under its reason."]
    for row in batch.refused:
        lines += [f"# {row.finding.message} {row.finding.remedy}".rstrip(), row.text]
    return "\n".join(lines) + "\n"


def keep_with_job(folder: Path, batch: CutBatch) -> tuple[Path, ...]:
    """Keep a batch beside its job too, each cut once, and return the files written.

    Raises
    ------
    FileError
        Code ``shop-folder-unwritable``.
    """
    kept: list[Path] = []
    known = Known()
    for path in measured_files(folder):
        known.take(rows_of(path))
    cuts, _ = known.new(batch.cuts)
    if cuts:
        text = cuts_text(cuts)
        kept.append(folder / f"{_OF_JOB}{digest(text)[:12]}.csv")
        write_whole(kept[-1], text)
    if batch.refused:
        text = refused_text(batch)
        kept.append(folder / f"{_OF_JOB}refused-{digest(text)[:12]}.txt")
        write_whole(kept[-1], text)
    return tuple(kept)


_OF_JOB: Final = "measured-cuts-"


def measured_files(folder: Path) -> list[Path]:
    """Return the files of measured cuts in a job folder."""
    return sorted(folder.glob(f"{_OF_JOB}*.csv"))
