"""A shop's measured cuts and what it learned, as files that a person can read and copy.

``cuts/<hash>.csv`` holds one batch each and ``learned/<hash>.json`` one posterior each, both named
by the hash of their content and never changed; ``learned/current`` names the last.  Recording one
batch twice therefore keeps it once, and every quote can be computed as it was.
"""

from __future__ import annotations

import csv
import hashlib
import io
import json
import os
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from types import MappingProxyType
from typing import Any, Final

import numpy as np
from scipy import sparse

from kerfwright.adapters.machines import load_machine, shipped_machines
from kerfwright.foundation.errors import FileError, InputError, KerfwrightError
from kerfwright.learning.batch import CutBatch
from kerfwright.learning.posterior import Fitted, Posterior
from kerfwright.learning.records import Input, LearningRules, Measure, MeasuredCut
from kerfwright.process.technology import Flushing
from kerfwright.trade.catalogue import Catalogue
from kerfwright.trade.machine import Machine

_FORMAT, _VERSION = "kerfwright-learned", 1
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
    "place",
)
_OWNER_ONLY_FOLDER: Final = 0o700


def cuts_text(batch: CutBatch) -> str:
    """Return the cuts of a batch as CSV in the units we compute in.

    What the tables make of a machine is kept with each cut, as the machine's own file may change.
    """
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(_HEAD)
    for cut in batch.cuts:
        machine, wire = cut.machine, cut.wire
        writer.writerow(
            [
                cut.job,
                machine.id,
                machine.name,
                repr(machine.rate_factor),
                repr(machine.best_tolerance_um),
                cut.material.id,
                wire.kind,
                repr(wire.diameter_mm),
                repr(cut.height_mm),
                cut.pass_number,
                repr(cut.length_mm),
                repr(cut.minutes),
                cut.flushing.value,
                *(
                    "" if v is None else repr(v)
                    for v in (cut.ra_um, cut.size_error_um, cut.wire_kg)
                ),
                "" if cut.breaks is None else cut.breaks,
                cut.place,
            ]
        )
    return stream.getvalue()


def keep_with_job(folder: Path, batch: CutBatch) -> tuple[Path, ...]:
    """Keep a batch beside its job too, named by its content, and return the files.

    Raises
    ------
    FileError
        Code ``shop-folder-unwritable``.
    """
    kept: list[Path] = []
    if batch.cuts:
        text = cuts_text(batch)
        kept.append(folder / f"measured-cuts-{_sha256(text)[:12]}.csv")
        _write(kept[-1], text)
    if batch.refused:
        text = refused_text(batch)
        kept.append(folder / f"measured-cuts-refused-{_sha256(text)[:12]}.txt")
        _write(kept[-1], text)
    return tuple(kept)


def refused_text(batch: CutBatch) -> str:
    """Return the refused rows as they were written, each under its reason."""
    lines = [f"# Rows of {batch.name or 'the table'} that were not taken, each under its reason."]
    for row in batch.refused:
        lines += [f"# {row.finding.message} {row.finding.remedy}".rstrip(), row.text]
    return "\n".join(lines) + "\n"


@dataclass(frozen=True, slots=True, kw_only=True)
class ShopFolder:
    """The store of a shop as plain files.

    Attributes
    ----------
    folder : Path
        Made when first written to, for its owner only.
    catalogue : Catalogue
        Materials and wires that the cuts name.
    rules : LearningRules
    """

    folder: Path
    catalogue: Catalogue
    rules: LearningRules

    def add(self, batch: CutBatch) -> bool:
        """Keep a batch with its refused rows; return False if just these cuts are there."""
        if batch.refused:
            text = refused_text(batch)
            _write(self.folder / "cuts" / "refused" / f"{_sha256(text)[:16]}.txt", text)
        if not batch.cuts:
            return False
        text = cuts_text(batch)
        target = self.folder / "cuts" / f"{_sha256(text)[:32]}.csv"
        if target.exists():
            return False
        _write(target, text)
        return True

    def cuts(self) -> tuple[MeasuredCut, ...]:
        """Return every cut kept, in an order that depends on the cuts alone.

        Raises
        ------
        InputError
            Code ``cuts-damaged`` with file and line: a store that lost a cut must not go on.
        """
        found: list[MeasuredCut] = []
        for path in sorted((self.folder / "cuts").glob("*.csv")):
            text = _read(path)
            if _sha256(text)[:32] != path.stem:
                raise InputError(
                    "the file was changed since it was recorded",
                    code="cuts-damaged",
                    where=str(path),
                    remedy="Put the copy of a backup back, or rename it and record it anew.",
                )
            rows = csv.DictReader(io.StringIO(text))
            found += [
                self._cut(row, place=f"{path} line {n}") for n, row in enumerate(rows, start=2)
            ]
        return tuple(found)

    def _cut(self, row: Mapping[str, str], *, place: str) -> MeasuredCut:
        try:
            wires = {(w.kind, w.diameter_mm): w for w in self.catalogue.wires}
            materials = {m.id: m for m in self.catalogue.materials}
            return MeasuredCut(
                job=row["job"],
                machine=_machine(row),
                material=materials[row["material"]],
                wire=wires[row["wire_kind"], float(row["wire_mm"])],
                height_mm=float(row["height_mm"]),
                pass_number=int(row["pass"]),
                length_mm=float(row["length_mm"]),
                minutes=float(row["time_min"]),
                flushing=Flushing(row["flushing"]),
                ra_um=_optional(row["ra_um"]),
                size_error_um=_optional(row["size_error_um"]),
                wire_kg=_optional(row["wire_kg"]),
                breaks=int(row["breaks"]) if row["breaks"] else None,
                place=row["place"],
            )
        except (KeyError, ValueError) as fault:
            reason = fault.message if isinstance(fault, KerfwrightError) else f"{fault}"
            raise InputError(
                f"the cut cannot be read: {reason}",
                code="cuts-damaged",
                where=place,
                remedy="A material or wire that was taken from the tables has to come back.",
            ) from fault

    def save(self, posterior: Posterior) -> Posterior:
        """Keep a posterior, make it the current one and return it with its hash."""
        text = posterior_text(posterior)
        sha256 = _sha256(text)
        target = self.folder / "learned" / f"{sha256}.json"
        if not target.exists():
            _write(target, text)
        _write(self.folder / "learned" / "current", sha256 + "\n")
        return replace(posterior, sha256=sha256)

    def current_sha256(self) -> str:
        """Return the hash of what was learned last; empty where nothing was."""
        named = self.folder / "learned" / "current"
        return _read(named).strip() if named.is_file() else ""

    def current(self) -> Posterior | None:
        """Return what was learned last."""
        sha256 = self.current_sha256()
        return self.posterior(sha256) if sha256 else None

    def posterior(self, sha256: str) -> Posterior:
        """Return what was learned at some time, by its hash or the beginning of it.

        Raises
        ------
        FileError
            Code ``experience-unknown`` if there is none or more than one of that name, or
            ``experience-damaged`` if it is not what its name says.
        """
        found = (
            sorted((self.folder / "learned").glob(f"{sha256}*.json")) if sha256.isalnum() else []
        )
        if len(found) != 1:
            raise FileError(
                f"there are {len(found)} records of experience called {sha256!r}",
                code="experience-unknown",
                where=str(self.folder / "learned"),
                remedy="Give the hash that the quote names.",
            )
        text = _read(found[0])
        if _sha256(text) != found[0].stem:
            raise FileError(
                "the file is not what was written",
                code="experience-damaged",
                where=str(found[0]),
                remedy="Put the copy of a backup back, or record a cut to learn anew.",
            )
        return posterior_from(json.loads(text), sha256=found[0].stem, rules=self.rules)


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


def posterior_text(posterior: Posterior) -> str:
    """Return a posterior as JSON; the same content always gives the same text."""
    measures = {}
    for measure, fitted in posterior.measures.items():
        upper = sparse.coo_array(sparse.triu(fitted.precision))
        entries = zip(upper.row.tolist(), upper.col.tolist(), upper.data.tolist(), strict=True)
        measures[measure.value] = {
            "names": list(fitted.names),
            "mean": fitted.mean.tolist(),
            "precision": sorted(entries),
            "variance": {kind.value: value for kind, value in fitted.variance.items()},
            "records": fitted.records,
        }
    rules = posterior.rules
    document = {
        "format": _FORMAT,
        "version": _VERSION,
        "previous": posterior.previous,
        "tables_sha256": posterior.tables_sha256,
        "rules": {name: getattr(rules, name) for name in _RULES},
        "counts": dict(posterior.counts),
        "sizes": dict(posterior.sizes),
        "measures": measures,
    }
    return json.dumps(document, ensure_ascii=False, separators=(",", ":")) + "\n"


_RULES: Final = (
    "scatter_df",
    "variance_scale_sigma_log",
    "fewest_sizes",
    "height_bands_mm",
    "ra_sigma_log",
    "wire_sigma_log",
    "breaks_sigma_log",
    "size_share_of_tolerance",
    "breaks_per_h",
)


def posterior_from(document: Mapping[str, Any], *, sha256: str, rules: LearningRules) -> Posterior:
    """Return the posterior of a document, with the rules that were in force when it was made.

    Raises
    ------
    InputError
        Code ``experience-format`` if it is none of this version.
    """
    if (document.get("format"), document.get("version")) != (_FORMAT, _VERSION):
        raise InputError(
            f"not a record of experience of version {_VERSION}", code="experience-format"
        )
    kept: dict[str, Any] = dict(document["rules"])
    kept["height_bands_mm"] = tuple(kept["height_bands_mm"])
    return Posterior(
        sha256=sha256,
        tables_sha256=document["tables_sha256"],
        rules=replace(rules, **kept),
        measures=MappingProxyType(
            {Measure(name): _fitted(one) for name, one in document["measures"].items()}
        ),
        counts=MappingProxyType(dict(document["counts"])),
        sizes=MappingProxyType(dict(document["sizes"])),
        previous=document["previous"],
    )


def _fitted(document: Mapping[str, Any]) -> Fitted:
    size = len(document["names"])
    entries = np.array(document["precision"], dtype=np.float64).reshape(-1, 3)
    places = entries[:, :2].astype(np.int64)
    upper = sparse.coo_matrix((entries[:, 2], (places[:, 0], places[:, 1])), shape=(size, size))
    return Fitted(
        names=tuple(document["names"]),
        mean=np.array(document["mean"], dtype=np.float64),
        precision=sparse.csc_matrix(upper + sparse.triu(upper, k=1).T),
        variance=MappingProxyType({Input(k): float(v) for k, v in document["variance"].items()}),
        records=int(document["records"]),
    )


def _sha256(text: str) -> str:
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


def _read(path: Path) -> str:
    try:
        return path.read_bytes().decode("utf-8")
    except (OSError, UnicodeDecodeError) as fault:
        raise FileError(
            f"cannot be read: {fault}", code="shop-folder-unreadable", where=str(path)
        ) from fault


def _write(path: Path, text: str) -> None:
    """Write a file whole or not at all."""
    try:
        path.parent.mkdir(mode=_OWNER_ONLY_FOLDER, parents=True, exist_ok=True)
        # Made for its owner only, beside its target, hence on the same file system.
        handle, name = tempfile.mkstemp(prefix=".", dir=path.parent)
        try:
            with os.fdopen(handle, "wb") as stream:
                stream.write(text.encode("utf-8"))
                stream.flush()
                os.fsync(stream.fileno())
            Path(name).replace(path)
        except BaseException:
            Path(name).unlink(missing_ok=True)
            raise
    except OSError as fault:
        raise FileError(
            f"cannot be written: {fault.strerror or fault}",
            code="shop-folder-unwritable",
            where=str(path),
            remedy="Choose a folder that you may write to.",
        ) from fault
